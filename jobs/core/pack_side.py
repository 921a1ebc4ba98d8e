"""What a set of isolation readings at the pack asks: live, at the maker's isolation points.

Here: the items, made for a step's own slug, and which of them apply now.
Not here: what the readings say and what is wrong with them (`jobs.core.pack_side_check`).
"""

from dataclasses import replace
from typing import Any, NamedTuple

from jobs.core.item import EquipmentUsed, Item, equipment, qualifier_of, reading, series, tick
from jobs.core.record import Record
from packs.definition import IsolationPoint

__all__ = ["PackSide", "asked_pack_side", "pack_side_items", "points_now"]

Series = tuple[tuple[float, ...], ...]


class PackSide(NamedTuple):
    """Items of one set of readings at the pack's isolation points; volts are signed."""

    meter: Item[EquipmentUsed]
    shunt: Item[EquipmentUsed]
    string_v: Item[float]
    reading: Item[float]
    settling: Item[Series]
    settled: Item[bool]
    not_excluded: Item[bool]


def pack_side_items(slug: str, *, hold: str, group: str) -> PackSide:
    """Make the items of a set of pack-side readings.

    Parameters
    ----------
    slug : str
        The step; its items are named after it.
    hold : str
        Hold point before live work of that step; meter and shunt belong to its `needs`.
    group : str
        Heading on the page.

    Returns
    -------
    PackSide
        The items; `asked_pack_side` gives those that apply to a pack.
    """
    volts: dict[str, Any] = {"unit": "V", "low": -1500, "high": 1500, "hold": hold}
    return PackSide(
        meter=equipment(f"{slug}.pack_meter", "Voltmeter", ("meter",), group=group),
        shunt=equipment(f"{slug}.pack_shunt", "Shunt resistor", ("shunt",), group=group),
        string_v=reading(
            f"{slug}.pack_string_v", "Voltage of the whole string", unit="V", low=0, high=1500,
            group=group, help="From the vehicle's own display, or measured on the modules.",
        ),
        reading=reading(
            f"{slug}.pack_reading", "Pole to enclosure, with its sign", **volts, many="each",
            qualifiers=("point", "shunt"), group=group,
            help="Red lead on the pole, black on the enclosure. Wait until it stands still.",
        ),
        settling=series(
            f"{slug}.pack_settling", "Settling of the reading, second by second", **volts,
            many="each", qualifiers=("point", "shunt"), needed=False, group=group,
            help="Its end value counts where no single reading is entered.",
        ),
        settled=tick(
            f"{slug}.pack_settled", "Watched until it stood still for 10 s", many="each",
            qualifiers=("point",), needed=False, hold=hold, group=group,
        ),
        not_excluded=tick(
            f"{slug}.pack_not_excluded", "A leak in the pack is not excluded by these readings",
            needed=False, group=group,
            help="Never means sound. It is written in the report in these words.",
        ),
    )  # fmt: skip


def points_now(record: Record) -> tuple[IsolationPoint, ...]:
    """Give the isolation points that can be reached with the lid as it is now."""
    if record.pack is None:
        return ()
    return tuple(
        point
        for point in record.pack.isolation_points
        if record.pack_open or point.reachable == "closed"
    )


def asked_pack_side(record: Record, items: PackSide) -> tuple[Item[Any], ...]:
    """Give the pack-side items asked now; only the last where no point can be reached."""
    points = [point.name for point in points_now(record)]
    both = tuple(qualifier_of(point=p, shunt=s) for p in points for s in ("none", "fitted"))
    if not points and not record.has(items.reading):
        return (items.not_excluded,)
    return (
        items.meter,
        items.shunt,
        items.string_v,
        replace(items.reading, offered=both, needed=not record.has(items.settling)),
        replace(items.settling, offered=both),
        replace(items.settled, offered=tuple(qualifier_of(point=point) for point in points)),
        items.not_excluded,
    )
