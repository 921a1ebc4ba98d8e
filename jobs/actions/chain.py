"""Writing one entry at the end of a job's chain; the only place that inserts entries."""

import uuid
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from typing import Any

from django.db import transaction

from jobs.core.entry import Json, Kind
from jobs.core.seal import FIRST_PREVIOUS, canonical, entry_words, head_words, link_hash
from jobs.models import ChainHead, Entry, Job
from jobs.queries.folding import went_on
from jobs.queries.signatures import head_fits
from workshop import signing_keys

__all__ = ["FORMAT", "NewEntry", "append", "first_head", "iso", "lock_head", "sign_old_heads"]

FORMAT = 1
"""Format of the canonical bytes; verification knows every format ever written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NewEntry:
    """What `append` writes, beside its place in the chain."""

    key: str
    kind: Kind
    person: str
    at: datetime
    item: str = ""
    qualifier: str = ""
    value: Json = None
    effect: str = ""
    seen_head: str = ""
    device: str = ""
    device_seq: int = 0
    tablet_time: str = ""
    clock_offset_s: int | None = None
    paper: Json = None


def lock_head(job_id: uuid.UUID) -> ChainHead:
    """Give the head of a job's chain with its job, the head locked until the transaction ends.

    Raises
    ------
    ChainHead.DoesNotExist
        Where there is no such job.
    """
    rows = ChainHead.objects.select_related("job").select_for_update(of=("self",))
    return rows.get(job_id=job_id)


def iso(moment: datetime) -> str:
    """Write a time the one way the chain writes it."""
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


def _content(job: Job, head: ChainHead, new: NewEntry, workshop_id: str) -> dict[str, Any]:
    content = {
        "format": FORMAT,
        "key": new.key,
        "workshop": workshop_id,
        "job": str(job.id),
        "seq": head.count + 1,
        "kind": str(new.kind),
        "item": new.item,
        "qualifier": new.qualifier,
        "value": new.value,
        "person": new.person,
        "at": iso(new.at),
        "effect": new.effect,
        "device": new.device,
        "device_seq": new.device_seq,
        "tablet_time": new.tablet_time,
        "clock_offset_s": new.clock_offset_s,
        "seen_head": new.seen_head,
        "key_id": signing_keys.key_name(),
        "previous": head.hash,
    }
    # Only what came from paper says so: all other bytes are as they ever were.
    return content if new.paper is None else {**content, "paper": new.paper}


def append(job: Job, head: ChainHead, new: NewEntry, *, workshop_id: str) -> Entry:
    """Write an entry as the next link of the chain and move the head.

    Parameters
    ----------
    job : Job
        The job; its head is `head`.
    head : ChainHead
        The locked head of the job's chain.
    new : NewEntry
        What to write.
    workshop_id : str
        Identifier of the workshop, part of the envelope.

    Returns
    -------
    Entry
        The written entry, signed. Where the head was not as this workshop signed it, the entry is
        written and the head stays unsigned, so that verification goes on saying so.
    """
    sound = head_fits(head)
    content = _content(job, head, new, workshop_id)
    written = canonical(content)
    link = link_hash(head.hash, written)
    entry = Entry.objects.create(
        key=uuid.UUID(new.key),
        job=job,
        seq=head.count + 1,
        kind=str(new.kind),
        item=new.item,
        qualifier=new.qualifier,
        value=new.value,
        person=uuid.UUID(new.person),
        at=new.at,
        effect=new.effect,
        paper=new.paper,
        canonical=written,
        previous=head.hash,
        hash=link,
        signature=signing_keys.sign(entry_words(link)).signature,
    )
    head.count, head.hash = entry.seq, entry.hash
    _sign(head, sound=sound)
    head.save(update_fields=(*_SIGNED, "key_id", "signature"))
    transaction.on_commit(partial(went_on, entry), robust=True)
    return entry


_SIGNED = ("count", "hash", "unsigned")


def _sign(head: ChainHead, *, sound: bool = True) -> None:
    """Put the signature into a head, or take it out."""
    if not sound:
        head.key_id, head.signature = "", None
        return
    words = head_words(str(head.job_id), head.count, head.hash, head.unsigned)
    signed = signing_keys.sign(words)
    head.key_id, head.signature = signed.key_id, signed.signature


def first_head(job: Job) -> ChainHead:
    """Make the head of a job that has no entries yet."""
    head = ChainHead(job=job, count=0, hash=FIRST_PREVIOUS)
    _sign(head)
    head.save(force_insert=True)
    return head


def sign_old_heads() -> int:
    """Sign the heads of all chains that are older than signatures, once for a data folder.

    Returns
    -------
    int
        How many were signed; from then on an unsigned head or entry is a fault.
    """
    if signing_keys.heads_are_signed():
        return 0
    count = 0
    for head in ChainHead.objects.filter(key_id=""):
        head.unsigned = head.count
        _sign(head)
        head.save(update_fields=("unsigned", "key_id", "signature"))
        count += 1
    signing_keys.note_heads_signed()
    return count
