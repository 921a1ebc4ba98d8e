"""Reading what the desk keeps: of every open job at once, of one job with its history, of a shift.

One query for a whole list. Where the keys are is the record's to say while they are locked away.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final
from uuid import UUID

from django.db.models import Q, QuerySet

from jobs.core import desk
from jobs.core.desk import Desk, DeskEvent, Note, desk_of, notes_of
from jobs.core.record import Record
from jobs.models import DeskEvent as EventRow
from jobs.queries.records import record_of
from jobs.steps.de_energise_check.items import KEYS, LOCK, undone_seq
from jobs.steps.intake.items import KEYS as KEYS_AT_INTAKE
from workshop import queries as shop

__all__ = [
    "Desks",
    "KeysKept",
    "desk_now",
    "desks",
    "events_of",
    "jobs_with_claim",
    "keys_in",
    "keys_kept",
    "keys_said",
]

NOTES_KEPT_DAYS: Final = 14
"""Days after which a note to the next shift is no longer looked for [d]."""
CALLS_KEPT_DAYS: Final = 60
"""Days after which a call due of a closed job is no longer looked for [d]."""


@dataclass(frozen=True, slots=True)
class KeysKept:
    """The keys are away, as the record says: who holds them, since when, behind which lock."""

    person: str
    since: datetime
    lock: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Desks:
    """What the desk keeps of many jobs.

    Attributes
    ----------
    by_job : Mapping[str, Desk]
        By the job's identifier; a job of which nothing was written is left out.
    notes : tuple[Note, ...]
        Notes to the whole next shift, read or not, oldest first.
    """

    by_job: Mapping[str, Desk]
    notes: tuple[Note, ...] = ()

    def of(self, job_id: str) -> Desk:
        """Give the desk of a job; an empty one where nothing was written."""
        return self.by_job.get(job_id, Desk())


def _event(row: EventRow) -> DeskEvent:
    return DeskEvent(
        key=str(row.key),
        job=str(row.job_id or ""),
        kind=row.kind,
        at=row.at,
        person=str(row.person),
        values=row.values,
        words=row.words,
        due_on=row.due_on,
        about=str(row.about or ""),
        erased=row.erased_at is not None,
    )


def _sorted_out(rows: QuerySet[EventRow]) -> Mapping[str, list[DeskEvent]]:
    found: dict[str, list[DeskEvent]] = {}
    for row in rows.order_by("id"):
        found.setdefault(str(row.job_id or ""), []).append(_event(row))
    return found


def desks(now: datetime, day: date) -> Desks:
    """Give the desk of every open job, of closed ones with a call due, and the shifts' notes.

    Parameters
    ----------
    now : datetime
        The server's time.
    day : date
        The workshop's day.

    Returns
    -------
    Desks
        In one query.
    """
    since = day - timedelta(days=CALLS_KEPT_DAYS)
    called = EventRow.objects.filter(due_on__gte=since, job__closed_at__isnull=False)
    rows = EventRow.objects.filter(
        Q(job__closed_at__isnull=True, job__isnull=False)
        | Q(job__in=called.values("job"))
        | Q(job__isnull=True, at__gte=now - timedelta(days=NOTES_KEPT_DAYS))
    )
    found = dict(_sorted_out(rows))
    notes = notes_of(found.pop("", ()), desk.NOTE)
    return Desks(by_job={job: desk_of(events) for job, events in found.items()}, notes=notes)


def events_of(job_id: str) -> tuple[DeskEvent, ...]:
    """Give everything that was written of one job, in order."""
    rows = EventRow.objects.filter(job_id=shop.uuid_of(job_id)).order_by("id")
    return tuple(_event(row) for row in rows)


def desk_now(job_id: str) -> Desk:
    """Give how one job stands at the desk."""
    return desk_of(events_of(job_id))


def keys_in(record: Record) -> KeysKept | None:
    """Give who holds the keys, where the record says that they are locked away now."""
    holder, lock, undone = record.given(KEYS), record.given(LOCK), undone_seq(record)
    if holder is None or holder.seq <= undone or record.closed is not None:
        return None
    number = lock.value if lock is not None and lock.seq > undone else ""
    return KeysKept(holder.value.id, holder.at, number)


def keys_said(record: Record) -> str:
    """Give where the keys are in the words of the arrival; empty where nobody said."""
    said = record.given(KEYS_AT_INTAKE)
    return "" if said is None else str(said.value)


def keys_kept(job_id: str, now: datetime) -> KeysKept | None:
    """Give who holds the keys of a job, locked away; None where the record does not say so."""
    record = record_of(job_id, now=now)
    return None if record is None else keys_in(record)


def jobs_with_claim(text: str) -> frozenset[UUID]:
    """Give the jobs in whose facts a claim or recall reference contains a text."""
    rows = EventRow.objects.filter(kind=desk.FACTS).filter(
        Q(words__claim__icontains=text) | Q(words__recall__icontains=text)
    )
    return frozenset(row.job_id for row in rows if row.job_id is not None)
