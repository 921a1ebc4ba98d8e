"""What the shop has to know of its tablets: what never came from them, and what was set aside."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final
from uuid import UUID

from jobs.core.running_numbers import Ranges, holds, missing, numbers_in
from jobs.models import DroppedEntry, Job, SetAside, Tablet, Verdict
from jobs.steps import STEPS
from workshop.people import PersonInfo

__all__ = [
    "GRACE",
    "HeldBack",
    "WasSetAside",
    "all_set_aside",
    "all_tablets",
    "arrived_above",
    "came_after_all",
    "held_back",
    "open_pages",
    "ranges_aside",
    "tablet_name",
]

GRACE: Final = timedelta(minutes=5)
"""How long a tablet may be behind before it is told of: it may just be sending."""


TOLD_FOR: Final = timedelta(days=7)
"""How long Today tells of an entry that arrived although it had been set aside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldBack:
    """A tablet that made entries which never arrived.

    Attributes
    ----------
    device : str
        Its identifier.
    name : str
        Its name, or the beginning of its identifier.
    made, arrived, aside : int
        How many it made, how many of them arrived or were dropped, how many were set aside.
    missing : tuple[tuple[int, int], ...]
        Running numbers of what is missing, as ranges.
    since : datetime | None
        When the gap was seen first; None where nothing is missing.
    last_at : datetime
        When the tablet was heard last.
    person : str
        Who was signed on there last; empty where nobody was.
    """

    device: str
    name: str
    made: int
    arrived: int
    aside: int
    missing: Ranges
    since: datetime | None
    last_at: datetime
    person: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WasSetAside:
    """Entries for which nobody waits any more, and those that came after all.

    Attributes
    ----------
    numbers : tuple[tuple[int, int], ...]
        Their running numbers, as ranges.
    came : tuple[tuple[int, datetime], ...]
        Running number and time of each that arrived afterwards, in its order.
    """

    name: str
    at: datetime
    person: str
    reason: str
    numbers: Ranges
    came: tuple[tuple[int, datetime], ...]


def arrived_above(row: Tablet) -> set[int]:
    """Give the running numbers above what is whole that were answered for good, or dropped."""
    above = {"device_seq__gt": row.whole_up_to}
    answered = Verdict.objects.filter(device=row.device, **above)
    dropped = DroppedEntry.objects.filter(tablet=row, **above)
    return {
        *answered.values_list("device_seq", flat=True),
        *dropped.values_list("device_seq", flat=True),
    }


def ranges_aside(row: Tablet) -> list[list[int]]:
    """Give the ranges of a tablet's running numbers that were set aside."""
    rows = SetAside.objects.filter(tablet=row).values_list("numbers", flat=True)
    return [each for numbers in rows for each in numbers]


def _came(device: str, at: datetime, numbers: Ranges) -> tuple[tuple[int, datetime], ...]:
    """Find what was sent after it was set aside."""
    if not numbers:
        return ()
    rows = Verdict.objects.filter(device=device, at__gte=at, device_seq__gte=numbers[0][0])
    found = rows.order_by("device_seq").values_list("device_seq", "at")
    return tuple((number, when) for number, when in found if holds(numbers, number))


def _was_set_aside(row: SetAside) -> WasSetAside:
    numbers = tuple((first, last) for first, last in row.numbers)
    return WasSetAside(
        name=str(row.tablet),
        at=row.at,
        person=str(row.person),
        reason=row.reason,
        numbers=numbers,
        came=_came(row.tablet_id, row.at, numbers),
    )


def all_set_aside() -> tuple[WasSetAside, ...]:
    """Give everything that was set aside, newest first."""
    return tuple(_was_set_aside(row) for row in SetAside.objects.select_related("tablet"))


def came_after_all(now: datetime) -> tuple[WasSetAside, ...]:
    """Give what was set aside and has lately arrived all the same."""
    return tuple(
        each for each in all_set_aside() if each.came and now - each.came[-1][1] <= TOLD_FOR
    )


def _state(row: Tablet) -> HeldBack:
    aside = ranges_aside(row)
    gone = missing(row.whole_up_to, row.made, arrived_above(row), aside)
    late = sum(len(_was_set_aside(each).came) for each in row.set_aside.all())
    still_aside = numbers_in(aside) - late
    return HeldBack(
        device=row.device,
        name=str(row),
        made=row.made,
        arrived=row.made - numbers_in(gone) - still_aside,
        aside=still_aside,
        missing=gone,
        since=row.missing_since,
        last_at=row.last_at,
        person="" if row.last_person is None else str(row.last_person),
    )


def held_back(now: datetime) -> tuple[HeldBack, ...]:
    """Give the tablets that still hold entries, longest first."""
    rows = Tablet.objects.filter(missing_since__lte=now - GRACE).order_by("missing_since")
    return tuple(_state(row) for row in rows)


def all_tablets() -> tuple[HeldBack, ...]:
    """Give every tablet that was ever heard: those that lack something first, then the latest."""
    found = [_state(row) for row in Tablet.objects.order_by("-last_at")]
    return tuple(sorted(found, key=lambda each: not each.missing))


def tablet_name(device: str) -> str:
    """Give the name of a tablet; empty where it has none."""
    return Tablet.objects.filter(pk=device).values_list("name", flat=True).first() or ""


def open_pages(
    asked: Iterable[UUID], person: PersonInfo, address: str = "/jobs/{job}/{slug}/"
) -> dict[str, list[str]]:
    """Give the addresses of the step pages of those jobs asked for that are open.

    Parameters
    ----------
    asked : Iterable[UUID]
        Jobs that the tablet has opened.
    person : PersonInfo
        Who is signed on; a practice is its learner's alone.
    address : str
        Address of a step's page.

    Returns
    -------
    dict[str, list[str]]
        Eight addresses by job.
    """
    rows = Job.objects.filter(pk__in=list(asked), closed_at__isnull=True)
    rows = rows.filter(practice=False) | rows.filter(practice_run__learner=UUID(person.id))
    return {
        str(job): [address.format(job=job, slug=step.slug) for step in STEPS]
        for job in rows.values_list("id", flat=True)
    }
