"""What the fault localisation asks: quotation, pack down, lid off, readings, and what leaks.

Here: the items and which of them apply now. Readings at the closed pack are those of the
isolation readings; they are not asked twice. Not here: which module leaks (`assessment`).
"""

from dataclasses import replace
from typing import Any

from jobs.core.item import (
    Choice,
    Effect,
    Item,
    bounded,
    choice,
    drawn,
    equipment,
    photo,
    qualifier_of,
    reading,
    text,
    tick,
)
from jobs.core.leak_history import history_item
from jobs.core.leak_search import ALONE
from jobs.core.live_work import live_work_items
from jobs.core.once import once_a_record
from jobs.core.quote_answer import answer_in_force, asked_answer
from jobs.core.quote_items import DESK, billed_item, quote_items
from jobs.core.record import Record
from jobs.steps.intake.items import pack_alone
from jobs.steps.isolation_readings.assessment import assess as assess_isolation
from jobs.steps.isolation_readings.items import OUTCOME as SIDE

SLUG = "fault_localisation"
LID_HOLD, LINK_HOLD = "lid_off", "open_link"
_QUOTE, _DECLINED, _DOWN = "Quotation", "Left as it is", "Pack down"
_LID, _READ, _SEEN = "Lid off", "Readings with the lid off", "What was seen"
_CONFIRM, _OUTCOME, _REPLACED = "Confirmation", "Outcome", "Replaced"

QUOTE = quote_items(SLUG, _QUOTE)
CANDIDATES, QUOTATION, AMOUNT, QUOTE_HOW, QUOTE_WHO, OPTION, ANSWER, COST_NOW = QUOTE
STOP = choice(
    f"{SLUG}.stop",
    "Work stops here",
    (
        Choice("not_serviceable", "The lid turned out not to be serviceable"),
        Choice("declined", "The customer declines now"),
    ),
    group=_DECLINED,
    needed=False,
    help="Only if so. The job is then closed as declined.",
)
LID_BACK = tick(
    f"{SLUG}.lid_back", "Lid back on, pack closed or capped", group=_DECLINED,
    effect=Effect.CLOSES_PACK, help="Every live part covered; left as it is until it is taken on.",
)  # fmt: skip
CLOSED_UP = tick(f"{SLUG}.closed_up", "Pack closed, connectors capped", group=_DECLINED)
LABELLED = tick(f"{SLUG}.labelled", "Left de-energised and labelled", group=_DECLINED)
TOW_ONLY = tick(f"{SLUG}.tow_only", "Goes by tow only; the customer knows", group=_DECLINED)
BILLED = billed_item(SLUG, _DECLINED)
REFUSAL = drawn(
    f"{SLUG}.refusal", "Customer's signature: findings received, repair refused", group=_DECLINED,
    by=DESK,
)  # fmt: skip

HISTORY = history_item(f"{SLUG}.history", group="Earlier jobs")
TABLE = equipment(f"{SLUG}.table", "Lifting table", ("lifting_table",), group=_DOWN)
SECURED = tick(f"{SLUG}.secured", "Vehicle secured against tipping", group=_DOWN)
CAPPED = tick(
    f"{SLUG}.capped", "Connectors off and capped, pack down on the table", group=_DOWN,
    needs_proof=True,
)  # fmt: skip

LIVE = live_work_items(SLUG, group="Before the lid comes off")
CHARGE_PERCENT = reading(
    f"{SLUG}.charge_percent", "Charge of the pack now", unit="percent", low=0, high=100,
    group="Before the lid comes off",
)  # fmt: skip
QUARANTINE_FREE = tick(
    f"{SLUG}.quarantine_free", "A quarantine place outdoors is free and ready",
    group="Before the lid comes off",
)  # fmt: skip
CUT_DEPTH_MM = reading(
    f"{SLUG}.cut_depth_mm", "Cutting depth set on the tool", unit="mm", low=0, high=50,
    group="Before the lid comes off", help="Bonded lid: never deeper than the definition says.",
)  # fmt: skip
LID_METHOD = text(
    f"{SLUG}.lid_method", "How the lid comes off, with which tools",
    group="Before the lid comes off",
)  # fmt: skip
LID_OFF = tick(
    f"{SLUG}.lid_off", "Lid off", group=_LID, hold=LID_HOLD, effect=Effect.OPENS_PACK,
    help="From here the pack is open: live parts cannot be switched off.",
)  # fmt: skip
SENSE_OFF = tick(
    f"{SLUG}.sense_off", "Sense leads off, each one marked", group=_LID, hold=LID_HOLD,
    help="Before any link opens and before any tester reading.",
)  # fmt: skip
LINK_OPENED = tick(
    f"{SLUG}.link_opened", "Link opened and both ends covered", many="each", qualifiers=("after",),
    needed=False, group=_READ, hold=LINK_HOLD, help="Named by the module before it.",
)  # fmt: skip
READING = reading(
    f"{SLUG}.reading", "Pole to enclosure, with its sign", unit="V", low=-1500, high=1500,
    many="each", qualifiers=("module", "open", "pole", "shunt"), needed=False, group=_READ,
    hold=LID_HOLD,
    help="Meter and shunt of the isolation readings. Open links besides the disconnect: M3+M4.",
)  # fmt: skip
SETTLED = tick(f"{SLUG}.settled", "Each was watched until it stood still for 10 s", group=_READ)
MODULE_TESTER = equipment(
    f"{SLUG}.module_tester", "Insulation tester used on the modules", ("insulation_tester",),
    group=_CONFIRM, hold=LINK_HOLD,
)  # fmt: skip
MODULE_OHM = bounded(
    f"{SLUG}.module_ohm", "Insulation of the module by itself", unit="ohm", low=0, high=1e13,
    many="each", qualifiers=("module",), needed=False, group=_CONFIRM, hold=LINK_HOLD,
    help="Links on both sides open, sense leads off, the lower figure of both poles.",
)  # fmt: skip
WHAT_SEEN = ("electrolyte", "coolant", "water", "corrosion", "nothing")
SEEN = tick(
    f"{SLUG}.seen", "Seen in the pack", many="each", qualifiers=("what",), group=_SEEN,
    offered=tuple(qualifier_of(what=name) for name in WHAT_SEEN), hold=LID_HOLD,
    help="Look, never sniff or touch.",
)  # fmt: skip
SEEN_FROM = text(f"{SLUG}.seen_from", "Where it came from, where it is", group=_SEEN, hold=LID_HOLD)
SEEN_PHOTO = photo(
    f"{SLUG}.seen_photo", "Photos of what was seen", many="free", needed=False, group=_SEEN,
    hold=LID_HOLD,
)  # fmt: skip
OUTCOME = choice(
    f"{SLUG}.outcome",
    "What leaks",
    (
        Choice("module", "One or more modules"),
        Choice("pack_not_module", "Something in the pack that is not a module"),
    ),
    group=_OUTCOME,
)
LEAKING = tick(
    f"{SLUG}.leaking", "This module leaks", many="each", qualifiers=("module",), group=_OUTCOME
)
OTHER_WHAT = choice(
    f"{SLUG}.other_what",
    "What it is",
    (
        Choice("harness", "Harness"),
        Choice("busbar", "Busbar"),
        Choice("connector", "Connector"),
        Choice("contactor", "Contactor"),
        Choice("cooling_plate", "Cooling plate"),
    ),
    group=_REPLACED,
)
OTHER_OHM = bounded(
    f"{SLUG}.other_ohm", "Insulation of that part by itself", unit="ohm", low=0, high=1e13,
    group=_REPLACED, hold=LINK_HOLD, help="Disconnected from the string on all sides.",
)  # fmt: skip
OTHER_PART = text(f"{SLUG}.other_part", "Part, with its number", group=_REPLACED)
OTHER_OLD = text(f"{SLUG}.other_old", "Serial number, old", group=_REPLACED)
OTHER_NEW = text(f"{SLUG}.other_new", "Serial number, new", group=_REPLACED)
OTHER_DONE = tick(f"{SLUG}.other_done", "Replaced", group=_REPLACED, hold=LINK_HOLD)
PART_OLD = text(
    f"{SLUG}.part_old", "Vehicle part: number and serial, old", many="each", qualifiers=("part",),
    group=_REPLACED,
)  # fmt: skip
PART_NEW = text(
    f"{SLUG}.part_new", "Vehicle part: number and serial, new", many="each", qualifiers=("part",),
    group=_REPLACED,
)  # fmt: skip
PART_DONE = tick(
    f"{SLUG}.part_done", "Vehicle part replaced", many="each", qualifiers=("part",),
    group=_REPLACED, needs_proof=True,
)  # fmt: skip

ANSWERED: tuple[Item[Any], ...] = (QUOTE_HOW, QUOTE_WHO, OPTION, ANSWER)
RETIRED = (AMOUNT,)
OTHER = (OTHER_WHAT, OTHER_OHM, OTHER_PART, OTHER_OLD, OTHER_NEW, OTHER_DONE)
PART: tuple[Item[Any], ...] = (PART_OLD, PART_NEW, PART_DONE)


def pack_leaks(record: Record) -> bool:
    """Tell whether the isolation readings found the leak in the pack."""
    return (record.get(SIDE) or "") in {"pack", "both"}


def vehicle_leaks(record: Record) -> bool:
    """Tell whether the isolation readings found a leaking part of the vehicle."""
    return (record.get(SIDE) or "") in {"vehicle_part", "both"}


def answered(record: Record) -> str:
    """Give the customer's answer to the quotation in force; empty while there is none."""
    given = answer_in_force(record, QUOTE)
    return "" if given is None else given.value


def stopped(record: Record) -> bool:
    """Tell whether the customer declined, at first or later, or the lid cannot be opened."""
    return answered(record) == "declined" or record.has(STOP)


def _quote(record: Record) -> tuple[Item[Any], ...]:
    """Give what is asked about the quotation: the answer once there is something to answer.

    Once the step is signed the quotation stays open, so that one that grows can be approved anew.
    """
    asked = AMOUNT if record.has(AMOUNT) else QUOTATION
    found: tuple[Item[Any], ...] = (CANDIDATES, asked)
    if any(record.has(item) for item in (asked, *ANSWERED)):
        found = (*found, QUOTE_HOW, QUOTE_WHO, *asked_answer(record, QUOTE), COST_NOW)
    if SLUG not in record.signatures or stopped(record):
        return found
    return tuple(item if item is CANDIDATES else replace(item, anytime=True) for item in found)


def before_lid(record: Record) -> tuple[Item[Any], ...]:
    """Give what has to be there before the lid comes off, for this pack."""
    alone = pack_alone(record)
    bonded = record.pack is not None and record.pack.lid.kind == "bonded"
    return (
        TABLE,
        *(() if alone else (SECURED,)),
        replace(CAPPED, needs_proof=not alone),
        *LIVE,
        CHARGE_PERCENT,
        QUARANTINE_FREE,
        LID_METHOD,
        *((CUT_DEPTH_MM,) if bonded else ()),
    )


def _open_links(record: Record, names: tuple[str, ...]) -> tuple[str, ...]:
    """Give the states of the links a reading may have been taken in: the latest first."""
    opened = [given.part("after") for given in record.all(LINK_OPENED)]
    states = [[name for name in names if name in opened[:n]] for n in range(len(opened), 0, -1)]
    states += [[name] for name in opened]
    return (*dict.fromkeys("+".join(state) for state in states if state), ALONE)


def _with_lid_off(record: Record) -> tuple[Item[Any], ...]:
    """Give what is asked once the lid is off, modules filled in."""
    names = () if record.pack is None else tuple(module.name for module in record.pack.modules)
    modules = tuple(qualifier_of(module=name) for name in names)
    wet = any(one.part("what") != "nothing" for one in record.all(SEEN))
    return (
        SEEN,
        *((SEEN_FROM,) if wet else ()),
        SEEN_PHOTO,
        SENSE_OFF,
        replace(LINK_OPENED, offered=tuple(qualifier_of(after=name) for name in names[:-1])),
        replace(
            READING,
            options={
                "module": names,
                "pole": ("pos", "neg"),
                "open": _open_links(record, names),
                "shunt": ("none", "fitted"),
            },
        ),
        *((SETTLED,) if record.has(READING) else ()),
        replace(MODULE_TESTER, needed=record.has(MODULE_OHM)),
        replace(MODULE_OHM, offered=modules),
        OUTCOME,
        *((replace(LEAKING, offered=modules),) if record.get(OUTCOME) == "module" else ()),
        *(OTHER if record.get(OUTCOME) == "pack_not_module" else ()),
    )


def _parts(record: Record) -> tuple[Item[Any], ...]:
    """Give the replacement record of the vehicle's parts that leak."""
    if not vehicle_leaks(record):
        return ()
    named = assess_isolation(record).vehicle.leaking
    asked = tuple(qualifier_of(part=name) for name in named)
    return tuple(replace(item, expected=asked) for item in PART)


def _repair(record: Record) -> tuple[Item[Any], ...]:
    """Give what is asked once the quotation is approved."""
    if not pack_leaks(record):
        return (replace(LIVE.second, group=_REPLACED), *_parts(record))
    is_off = record.pack_open or record.has(LID_OFF)
    opened = _with_lid_off(record) if is_off else (OUTCOME,)
    return (*before_lid(record), LID_OFF, *opened, *_parts(record))


@once_a_record
def items(record: Record) -> tuple[Item[Any], ...]:
    """Give what the step asks now, in order."""
    earlier = (HISTORY,) if pack_leaks(record) and not stopped(record) else ()
    if not stopped(record) and answered(record) == "approved":
        return (*_quote(record), *earlier, *_repair(record), STOP)
    taken = tuple(replace(item, needed=False) for item in _repair(record) if record.has(item))
    if not stopped(record):
        return (*_quote(record), *earlier, *taken, *((STOP,) if record.lid_was_off else ()))
    return (
        *_quote(record),
        *taken,
        STOP,
        LID_BACK if record.lid_was_off else CLOSED_UP,
        LABELLED,
        TOW_ONLY,
        BILLED,
        REFUSAL,
    )
