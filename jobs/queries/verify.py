"""Checking that nothing in the record was changed, removed, swapped or cut off.

The canonical bytes are what was hashed; the columns only repeat them. Both are checked, the
chain from the first entry to its head, and the triggers that keep entries append-only.
"""

import json
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from jobs.core.entry import Kind
from jobs.core.seal import FIRST_PREVIOUS, link_hash, text_hash
from jobs.models import ChainHead, Entry, Job, PersonalDatum
from jobs.queries.kept_digests import kept_faults
from jobs.queries.watch_digests import watch_faults
from jobs.triggers import missing_triggers

__all__ = ["Fault", "verify_all", "verify_job", "verify_triggers"]


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


def _entry_faults(row: Entry, seq: int, previous: str) -> Iterator[str]:
    if row.seq != seq:
        yield f"an entry is missing or out of place before {row.seq}"
    if row.previous != previous:
        yield "it does not follow the entry before it"
    if link_hash(row.previous, bytes(row.canonical)) != row.hash:
        yield "its bytes do not fit its hash"
    content = _content(row)
    if content is None:
        yield "its bytes cannot be read"
        return
    for name, value in _columns(row).items():
        if content.get(name) != value:
            yield f"the column {name} differs from what was written"


def _head_faults(job: Job, count: int, last: str) -> Iterator[Fault]:
    head = ChainHead.objects.filter(job=job).first()
    if head is None:
        yield Fault(job.number, 0, "the head of its chain is missing")
    elif head.count != count:
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


def verify_job(job_id: uuid.UUID) -> tuple[Fault, ...]:
    """Check one job's chain.

    Parameters
    ----------
    job_id : UUID
        The job.

    Returns
    -------
    tuple[Fault, ...]
        Every fault with its place; empty when all is as it was written.
    """
    job = Job.objects.get(pk=job_id)
    faults: list[Fault] = []
    previous, seq, closed = FIRST_PREVIOUS, 0, list[datetime]()
    for row in Entry.objects.filter(job=job).order_by("seq").iterator():
        seq += 1
        faults += [Fault(job.number, row.seq, what) for what in _entry_faults(row, seq, previous)]
        previous, seq = row.hash, row.seq
        if row.kind == Kind.CLOSE:
            closed.append(row.at)
    faults += _head_faults(job, seq, previous)
    faults += _closed_faults(job, closed)
    faults += _practice_faults(job)
    faults += _personal_faults(job)
    faults += [Fault(job.number, 0, what) for what in kept_faults(job.id)]
    faults += [Fault(job.number, 0, what) for what in watch_faults(job.id)]
    return tuple(faults)


def verify_all() -> tuple[int, tuple[Fault, ...]]:
    """Check every job and the triggers; give the number of jobs and every fault."""
    faults = list(verify_triggers())
    jobs = list(Job.objects.order_by("number").values_list("id", flat=True))
    for job_id in jobs:
        faults += verify_job(job_id)
    orphans = Entry.objects.exclude(job_id__in=jobs).count()
    if orphans:
        faults.append(Fault("", 0, f"{orphans} entries belong to no job"))
    return len(jobs), tuple(faults)
