"""What reassembly asks: cause, coolant circuit, leads, isolation, lid, isolation again."""

from dataclasses import replace
from typing import Any

from jobs.core.item import Effect, Item, equipment, photo, reading, signature, text, tick
from jobs.core.links import asked_links, link_items, undone_positions
from jobs.core.live_work import live_work_items
from jobs.core.once import once_a_record
from jobs.core.pack_side import PackSide, asked_pack_side, pack_side_items
from jobs.core.record import Record
from jobs.core.torque import torque_items
from jobs.core.torque_sheet import asked_torque
from jobs.steps.fault_localisation.items import LINK_OPENED
from packs.definition import PackDefinition

SLUG = "reassembly"
LIVE_HOLD, LID_HOLD = "live_work", "lid_on"
_REPAIR, _COOLANT, _INSIDE = "Repair", "Coolant circuit", "Before the lid"
_LID, _LAST = "Lid", "Second person signs"

LIVE = live_work_items(SLUG)
CAUSE = text(
    f"{SLUG}.cause", "What caused the leak", group=_REPAIR,
    help="Where the moisture, the chafing or the fault came from.",
)  # fmt: skip
REPAIRED = tick(
    f"{SLUG}.repaired", "Cause repaired, enclosure dry and clean", group=_REPAIR, hold=LIVE_HOLD
)
LINKS = link_items(SLUG, LIVE_HOLD)
COOLANT_GAUGE = equipment(
    f"{SLUG}.coolant_gauge", "Pressure gauge", ("pressure_gauge",), group=_COOLANT
)
COOLANT_START = reading(
    f"{SLUG}.coolant_start_kpa", "Pressure at the start", unit="kPa", low=0, high=1000,
    group=_COOLANT,
)  # fmt: skip
COOLANT_END = reading(
    f"{SLUG}.coolant_end_kpa", "Pressure at the end", unit="kPa", low=0, high=1000, group=_COOLANT
)
COOLANT_MIN = reading(
    f"{SLUG}.coolant_min", "Minutes between the two", unit="min", low=0, high=1440, group=_COOLANT
)
SENSE_LEADS = tick(
    f"{SLUG}.sense_leads", "Sense leads fitted in the maker's order", group=_INSIDE, hold=LIVE_HOLD
)
INTERLOCK = tick(f"{SLUG}.interlock", "Interlock contacts seated", group=_INSIDE, hold=LIVE_HOLD)
BEFORE_LID = pack_side_items(SLUG, hold=LIVE_HOLD, group="Isolation before the lid, live")
TOOLS = tuple(
    replace(item, group=LIVE.gloves.group) for item in (BEFORE_LID.meter, BEFORE_LID.shunt)
)
"""Asked above the hold point before live work, which needs them."""
LID_AGAIN = tick(
    f"{SLUG}.lid_again", "Lid taken off again", needed=False, group=_REPAIR, hold=LIVE_HOLD,
    effect=Effect.OPENS_PACK, help="Only if so, after this step was re-opened.",
)  # fmt: skip
PARTS_OUT = reading(
    f"{SLUG}.parts_out", "Loose parts and tools counted out", unit="pieces", low=0, high=10000,
    group=_INSIDE, help="Bolts, covers, clips, tools: all that was taken into or out of the pack.",
)  # fmt: skip
PARTS_IN = reading(
    f"{SLUG}.parts_in", "Loose parts and tools accounted for", unit="pieces", low=0, high=10000,
    group=_INSIDE,
)  # fmt: skip
FACES = tick(f"{SLUG}.faces", "Sealing faces clean and whole", group=_LID, hold=LID_HOLD)
FACES_PHOTO = photo(
    f"{SLUG}.faces_photo", "Photo of the sealing faces and the gasket", needed=False, group=_LID,
    hold=LID_HOLD, help="Recommended, before the lid goes on.",
)  # fmt: skip
GASKET = text(f"{SLUG}.gasket", "Gasket: part and lot", group=_LID, hold=LID_HOLD)
SEALANT = text(f"{SLUG}.sealant", "Sealant: lot and use-by date", group=_LID, hold=LID_HOLD)
LID_ON = tick(
    f"{SLUG}.lid_on", "Lid on", group=_LID, hold=LID_HOLD, effect=Effect.CLOSES_PACK,
    help="Curing time counts from here.",
)  # fmt: skip
LID = torque_items(f"{SLUG}.lid", "Lid bolts", group=_LID, hold=LID_HOLD)
AFTER_LID = pack_side_items(f"{SLUG}.closed", hold=LID_HOLD, group="Isolation after the lid, live")
SECOND = signature(
    f"{SLUG}.second", "Second person: everything above seen and agreed", group=_LAST,
    help="Given last; any later entry asks for it again.",
)  # fmt: skip


def undone(record: Record) -> tuple[str, ...]:
    """Give the busbar positions of links that localisation opened."""
    opened = [given.part("after") for given in record.all(LINK_OPENED)]
    return () if record.pack is None else undone_positions(record.pack, (), opened)


def links_here(record: Record) -> bool:
    """Tell whether links opened in localisation close here, because no module was swapped."""
    swap = record.signatures.get("module_swap")
    swapped = swap is not None and swap.outcome == "done"
    return record.has(LINK_OPENED) and not swapped


def _isolation(record: Record, side: PackSide) -> tuple[Item[Any], ...]:
    """Give one set of readings; here nothing is signed as not excluded."""
    return tuple(i for i in asked_pack_side(record, side) if i.key != side.not_excluded.key)


def _coolant(pack: PackDefinition) -> tuple[Item[Any], ...]:
    cooling = pack.cooling
    if cooling.kind != "liquid" or cooling.leak_test_kpa is None:
        return ()
    minutes = "" if cooling.leak_test_minutes is None else f"{cooling.leak_test_minutes.value:g}"
    asked = f"{cooling.leak_test_kpa.value:g} kPa for {minutes} min, the circuit by itself."
    return (COOLANT_GAUGE, replace(COOLANT_START, help=asked), COOLANT_END, COOLANT_MIN)


def _lid(record: Record, pack: PackDefinition) -> tuple[Item[Any], ...]:
    lid, asked = pack.lid, list[Item[Any]]([FACES])
    if lid.gasket_part is not None:
        asked.append(replace(GASKET, help=lid.gasket_part))
    if lid.sealant is not None:
        asked.append(replace(SEALANT, help=lid.sealant))
    asked += [FACES_PHOTO, LID_ON]
    if lid.bolts is not None:
        asked += asked_torque(record, LID, lid.bolts)
    return (*asked, *(_isolation(record, AFTER_LID) if record.has(LID_ON) else ()))


def before_lid(record: Record) -> tuple[Item[Any], ...]:
    """Give everything asked while the lid is still off, in the order of the work."""
    pack = record.pack
    if pack is None:
        return (CAUSE, REPAIRED)
    order = ", then ".join(pack.sense_lead_order)
    closed = record.lid_was_off and not record.pack_open and not record.has(LID_ON)
    leads = (replace(SENSE_LEADS, help=f"After the last torque: {order}."),) if order else ()
    return (
        *((LID_AGAIN,) if closed or record.has(LID_AGAIN) else ()),
        CAUSE,
        REPAIRED,
        *(asked_links(record, LINKS, undone(record)) if links_here(record) else ()),
        *_coolant(pack),
        *leads,
        *((INTERLOCK,) if pack.interlock else ()),
        PARTS_OUT,
        PARTS_IN,
        *_isolation(record, BEFORE_LID),
    )


@once_a_record
def items(record: Record) -> tuple[Item[Any], ...]:
    """Give what the step asks now, in order."""
    inside = before_lid(record)
    if record.pack is None:
        return (*LIVE, *inside, SECOND)
    above = {item.key for item in TOOLS}
    inside = tuple(item for item in inside if item.key not in above)
    return (*LIVE, *TOOLS, *inside, *_lid(record, record.pack), SECOND)
