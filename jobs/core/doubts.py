"""What is odd about a reading that can be taken: a slip of a thousand, or more than can be shown.

Here: `doubts_of`, asked before and after a value is entered. A doubt never refuses and never
blocks; it is said beside the field. Not here: what is refused (`jobs.core.parsing`).
"""

from collections.abc import Callable, Iterator
from typing import Any

from jobs.core.entry import Json
from jobs.core.item import Item, Shape
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record

__all__ = ["REASONS", "doubts_of", "outside_expected"]

BEYOND = Reason("doubt_beyond", "{label} shows no more than {most} {unit}. Read the display again.")
LITTLE = Reason("doubt_little", "{shown:g} ohm is very little for insulation. Were kΩ or MΩ meant?")
MUCH = Reason("doubt_much", "{shown:g} ohm is more than a tester shows. Check the unit.")
STRING = Reason(
    "doubt_string", "The whole string has {string_v:g} V. Check decimal point and unit."
)
SLIP = Reason(
    "doubt_slip",
    "Expected about {low:g} to {high:g} {unit}: this looks like a slip of a thousand.",
)
OUTSIDE = Reason("doubt_outside", "Expected {low:g} to {high:g} {unit}. Read it again.")
REASONS = (BEYOND, LITTLE, MUCH, STRING, SLIP, OUTSIDE)

_RANGES = {
    "meter": ("V", "rated_v"),
    "two_pole_indicator": ("V", "rated_v"),
    "pressure_gauge": ("Pa", "range_pa"),
    "torque_tool": ("Nm", "high_nm"),
    "insulation_tester": ("ohm", "range_ohm"),
}
"""Kind of instrument to the unit it shows and the rating that ends its range."""
_INSULATION_HIGH_OHM = 1e9
"""An item that takes as much as this is about insulation [ohm]."""
_LITTLE_OHM, _MUCH_OHM = 1e4, 1e12
_CELL_V = (1.5, 4.4)
"""A cell at rest lies between these whatever its chemistry [V]."""
_TOLERANCE = 1.03
"""Reading error and cells a little fuller than said [1]."""
_PLACES = {"point", "module"}
_SLIPS = (1e3, 1e-3, 1e2, 1e-2)


def _cells(stored: Json) -> list[float]:
    """Give the numbers of a table: typed in any unit, or torques that a tool clicked at."""
    return [float(one["number"] if isinstance(one, dict) else one) for one in stored.values()]


_SEVERAL: dict[Shape, Callable[[Json], list[float]]] = {
    Shape.SAMPLE: lambda stored: [float(stored["gauge_pa"])],
    Shape.SERIES: lambda stored: [float(row[1]) for row in stored],
    Shape.TABLE: _cells,
    Shape.TORQUE: _cells,
}
"""Shapes that hold several numbers in the unit of the item; the largest of them is asked about."""


def _instruments(record: Record, item: Item[Any]) -> list[tuple[str, float]]:
    """Give the instruments picked for this unit, those of the item's own step alone if any."""
    step = item.key.partition(".")[0] + "."
    mine, others = list[tuple[str, float]](), list[tuple[str, float]]()
    for key, entries in record.live.items():
        for entry in entries:
            kind = entry.value.get("kind") if isinstance(entry.value, dict) else None
            unit, name = _RANGES.get(str(kind), ("", ""))
            most = entry.value["ratings"].get(name) if unit and unit == item.unit else None
            if most:
                used = mine if key.startswith(step) else others
                used.append((entry.value["label"], float(most)))
    return mine or others


def _beyond(record: Record, item: Item[Any], number: float) -> Iterator[Blocker]:
    """Doubt what none of the picked instruments can show."""
    used = _instruments(record, item)
    label, most = max(used, key=lambda one: one[1], default=("", 0.0))
    if used and abs(number) > most:
        yield BEYOND(item.key, "", label=label, most=f"{most:g}", unit=item.unit)


def _string_v(record: Record, item: Item[Any]) -> float | None:
    """Give the voltage of the whole string: as read in this job, or as much as it can be [V]."""
    if record.pack is None:
        return None
    read = [e for key, es in record.live.items() if key.endswith(".pack_string_v") for e in es]
    if read and not item.key.endswith(".pack_string_v"):
        return abs(float(read[-1].value["number"]))
    return record.pack.cells_total * _CELL_V[1]


def _volts(record: Record, item: Item[Any], number: float) -> Iterator[Blocker]:
    """Doubt more volts than the string has, and a string voltage that no such string has."""
    string_v = _string_v(record, item)
    if string_v is None or record.pack is None:
        return
    if item.key.endswith("string_v"):
        low, high = (record.pack.cells_total * cell_v for cell_v in _CELL_V)
        yield from outside_expected(item, number, low, high)
    elif _PLACES & set(item.qualifiers) and abs(number) > string_v * _TOLERANCE:
        yield STRING(item.key, "", string_v=float(f"{string_v:.4g}"))


def outside_expected(item: Item[Any], number: float, low: float, high: float) -> Iterator[Blocker]:
    """Doubt a number outside of what is expected; say where it looks like another unit.

    Parameters
    ----------
    item : Item
        What was asked.
    number, low, high : float
        What was read, and where it is expected [unit of the item].

    Yields
    ------
    Blocker
        At most one.
    """
    if low <= number <= high:
        return
    slipped = any(low <= number * factor <= high for factor in _SLIPS)
    shown = (float(f"{low:.3g}"), float(f"{high:.3g}"))
    reason = SLIP if slipped else OUTSIDE
    yield reason(item.key, "", low=shown[0], high=shown[1], unit=item.unit)


def _ohms(item: Item[Any], stored: Json) -> Iterator[Blocker]:
    """Doubt an insulation that looks typed without its prefix."""
    number = float(stored["number"])
    if (item.high or 0.0) < _INSULATION_HIGH_OHM:
        return
    if stored["comparator"] != "<" and 0.0 < number < _LITTLE_OHM:
        yield LITTLE(item.key, "", shown=number)
    elif number > _MUCH_OHM:
        yield MUCH(item.key, "", shown=number)


def doubts_of(record: Record, item: Item[Any], stored: Json) -> tuple[Blocker, ...]:
    """Say what is odd about a value that can be taken.

    Parameters
    ----------
    record : Record
        The job as it stands.
    item : Item
        What was asked.
    stored : Json
        The value in its stored form.

    Returns
    -------
    tuple[Blocker, ...]
        Doubts in words; empty for most readings. They block nothing.
    """
    if item.shape in _SEVERAL:
        return tuple(_beyond(record, item, max(_SEVERAL[item.shape](stored), key=abs)))
    if item.shape not in {Shape.READING, Shape.BOUNDED}:
        return ()
    number, found = float(stored["number"]), list[Blocker]()
    found += _beyond(record, item, number)
    if item.unit == "V":
        found += _volts(record, item, number)
    elif item.unit == "ohm":
        found += _ohms(item, stored)
    return tuple(found)
