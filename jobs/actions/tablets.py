"""What is known of the tablets that send entries: when heard, how many made, what will not come.

A tablet numbers its entries. A number that neither arrived nor was dropped is an entry that still
lies on the tablet, or was lost with it; `jobs.queries.tablets` tells of those. Where it was lost,
a manager sets it aside with the reason; what arrives after all is taken as ever.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final
from uuid import UUID

from jobs.core.reason import InputRefused, Reason
from jobs.core.running_numbers import missing, whole_up_to
from jobs.models import DroppedEntry, SetAside, Tablet
from jobs.queries.tablets import arrived_above, ranges_aside
from workshop.actions import check_pin
from workshop.actions.permission import require
from workshop.people import MANAGER
from workshop.writing import one_writer

__all__ = ["REASONS", "GivenUp", "Heard", "hear", "name_tablet", "set_aside"]

NO_TABLET = Reason("tablet_unknown", "There is no such tablet.")
NOTHING = Reason("tablet_nothing_missing", "Nothing is missing from this tablet any more.")
WHY = Reason("tablet_why", "Say what became of the tablet and of what was on it.")
PIN = Reason("tablet_pin", "The PIN is not right.")
REASONS = (NO_TABLET, NOTHING, WHY, PIN)

REASON_LETTERS: Final = 1000
NAME_LETTERS: Final = 40
NOTED_EVERY: Final = timedelta(minutes=1)
"""How often a tablet that lacks nothing is noted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What a tablet says of itself with each sending.

    Attributes
    ----------
    device : str
        Its identifier.
    made : int
        The highest running number it has given.
    dropped : tuple[int, ...]
        Running numbers whose entries were taken out of its queue.
    """

    device: str
    made: int
    dropped: tuple[int, ...] = ()


def _whole_up_to(row: Tablet) -> int:
    """Count on from what is known to be whole for as long as no number is missing."""
    return whole_up_to(row.whole_up_to, arrived_above(row), ranges_aside(row))


def _is_calm(row: Tablet, heard: Heard, now: datetime) -> bool:
    """Say that nothing is missing and nothing has to be noted yet: most sendings write nothing."""
    lately = now - row.last_at < NOTED_EVERY
    return lately and row.missing_since is None and _whole_up_to(row) >= heard.made


def hear(heard: Heard, *, person: str, now: datetime) -> None:
    """Note what a tablet says of itself, after what it sent was answered.

    Parameters
    ----------
    heard : Heard
        What it says.
    person : str
        Who is signed on there; empty for nobody.
    now : datetime
        The server's time (UTC).
    """
    row = Tablet.objects.filter(pk=heard.device).first()
    if row is not None and not heard.dropped and _is_calm(row, heard, now):
        return
    with one_writer():
        row, _ = Tablet.objects.get_or_create(
            pk=heard.device, defaults={"first_at": now, "last_at": now}
        )
        DroppedEntry.objects.bulk_create(
            [DroppedEntry(tablet=row, device_seq=number, at=now) for number in heard.dropped],
            ignore_conflicts=True,
        )
        row.made = max(row.made, heard.made)
        row.whole_up_to = _whole_up_to(row)
        row.last_at = now
        row.last_person = UUID(person) if person else row.last_person
        behind = row.whole_up_to < row.made
        row.missing_since = (row.missing_since or now) if behind else None
        row.save()


def name_tablet(device: str, name: str, *, now: datetime) -> None:
    """Give a tablet a name."""
    with one_writer():
        row, _ = Tablet.objects.get_or_create(pk=device, defaults={"first_at": now, "last_at": now})
        row.name = " ".join(name.split())[:NAME_LETTERS]
        row.save(update_fields=("name",))


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenUp:
    """What a manager sends to end the waiting for a tablet's missing entries."""

    key: str
    device: str
    reason: str


def set_aside(given: GivenUp, *, by: str, pin: str, now: datetime) -> None:
    """End the waiting for the entries that are missing from a tablet now.

    Parameters
    ----------
    given : GivenUp
        What was sent; the same once more changes nothing.
    by : str
        Who does it: a manager.
    pin : str
        Their PIN.
    now : datetime
        The server's time (UTC).

    Raises
    ------
    InputRefused
        With the field that has to be mended, or where nothing is missing.
    NotAllowed
        Where it is not a manager.
    """
    require(by, MANAGER)
    reason = " ".join(given.reason.split())[:REASON_LETTERS]
    if not reason:
        raise InputRefused(WHY("reason"))
    if check_pin(by, pin, now).state != "right":
        raise InputRefused(PIN("pin"))
    with one_writer():
        row = Tablet.objects.select_for_update().filter(pk=given.device).first()
        if row is None:
            raise InputRefused(NO_TABLET())
        if SetAside.objects.filter(pk=UUID(given.key)).exists():
            return
        gone = missing(row.whole_up_to, row.made, arrived_above(row), ranges_aside(row))
        if not gone:
            raise InputRefused(NOTHING())
        SetAside.objects.create(
            key=UUID(given.key),
            tablet=row,
            at=now,
            person=UUID(by),
            reason=reason,
            made=row.made,
            numbers=[list(each) for each in gone],
        )
        row.whole_up_to, row.missing_since = row.made, None
        row.save(update_fields=("whole_up_to", "missing_since"))
