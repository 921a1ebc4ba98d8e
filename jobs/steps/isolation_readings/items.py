"""What the isolation readings ask: the pack's side, live, and the vehicle's side, proven dead.

Here: this step's items. The two sides are made in `jobs.core`, so that later steps read
isolation again with items of their own. Not here: what the readings say (`assessment`).
"""

from typing import Any

from jobs.core.item import Choice, Item, bounded, choice, qualifier_of, reading, text, tick
from jobs.core.live_work import live_work_items
from jobs.core.once import once_a_record
from jobs.core.pack_side import PackSide, asked_pack_side, pack_side_items, points_now
from jobs.core.quote_items import billed_item
from jobs.core.record import Record
from jobs.core.vehicle_side import (
    NOTHING,
    VehicleSide,
    asked_vehicle_side,
    vehicle_side_items,
)
from jobs.steps.intake.items import pack_alone

__all__ = [
    "CONDITIONS",
    "CUSTOMER_TOLD",
    "HOLD",
    "HUMIDITY_PERCENT",
    "LEFT_HOW",
    "LIVE",
    "NOTHING",
    "OUTCOME",
    "PACK",
    "REPEAT",
    "REPEAT_METHOD",
    "SLUG",
    "TEMPERATURE_C",
    "VEHICLE",
    "PackSide",
    "VehicleSide",
    "asked_pack_side",
    "asked_vehicle_side",
    "items",
    "pack_side_items",
    "points_now",
    "vehicle_side_items",
]

SLUG = "isolation_readings"
HOLD = "live_readings"


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
    qualifiers=("condition",), offered=(qualifier_of(condition=CONDITIONS[-1]),),
    expected=tuple(qualifier_of(condition=name) for name in CONDITIONS[:-1]),
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
BILLED = billed_item(SLUG, "Not found: read again")


@once_a_record
def items(record: Record) -> tuple[Item[Any], ...]:
    """Give what the step asks now, in order."""
    again = (REPEAT, REPEAT_METHOD, CUSTOMER_TOLD, LEFT_HOW, BILLED)
    return (
        *((*LIVE,) if points_now(record) else (LIVE.second,)),
        *asked_pack_side(record, PACK),
        *(() if pack_alone(record) else asked_vehicle_side(record, VEHICLE)),
        TEMPERATURE_C,
        HUMIDITY_PERCENT,
        OUTCOME,
        *(again if record.get(OUTCOME) == "not_found" else ()),
    )
