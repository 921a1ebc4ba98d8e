"""Checking that nothing in the record was changed, removed, swapped or cut off.

The canonical bytes are what was hashed and signed; the columns only repeat them. Both are checked,
the chain from the first entry to its head, every signature, and the triggers that keep entries
append-only. Against a list of heads kept elsewhere (`jobs.queries.heads`) it also shows what
somebody with this computer's own key wrote anew.
"""

import json
import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

from jobs.core.entry import Kind
from jobs.core.seal import FIRST_PREVIOUS, link_hash, text_hash
from jobs.models import ChainHead, Entry, Job, PersonalDatum
from jobs.queries.disposal import disposal_faults
from jobs.queries.kept_digests import kept_faults
from jobs.queries.signatures import Keys, entry_signature_faults, head_signature_faults
from jobs.queries.watch_digests import watch_faults
from jobs.triggers import missing_triggers
from workshop.queries import sign_in_faults
from workshop.signing_keys import trusted_keys

__all__ = [
    "Fault",
    "keys_of",
    "rows_of",
    "verify_all",
    "verify_around",
    "verify_job",
    "verify_triggers",
]

TRIES: Final = 5
"""How often a job is read again that grew meanwhile."""
UNREADABLE: Final = (ValueError, TypeError, AttributeError)
"""What Django raises at a column that holds no JSON, no identifier or no time."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is not as it was written: which job, which place, what."""

    job: str
    seq: int
    what: str


def verify_triggers() -> tuple[Fault, ...]:
    """Name the triggers that are missing."""
    return tuple(
        Fault("", 0, f"the trigger {name} is missing or changed") for name in missing_triggers()
    )


def _columns(row: Entry) -> dict[str, Any]:
    return {
        "key": str(row.key),
        "job": str(row.job_id),
        "seq": row.seq,
        "kind": row.kind,
        "item": row.item,
        "qualifier": row.qualifier,
        "value": row.value,
        "person": str(row.person),
        "at": row.at.astimezone(UTC).isoformat(timespec="microseconds"),
        "effect": row.effect,
        "paper": row.paper,
        "previous": row.previous,
    }


def _content(row: Entry) -> dict[str, Any] | None:
    try:
        content = json.loads(bytes(row.canonical))
    except ValueError:
        return None
    return content if isinstance(content, dict) else None


def _entry_faults(
    row: Entry, seq: int, previous: str, content: dict[str, Any] | None
) -> Iterator[str]:
    if row.seq != seq:
        yield f"an entry is missing or out of place before {row.seq}"
    if row.previous != previous:
        yield "it does not follow the entry before it"
    if link_hash(row.previous, bytes(row.canonical)) != row.hash:
        yield "its bytes do not fit its hash"
    if content is None:
        yield "its bytes cannot be read"
        return
    for name, value in _columns(row).items():
        # As JSON, because Python holds true for 1.
        if json.dumps(content.get(name), sort_keys=True) != json.dumps(value, sort_keys=True):
            yield f"the column {name} differs from what was written"


def rows_of(job: Job) -> Iterator[Entry | int]:
    """Give a job's entries in order; the place alone of one whose columns cannot be read."""
    rows = Entry.objects.filter(job=job).order_by("seq")
    try:
        read = list(rows)
    except UNREADABLE:
        for place in rows.values_list("seq", flat=True):
            try:
                yield rows.get(seq=place)
            except UNREADABLE:
                yield place
    else:
        yield from read


def _head_faults(
    job: Job, head: ChainHead | None, count: int, last: str, keys: Keys
) -> Iterator[Fault]:
    if head is None:
        yield Fault(job.number, 0, "the head of its chain is missing")
        return
    yield from (Fault(job.number, 0, what) for what in head_signature_faults(head, keys))
    if head.count != count:
        yield Fault(job.number, count, f"the chain has {count} entries, its head says {head.count}")
    elif head.hash != last:
        yield Fault(job.number, count, "the last entry does not fit the head of the chain")


def _closed_faults(job: Job, closed: list[datetime]) -> Iterator[Fault]:
    if (job.closed_at is None) != (not closed) or (closed and job.closed_at != closed[-1]):
        yield Fault(job.number, 0, "the column closed_at differs from what the entries say")


def _practice_faults(job: Job) -> Iterator[Fault]:
    """Say that a job counts as practice and was not booked as one, or the other way round."""
    row = Entry.objects.filter(job=job, seq=1).first()
    opened = None if row is None else row.value
    said = isinstance(opened, dict) and "practice" in opened
    if row is not None and said != job.practice:
        yield Fault(job.number, 1, "the column practice differs from what the entries say")


def _personal_faults(job: Job) -> Iterator[Fault]:
    for datum in PersonalDatum.objects.filter(job=job, erased_at__isnull=True):
        if text_hash(datum.salt, datum.text) != datum.sha256:
            yield Fault(job.number, 0, f"the personal words for {datum.item} were changed")


def verify_job(job_id: uuid.UUID, keys: Keys | None = None) -> tuple[Fault, ...]:
    """Check one job's chain.

    Parameters
    ----------
    job_id : UUID
        The job.
    keys : Mapping[str, SigningKey] | None
        The keys that are trusted; those of this computer's data folder where None.

    Returns
    -------
    tuple[Fault, ...]
        Every fault with its place; empty when all is as it was written.
    """
    job, keys = Job.objects.get(pk=job_id), trusted_keys() if keys is None else keys
    faults: tuple[Fault, ...] = ()
    for _ in range(TRIES):
        head = ChainHead.objects.filter(job=job).first()
        faults = _faults_of(job, head, keys)
        # Entries that came while it was read would look like faults.
        if not faults or _place(ChainHead.objects.filter(job=job).first()) == _place(head):
            break
    return faults


def _place(head: ChainHead | None) -> tuple[int, str] | None:
    return None if head is None else (head.count, head.hash)


def _faults_of(job: Job, head: ChainHead | None, keys: Keys) -> tuple[Fault, ...]:
    unsigned = 0 if head is None else head.unsigned
    faults: list[Fault] = []
    previous, seq, closed = FIRST_PREVIOUS, 0, list[datetime]()
    for row in rows_of(job):
        if isinstance(row, int):
            faults.append(Fault(job.number, row, "its columns cannot be read"))
            seq = row
            continue
        seq, content = seq + 1, _content(row)
        try:
            found = list(_entry_faults(row, seq, previous, content))
        except UNREADABLE:
            found = ["its columns cannot be read"]
        if content is not None:
            found += entry_signature_faults(row, content, unsigned, keys, practice=job.practice)
        faults += [Fault(job.number, row.seq, what) for what in found]
        previous, seq = row.hash, row.seq
        if row.kind == Kind.CLOSE:
            closed.append(row.at)
    faults += _head_faults(job, head, seq, previous, keys)
    faults += _beside_the_chain(job, closed)
    return tuple(faults)


def _beside_the_chain(job: Job, closed: list[datetime]) -> Iterator[Fault]:
    """Check what stands in other tables and in files and has to fit the entries."""
    try:
        yield from _closed_faults(job, closed)
        yield from _practice_faults(job)
        yield from _personal_faults(job)
        for what in (*kept_faults(job.id), *watch_faults(job.id)):
            yield Fault(job.number, 0, what)
    except UNREADABLE as reason:
        yield Fault(job.number, 0, f"what stands beside its chain cannot be read ({reason})")


def verify_around() -> tuple[Fault, ...]:
    """Check what belongs to no single job: triggers, entries without a job, disposals, sign-ins."""
    faults = list(verify_triggers())
    orphans = Entry.objects.exclude(job_id__in=Job.objects.values("id")).count()
    if orphans:
        faults.append(Fault("", 0, f"{orphans} entries belong to no job"))
    try:
        faults += [Fault("", 0, what) for what in disposal_faults()]
    except UNREADABLE as reason:
        faults.append(Fault("", 0, f"the disposals cannot be read ({reason})"))
    try:
        faults += [Fault("", 0, what) for what in sign_in_faults()]
    except UNREADABLE as reason:
        faults.append(Fault("", 0, f"the log of sign-ins cannot be read ({reason})"))
    return tuple(faults)


def keys_of(job_id: uuid.UUID, lists: Sequence[Keys]) -> Keys:
    """Give the list of keys that a job has to be signed with: the one that knows its head's key.

    One list a job, so that a chain is signed by one workshop throughout where jobs of several lie
    together; the first where none knows it. A chain that another of them wrote anew from its first
    entry shows only against a signed list of heads.
    """
    head = ChainHead.objects.filter(job_id=job_id).first()
    name = "" if head is None else head.key_id
    return next((keys for keys in lists if name in keys), lists[0])


def verify_all(*lists: Keys) -> tuple[int, tuple[Fault, ...]]:
    """Check every job and the triggers; give the number of jobs and every fault.

    Parameters
    ----------
    *lists : Keys
        The keys that are trusted, a list for each workshop; those of this computer's data folder
        where there is none.
    """
    trusted, faults = lists or (trusted_keys(),), list[Fault]()
    jobs = list(Job.objects.order_by("number").values_list("id", flat=True))
    for job_id in jobs:
        faults += verify_job(job_id, keys_of(job_id, trusted))
    return len(jobs), (*faults, *verify_around())
