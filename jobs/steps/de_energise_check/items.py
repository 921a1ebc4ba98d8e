"""What the de-energise check asks, and what every piece of live work asks before it.

Isolating actions, protection and the proof carry a round, so that all of it can be done again at
any time without striking what was true before.
"""

from dataclasses import replace
from typing import Any

from jobs.core import item as ask
from jobs.core.entry import Kind
from jobs.core.item import Effect, Item, qualifier_of
from jobs.core.live_work import (
    AIR_TEST_HELP,
    AIR_TEST_LABEL,
    GLOVES_LABEL,
)
from jobs.core.once import once_a_record
from jobs.core.record import Record
from jobs.steps.intake.assessment import codes
from jobs.steps.intake.items import pack_alone
from packs.definition import ProofPoint
from packs.physics.absence import PAIRS

SLUG = "de_energise_check"
_ROUND: dict[str, Any] = {"many": "each", "qualifiers": ("round",), "anytime": True}
_SECURE = _ROUND | {"group": "Switch off and secure", "effect": Effect.DOUBTS_PROOF}
_PROTECTION = "Protection"
_WEAR = _ROUND | {"group": _PROTECTION}
_DISCHARGE = _ROUND | {"group": "Discharge", "needed": False}
_PROOF = _ROUND | {"group": "Proof of absence of voltage", "on_paper": False}

LABEL = ask.tick(
    f"{SLUG}.label", "Pack definition compared with the pack's own label", group="Pack and area"
)
AREA = ask.tick(f"{SLUG}.area", "Area barred and signed", group="Pack and area")
CONTACTORS = ask.tick(
    f"{SLUG}.contactors",
    "Contactors count as possibly welded, the pack connector as live until proven otherwise",
    group="Pack and area",
    help="No plug parts the string of this pack: nobody touches the connector before the proof.",
)
KEYS = ask.person(f"{SLUG}.keys", "Keys away: who holds them", **_SECURE)
CABLE = ask.tick(f"{SLUG}.charging_cable", "Charging cable off", **_SECURE)
SUPPLY = ask.tick(f"{SLUG}.supply_12v", "12 V supply off, lead insulated", **_SECURE)
DISCONNECT = ask.tick(f"{SLUG}.disconnect", "Service disconnect out", **_SECURE)
LOCK = ask.text(
    f"{SLUG}.lock",
    "Locked against switching on: lock number",
    help="Disconnect and keys in the lock-box, its key with the technician.",
    **_SECURE,
)
NEW_ROUND = ask.tick(
    f"{SLUG}.new_round",
    "Start again with a new round of readings",
    help="What was read stays as it is. Not while hands are at the circuit.",
    **_PROOF | {"needed": False},
)
UNCHANGED = ask.tick(
    f"{SLUG}.unchanged",
    "Looked at again: keys, cable, 12 V, disconnect and lock are as they were",
    help="If anything was undone, do it again and tick it again instead.",
    **_SECURE | {"effect": Effect.NONE},
)
GLOVES = ask.equipment(f"{SLUG}.gloves", GLOVES_LABEL, ("gloves",), on_paper=False, **_WEAR)
AIR_TEST = ask.tick(f"{SLUG}.air_test", AIR_TEST_LABEL, help=AIR_TEST_HELP, on_paper=False, **_WEAR)
SHIELD = ask.equipment(f"{SLUG}.shield", "Face shield", ("face_shield",), **_WEAR)
TOOLS = ask.equipment(f"{SLUG}.tools", "Insulated tools", ("insulated_tools",), **_WEAR)
METER = ask.equipment(f"{SLUG}.discharge_meter", "Voltmeter", ("meter",), **_DISCHARGE)
DISCHARGE = ask.series(
    f"{SLUG}.discharge",
    "Discharge of the link capacitors, conductor to conductor",
    unit="V",
    low=-1500,
    high=1500,
    help="Time and voltage, at least three, down to the limit.",
    **_DISCHARGE,
)
INDICATOR = ask.equipment(
    f"{SLUG}.proof_indicator", "Two-pole indicator", ("two_pole_indicator",), **_PROOF
)
UNIT = ask.equipment(f"{SLUG}.proof_unit", "Proving unit", ("proving_unit",), **_PROOF)
_LAMPS = "Without digits: the voltage of the unit when every step up to it lights."
_VOLTS: dict[str, Any] = {"unit": "V", "low": -1500, "high": 1500}
BEFORE = ask.reading(
    f"{SLUG}.proof_before", "Proving unit, before the readings", help=_LAMPS, **_VOLTS, **_PROOF
)
DEAD = ask.bounded(
    f"{SLUG}.dead_reading",
    "Reading at the point",
    help="Without digits: “<” and the lowest step that stays dark.",
    **_VOLTS,
    **_PROOF | {"qualifiers": ("round", "point", "pair")},
)
AFTER = ask.reading(
    f"{SLUG}.proof_after",
    "Proving unit, after the readings",
    help="The same indicator, within the minutes allowed.",
    **_VOLTS,
    **_PROOF,
)
SECOND = ask.signature(
    f"{SLUG}.proof_second",
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


TAKEN_OVER = "taken_over"
"""The one cause of a proof's end that undoes nothing at the vehicle."""


def undone_seq(record: Record) -> int:
    """Give the place in the chain at which isolation was last undone; 0 for never.

    Notes
    -----
    Disconnect refitted, supply or charging cable connected, keys moved: everything is switched
    off and ticked again. Time running out and another technician taking over undo nothing.
    """
    last = 0
    for entry in record.entries:
        ended = entry.kind is Kind.PROOF_END and entry.value["cause"] != TAKEN_OVER
        if ended or entry.effect == Effect.ENDS_PROOF:
            last = entry.seq
    return last


def proofs(record: Record) -> dict[str, int]:
    """Give the rounds for which a proof was written, each with its place in the chain."""
    return {e.value["round"]: e.seq for e in record.entries if e.kind is Kind.PROOF}


def round_now(record: Record) -> str:
    """Give the round to which readings belong now.

    Notes
    -----
    A round is over when it is said so, or when its proof has run out or was ended.
    """
    last = record.proof
    number = int(last.round) if last is not None and last.round.isdigit() else 1
    if last is not None and not record.proof_holds():
        number += 1
    over = {given.part("round") for given in record.all(NEW_ROUND)}
    while str(number) in over:
        number += 1
    return str(number)


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


def _stands(record: Record, item: Item[Any], since: int) -> bool:
    given = record.given(item)
    return given is not None and given.seq > since


def readings_asked(record: Record, round_name: str) -> tuple[str, ...]:
    """Give the qualifiers of the readings that one round needs."""
    return tuple(
        qualifier_of(round=round_name, point=point.name, pair=pair)
        for point in proof_points(record)
        for pair in PAIRS
    )


def _asked(record: Record, item: Item[Any], place: str, since: int) -> Item[Any]:
    """Ask for an item in a round, or only offer it where an earlier value still stands."""
    kept = _stands(record, item, since) and record.given(item, place) is None
    return (
        replace(item, offered=(place,), needed=False) if kept else replace(item, expected=(place,))
    )


def _secure(record: Record, place: str) -> tuple[Item[Any], ...]:
    """Give the isolating actions, and one look at them where they stand from an earlier round."""
    undone = undone_seq(record)
    asked = tuple(_asked(record, item, place, undone) for item in isolating_items(record))
    carried = any(item.offered for item in asked) and round_now(record) != "1"
    return (*((replace(UNCHANGED, expected=(place,)),) if carried else ()), *asked)


@once_a_record
def items(record: Record) -> tuple[Item[Any], ...]:
    """Give what the step asks now, in order; the round's items are those of `round_now`."""
    pack, slow, name = record.pack, bool(slow_codes(record)), round_now(record)
    label, whole = LABEL, pack is None or pack.disconnect.kind == "string_plug"
    if pack is not None and pack.label_text:
        label = replace(LABEL, help=pack.label_text)
    place, undone = qualifier_of(round=name), undone_seq(record)
    proven = max((seq for proof, seq in proofs(record).items() if proof != name), default=0)
    discharge = (replace(METER, needed=slow), replace(DISCHARGE, needed=slow))
    again = replace(NEW_ROUND, offered=(place,))
    return (
        *(label, AREA, *(() if whole else (CONTACTORS,))),
        *_secure(record, place),
        *(_asked(record, item, place, 0) for item in (GLOVES, SHIELD, TOOLS)),
        _asked(record, AIR_TEST, place, proven),
        *(_asked(record, item, place, undone) for item in discharge),
        *(replace(item, expected=(place,)) for item in (INDICATOR, UNIT, BEFORE)),
        replace(
            DEAD,
            expected=readings_asked(record, name),
            live_from=None if pack is None else pack.dead_v.value,
        ),
        *(replace(item, expected=(place,)) for item in (AFTER, SECOND)),
        *((again,) if record.has(BEFORE) else ()),
    )
