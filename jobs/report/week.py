"""The jobs that were closed in one week of the workshop: result, days, waits, before and after.

Figures are those that were signed. A closed job never changes, so each is read once.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import Final

from jobs.core.entry import Kind
from jobs.core.record import Record
from jobs.queries.course import PARTIES, course_of, waited
from jobs.queries.folding import Grounds
from jobs.queries.lists import closed_between
from jobs.queries.records import JobInfo, fold_job, grounds_in_force
from jobs.queries.signed import record_shown
from jobs.report.summary import summary_of
from jobs.steps import STEPS
from jobs.steps.module_swap.items import SLUG as SWAP
from jobs.steps.module_swap.items import SPARE
from workshop import queries as shop

__all__ = ["Finished", "Week", "monday_of", "week_of", "week_read"]

_KEPT: Final = 600


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    """A closed job as the week shows it.

    Attributes
    ----------
    how : str
        "handed_over", "declined" or "not_found".
    in_shop_s : float
        From taking in to closing [s].
    waited_s : Mapping[str, float]
        Of these, by whom or what it waited for [s].
    reopened : int
        How often a step was re-opened.
    before_ohm_per_v, after_ohm_per_v : float | None
        Isolation found and left behind [ohm/V]; None where not read.
    leaking : tuple[str, ...]
        Modules that leaked.
    replaced : int
        Modules that were replaced.
    """

    job: JobInfo
    how: str
    in_shop_s: float
    waited_s: Mapping[str, float]
    reopened: int
    before_ohm_per_v: float | None
    after_ohm_per_v: float | None
    leaking: tuple[str, ...]
    replaced: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """A week of the workshop, Monday to Sunday of its own zone, with totals."""

    monday: date
    rows: tuple[Finished, ...]

    @property
    def sunday(self) -> date:
        """Its last day."""
        return self.monday + timedelta(days=6)

    def count(self, how: str) -> int:
        """Count the jobs that were closed in one way."""
        return sum(row.how == how for row in self.rows)

    @property
    def replaced(self) -> int:
        """Modules replaced altogether."""
        return sum(row.replaced for row in self.rows)

    @property
    def reopened(self) -> int:
        """Steps re-opened altogether."""
        return sum(row.reopened for row in self.rows)

    @property
    def waited_s(self) -> Mapping[str, float]:
        """Time in the shop by party, all jobs together [s]."""
        return {party: sum(row.waited_s[party] for row in self.rows) for party in PARTIES}

    @property
    def mean_s(self) -> float | None:
        """Mean time in the shop [s]; None without a job."""
        return sum(row.in_shop_s for row in self.rows) / len(self.rows) if self.rows else None


def monday_of(day: date) -> date:
    """Give the Monday of a day's week.

    Examples
    --------
    >>> monday_of(date(2026, 3, 8))
    datetime.date(2026, 3, 2)
    """
    return day - timedelta(days=day.weekday())


def week_read(text: str, today: date) -> date:
    """Read a week from an address (ISO 8601); this week where it is none.

    Examples
    --------
    >>> week_read("2026-W10", date(2026, 11, 25)), week_read("last", date(2026, 3, 8))
    (datetime.date(2026, 3, 2), datetime.date(2026, 3, 2))
    """
    year, mark, number = text.partition("-W")
    plain = all(part.isascii() and part.isdigit() and len(part) <= 4 for part in (year, number))  # noqa: PLR2004 - digits of a year
    try:
        return (
            date.fromisocalendar(int(year), int(number), 1) if mark and plain else monday_of(today)
        )
    except ValueError:
        return monday_of(today)


def _replaced(record: Record) -> int:
    swap = record.signatures.get(SWAP)
    return len(record.all(SPARE)) if swap is not None and swap.outcome == "done" else 0


@lru_cache(maxsize=_KEPT)
def _finished(job: JobInfo, on: Grounds) -> Finished:
    """Read a closed job; JobInfo names the end of its chain."""
    closed_at = job.opened_at if job.closed_at is None else job.closed_at
    record = fold_job(shop.uuid_of(job.id), head_hash=job.head, now=closed_at, grounds=on)
    results = {step.slug: step.assess(record_shown(record, step).record) for step in STEPS}
    summary, course = summary_of(record, results), course_of(job, record)
    arrived_at = course.arrived_at or job.opened_at
    return Finished(
        job=job,
        how="" if record.closed is None else record.closed.how,
        in_shop_s=(closed_at - arrived_at).total_seconds(),
        waited_s=waited(course.waits, arrived_at),
        reopened=sum(entry.kind is Kind.REOPEN for entry in record.entries),
        before_ohm_per_v=summary.before_ohm_per_v,
        after_ohm_per_v=summary.after_ohm_per_v,
        leaking=summary.modules,
        replaced=_replaced(record),
    )


def week_of(monday: date) -> Week:
    """Give the jobs that were closed from a Monday to the Sunday after it.

    Parameters
    ----------
    monday : date
        The first day, in the workshop's zone.

    Returns
    -------
    Week
        In the order of their closing; practice is never among them.
    """
    zone, on = shop.shop().zone, grounds_in_force()
    begin = datetime.combine(monday, time(), zone)
    end = datetime.combine(monday + timedelta(days=7), time(), zone)
    jobs: Iterable[JobInfo] = closed_between(begin, end)
    return Week(monday=monday, rows=tuple(_finished(job, on) for job in jobs))
