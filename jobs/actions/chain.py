"""Writing one entry at the end of a job's chain; the only place that inserts entries."""

import uuid
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from jobs.core.entry import Json, Kind
from jobs.core.seal import FIRST_PREVIOUS, canonical, link_hash
from jobs.models import ChainHead, Entry, Job

__all__ = ["FORMAT", "NewEntry", "append", "first_head", "iso", "lock_head"]

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
    """Give the head of a job's chain, locked until the transaction ends."""
    return ChainHead.objects.select_for_update().get(job_id=job_id)


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
        "key_id": None,
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
        The written entry.
    """
    content = _content(job, head, new, workshop_id)
    written = canonical(content)
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
        hash=link_hash(head.hash, written),
    )
    head.count, head.hash = entry.seq, entry.hash
    head.save(update_fields=("count", "hash"))
    return entry


def first_head(job: Job) -> ChainHead:
    """Make the head of a job that has no entries yet."""
    return ChainHead.objects.create(job=job, count=0, hash=FIRST_PREVIOUS)
