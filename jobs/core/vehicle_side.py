"""What a set of isolation readings on the vehicle's side asks: connectors off, proven dead.

Here: the items, made for a step's own slug, and which of them apply now.
Not here: what the readings say and what is wrong with them (`jobs.core.vehicle_side_check`).
"""

from dataclasses import replace
from typing import Any, NamedTuple

from jobs.core.item import (
    Bounded,
    EquipmentUsed,
    Item,
    bounded,
    equipment,
    qualifier_of,
    reading,
    table,
    tick,
)
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record

__all__ = [
    "DISCHARGE",
    "MARKED",
    "NOTHING",
    "READ",
    "SHORTED",
    "VehicleSide",
    "asked_vehicle_side",
    "undischarged",
    "vehicle_side_items",
]

NOTHING = "nothing"
"""Stands for no part unplugged in the qualifier of a reading."""
SHORTED, MARKED, READ = "Leads shorted", "Check resistor, marked", "Check resistor, read"

DISCHARGE = Reason(
    "isolation_discharge", "Discharge after the reading with {unplugged} unplugged, then tick it."
)


class VehicleSide(NamedTuple):
    """Items of one set of tester readings on the vehicle's side, connectors off."""

    tester: Item[EquipmentUsed]
    connectors_off: Item[bool]
    test_v: Item[float]
    lead_proof: Item[dict[str, float]]
    reading: Item[Bounded]
    discharged: Item[bool]


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
            many="each", qualifiers=("pole", "unplugged"), needed=False, needs_proof=needs_proof,
            group=group, help="After each reading of each cable, before the leads move on.",
        ),
    )  # fmt: skip


def undischarged(record: Record, items: VehicleSide) -> tuple[Blocker, ...]:
    """Say after which readings no discharge was ticked yet.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : VehicleSide
        The step's own items.

    Returns
    -------
    tuple[Blocker, ...]
        One for each cable with each thing unplugged, in the order read.

    Notes
    -----
    A discharge of an earlier version of the gate names no cable and stands for both.
    """
    done = {
        (given.part("unplugged"), given.part("pole")): given.seq
        for given in record.all(items.discharged)
    }
    found = []
    for given in record.all(items.reading):
        name, pole = given.part("unplugged"), given.part("pole")
        if max(done.get((name, pole), 0), done.get((name, ""), 0)) < given.seq:
            found.append(DISCHARGE(items.discharged.key, given.entry.qualifier, unplugged=name))
    return tuple(found)


def asked_vehicle_side(record: Record, items: VehicleSide) -> tuple[Item[Any], ...]:
    """Give the vehicle-side items asked now, with each named part of the vehicle."""
    parts = () if record.pack is None else record.pack.vehicle_parts
    poles = {
        name: tuple(qualifier_of(unplugged=name, pole=pole) for pole in ("pos", "neg"))
        for name in (NOTHING, *parts)
    }
    return (
        items.tester,
        items.connectors_off,
        items.test_v,
        replace(
            items.lead_proof, expected=tuple(qualifier_of(when=w) for w in ("before", "after"))
        ),
        replace(
            items.reading,
            expected=poles[NOTHING],
            offered=tuple(each for name in parts for each in poles[name]),
            barred=lambda _qualifier: next(iter(undischarged(record, items)), None),
        ),
        replace(
            items.discharged,
            offered=tuple(each for name in (NOTHING, *parts) for each in poles[name]),
        ),
    )
