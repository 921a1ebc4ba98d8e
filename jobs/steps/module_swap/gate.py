"""What stands against the module swap: quarantine, spare, fitting, last link, joints."""

from typing import Any

from jobs.core import spare_check
from jobs.core.insulation import late_blockers
from jobs.core.item import Item, qualifier_of
from jobs.core.link_check import REASONS as LINK_REASONS
from jobs.core.link_check import joint_blockers, last_link_blockers
from jobs.core.links import LINK_HOLD, last_link_needs
from jobs.core.live_work import live_work_blockers
from jobs.core.quote_growth import standing_blockers
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.step import Hold
from jobs.core.torque import REASONS as TORQUE_REASONS
from jobs.core.torque import torque_blockers, used_in_date
from jobs.steps.fault_localisation.assessment import outcome
from jobs.steps.fault_localisation.items import QUOTE
from jobs.steps.intake.items import PRICE_CAP
from jobs.steps.module_swap.assessment import MatchedModule, SwappedModule, SwapResult
from jobs.steps.module_swap.items import (
    CONDITION,
    DANGER,
    DRY,
    GAP,
    LINKS,
    LIVE,
    LIVE_HOLD,
    QUARANTINE_CLASS,
    QUARANTINE_PLACE,
    SPARE,
    SPARE_CELL_V,
    SPARE_OHM,
    SPARES,
    TEST_V,
    TESTER,
    TIE,
    WATCH_STARTED,
    items,
)
from packs.definition import PackDefinition

REST_SHORT, CELL_SPREAD = spare_check.REST_SHORT, spare_check.CELL_SPREAD
NO_MODULE_LEAKS = Reason("no_module_leaks", "No module leaks, so none is replaced.")
NO_QUARANTINE = Reason(
    "swap_no_quarantine",
    "{module}: no quarantine record. Enter its place and class, and start the watch.",
)
QUARANTINE_MILD = Reason(
    "swap_quarantine_class", "{module} is not dry and sound. Choose the class with 7 days of watch."
)
QUARANTINE_DANGER = Reason(
    "swap_danger",
    "{module} shows danger signs. Everybody out, call the fire brigade; go on only when a "
    "qualified person has entered another class.",
)
WRONG_SPARE = Reason(
    "swap_wrong_spare", "Spare {serial} is {got}; {module} needs {wanted}. Pick another spare."
)
SPARE_QUARANTINED = Reason(
    "swap_spare_quarantined", "Spare {serial} stands in quarantine. Pick another spare."
)
SPARE_PROVENANCE = Reason(
    "swap_spare_provenance",
    "Where spare {serial} comes from is not known. Pick another spare, or complete its record.",
)
SPARE_TWICE = Reason("swap_spare_twice", "Spare {serial} is picked for two modules.")
SPARE_INSULATION = Reason(
    "swap_spare_insulation",
    "Spare for {module}: insulation at least {low_mohm:.2f} MΩ, {limit_mohm:.2f} MΩ are needed. "
    "Dry and read again, or pick another spare.",
)
TESTER_LAPSED = Reason(
    "swap_tester", "{label} is out of calibration. Read the insulation with another tester."
)
TEST_V_LOW = Reason(
    "swap_test_v", "Test voltage {got_v:.0f} V: the spare has to bear {needed_v:.0f} V or more."
)
CELL_RANGE = Reason(
    "swap_cell_range",
    "Spare for {module}: {cell_v:.3f} V per cell is outside {low_v:g} to {high_v:g} V. "
    "It must not be charged or fitted.",
)
GAP_OFF = Reason(
    "swap_gap",
    "{module}, gap {point}: {got_mm:.1f} mm instead of {target_mm:g} mm ± {tolerance_mm:g} mm.",
)
GAP_MISSING = Reason("swap_gap_missing", "{module}: gap not measured at {points}.")

REASONS = (
    NO_MODULE_LEAKS,
    NO_QUARANTINE,
    QUARANTINE_MILD,
    QUARANTINE_DANGER,
    WRONG_SPARE,
    SPARE_QUARANTINED,
    SPARE_PROVENANCE,
    SPARE_TWICE,
    SPARE_INSULATION,
    TESTER_LAPSED,
    TEST_V_LOW,
    *spare_check.REASONS,
    CELL_RANGE,
    GAP_OFF,
    GAP_MISSING,
    *TORQUE_REASONS,
    *LINK_REASONS,
)


def skip(record: Record) -> Reason | None:
    """Say that no module is replaced when the leak is elsewhere."""
    return None if outcome(record) == "module" else NO_MODULE_LEAKS


def _quarantine(record: Record, module: SwappedModule) -> list[Blocker]:
    at, name = qualifier_of(module=module.name), module.name
    key, found = QUARANTINE_CLASS.key, list[Blocker]()
    if not (module.quarantine_place and module.quarantine_class and module.watch_started):
        given: tuple[Item[Any], ...] = (QUARANTINE_PLACE, QUARANTINE_CLASS, WATCH_STARTED)
        missing = next(item.key for item in given if record.get(item, at) is None)
        found.append(NO_QUARANTINE(missing, at, module=name))
    if module.quarantine_class == DANGER:
        found.append(QUARANTINE_DANGER(key, at, module=name))
    sound = record.get(CONDITION, at) in {None, "sound"}
    if module.quarantine_class == DRY and not sound:
        found.append(QUARANTINE_MILD(key, at, module=name))
    return found


def _spare(pack: PackDefinition, module: SwappedModule) -> list[Blocker]:
    spare, at, key = module.spare, qualifier_of(module=module.name), SPARE.key
    if spare is None:
        return []
    place, found = pack.module_named(module.name), list[Blocker]()
    got = f"{spare.part}, {spare.chemistry}, {spare.cells} cells"
    wanted = f"{place.part}, {pack.chemistry}, {place.cells} cells"
    if got != wanted:
        found.append(
            WRONG_SPARE(key, at, serial=spare.serial, got=got, module=module.name, wanted=wanted)
        )
    if spare.data.get("quarantined"):
        found.append(SPARE_QUARANTINED(key, at, serial=spare.serial))
    if not spare.data.get("provenance"):
        found.append(SPARE_PROVENANCE(key, at, serial=spare.serial))
    return found


def _match(
    record: Record, pack: PackDefinition, module: SwappedModule, result: SwapResult
) -> list[Blocker]:
    at, name, found = qualifier_of(module=module.name), module.name, list[Blocker]()
    insulation = module.insulation
    if insulation is not None and insulation.verdict != "pass":
        mohm = {"low_mohm": insulation.ohm_low / 1e6, "limit_mohm": insulation.limit_ohm / 1e6}
        found.append(SPARE_INSULATION(SPARE_OHM.key, at, module=name, **mohm))
    low_v, high_v = pack.cell_low_v.value, pack.cell_high_v.value
    if module.cell_v is not None and not low_v <= module.cell_v <= high_v:
        volts = {"cell_v": module.cell_v, "low_v": low_v, "high_v": high_v}
        found.append(CELL_RANGE(SPARE_CELL_V.key, at, module=name, **volts))
    if isinstance(module, MatchedModule):
        return [*found, *spare_check.spare_blockers(record, SPARES, pack, name, module.check)]
    return [*found, *_as_before(module, result)]


def _as_before(module: SwappedModule, result: SwapResult) -> list[Blocker]:
    """Judge rest and difference of a spare that was joined before match and charge were asked."""
    at, name, found = qualifier_of(module=module.name), module.name, list[Blocker]()
    if module.rest_h is not None and module.rest_h < result.rest_needed_h:
        hours = {"rest_h": module.rest_h, "needed_h": result.rest_needed_h}
        found.append(REST_SHORT(SPARE_CELL_V.key, at, module=name, **hours))
    difference, limit_mv = module.difference_mv, result.difference_limit_mv
    if difference is not None and abs(difference) > limit_mv + 1e-6:
        figures = {"difference_mv": abs(difference), "limit_mv": limit_mv}
        found.append(CELL_SPREAD(SPARE_CELL_V.key, at, module=name, **figures))
    return found


def _fitted(pack: PackDefinition, record: Record, module: SwappedModule) -> list[Blocker]:
    at, name, stack = qualifier_of(module=module.name), module.name, pack.stack
    found = [] if module.tie is None else [*torque_blockers(module.tie, TIE)]
    if record.has(GAP) and module.gaps_missing:
        points = ", ".join(module.gaps_missing)
        found.append(GAP_MISSING(GAP.key, at, module=name, points=points))
    if stack.gap_mm is None:
        return found
    sizes = {"target_mm": stack.gap_mm.value, "tolerance_mm": stack.gap_tolerance_mm or 0.0}
    found += [
        GAP_OFF(GAP.key, at, module=name, point=point, got_mm=got_mm, **sizes)
        for point, got_mm in module.gaps_off
    ]
    return found


def _shared(record: Record, pack: PackDefinition, result: SwapResult) -> list[Blocker]:
    found: list[Blocker] = []
    tester, test_v = record.given(TESTER), record.get(TEST_V)
    if tester is not None and not used_in_date(tester):
        found.append(TESTER_LAPSED(TESTER.key, label=tester.value.label))
    if test_v is not None and test_v < pack.working_v:
        found.append(TEST_V_LOW(TEST_V.key, got_v=test_v, needed_v=pack.working_v))
    found += late_blockers(record, TESTER, SPARE_OHM)
    serials = [module.spare.serial for module in result.modules if module.spare is not None]
    twice = sorted({serial for serial in serials if serials.count(serial) > 1})
    return [*found, *(SPARE_TWICE(SPARE.key, serial=serial) for serial in twice)]


def _before_last_link(record: Record, result: SwapResult) -> tuple[Blocker, ...]:
    """Say what stands against joining the spares to the string."""
    pack = record.pack
    if pack is None:
        return ()
    found = _shared(record, pack, result)
    for module in result.modules:
        found += [*_spare(pack, module), *_match(record, pack, module, result)]
        found += _fitted(pack, record, module)
    links = () if result.links is None else last_link_blockers(record, LINKS, result.links)
    return (*found, *links)


def holds(record: Record, result: SwapResult) -> tuple[Hold, ...]:
    """Give the hold points: before live work, and before the last link closes."""
    live = live_work_blockers(record, LIVE)
    valid_h = record.limits.live_work_h.value
    cautions = (
        "The open pack stays live. Cover the neighbours; one tool, one terminal at a time.",
        "Follow the vehicle maker's service information.",
    )
    before = _before_last_link(record, result)
    groups = {"Spare", "Module in"}
    links = (i for i in last_link_needs(LINKS) if i.key != LINKS.cell_v.key)
    matched = (i for i in items(record) if i.needed and i.group in groups)
    return (
        Hold(slug=LIVE_HOLD, act="work on the open pack begins", needs=(*LIVE,), blockers=live,
             valid_h=valid_h, cautions=cautions),
        Hold(slug=LINK_HOLD, act="the last link closes", blockers=(*live, *before),
             needs=(*LIVE, *matched, *links),
             valid_h=valid_h, cautions=cautions),
    )  # fmt: skip


def blockers(record: Record, result: SwapResult) -> tuple[Blocker, ...]:
    """Say what blocks the signature beyond missing items."""
    each = [blocker for module in result.modules for blocker in _quarantine(record, module)]
    joints = () if result.links is None else joint_blockers(record, LINKS, result.links)
    standing = standing_blockers(record, QUOTE, PRICE_CAP)
    return (*each, *_before_last_link(record, result), *joints, *standing)
