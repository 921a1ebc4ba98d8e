"""What the de-energise check asks, and what every piece of live work asks before it.

Isolating actions, protection and the proof carry a round, so that all of it can be done again
at any time without striking what was true before. Here too: `live_work_items`, for the hold
points of later steps. Not here: what stands against them (`gate`).
"""

from dataclasses import replace
from typing import Any, NamedTuple

from jobs.core import item as ask
from jobs.core.item import EquipmentUsed, Item, PersonUsed, qualifier_of
from jobs.core.record import Record
from jobs.steps.intake.assessment import codes
from jobs.steps.intake.items import pack_alone
from packs.definition import ProofPoint
from packs.physics.absence import PAIRS


class LiveWork(NamedTuple):
    """The four things needed before hands go near live parts."""

    gloves: Item[EquipmentUsed]
    air_test: Item[bool]
    shield: Item[EquipmentUsed]
    second: Item[PersonUsed]


_GLOVES = "Insulating gloves, with leather protectors over them"
_AIR_TEST = "Gloves inspected and air-tested now, by whoever wears them"
_NO_HOLE = "No hole, no cut, no crack; each time before live work begins."


def live_work_items(slug: str, group: str = "Before live work") -> LiveWork:
    """Make the items of a step's hold point before live work.

    Parameters
    ----------
    slug : str
        The step; its items are named after it.
    group : str
        Heading on the page.

    Returns
    -------
    LiveWork
        Gloves, air test, face shield, second person: the `needs` of the hold point.
    """
    worn, beside = "Picked by whoever wears them.", "Within sight, hands free, knows whom to call."
    shield, second = "Face shield worn", "Second person stands by"
    return LiveWork(
        ask.equipment(f"{slug}.live_gloves", _GLOVES, ("gloves",), group=group, help=worn),
        ask.tick(f"{slug}.live_air_test", _AIR_TEST, group=group, help=_NO_HOLE),
        ask.equipment(f"{slug}.live_shield", shield, ("face_shield",), group=group),
        ask.signature(f"{slug}.live_second", second, group=group, help=beside),
    )


_SLUG = "de_energise_check"
_ROUND: dict[str, Any] = {"many": "each", "qualifiers": ("round",), "anytime": True}
_SECURE = _ROUND | {"group": "Switch off and secure"}
_WEAR = _ROUND | {"group": "Protection"}
_DISCHARGE = _ROUND | {"group": "Discharge", "needed": False}
_PROOF = _ROUND | {"group": "Proof of absence of voltage"}

LABEL = ask.tick(
    f"{_SLUG}.label", "Pack definition compared with the pack's own label", group="Pack and area"
)
AREA = ask.tick(f"{_SLUG}.area", "Area barred and signed", group="Pack and area")
CONTACTORS = ask.tick(
    f"{_SLUG}.contactors",
    "Contactors count as possibly welded, the pack connector as live until proven otherwise",
    group="Pack and area",
    help="No plug parts the string of this pack: nobody touches the connector before the proof.",
)
KEYS = ask.person(f"{_SLUG}.keys", "Keys away: who holds them", **_SECURE)
CABLE = ask.tick(f"{_SLUG}.charging_cable", "Charging cable off", **_SECURE)
SUPPLY = ask.tick(f"{_SLUG}.supply_12v", "12 V supply off, lead insulated", **_SECURE)
DISCONNECT = ask.tick(f"{_SLUG}.disconnect", "Service disconnect out", **_SECURE)
LOCK = ask.text(
    f"{_SLUG}.lock",
    "Locked against switching on: lock number",
    help="Disconnect and keys in the lock-box, its key with the technician.",
    **_SECURE,
)
UNCHANGED = ask.tick(
    f"{_SLUG}.unchanged",
    "Looked at again: keys, cable, 12 V, disconnect and lock are as they were",
    help="If anything was undone, do it again and tick it again instead.",
    **_SECURE | {"needed": False},
)
GLOVES = ask.equipment(f"{_SLUG}.gloves", _GLOVES, ("gloves",), **_WEAR)
AIR_TEST = ask.tick(f"{_SLUG}.air_test", _AIR_TEST, help=_NO_HOLE, **_WEAR)
SHIELD = ask.equipment(f"{_SLUG}.shield", "Face shield", ("face_shield",), **_WEAR)
TOOLS = ask.equipment(f"{_SLUG}.tools", "Insulated tools", ("insulated_tools",), **_WEAR)
METER = ask.equipment(f"{_SLUG}.discharge_meter", "Voltmeter", ("meter",), **_DISCHARGE)
DISCHARGE = ask.series(
    f"{_SLUG}.discharge",
    "Discharge of the link capacitors, conductor to conductor",
    unit="V",
    low=-1500,
    high=1500,
    help="Time and voltage, at least three, down to the limit.",
    **_DISCHARGE,
)
INDICATOR = ask.equipment(
    f"{_SLUG}.proof_indicator", "Two-pole indicator", ("two_pole_indicator",), **_PROOF
)
UNIT = ask.equipment(f"{_SLUG}.proof_unit", "Proving unit", ("proving_unit",), **_PROOF)
_LAMPS = "Without digits: the voltage of the unit when every step up to it lights."
_VOLTS: dict[str, Any] = {"unit": "V", "low": -1500, "high": 1500}
BEFORE = ask.reading(
    f"{_SLUG}.proof_before", "Proving unit, before the readings", help=_LAMPS, **_VOLTS, **_PROOF
)
DEAD = ask.bounded(
    f"{_SLUG}.dead_reading",
    "Reading at the point",
    help="Without digits: “<” and the lowest step that stays dark.",
    **_VOLTS,
    **_PROOF | {"qualifiers": ("round", "point", "pair")},
)
AFTER = ask.reading(
    f"{_SLUG}.proof_after",
    "Proving unit, after the readings",
    help="The same indicator, within the minutes allowed.",
    **_VOLTS,
    **_PROOF,
)
SECOND = ask.signature(
    f"{_SLUG}.proof_second",
    "Second person has seen every reading",
    help="Signs last.",
    **_PROOF,
)

SLOW_DISCHARGE = "P0C76"
"""Trouble code for a discharge that takes too long; a definition may name more."""

_LOOP = "Low-voltage loop open"
_NO_PLUG = "High voltage switched off as the maker's service information says"
_ALONE = "Nothing connected to the pack's low-voltage plug"
_PACK_CONNECTOR = ProofPoint(name="Pack connector", where="On the pack itself, pole by pole")


def isolating_items(record: Record) -> tuple[Item[Any], ...]:
    """Give the actions that isolate this vehicle or pack, worded for its kind of disconnect."""
    pack, disconnect = record.pack, DISCONNECT
    if pack is not None:
        labels = {"low_voltage_loop": _LOOP, "none": _NO_PLUG}
        label = labels.get(pack.disconnect.kind, DISCONNECT.label)
        disconnect = replace(DISCONNECT, label=label, help=pack.disconnect.label)
    if pack_alone(record):
        return replace(SUPPLY, label=_ALONE), disconnect, LOCK
    return KEYS, CABLE, SUPPLY, disconnect, LOCK


def slow_codes(record: Record) -> tuple[str, ...]:
    """Give the codes recorded at intake that forbid trusting the waiting time."""
    named = () if record.pack is None else record.pack.slow_discharge_codes
    return tuple(code for code in codes(record) if code in {SLOW_DISCHARGE, *named})


def proof_points(record: Record) -> tuple[ProofPoint, ...]:
    """Give the points where the absence of voltage has to be proven; none without a pack."""
    if record.pack is None:
        return ()
    return (_PACK_CONNECTOR,) if pack_alone(record) else record.pack.proof_points


def readings_asked(record: Record, round_name: str) -> tuple[str, ...]:
    """Give the qualifiers of the readings that one round needs."""
    return tuple(
        qualifier_of(round=round_name, point=point.name, pair=pair)
        for point in proof_points(record)
        for pair in PAIRS
    )


def items(record: Record) -> tuple[Item[Any], ...]:
    """Give what the step asks now, in order; the isolating actions fit the pack's disconnect."""
    pack, slow = record.pack, bool(slow_codes(record))
    label, whole = LABEL, pack is None or pack.disconnect.kind == "string_plug"
    if pack is not None and pack.label_text:
        label = replace(LABEL, help=pack.label_text)
    return (
        *(label, AREA, *(() if whole else (CONTACTORS,))),
        *(*isolating_items(record), *((UNCHANGED,) if record.has(BEFORE) else ())),
        *(GLOVES, AIR_TEST, SHIELD, TOOLS),
        *(replace(METER, needed=slow), replace(DISCHARGE, needed=slow)),
        *(INDICATOR, UNIT, BEFORE, DEAD, AFTER, SECOND),
    )
