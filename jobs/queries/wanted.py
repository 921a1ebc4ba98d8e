"""Which open jobs a list is to show, and in what order. Pure: the state of the address goes in."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from jobs.core.desk import PLACES
from jobs.queries.lists import OpenJob
from workshop.finding import phone_core, phone_ends

__all__ = ["PROMISED", "SORTS", "Wanted", "meant", "wanted_from"]

PROMISED: Final = {"late": "late", "today": "today", "week": "this week"}
"""Promised when: code in the address, and its title."""
SORTS: Final = {"": "newest first", "promised": "promised first", "held": "held longest first"}
"""Order of the rows: code in the address, and its title."""
LONGEST: Final = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a list of open jobs is to show.

    Attributes
    ----------
    search : str
        Words that all have to stand in number, vehicle, plate, VIN, customer, place or keys; or
        the customer's telephone number, however it is spaced.
    step, waits, promised : str
        Slug of the open step, what it waits for, one of `PROMISED`; empty for all.
    hazards : bool
        Only jobs with a hazard.
    mine : bool
        Only jobs assigned to whoever looks.
    sort : str
        One of `SORTS`.
    """

    search: str = ""
    step: str = ""
    waits: str = ""
    promised: str = ""
    hazards: bool = False
    mine: bool = False
    sort: str = ""

    @property
    def is_narrow(self) -> bool:
        """Whether anything beside the order is asked for."""
        return self.hazards or self.mine or any((self.search, self.step, self.waits, self.promised))


def wanted_from(asked: Mapping[str, str]) -> Wanted:
    """Read what is wanted from an address; what is not known counts as not asked.

    Examples
    --------
    >>> wanted_from({"q": "van", "promised": "once", "hazards": "1"})
    Wanted(search='van', step='', waits='', promised='', hazards=True, mine=False, sort='')
    """
    promised, sort = asked.get("promised", ""), asked.get("sort", "")
    return Wanted(
        search=asked.get("q", "")[:LONGEST],
        step=asked.get("step", ""),
        waits=asked.get("waits", ""),
        promised=promised if promised in PROMISED else "",
        hazards=asked.get("hazards", "") == "1",
        mine=asked.get("mine", "") == "1",
        sort=sort if sort in SORTS else "",
    )


def _text(row: OpenJob) -> str:
    vehicle = row.job.vehicle
    parts = [row.job.number, row.job.title, row.job.plate, row.job.customer.name]
    desk = row.desk
    where = (PLACES.get(desk.place, ""), desk.spot, desk.hook)
    return " ".join([*parts, "" if vehicle is None else vehicle.vin, *where]).casefold()


def _said(row: OpenJob, search: str) -> bool:
    """Tell whether a job is meant by what was typed: every word, or its customer's number."""
    has = phone_core(row.job.customer.phone)
    if has and any(run in has for run in phone_ends(search)):
        return True
    text = _text(row)
    return all(word in text for word in search.casefold().split())


def _promised(row: OpenJob, promised: str, today: date) -> bool:
    on = row.job.promised_on
    if not promised:
        return True
    if on is None:
        return False
    week_ends = today + timedelta(days=6 - today.weekday())
    return {
        "late": on < today,
        "today": on == today,
        "week": today <= on <= week_ends,
    }[promised]


def _held(row: OpenJob) -> datetime:
    since = None if row.holding is None else row.holding.since
    return row.job.opened_at if since is None else since


_ORDERS: Final[Mapping[str, Callable[[OpenJob], tuple[bool, date | datetime]]]] = {
    "promised": lambda row: (row.job.promised_on is None, row.job.promised_on or date.max),
    "held": lambda row: (row.holding is None or row.holding.since is None, _held(row)),
}


def meant(
    rows: Iterable[OpenJob], wanted: Wanted, today: date, person: str = ""
) -> tuple[OpenJob, ...]:
    """Give the open jobs that are wanted, in the order wanted.

    Parameters
    ----------
    rows : Iterable[OpenJob]
        Every open job, newest first.
    wanted : Wanted
        What the address asks for; a step or reason that does not exist finds nothing.
    today : date
        The workshop's day.
    person : str
        Whoever looks; empty for nobody.

    Returns
    -------
    tuple[OpenJob, ...]
        Among equals the newest first.
    """
    found = [
        row
        for row in rows
        if wanted.step in {"", row.step_slug}
        and wanted.waits in {"", row.waits_for}
        and (row.hazards or not wanted.hazards)
        and _promised(row, wanted.promised, today)
        and (not wanted.mine or row.desk.assigned == person)
        and _said(row, wanted.search)
    ]
    return tuple(sorted(found, key=_ORDERS[wanted.sort]) if wanted.sort in _ORDERS else found)
