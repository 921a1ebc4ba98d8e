"""What the road test asks: refit, isolation once more, switching on, drive, charge, codes.

From the disconnect on, isolation is read only from the vehicle's own monitor.
"""

from dataclasses import replace
from datetime import date
from typing import Any

from jobs.core.item import (
    Choice,
    Effect,
    Item,
    Shape,
    bounded,
    choice,
    equipment,
    reading,
    signature,
    table,
    text,
    tick,
)
from jobs.core.log_entry import Log, LogAsked, asked_of, log
from jobs.core.once import once_a_record
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.torque import torque_items
from jobs.core.torque_sheet import asked_torque
from jobs.core.vehicle_side import asked_vehicle_side, vehicle_side_items
from jobs.steps.fault_localisation.items import CAPPED, SEEN, vehicle_leaks
from jobs.steps.intake.items import FLOOD
from jobs.steps.isolation_readings.items import REPEAT
from jobs.steps.module_swap.items import SEATED
from packs.definition import PackDefinition

SLUG, HOLD = "road_test", "disconnect_in"
_REFIT, _ON, _DRIVE, _AFTER = "Refit", "Switched on", "Drive and charge", "After the drive"
_ROAD: dict[str, Any] = {"group": _DRIVE, "hold": HOLD}
WET = frozenset({"electrolyte", "coolant", "water", "corrosion"})
"""What, seen in the pack, makes the reading after 24 h needed."""

MOUNTS = torque_items(f"{SLUG}.mounts", "Pack to vehicle", group=_REFIT)
BONDING_METER = equipment(
    f"{SLUG}.bonding_meter", "Milliohm meter", ("milliohm_meter",), group=_REFIT
)
BONDING_A = reading(
    f"{SLUG}.bonding_current_a", "Test current of the bonding", unit="A", low=0, high=1000,
    group=_REFIT,
)  # fmt: skip
BONDING = table(
    f"{SLUG}.bonding_ohm", "Bonding, enclosure to chassis", unit="ohm", low=0, high=1000,
    group=_REFIT, help="Before the 12 V supply is connected.",
)  # fmt: skip
CONNECTORS = tick(
    f"{SLUG}.connectors", "Connectors clean, fitted and locked", group=_REFIT, needs_proof=True
)
COOLANT = tick(f"{SLUG}.coolant", "Coolant filled and bled, no drips", group=_REFIT)
INTERLOCK = tick(
    f"{SLUG}.interlock", "Interlock loop closed: continuity measured", group=_REFIT,
    needs_proof=True,
)  # fmt: skip
VEHICLE = vehicle_side_items(SLUG, group="Vehicle side after the repair, proven dead")
TOOLS = tick(f"{SLUG}.tools", "Tools and loose parts counted, none left", group=_REFIT)
SECOND = signature(
    f"{SLUG}.second", "Second person stands by while it is switched on", group=_REFIT
)
DISCONNECT = tick(
    f"{SLUG}.disconnect", "Service disconnect refitted", group=_ON, hold=HOLD,
    effect=Effect.ENDS_PROOF, help="From here nothing counts as dead.",
)  # fmt: skip
SUPPLY = tick(
    f"{SLUG}.supply",
    "12 V supply connected",
    group=_ON,
    hold=HOLD,
    effect=Effect.ENDS_PROOF,
    help="Bonding is measured before this; afterwards it cannot be entered.",
)
CODED = tick(f"{SLUG}.coded", "New module coded to the vehicle", group=_ON, hold=HOLD)
CODES_STORED = text(
    f"{SLUG}.codes_stored", "Trouble codes stored before clearing", group=_ON, hold=HOLD,
    help="Each code as the vehicle shows it; “none” where there is none.",
)  # fmt: skip
CLEARED = tick(f"{SLUG}.cleared", "Trouble codes cleared", group=_ON, hold=HOLD)
DRIVE_KM = reading(f"{SLUG}.drive_km", "Distance", unit="km", low=0, high=2000, **_ROAD)
DRIVE_MIN = reading(
    f"{SLUG}.drive_min", "Time driven", unit="min", low=0, high=1440, **_ROAD,
    help="20 to 30 min, mixed, with strong acceleration and braking.",
)  # fmt: skip
CHARGED = tick(f"{SLUG}.charged", "Charged to full, balancing finished", **_ROAD)
LOG = log(
    f"{SLUG}.log", "Log of the charge and the drive", **_ROAD,
    help="With rests before and after. What it shows need not be typed.",
)  # fmt: skip


def _spread(key: str, label: str, help_text: str) -> Item[float]:
    return reading(
        f"{SLUG}.{key}", label, unit="mV", low=0, high=5000, **_ROAD, help=help_text
    )  # fmt: skip


SPREAD_REST = _spread("spread_rest_mv", "Cell spread at rest", "Highest less lowest cell.")
SPREAD_TOP = _spread("spread_top_mv", "Cell spread at the top of the charge", "")
SPREAD_LOAD = _spread("spread_load_mv", "Cell spread under load", "At about half power.")
SPREAD_C = reading(
    f"{SLUG}.spread_c", "Spread of the module temperatures", unit="degC", low=0, high=100, **_ROAD
)
SPREADS = {"rest": SPREAD_REST, "top": SPREAD_TOP, "load": SPREAD_LOAD, "temperature": SPREAD_C}
"""Spreads that are typed where no log gives them, by their name in a log."""
CODES = choice(
    f"{SLUG}.codes", "Trouble codes after two drive cycles",
    (Choice("none", "None returned"), Choice("returned", "One or more returned")),
    group=_AFTER, hold=HOLD,
)  # fmt: skip
CODES_TEXT = text(f"{SLUG}.codes_text", "Codes found", group=_AFTER, hold=HOLD)
_MONITOR: dict[str, Any] = {"unit": "ohm", "low": 0, "high": 1e10, "group": _AFTER, "hold": HOLD}
HOT = bounded(
    f"{SLUG}.isolation_hot", "Isolation shown by the vehicle, hot from the drive", **_MONITOR,
    help="From the vehicle's own monitor only.",
)  # fmt: skip
AFTER_24H = bounded(
    f"{SLUG}.isolation_24h", "Isolation shown by the vehicle, 24 h after the drive", **_MONITOR,
    needed=False, on_paper=False,
)  # fmt: skip
REVISIT_ON = Item(
    key=f"{SLUG}.revisit_on", label="Return visit booked for", shape=Shape.DAY,
    read=date.fromisoformat, needed=False, group=_AFTER, hold=HOLD, on_paper=False,
    help="A day after today, agreed with the customer.",
)  # fmt: skip
REVISIT = text(
    f"{SLUG}.revisit", "Return visit, in words", needed=False, group=_AFTER, hold=HOLD,
    help="Time and what is looked at.",
)  # fmt: skip
POWER_ON = Reason(
    "road_bonding_power_on",
    "{act} is in: the bonding is measured before it. Take it out again, strike its entry with the "
    "reason, and measure then.",
)


def bonding_barred(record: Record) -> Blocker | None:
    """Say that 12 V supply or disconnect is in, before which the bonding is measured."""
    inside = next((item for item in (SUPPLY, DISCONNECT) if record.has(item)), None)
    return None if inside is None else POWER_ON(inside.key, act=inside.label)


def was_down(record: Record) -> bool:
    """Tell whether the pack was taken out of the vehicle or opened."""
    return record.lid_was_off or record.has(CAPPED)


def was_wet(record: Record) -> bool:
    """Tell whether moisture, coolant or electrolyte was seen, or the vehicle stood in water."""
    seen = {given.part("what") for given in record.all(SEEN)}
    return bool(seen & WET) or record.get(FLOOD) == "yes"


def not_reproduced(record: Record) -> bool:
    """Tell whether the fault did not show at first and had to be read again to be looked for."""
    return record.has(REPEAT)


def swapped(record: Record) -> bool:
    """Tell whether a module was replaced in this job."""
    signature_of = record.signatures.get("module_swap")
    return signature_of is not None and signature_of.outcome == "done"


def logs(record: Record) -> tuple[Log, ...]:
    """Give the logs in force, in the order read in."""
    return tuple(given.value for given in record.all(LOG))


def log_asked(record: Record) -> LogAsked | None:
    """Give what a log is asked now; None while no pack is chosen."""
    replaced = {given.part("module"): None for given in record.all(SEATED)}
    return None if record.pack is None else asked_of(record.pack, tuple(replaced), record.limits)


def _charged(record: Record) -> tuple[Item[Any], ...]:
    """Ask for logs, and for each spread to be typed that no log gives."""
    if not record.lid_was_off:
        return ()
    found = [each.result for each in logs(record)]
    shown = {
        name: any(getattr(result, field) is not None for result in found)
        for name, field in (
            ("rest", "spread_rest_mv"),
            ("top", "spread_top_mv"),
            ("load", "spread_load_mv"),
            ("temperature", "temperature_spread_c"),
        )
    }
    return (LOG, *(replace(item, needed=not shown[name]) for name, item in SPREADS.items()))


def _refitted(record: Record, pack: PackDefinition) -> tuple[Item[Any], ...]:
    if not was_down(record):
        return ()
    points, asked = pack.bonding_points, (BONDING_METER, BONDING_A, BONDING)
    bonding = tuple(
        replace(
            item,
            barred=lambda _qualifier: bonding_barred(record),
            rows=points if item is BONDING else (),
        )
        for item in asked
        if points
    )
    return (*asked_torque(record, MOUNTS, pack.mounts), *bonding)


def refit(record: Record) -> tuple[Item[Any], ...]:
    """Give what is asked before the disconnect goes in, in the order of the work."""
    pack = record.pack
    if pack is None:
        return (TOOLS, SECOND)
    liquid = pack.cooling.kind == "liquid" and was_down(record)
    return (
        *(asked_vehicle_side(record, VEHICLE) if vehicle_leaks(record) else ()),
        *_refitted(record, pack),
        CONNECTORS,
        *((COOLANT,) if liquid else ()),
        *((INTERLOCK,) if pack.interlock else ()),
        TOOLS,
        SECOND,
    )


@once_a_record
def items(record: Record) -> tuple[Item[Any], ...]:
    """Give what the step asks now, in order; the pack's own checks only where it was opened."""
    pack = record.pack
    plug = pack is not None and pack.disconnect.kind != "none"
    coded = pack is not None and pack.modules_coded and swapped(record)
    return (
        *refit(record),
        *((DISCONNECT,) if plug else ()),
        SUPPLY,
        *((CODED,) if coded else ()),
        CODES_STORED,
        CLEARED,
        DRIVE_KM,
        DRIVE_MIN,
        CHARGED,
        *_charged(record),
        CODES,
        *((CODES_TEXT,) if record.get(CODES) == "returned" else ()),
        HOT,
        AFTER_24H,
        REVISIT_ON,
        *((REVISIT,) if record.has(REVISIT) or record.has(REVISIT_ON) else ()),
    )
