"""The one clock: everything that needs the time asks ``now`` here, or is handed it.

Pure code never asks; it takes ``now`` as an argument. Only databases made for practice and
for tests may set the clock (COLDBUS_MOVABLE_CLOCK); a shop's own time cannot be moved.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Protocol

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured


class Clock(Protocol):
    """Anything that can say what time it is."""

    def now(self) -> datetime:
        """Return the time, aware of its zone."""
        ...


class SystemClock:
    """The computer's own clock."""

    def now(self) -> datetime:
        """Return the time in UTC."""
        return datetime.now(UTC)


@dataclass
class FixedClock:
    """A clock that stands still until it is told to move."""

    moment: datetime

    def now(self) -> datetime:
        """Return the moment at which the clock stands."""
        return self.moment

    def advance(self, step: timedelta) -> datetime:
        """Move on by ``step`` and return the new moment."""
        self.moment += step
        return self.moment


@dataclass
class _Wall:
    """Where the clock in use hangs."""

    clock: Clock = field(default_factory=SystemClock)


_WALL = _Wall()


def now() -> datetime:
    """Return the time in UTC, from the clock in use."""
    return _WALL.clock.now().astimezone(UTC)


def set_clock(clock: Clock) -> Clock:
    """Hang up another clock and return the one that hung there.

    Raises
    ------
    ImproperlyConfigured
        Where the database is a shop's own.
    """
    if not settings.COLDBUS_MOVABLE_CLOCK:
        raise ImproperlyConfigured(
            "The clock of a shop's own database cannot be set; "
            "COLDBUS_MOVABLE_CLOCK=1 is for practice and test databases."
        )
    before = _WALL.clock
    _WALL.clock = clock
    return before


@contextmanager
def use_fixed(moment: datetime) -> Iterator[FixedClock]:
    """Let time stand at ``moment`` inside the block; the clock yielded can be moved on.

    Raises
    ------
    ValueError
        Where ``moment`` has no time zone.
    ImproperlyConfigured
        Where the database is a shop's own.
    """
    if moment.tzinfo is None:
        raise ValueError("The moment needs a time zone.")
    clock = FixedClock(moment)
    before = set_clock(clock)
    try:
        yield clock
    finally:
        set_clock(before)
