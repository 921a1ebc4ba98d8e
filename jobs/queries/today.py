"""What Today shows: what is unsafe, due, late, to be decided, coming, ready, and about to lapse."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from jobs.core.desk import Desk, DeskEvent, Due, Note
from jobs.queries.floor import Floor
from jobs.queries.lists import OpenJob, OpenJobs, open_now
from jobs.queries.quarantine import DueCheck
from jobs.queries.records import JobInfo, info_of, job_rows
from jobs.steps import STEPS
from workshop import queries as shop
from workshop.people import QUALIFICATIONS
from workshop.registers import EquipmentInfo
from workshop.shelf import is_lapsing

__all__ = ["LAPSE_DAYS", "UNANSWERED_DAYS", "Lapse", "RunsOut", "ToCall", "TodayInfo", "today"]

LAPSE_DAYS = 30
"""Days ahead in which a qualification that lapses is told."""

UNANSWERED_DAYS: Final = 2
"""Days after which a question to the customer that nobody answered is told as late."""
GRAVEST: Final = ("danger", "overnight", "pack_open", "lapsed")
"""Hazards in the order in which somebody has to act."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lapse:
    """A qualification that has lapsed or will soon."""

    person_id: str
    name: str
    title: str
    expires_on: date
    over: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RunsOut:
    """A time that ends today: what kind, and when."""

    row: OpenJob
    kind: str
    until: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ToCall:
    """A customer to call: the call that is due, or a promised day moved without their knowing."""

    job: JobInfo
    on: date
    due: Due | None = None
    untold: DeskEvent | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TodayInfo:
    """What everybody lands on, most urgent first.

    Attributes
    ----------
    unsafe, overdue, deciding, arriving, collectable, mine : tuple[OpenJob, ...]
        Open jobs by what is due; `deciding` waits for the customer's or a manager's word, and
        `mine` are assigned to the person looking, or that person entered or signed last.
    cured : tuple[OpenJob, ...]
        Jobs whose cure time is over and that can be gone on with.
    to_call : tuple[ToCall, ...]
        Customers to call, the longest due first.
    notes : tuple[Note, ...]
        Notes to the whole next shift, read or not.
    job_notes : tuple[tuple[OpenJob, Note], ...]
        Notes of a job that nobody has read.
    timers : tuple[RunsOut, ...]
        Times that end today, the next first.
    checks : tuple[DueCheck, ...]
        Checks of removed modules.
    lapsed, lapsing : tuple[EquipmentInfo, ...]
        Equipment that may not be used, and that lapses within 14 days.
    people : tuple[Lapse, ...]
        Qualifications lapsed or lapsing within 30 days.
    floor : Floor
        The shop's people and equipment.
    open_count : int
        Open jobs altogether.
    """

    unsafe: tuple[OpenJob, ...]
    overdue: tuple[OpenJob, ...]
    deciding: tuple[OpenJob, ...]
    arriving: tuple[OpenJob, ...]
    collectable: tuple[OpenJob, ...]
    mine: tuple[OpenJob, ...]
    timers: tuple[RunsOut, ...]
    cured: tuple[OpenJob, ...]
    to_call: tuple[ToCall, ...]
    notes: tuple[Note, ...]
    job_notes: tuple[tuple[OpenJob, Note], ...]
    checks: tuple[DueCheck, ...]
    lapsed: tuple[EquipmentInfo, ...]
    lapsing: tuple[EquipmentInfo, ...]
    people: tuple[Lapse, ...]
    floor: Floor
    open_count: int


def _is_arriving(row: OpenJob, day: date) -> bool:
    """Tell whether it comes today or tomorrow, or should have come, and intake is untouched."""
    arrives = row.job.arrives_on
    known = arrives is not None and arrives <= day + timedelta(days=1)
    return known and row.untouched and row.step_slug == STEPS[0].slug


def _timers(
    rows: tuple[OpenJob, ...], now: datetime, day: date, zone: ZoneInfo
) -> tuple[RunsOut, ...]:
    """Give the times that run and end today."""
    found = []
    for row in rows:
        if row.holding is not None and row.holding.until is not None:
            found.append(RunsOut(row=row, kind=row.holding.waits_for, until=row.holding.until))
        if row.high_voltage.proof_holds and row.step_slug:
            until = datetime.fromisoformat(row.high_voltage.until)
            found.append(RunsOut(row=row, kind="proof", until=until))
    due = (e for e in found if e.until > now and e.until.astimezone(zone).date() == day)
    return tuple(sorted(due, key=lambda each: each.until))


def _lapses(day: date) -> tuple[Lapse, ...]:
    last = day + timedelta(days=LAPSE_DAYS)
    found = [
        Lapse(
            person_id=person.id,
            name=person.short_name,
            title=QUALIFICATIONS.get(each.code, each.code),
            expires_on=each.expires_on,
            over=each.expires_on < day,
        )
        for person in shop.people()
        for each in person.qualifications
        if each.expires_on is not None and each.expires_on <= last
    ]
    return tuple(sorted(found, key=lambda each: (each.expires_on, each.name)))


def _call(job: JobInfo, desk: Desk, day: date, zone: ZoneInfo) -> ToCall | None:
    due = desk.due if desk.due is not None and desk.due.on <= day else None
    untold = desk.untold if job.closed_at is None else None
    days = [] if due is None else [due.on]
    days += [] if untold is None else [untold.at.astimezone(zone).date()]
    return ToCall(job=job, on=min(days), due=due, untold=untold) if days else None


def _to_call(found: OpenJobs, day: date, zone: ZoneInfo) -> tuple[ToCall, ...]:
    """Give whom to call, of open jobs and of closed ones; the closed are asked for only if any."""
    jobs = {row.job.id: row.job for row in found.rows}
    closed = {
        job
        for job, desk in found.desks.by_job.items()
        if job not in jobs and desk.due is not None and desk.due.on <= day
    }
    if closed:
        jobs |= {str(row.id): info_of(row) for row in job_rows().filter(pk__in=closed)}
    calls = (_call(job, found.desks.of(job.id), day, zone) for job in jobs.values())
    return tuple(sorted((c for c in calls if c is not None), key=lambda c: (c.on, c.job.number)))


def _gravest(row: OpenJob) -> int:
    return min(GRAVEST.index(each) for each in row.hazards if each in GRAVEST)


def _job_notes(rows: tuple[OpenJob, ...]) -> tuple[tuple[OpenJob, Note], ...]:
    return tuple((row, note) for row in rows for note in row.desk.open_notes)


def today(*, now: datetime, day: date, person: str = "") -> TodayInfo:
    """Give what is due today.

    Parameters
    ----------
    now : datetime
        The server's time.
    day : date
        The workshop's day.
    person : str
        Whoever looks; empty for nobody.

    Returns
    -------
    TodayInfo
        Every section; which of them a role sees is said by the page.
    """
    found, zone = open_now(now=now, today=day), shop.shop().zone
    pieces = tuple(piece for kind in found.floor.pieces.values() for piece in kind)

    def those(asked: Callable[[OpenJob], bool]) -> tuple[OpenJob, ...]:
        return tuple(row for row in found.rows if asked(row))

    def my(row: OpenJob) -> bool:
        return person in (row.hands | {row.desk.assigned}) and bool(row.step_slug)

    mine = those(my)
    return TodayInfo(
        unsafe=tuple(sorted(those(lambda row: row.unsafe), key=_gravest)),
        overdue=those(lambda row: row.overdue),
        deciding=those(lambda row: row.waits_for in {"customer", "manager"}),
        arriving=those(lambda row: _is_arriving(row, day)),
        collectable=those(lambda row: not row.step_slug),
        mine=tuple(sorted(mine, key=lambda row: not row.unsafe)),
        timers=_timers(found.rows, now, day, zone),
        cured=those(lambda row: row.cured_at is not None),
        to_call=_to_call(found, day, zone),
        notes=found.desks.notes,
        job_notes=_job_notes(found.rows),
        checks=found.checks,
        lapsed=tuple(piece for piece in pieces if not piece.usable),
        lapsing=tuple(piece for piece in pieces if is_lapsing(piece, day)),
        people=_lapses(day),
        floor=found.floor,
        open_count=len(found.rows),
    )
