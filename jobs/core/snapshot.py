"""What entries keep of things and people: as they stood when they were picked or signed.

Here: the typed values that items read back. Not here: the items (`jobs.core.item`) and the
registers that the snapshots are taken from.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from jobs.core.entry import Json

__all__ = [
    "Bounded",
    "Clicked",
    "EquipmentUsed",
    "PersonUsed",
    "PersonalRef",
    "PhotoRef",
    "SpareUsed",
    "read_cell",
    "read_spare",
]


@dataclass(frozen=True, slots=True)
class Bounded:
    """A reading that may be only a bound: the instrument showed "more than" or "below".

    Attributes
    ----------
    value : float
        The number shown, in the item's unit.
    comparator : {"=", ">", "<"}
        "=" for a number, ">" for over-range, "<" for below.
    """

    value: float
    comparator: Literal["=", ">", "<"] = "="


@dataclass(frozen=True, slots=True)
class PersonalRef:
    """Text or drawing about a person, kept outside the chain so that it can be erased."""

    ref: str
    sha256: str


@dataclass(frozen=True, slots=True)
class PhotoRef:
    """A picture or file kept by its digest."""

    sha256: str
    media_type: str


@dataclass(frozen=True, slots=True)
class PersonUsed:
    """A person as they stood when picked or signing: role and qualifications, no name."""

    id: str
    role: str
    qualifications: Mapping[str, date | None]

    def holds(self, code: str, today: date) -> bool:
        """Tell whether the qualification is held and not expired on that day."""
        if code not in self.qualifications:
            return False
        expires = self.qualifications[code]
        return expires is None or expires >= today


@dataclass(frozen=True, slots=True)
class EquipmentUsed:
    """Equipment as it stood when picked; `unusable` is the register's code for what bars it."""

    id: str
    kind: str
    label: str
    serial: str
    ratings: Mapping[str, Any]
    due_on: date | None
    withdrawn: bool
    unusable: str = ""

    def number(self, name: str, default: float = 0.0) -> float:
        """Give one rating as a number; the default where the rating is not known."""
        value = self.ratings.get(name)
        return float(value) if isinstance(value, int | float | str) and value != "" else default

    def in_date(self, today: date) -> bool:
        """Tell whether it may be used on that day: in test, not withdrawn, not worn out.

        A date can pass after it was picked, so the date is looked at again; what else barred it
        when it was picked (used up, never tested) still does.
        """
        barred = self.withdrawn or self.unusable not in {"", "lapsed"}
        return not barred and (self.due_on is None or self.due_on >= today)


@dataclass(frozen=True, slots=True)
class SpareUsed:
    """A spare module as it stood when picked."""

    id: str
    serial: str
    part: str
    chemistry: str
    cells: int
    data: Mapping[str, Any]


class Clicked(float):
    """A torque [Nm] at which the tool clicked: what it was set to, no figure that it showed."""


def read_cell(cell: Json) -> float:
    """Read a number of a table, as typed in any unit, or a torque that the tool signalled.

    Examples
    --------
    >>> read_cell("5.1"), isinstance(read_cell({"number": "9", "clicked": True}), Clicked)
    (5.1, True)
    """
    if not isinstance(cell, dict):
        return float(cell)
    return Clicked(cell["number"]) if cell.get("clicked") else float(cell["number"])


def read_spare(stored: Json) -> SpareUsed:
    """Read a spare's snapshot."""
    return SpareUsed(
        id=stored["id"],
        serial=stored["serial"],
        part=stored["part"],
        chemistry=stored["chemistry"],
        cells=int(stored["cells"]),
        data=stored,
    )
