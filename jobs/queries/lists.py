"""Many jobs at a glance: what is open, what holds each, what is dangerous about it.

Which of them a list is to show is in `wanted`, what is due today in `today`.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db.models import Q, QuerySet

from jobs.core.desk import Desk
from jobs.core.entry import Kind
from jobs.core.flow import gate
from jobs.core.high_voltage import HighVoltage, high_voltage
from jobs.core.order import open_step, step_state
from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.core.section import Said
from jobs.models import Job
from jobs.queries.behind import fact_behind
from jobs.queries.desk import Desks, KeysKept, desks, keys_in
from jobs.queries.floor import Floor, floor_on
from jobs.queries.folding import catch_up
from jobs.queries.holding import Holding, holding
from jobs.queries.quarantine import DueCheck, due_checks
from jobs.queries.records import (
    JobInfo,
    fold_job,
    grounds_in_force,
    info_of,
    job_rows,
)
from jobs.queries.timers import cure_over
from jobs.steps import STEPS
from workshop.queries import Slice
from workshop.queries.slices import sliced

__all__ = ["OpenJob", "OpenJobs", "StepMark", "closed_between", "closed_jobs", "open_jobs",
           "open_now", "state_of"]  # fmt: skip

SEARCH_WORDS = 6
NIGHT = timedelta(hours=8)
"""How long a lid is off at least before it counts as off overnight; a late shift is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepMark:
    """One square of a job's strip of steps."""

    number: int
    slug: str
    title: str
    state: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenJob:
    """One row of Open jobs.

    Attributes
    ----------
    job : JobInfo
        The job.
    strip : tuple[StepMark, ...]
        The eight steps and the state of each.
    step_title : str
        The open step; empty when all are signed.
    holds : tuple[Blocker, ...]
        What is missing before the open step can be signed.
    holding : Holding | None
        What holds it and since when; None where only its step was asked.
    behind : tuple[str, Said] | None
        The fact behind that.
    hazards : tuple[str, ...]
        "pack_open", "overnight", "lapsed", "not_proven", "danger" or "quarantine".
    unsafe : bool
        Whether somebody has to act now: live parts lie open, a proof ended under work, danger.
    high_voltage : HighVoltage
        State of the high voltage.
    overdue : bool
        Whether the promised date is past.
    untouched : bool
        Whether nothing of the first step was entered.
    hands : frozenset[str]
        Who entered last and who signed last.
    desk : Desk
        What the desk keeps of it.
    keys : KeysKept | None
        Who holds its keys, where the record says that they are away.
    cured_at : datetime | None
        When its cure time was over, while it waits to be gone on with.
    """

    job: JobInfo
    strip: tuple[StepMark, ...]
    step_title: str
    step_slug: str
    holds: tuple[Blocker, ...]
    holding: Holding | None = None
    behind: tuple[str, Said] | None = None
    hazards: tuple[str, ...] = ()
    unsafe: bool = False
    high_voltage: HighVoltage
    overdue: bool
    untouched: bool = False
    hands: frozenset[str] = frozenset()
    desk: Desk = field(default_factory=Desk)
    keys: KeysKept | None = None
    cured_at: datetime | None = None

    @property
    def waits_for(self) -> str:
        """What it waits for; empty where that was not asked."""
        return "" if self.holding is None else self.holding.waits_for


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenJobs:
    """Every open job, with what the list stands on."""

    rows: tuple[OpenJob, ...]
    floor: Floor
    checks: tuple[DueCheck, ...]
    desks: Desks


def strip_of(record: Record) -> tuple[StepMark, ...]:
    """Give the eight squares of a job."""
    return tuple(
        StepMark(
            number=number,
            slug=step.slug,
            title=step.title,
            state=step_state(STEPS, record, step),
        )
        for number, step in enumerate(STEPS, start=1)
    )


def state_of(job: JobInfo, record: Record, today: date) -> OpenJob:
    """Say where a job stands, without what holds it."""
    step = open_step(STEPS, record)
    return OpenJob(
        job=job,
        strip=strip_of(record),
        step_title="" if step is None else step.title,
        step_slug="" if step is None else step.slug,
        holds=() if step is None else gate(STEPS, record, step),
        high_voltage=high_voltage(record),
        overdue=job.promised_on is not None and job.promised_on < today,
    )


def _proving() -> tuple[str, ...]:
    return tuple(step.slug for step in STEPS if step.prove is not None)


def _ended_by_plan(state: HighVoltage) -> bool:
    """Tell whether the job itself ended the proof, as refitting the disconnect does.

    Not by plan: an item of the proof itself put it in doubt, by a live reading or an isolating
    action done again.
    """
    proofs = tuple(f"{slug}." for slug in _proving())
    return "." in state.ended_by and not state.ended_by.startswith(proofs)


def _touched(record: Record, slug: str) -> bool:
    return any(key.partition(".")[0] == slug for key in record.live)


def _needs_proof(slug: str, record: Record) -> bool:
    """Tell whether the open step works on the circuit outside the pack; bench work does not."""
    step = next(each for each in STEPS if each.slug == slug)
    return step.prove is not None or any(item.needs_proof for item in step.items(record))


def _overnight(record: Record) -> bool:
    """Tell whether the lid came off on an earlier day and was off for a night's length."""
    off = record.lid_events[-1].at
    return off.date() < record.now.date() and record.now - off >= NIGHT


def _hazards(row: OpenJob, record: Record, overdue_checks: frozenset[str]) -> tuple[str, ...]:
    """Name what is dangerous about a job now, the worst first."""
    state, found = row.high_voltage, list[str]()
    if row.holding is not None and row.holding.waits_for == "danger":
        found.append("danger")
    if state.state == "pack_open":
        found += ["pack_open", "overnight"] if _overnight(record) else ["pack_open"]
    if row.step_slug and state.since and not state.proof_holds:
        if _ended_by_plan(state):
            found.append("not_proven")
        elif state.ended_by or _needs_proof(row.step_slug, record):
            found.append("lapsed")
    elif row.step_slug in _proving() and not state.since and _touched(record, row.step_slug):
        found.append("not_proven")
    if row.job.id in overdue_checks:
        found.append("quarantine")
    return tuple(found)


def _hands(record: Record) -> frozenset[str]:
    """Name who entered last and who signed last."""
    done = [entry for entry in record.entries if entry.kind is not Kind.REFUSAL]
    last = {done[-1].person} if done else set()
    signed = max(record.signatures.values(), key=lambda each: each.seq, default=None)
    return frozenset(last | (set() if signed is None else {signed.by.id}))


def _row(
    job: JobInfo, record: Record, today: date, floor: Floor, checks: frozenset[str]
) -> OpenJob:
    step = open_step(STEPS, record)
    row = replace(
        state_of(job, record, today),
        holding=holding(record, step, floor, job.arrives_on),
        behind=fact_behind(UUID(job.id), record, step),
        untouched=not _touched(record, STEPS[0].slug),
        hands=_hands(record),
        keys=keys_in(record),
        cured_at=cure_over(record, step),
    )
    hazards = _hazards(row, record, checks)
    return replace(
        row, hazards=hazards, unsafe=bool({"danger", "pack_open", "lapsed"} & {*hazards})
    )


def open_now(*, now: datetime, today: date) -> OpenJobs:
    """Give every job that is not closed, newest first, with people, equipment and due checks.

    Parameters
    ----------
    now : datetime
        The server's time.
    today : date
        The workshop's day.

    Returns
    -------
    OpenJobs
        However many jobs there are, only those that changed are read again.
    """
    floor, checks, grounds = floor_on(today), due_checks(now), grounds_in_force()
    kept = desks(now, today)
    overdue = frozenset(check.job_id for check in checks if check.overdue)
    rows, found = list(job_rows().filter(closed_at__isnull=True)), []
    catch_up({row.id: row.chainhead.hash for row in rows}, grounds)
    for row in rows:
        job = info_of(row)
        record = fold_job(row.id, head_hash=job.head, now=now, grounds=grounds)
        line = _row(job, record, today, floor, overdue)
        found.append(replace(line, desk=kept.of(job.id)))
    return OpenJobs(rows=tuple(found), floor=floor, checks=checks, desks=kept)


def open_jobs(*, now: datetime, today: date) -> tuple[OpenJob, ...]:
    """Give every job that is not closed, newest first."""
    return open_now(now=now, today=today).rows


def _searched(rows: QuerySet[Job], words: Iterable[str]) -> QuerySet[Job]:
    for word in words:
        rows = rows.filter(
            Q(number__icontains=word)
            | Q(customer__name__icontains=word)
            | Q(vehicle__plate__icontains=word)
            | Q(vehicle__vin__icontains=word)
            | Q(vehicle__make__icontains=word)
            | Q(vehicle__model__icontains=word)
            | Q(physical_pack__serial__icontains=word)
        )
    return rows


def closed_jobs(search: str = "", page: int = 1) -> Slice[JobInfo]:
    """Give one page of the closed jobs, newest first.

    Parameters
    ----------
    search : str
        Words that all have to stand in number, customer, plate, VIN, make, model or pack.
    page : int
        Which page, counted from 1.

    Returns
    -------
    Slice[JobInfo]
        The page.
    """
    rows = job_rows().filter(closed_at__isnull=False).order_by("-closed_at", "number")
    return sliced(_searched(rows, search.split()[:SEARCH_WORDS]), page, info_of)


def closed_between(begin: datetime, end: datetime) -> tuple[JobInfo, ...]:
    """Give the jobs closed from one time on and before another, in that order."""
    rows = (
        job_rows().filter(closed_at__gte=begin, closed_at__lt=end).order_by("closed_at", "number")
    )
    return tuple(info_of(row) for row in rows)
