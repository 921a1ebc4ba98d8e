"""What the isolation readings ask: the pack's side, live, and the vehicle's side, proven dead.

Here: both sides as functions of a slug, so that reassembly and road test read isolation again
with items of their own. Not here: what the readings say (`assessment`).
"""

from dataclasses import replace
from typing import Any, NamedTuple

from jobs.core.item import (
    Bounded,
    Choice,
    EquipmentUsed,
    Item,
    bounded,
    choice,
    equipment,
    qualifier_of,
    reading,
    series,
    table,
    text,
    tick,
)
from jobs.core.record import Record
from jobs.steps.de_energise_check.items import live_work_items
from jobs.steps.intake.items import pack_alone
from packs.definition import IsolationPoint

SLUG = "isolation_readings"
HOLD = "live_readings"
NOTHING = "nothing"
"""Stands for no part unplugged in the qualifier of a vehicle-side reading."""
SHORTED, MARKED, READ = "Leads shorted", "Check resistor, marked", "Check resistor, read"

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


class VehicleSide(NamedTuple):
    """Items of one set of tester readings on the vehicle's side, connectors off."""

    tester: Item[EquipmentUsed]
    connectors_off: Item[bool]
    test_v: Item[float]
    lead_proof: Item[dict[str, float]]
    reading: Item[Bounded]
    discharged: Item[bool]


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


def vehicle_side_items(slug: str, *, group: str, needs_proof: bool = True) -> VehicleSide:
    """Make the items of a set of vehicle-side readings.

    Parameters
    ----------
    slug : str
        The step; its items are named after it.
    group : str
        Heading on the page.
    needs_proof : bool
        Whether the circuit outside the pack has to be proven dead for each entry.

    Returns
    -------
    VehicleSide
        The items; `asked_vehicle_side` gives those that apply to a pack.
    """
    ohm: dict[str, Any] = {"unit": "ohm", "low": 0, "high": 1e13, "group": group}
    ohm |= {"many": "each", "needs_proof": needs_proof}
    return VehicleSide(
        tester=equipment(
            f"{slug}.vehicle_tester", "Insulation tester", ("insulation_tester",), group=group
        ),
        connectors_off=tick(
            f"{slug}.vehicle_connectors_off", "Pack connectors off and capped",
            needs_proof=needs_proof, group=group,
            help="The tester goes on the vehicle's cables only, never on the string.",
        ),
        test_v=reading(
            f"{slug}.vehicle_test_v", "Test voltage set", unit="V", low=50, high=1000,
            needs_proof=needs_proof, group=group,
            help="At least the working voltage, never above what the parts' maker allows.",
        ),
        lead_proof=table(
            f"{slug}.vehicle_lead_proof", "Proof of the leads", **ohm, rows=(SHORTED, MARKED, READ),
            qualifiers=("when",), help="Before the first and after the last reading.",
        ),
        reading=bounded(
            f"{slug}.vehicle_reading", "Cable to chassis", **ohm, qualifiers=("pole", "unplugged"),
            help="After 60 s. One part unplugged at a time; plug it in again before the next.",
        ),
        discharged=tick(
            f"{slug}.vehicle_discharged", "Discharged after the reading, and seen to be",
            many="each", qualifiers=("unplugged",), needs_proof=needs_proof, group=group,
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


def asked_vehicle_side(record: Record, items: VehicleSide) -> tuple[Item[Any], ...]:
    """Give the vehicle-side items asked now, with each named part of the vehicle."""
    parts = (NOTHING, *(() if record.pack is None else record.pack.vehicle_parts))
    return (
        items.tester,
        items.connectors_off,
        items.test_v,
        replace(items.lead_proof, offered=tuple(qualifier_of(when=w) for w in ("before", "after"))),
        replace(
            items.reading,
            offered=tuple(qualifier_of(unplugged=n, pole=p) for n in parts for p in ("pos", "neg")),
        ),
        replace(items.discharged, offered=tuple(qualifier_of(unplugged=n) for n in parts)),
    )


LIVE = live_work_items(SLUG)
PACK = pack_side_items(SLUG, hold=HOLD, group="Pack side, live")
VEHICLE = vehicle_side_items(SLUG, group="Vehicle side, proven dead")
TEMPERATURE_C = reading(
    f"{SLUG}.temperature_c", "Temperature where the vehicle stands", unit="degC", low=-40, high=60,
    group="Conditions",
)  # fmt: skip
HUMIDITY_PERCENT = reading(
    f"{SLUG}.humidity_percent", "Relative humidity", unit="percent", low=0, high=100,
    group="Conditions",
)  # fmt: skip
OUTCOME = choice(
    f"{SLUG}.outcome",
    "Where the leak is",
    (
        Choice("pack", "In the pack"),
        Choice("vehicle_part", "In a part of the vehicle"),
        Choice("both", "In the pack and in a part of the vehicle"),
        Choice("not_found", "Not found now"),
    ),
    group="Outcome",
)
CONDITIONS = ("wet", "warm", "loaded", "after_24h")
REPEAT = bounded(
    f"{SLUG}.repeat", "Isolation read again", unit="ohm", low=0, high=1e13, many="each",
    qualifiers=("condition",), offered=tuple(qualifier_of(condition=name) for name in CONDITIONS),
    group="Not found: read again", help="The lowest figure seen: wet, warm, loaded, after 24 h.",
)  # fmt: skip
REPEAT_METHOD = text(
    f"{SLUG}.repeat_method", "How it was read again, and with what", group="Not found: read again"
)
CUSTOMER_TOLD = tick(
    f"{SLUG}.customer_told", "Customer told: the fault was not found, which does not mean sound",
    group="Not found: read again",
)  # fmt: skip
LEFT_HOW = choice(
    f"{SLUG}.left_how",
    "How the vehicle is left, as agreed with the customer",
    (
        Choice("parked", "Left de-energised and labelled"),
        Choice("towed", "Left de-energised and labelled, goes by tow only"),
        Choice("refitted", "Put back as it came; the vehicle's warnings stay in force"),
    ),
    group="Not found: read again",
)


def items(record: Record) -> tuple[Item[Any], ...]:
    """Give what the step asks now, in order."""
    again = (REPEAT, REPEAT_METHOD, CUSTOMER_TOLD, LEFT_HOW)
    return (
        *((*LIVE,) if points_now(record) else (LIVE.second,)),
        *asked_pack_side(record, PACK),
        *(() if pack_alone(record) else asked_vehicle_side(record, VEHICLE)),
        TEMPERATURE_C,
        HUMIDITY_PERCENT,
        OUTCOME,
        *(again if record.get(OUTCOME) == "not_found" else ()),
    )
