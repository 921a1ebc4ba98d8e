"""Many jobs at a glance: what is open and what holds it, what is due today."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from jobs.core.flow import gate
from jobs.core.high_voltage import HighVoltage, high_voltage
from jobs.core.order import open_step, step_state
from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.queries.records import JobInfo, fold_job, grounds_in_force, info_of, job_rows
from jobs.steps import STEPS

__all__ = ["OpenJob", "TodayInfo", "closed_jobs", "open_jobs", "state_of", "today"]

CLOSED_SHOWN = 50
"""Closed jobs listed, newest first; older ones are found by number."""


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
    since : datetime
        When the open step opened.
    high_voltage : HighVoltage
        State of the high voltage.
    overdue : bool
        Whether the promised date is past.
    """

    job: JobInfo
    strip: tuple[StepMark, ...]
    step_title: str
    step_slug: str
    holds: tuple[Blocker, ...]
    since: datetime
    high_voltage: HighVoltage
    overdue: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TodayInfo:
    """What the front desk and the manager land on."""

    arriving: tuple[OpenJob, ...]
    collectable: tuple[OpenJob, ...]
    unsafe: tuple[OpenJob, ...]
    overdue: tuple[OpenJob, ...]
    open_count: int


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
    """Say where a job stands."""
    step = open_step(STEPS, record)
    signed = [signature.at for signature in record.signatures.values()]
    return OpenJob(
        job=job,
        strip=strip_of(record),
        step_title="" if step is None else step.title,
        step_slug="" if step is None else step.slug,
        holds=() if step is None else gate(STEPS, record, step),
        since=max(signed, default=job.opened_at),
        high_voltage=high_voltage(record),
        overdue=job.promised_on is not None and job.promised_on < today,
    )


def open_jobs(*, now: datetime, today: date) -> tuple[OpenJob, ...]:
    """Give every job that is not closed, newest first."""
    found = []
    grounds = grounds_in_force()
    for row in job_rows().filter(closed_at__isnull=True):
        job = info_of(row)
        record = fold_job(row.id, head_hash=job.head, now=now, grounds=grounds)
        found.append(state_of(job, record, today))
    return tuple(found)


def closed_jobs() -> tuple[JobInfo, ...]:
    """Give the newest closed jobs."""
    rows = job_rows().filter(closed_at__isnull=False).order_by("-closed_at")[:CLOSED_SHOWN]
    return tuple(info_of(row) for row in rows)


def _is_arriving(row: OpenJob, day: date) -> bool:
    """Tell whether it comes today or tomorrow and was not taken in yet."""
    arrives = row.job.arrives_on
    soon = arrives is not None and day <= arrives <= day + timedelta(days=1)
    return soon and row.step_slug == STEPS[0].slug


def _is_unsafe(row: OpenJob) -> bool:
    """Tell whether live parts lie open, or work goes on under a proof that no longer holds.

    Notes
    -----
    A proof that an item of the job ended, the disconnect refitted, was ended by plan; not one that
    an item of the proof itself put in doubt, a live reading or an isolating action done again.
    """
    state = row.high_voltage
    proving = tuple(f"{step.slug}." for step in STEPS if step.prove is not None)
    planned = "." in state.ended_by and not state.ended_by.startswith(proving)
    return state.state == "pack_open" or (
        state.state == "lapsed" and bool(row.step_slug) and not planned
    )


def today(*, now: datetime, day: date) -> TodayInfo:
    """Give what arrives, what can be collected, what is unsafe or overdue."""
    rows = open_jobs(now=now, today=day)
    return TodayInfo(
        arriving=tuple(row for row in rows if _is_arriving(row, day)),
        collectable=tuple(row for row in rows if not row.step_slug),
        unsafe=tuple(row for row in rows if _is_unsafe(row)),
        overdue=tuple(row for row in rows if row.overdue),
        open_count=len(rows),
    )
