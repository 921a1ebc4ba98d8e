"""The temperature watch on a removed module: its checks, when they are due, when it may end.

Here: what a check holds, the schedule, and what stands against a release. What a check's readings
mean is in `jobs.core.watch_check`. Schedule and times allowed are shop practice: first hour every
15 to 30 min, then hourly, then twice a day, for 72 h or, leaking or wet, 7 days. No standard gives
such a schedule; the vehicle maker's instructions and local rules come first.
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import count, pairwise

from jobs.core.reason import Blocker, Reason

__all__ = [
    "REASONS",
    "Check",
    "Point",
    "Schedule",
    "Sign",
    "Slot",
    "Word",
    "in_force",
    "release_blockers",
    "schedule",
    "watch_length",
]

FIRST_MIN = (0, 15, 30, 60)
"""Minutes of the first checks [min]: shop practice."""
HOURLY_H = (2, 3, 4, 5)
"""Hours of the four hourly checks [h]: shop practice."""
TWICE_A_DAY = timedelta(hours=12)
DRY_LENGTH = timedelta(hours=72)
WET_LENGTH = timedelta(days=7)
EARLY_AND_LATE = (
    (timedelta(minutes=60), timedelta(minutes=5)),
    (timedelta(hours=5), timedelta(minutes=15)),
)
"""How far from its time a check may be, by how long the watch has run: shop practice."""
LATER = timedelta(hours=2)
"""How far from its time a check may be once there are two a day: shop practice."""
IN_DATE = timedelta(hours=12)
"""How old the last check may be when the module is released: shop practice."""
OVER = frozenset({"done", "late", "missed"})
"""States of a check that nobody can make any more."""

NOT_OVER = Reason("watch_not_over", "The watch lasts until {until_at}. Until then hand it over.")
NO_CHECK = Reason("watch_no_check", "Nothing was measured yet. Check the module first.")
NOT_CALM = Reason("watch_not_calm", "The last check was not calm. The watch goes on.")
NOT_IN_DATE = Reason(
    "watch_not_in_date", "The last check is of {last_at}. Check the module now, then release it."
)
DANGER_CLASS = Reason(
    "watch_danger_class", "The job says that the module shows danger signs. Correct that first."
)

REASONS = (NOT_OVER, NO_CHECK, NOT_CALM, NOT_IN_DATE, DANGER_CLASS)


class Sign(StrEnum):
    """What is seen, heard or smelt at the module. The word is stored; it is never renamed."""

    SMOKE = "smoke"
    HISSING = "hissing"
    SMELL = "smell"
    SWELLING = "swelling"
    FLUID = "fluid"


class Word(StrEnum):
    """What a check comes to. The word is stored; it is never renamed."""

    CALM = "calm"
    ESCALATE = "escalate"
    EVACUATE = "evacuate"


@dataclass(frozen=True, slots=True)
class Point:
    """The temperature of one named point of the module [degC]."""

    name: str
    point_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One check, as it was entered and judged.

    Attributes
    ----------
    key : str
        Identifier that the page made.
    at : datetime
        Server's time of the check.
    person : str
        Identifier of whoever checked.
    ambient_c : float | None
        Temperature of the air around [degC]; None where danger signs forbade measuring.
    points : tuple[Point, ...]
        Temperatures by name; empty only with danger signs.
    signs : frozenset[Sign]
        What was noticed.
    note : str
        Free words.
    word : Word
        What it came to, as judged when it was entered.
    reasons : tuple[Blocker, ...]
        Why it was not calm.
    corrects : str
        Key of the check whose wrong figures it replaces; empty for none.
    """

    key: str
    at: datetime
    person: str = ""
    ambient_c: float | None = None
    points: tuple[Point, ...] = ()
    signs: frozenset[Sign] = frozenset()
    note: str = ""
    word: Word = Word.CALM
    reasons: tuple[Blocker, ...] = ()
    corrects: str = ""

    @property
    def hottest_c(self) -> float | None:
        """The hottest point [degC]."""
        return max((point.point_c for point in self.points), default=None)

    @property
    def above_ambient_c(self) -> float | None:
        """How far the hottest point stands above the air around [K]."""
        hottest_c = self.hottest_c
        known = hottest_c is not None and self.ambient_c is not None
        return (hottest_c or 0.0) - (self.ambient_c or 0.0) if known else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """One check of the schedule.

    Attributes
    ----------
    due_at : datetime
        When it is due.
    opens_at, late_at, closes_at : datetime
        From when a check counts for it, after when it is overdue, when the next one takes over.
    state : str
        "ahead", "due", "overdue", "done", "late" (done, but overdue by then) or "missed".
    """

    due_at: datetime
    opens_at: datetime
    late_at: datetime
    closes_at: datetime
    state: str = "ahead"


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """The checks of a watch as they stand.

    Attributes
    ----------
    slots : tuple[Slot, ...]
        Every check that was or is to be made by now, oldest first; missed ones among them.
    next : Slot
        The check to make next, due, overdue or ahead.
    over_at : datetime
        When the time of the watch is over.
    restarted_at : datetime | None
        The escalation after which it was begun again; None without one.
    """

    slots: tuple[Slot, ...]
    next: Slot
    over_at: datetime
    restarted_at: datetime | None

    @property
    def missed(self) -> tuple[Slot, ...]:
        """The checks that nobody made."""
        return tuple(slot for slot in self.slots if slot.state == "missed")


def watch_length(*, wet: bool) -> timedelta:
    """Give how long a module is watched: 7 days where it leaks or is wet, else 72 h."""
    return WET_LENGTH if wet else DRY_LENGTH


def in_force(checks: Sequence[Check]) -> tuple[Check, ...]:
    """Leave out the checks whose figures a later one corrects."""
    wrong = {check.corrects for check in checks}
    return tuple(check for check in checks if check.key not in wrong)


def _offsets(length: timedelta) -> Iterator[timedelta]:
    """Give the times of the checks; after the end twice a day, until somebody ends the watch."""
    yield from (timedelta(minutes=minutes) for minutes in FIRST_MIN)
    yield from (timedelta(hours=hours) for hours in HOURLY_H)
    offset = timedelta(hours=HOURLY_H[-1]) + TWICE_A_DAY
    while offset < length:
        yield offset
        offset += TWICE_A_DAY
    yield from (length + turn * TWICE_A_DAY for turn in count())


def _allowed(offset: timedelta) -> timedelta:
    return next((allowed for until, allowed in EARLY_AND_LATE if offset <= until), LATER)


def _slots(start: datetime, length: timedelta, until: datetime) -> Iterator[Slot]:
    """Give the checks of one run, and the first that cannot be made before `until`."""
    for offset, following in pairwise(_offsets(length)):
        opens_at = start + offset - _allowed(offset)
        yield Slot(
            due_at=start + offset,
            opens_at=opens_at,
            late_at=start + offset + _allowed(offset),
            closes_at=start + following - _allowed(following),
        )
        if opens_at > until:
            return


def _state(slot: Slot, made: Sequence[datetime], until: datetime) -> str:
    """Say how a check stands: by the first one made between its opening and its closing."""
    place = bisect_left(made, slot.opens_at)
    if place < len(made) and made[place] < slot.closes_at:
        return "done" if made[place] <= slot.late_at else "late"
    if slot.closes_at <= until:
        return "missed"
    if until < slot.opens_at:
        return "ahead"
    return "overdue" if until > slot.late_at else "due"


def _run(
    start: datetime, length: timedelta, made: Sequence[datetime], until: datetime
) -> list[Slot]:
    return [replace(s, state=_state(s, made, until)) for s in _slots(start, length, until)]


def schedule(
    start: datetime, checks: Sequence[Check], *, length: timedelta, now: datetime
) -> Schedule:
    """Say which checks were made, missed, and which is to be made next.

    Parameters
    ----------
    start : datetime
        When the watch was started.
    checks : Sequence[Check]
        All of its checks, oldest first.
    length : timedelta
        How long it lasts.
    now : datetime
        The server's time.

    Returns
    -------
    Schedule
        Up to and with the check to make next.

    Notes
    -----
    A check that was not calm begins the schedule again from its own time, first hour and whole
    length. What was missed before stays missed. The time between two checks of a schedule is
    never more than 12 h; a watch that nobody ends goes on twice a day.
    """
    counted = [check for check in in_force(checks) if check.at <= now]
    made = [check.at for check in counted]
    begins = [start, *(check.at for check in counted if check.word is not Word.CALM)]
    slots: list[Slot] = []
    for begin, end in pairwise(begins):
        within = [at for at in made if begin <= at <= end]
        slots += [slot for slot in _run(begin, length, within, end) if slot.state in OVER]
    last = begins[-1]
    slots += _run(last, length, [at for at in made if at >= last], now)
    return Schedule(
        slots=tuple(slot for slot in slots if slot.state != "ahead"),
        next=next(slot for slot in slots if slot.state not in OVER),
        over_at=last + length,
        restarted_at=last if len(begins) > 1 else None,
    )


def release_blockers(
    found: Schedule, checks: Sequence[Check], *, danger: bool, now: datetime
) -> tuple[Blocker, ...]:
    """Say what stands against releasing the module.

    Parameters
    ----------
    found : Schedule
        The schedule as of `now`.
    checks : Sequence[Check]
        All checks, oldest first.
    danger : bool
        Whether the job says that the module shows danger signs.
    now : datetime
        The server's time.

    Returns
    -------
    tuple[Blocker, ...]
        Empty when its time is over and the last check, made then, is calm and in date.
    """
    danger_class = (DANGER_CLASS(),) if danger else ()
    if now < found.over_at:
        return (NOT_OVER(until_at=found.over_at.isoformat()), *danger_class)
    last = next(reversed(in_force(checks)), None)
    if last is None:
        return (NO_CHECK(), *danger_class)
    if last.word is not Word.CALM:
        return (NOT_CALM(), *danger_class)
    if last.at < found.over_at - LATER or now - last.at > IN_DATE:
        return (NOT_IN_DATE(last_at=last.at.isoformat()), *danger_class)
    return danger_class
