"""What the module swap asks: module out, spare, module in, and the links."""

from dataclasses import replace
from typing import Any

from jobs.core.item import (
    Choice,
    Item,
    bounded,
    choice,
    equipment,
    photo,
    qualifier_of,
    reading,
    table,
    text,
    tick,
)
from jobs.core.links import asked_links, link_items, undone_positions
from jobs.core.live_work import live_work_items
from jobs.core.once import once_a_record
from jobs.core.record import Record
from jobs.core.spare_asked import asked_after, asked_before
from jobs.core.spare_items import spare_items
from jobs.core.torque import torque_items
from jobs.core.torque_sheet import asked_torque
from jobs.steps.fault_localisation.assessment import leaking_modules
from jobs.steps.fault_localisation.items import LINK_OPENED
from packs.definition import PackDefinition

SLUG = "module_swap"
LIVE_HOLD = "live_work"

LIVE = live_work_items(SLUG)
LINKS = link_items(SLUG, LIVE_HOLD)
_OUT: dict[str, Any] = {"many": "each", "qualifiers": ("module",), "group": "Module out"}
_SPARE: dict[str, Any] = {**_OUT, "group": "Spare"}
_IN: dict[str, Any] = {**_OUT, "group": "Module in", "hold": LIVE_HOLD}
DRY, LEAKING, DANGER = "dry", "leaking", "danger"

REMOVED_V = reading(
    f"{SLUG}.removed_v",
    "Voltage of the removed module",
    unit="V",
    low=-200,
    high=200,
    hold=LIVE_HOLD,
    **_OUT,
)
REMOVED_SERIAL = text(f"{SLUG}.removed_serial", "Serial number of the removed module", **_OUT)
CONDITION = choice(
    f"{SLUG}.condition",
    "Condition of the removed module",
    (
        Choice("sound", "Nothing to be seen"),
        Choice("wet", "Wet or corroded"),
        Choice("leaking", "Electrolyte leaks or has leaked"),
        Choice("swollen", "Swollen"),
        Choice("damaged", "Dented, torn or burnt"),
    ),
    **_OUT,
)
REMOVED_PHOTO = photo(
    f"{SLUG}.removed_photo", "Photo of the module", needed=False, **_OUT,
    help="Recommended: all sides, label and whatever leaked or corroded.",
)  # fmt: skip
QUARANTINE_PLACE = text(
    f"{SLUG}.quarantine_place", "Where it stands in quarantine", **_OUT,
    help="Outdoors, 15 m from buildings and anything that burns. Follow the maker and local rules.",
)  # fmt: skip
QUARANTINE_CLASS = choice(
    f"{SLUG}.quarantine_class",
    "Class of the quarantine",
    (
        Choice(DRY, "Dry and quiet: watched for 72 h"),
        Choice(LEAKING, "Leaking, wet, swollen or damaged: watched for 7 days"),
        Choice(DANGER, "Smoke, hissing, smell or heat: everybody out"),
    ),
    **_OUT,
)
WATCH_STARTED = tick(
    f"{SLUG}.watch_started", "Temperature watch started", **_OUT,
    help="First reading now, then after 15, 30 and 60 min.",
)  # fmt: skip
SPARES = spare_items(SLUG, LINKS.cell_v)
SPARE, REST_H, SPARE_CELL_V = SPARES.spare, SPARES.rest_h, SPARES.cell_v
SAME_END = SPARES.same_end
TESTER = equipment(
    f"{SLUG}.spare_tester", "Insulation tester", ("insulation_tester",), group="Spare"
)
TEST_V = reading(
    f"{SLUG}.spare_test_v", "Test voltage set", unit="V", low=50, high=1500, group="Spare"
)
LEADS = tick(
    f"{SLUG}.spare_leads", "Leads of the tester proven, before and after", group="Spare",
    help="Shorted they read near zero; open they read the most. Discharge the module afterwards.",
)  # fmt: skip
SPARE_OHM = bounded(
    f"{SLUG}.spare_ohm", "Insulation of the spare, terminal to housing", unit="ohm", low=0,
    high=1e13, help="At both terminals, on the bench, after 60 s.",
    **{**_SPARE, "qualifiers": ("module", "pole")},
)  # fmt: skip
SEATED = tick(
    f"{SLUG}.seated", "Module and plates seated, contact surfaces cleaned and inspected", **_IN,
    help="Mark for positive as on the module that came out.",
)  # fmt: skip
GAP = table(f"{SLUG}.gap_mm", "Gap between the plates", unit="mm", low=0, high=5000, **_IN)
JOINTS_PHOTO = photo(
    f"{SLUG}.joints_photo", "Photo of the finished joints", needed=False, group="Joints",
    help="Recommended: every joint undone, with its torque mark.",
)  # fmt: skip
TIE = torque_items(f"{SLUG}.tie", "Tie bolts", group="Module in", hold=LIVE_HOLD, scope=("module",))


def _module_items(
    record: Record, pack: PackDefinition, modules: tuple[str, ...]
) -> tuple[Item[Any], ...]:
    offered = tuple(qualifier_of(module=name) for name in modules)
    poles = tuple(qualifier_of(module=n, pole=pole) for n in modules for pole in ("pos", "neg"))
    first = (REMOVED_V, REMOVED_SERIAL, CONDITION, REMOVED_PHOTO, QUARANTINE_PLACE)
    out: list[Item[Any]] = [*first, QUARANTINE_CLASS, WATCH_STARTED]
    stack = pack.stack
    fit: list[Item[Any]] = [
        SEATED,
        *([replace(GAP, rows=stack.gap_points)] if stack.gap_mm is not None else []),
    ]
    asked: list[Item[Any]] = [
        *(replace(item, expected=offered) for item in out),
        *asked_before(SPARES, pack, modules),
        *(TESTER, TEST_V, LEADS, replace(SPARE_OHM, expected=poles)),
        *asked_after(record, SPARES, pack, modules),
        *(replace(item, expected=offered) for item in fit),
    ]
    if stack.tie_bolts is not None:
        places = [{"module": name} for name in modules]
        asked += asked_torque(record, TIE, stack.tie_bolts, places=places)
    return tuple(asked)


def modules_out(record: Record) -> tuple[str, ...]:
    """Give the modules to be replaced: those that leak, as far as the pack has them."""
    known = () if record.pack is None else tuple(module.name for module in record.pack.modules)
    return tuple(name for name in leaking_modules(record) if name in known)


def undone(record: Record) -> tuple[str, ...]:
    """Give the busbar positions that have to be tightened and read again."""
    opened = [given.part("after") for given in record.all(LINK_OPENED)]
    pack = record.pack
    return () if pack is None else undone_positions(pack, modules_out(record), opened)


@once_a_record
def items(record: Record) -> tuple[Item[Any], ...]:
    """Give what the step asks now, in order; nothing of a module while none is named."""
    pack, modules = record.pack, modules_out(record)
    if pack is None or not modules:
        return (*LIVE,)
    return (
        *LIVE,
        *_module_items(record, pack, modules),
        # The string's voltage is asked with the spare, which is brought to it.
        *(i for i in asked_links(record, LINKS, undone(record)) if i.key != LINKS.cell_v.key),
        JOINTS_PHOTO,
    )
