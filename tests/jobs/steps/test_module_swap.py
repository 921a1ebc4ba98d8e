"""Module swap: quarantine, spare, fitting, last link and joints, and what blocks each."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.core.entry import Kind
from jobs.core.flow import blocker_digest, sign_gate
from jobs.core.item import Bounded
from jobs.core.order import items_of
from jobs.core.reason import Blocker
from jobs.core.section import Said
from jobs.steps.fault_localisation.items import LEAKING as FOUND_LEAKING
from jobs.steps.fault_localisation.items import LINK_OPENED as FOUND_LINK_OPENED
from jobs.steps.module_swap import STEP
from jobs.steps.module_swap.assessment import spare_insulation
from jobs.steps.module_swap.gate import NO_MODULE_LEAKS, REASONS
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
    REST_H,
    SAME_END,
    SPARE,
    SPARE_CELL_V,
    SPARE_OHM,
    SPARES,
    TEST_V,
    TESTER,
    TIE,
    WATCH_STARTED,
    undone,
)
from packs.definition import Stack
from tests.builders import ASTER, THORNE, Bench, a_person
from tests.jobs.steps.repair_checks import (
    Change,
    again,
    codes,
    entered_in_order,
    found,
    held,
    named,
    speaks,
    without,
)
from tests.jobs.steps.repair_scene import (
    METER,
    MILLIOHM,
    SMALL_TOOL,
    leaking,
    localised,
)
from tests.jobs.steps.repair_scene import TESTER as A_TESTER
from tests.jobs.steps.swap_scene import TESTED as A_SPARE
from tests.jobs.steps.swap_scene import swapped

M10 = {"module": "M10"}
NEGATIVE, POSITIVE = "Part on the negative side", "Part on the positive side"
JOINTS = ("M9 pos", "M10 neg", "M10 pos", "M11 neg", "M12 pos")
OLD = "2026-02-01"


def _drops(*mv: float) -> dict[str, str]:
    return {name: str(value) for name, value in zip(JOINTS, mv, strict=False)}


def _busbar(bench: Bench, stage: str, **values: float) -> None:
    raw = {"M9 pos": "9", "M10 neg": "9"} | {k.replace("_", " "): str(v) for k, v in values.items()}
    again(bench, LINKS.others.values, raw, stage=stage)


def _a_second_leak(bench: Bench) -> None:
    bench.put(FOUND_LEAKING, module="M3")


def _twice(bench: Bench) -> None:
    _a_second_leak(bench)
    bench.put(SPARE, A_SPARE, module="M3")


def _no_maker_limit(bench: Bench) -> None:
    assert bench.pack is not None
    bench.pack = bench.pack.model_copy(update={"joint_limit_micro_ohm": None})
    again(bench, LINKS.drops, _drops(1.5, 1.5, 1.5))


def _spare(**changed: Any) -> Change:
    return lambda bench: again(bench, SPARE, A_SPARE | changed, **M10)


def _unfit(bench: Bench) -> None:
    bench.put(SPARES.string_ah, {"M1": "119"})
    _spare(capacity_ah=118000)(bench)


def _refused(bench: Bench) -> None:
    """The string was read as if its cells were nearly empty: the curve does not go so far."""
    again(bench, LINKS.cell_v, "2.6")


CASES: tuple[tuple[str, Change], ...] = (
    ("swap_no_quarantine", lambda b: without(b, WATCH_STARTED)),
    ("swap_quarantine_class", lambda b: again(b, QUARANTINE_CLASS, DRY, **M10)),
    ("swap_danger", lambda b: again(b, QUARANTINE_CLASS, DANGER, **M10)),
    ("swap_wrong_spare", _spare(part="OB-M6-60")),
    ("swap_wrong_spare", _spare(chemistry="lfp")),
    ("swap_wrong_spare", _spare(cells=8)),
    ("swap_spare_quarantined", _spare(quarantined=True)),
    ("swap_spare_provenance", _spare(provenance="")),
    ("swap_spare_twice", _twice),
    ("swap_spare_insulation", lambda b: again(b, SPARE_OHM, "2M", **M10, pole="pos")),
    ("swap_spare_insulation", lambda b: again(b, SPARE_OHM, ">2M", **M10, pole="neg")),
    ("swap_tester", lambda b: again(b, TESTER, A_TESTER | {"due_on": OLD})),
    ("swap_test_v", lambda b: again(b, TEST_V, "250")),
    ("swap_rest", lambda b: again(b, REST_H, "2", **M10)),
    ("swap_not_matched", _spare(days_since_test=181)),
    ("swap_not_matched", _spare(days_since_test=None)),
    ("swap_not_matched", lambda b: b.put(SPARES.string_ah, {"M1": "125"})),
    ("swap_not_matched", lambda b: b.put(SPARES.string_mohm, {"M1": "5.0"})),
    ("swap_spare_unfit", _unfit),
    ("swap_charge_undecided", lambda b: again(b, SPARE_CELL_V, "3.618", **M10)),
    ("swap_charge_refused", _refused),
    ("swap_temperature", lambda b: again(b, SPARES.spare_c, "17", **M10)),
    ("swap_cell_spread", lambda b: again(b, SPARE_CELL_V, "3.621", **M10)),
    ("swap_cell_range", lambda b: again(b, SPARE_CELL_V, "2.7", **M10)),
    ("swap_gap", lambda b: again(b, GAP, {"Upper left": "612.5", "Upper right": "612",
                                          "Lower left": "612", "Lower right": "612"}, **M10)),
    ("swap_gap_missing", lambda b: again(b, GAP, {"Upper left": "612"}, **M10)),
    ("torque_missing", lambda b: again(b, LINKS.others.values, {"M9 pos": "9"}, stage="2")),
    ("torque_off", lambda b: _busbar(b, "2", M9_pos=9.6)),
    ("torque_no_tool", lambda b: without(b, TIE.tool)),
    ("torque_tool_lapsed", lambda b: again(b, TIE.tool, SMALL_TOOL | {"due_on": OLD}, stage="1")),
    ("torque_tool_lapsed", lambda b: again(b, TIE.tool, SMALL_TOOL | {"due_on": None}, stage="1")),
    ("torque_tool_late", lambda b: again(b, TIE.tool, SMALL_TOOL, stage="1")),
    ("torque_tool_range", lambda b: b.put(
        TIE.tool, SMALL_TOOL | {"ratings": {"low_nm": 1, "high_nm": 5}}, stage="3")),
    ("link_meter", lambda b: again(b, LINKS.meter, METER | {"due_on": OLD})),
    ("link_meter", lambda b: again(b, LINKS.meter, METER | {"ratings": {"rated_v": 300}})),
    ("link_polarity", lambda b: again(b, LINKS.polarity, "reversed")),
    ("link_part_v", lambda b: again(b, LINKS.part_v, {NEGATIVE: "21.6", POSITIVE: "86.4"})),
    ("link_part_missing", lambda b: again(b, LINKS.part_v, {NEGATIVE: "64.8"})),
    ("link_gap_v", lambda b: again(b, LINKS.gap_v, "-150")),
    ("link_joint_meter", lambda b: again(b, LINKS.joint_meter, MILLIOHM | {"due_on": OLD})),
    ("link_joint_missing", lambda b: again(b, LINKS.drops, _drops(1.5, 1.5, 1.5))),
    ("link_joint_few", _no_maker_limit),
    ("link_joint_limit", lambda b: again(b, LINKS.drops, _drops(14, 1.5, 1.5, 1.5))),
    ("link_joint_ratio", lambda b: again(b, LINKS.drops, _drops(1.9, 1.5, 1.5, 1.5))),
)  # fmt: skip


def test_a_whole_swap_can_be_signed() -> None:
    bench = swapped()
    assert found(bench, STEP) == ()
    assert sign_gate((STEP,), bench.record(), STEP, a_person(ASTER)) == ()


def test_every_value_can_be_entered_in_the_order_of_the_work() -> None:
    assert entered_in_order(swapped(), STEP) == []


@pytest.mark.parametrize(("code", "change"), CASES, ids=named(CASES))
def test_each_blocker_stands_when_its_point_fails(code: str, change: Change) -> None:
    bench = swapped()
    change(bench)
    standing = [blocker for blocker in found(bench, STEP) if blocker.code == code]
    assert standing
    asked = {item.key for item in items_of(STEP, bench.record())}
    assert all(blocker.item in asked for blocker in standing)


def test_every_reason_is_shown_by_a_case() -> None:
    at_the_door = {"torque_tool_first", "torque_stage_waits", NO_MODULE_LEAKS.code}
    at_the_door |= {"swap_move_safe_first", "swap_plan_first", "swap_too_cold"}
    at_the_door |= {"swap_still_flows", "swap_resting"}
    assert {code for code, _ in CASES} | at_the_door == {r.code for r in REASONS}


def test_a_joint_that_stands_out_is_named_drawn_and_given_advice() -> None:
    bench = swapped()
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    assert section.advice == ()
    assert section.pictures[1].description.startswith("None stands out")
    drops = bench.record().live[LINKS.drops.key][-1].value
    again(bench, LINKS.drops, {**drops, "M9 pos": "2.4"})
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    (said,) = section.advice
    assert said.text.format(**said.params).startswith("Joint M9 pos: 24.0 µΩ, the median of all")
    assert "clean" in said.text
    assert section.pictures[1].description.startswith("Stands out: M9 pos 24.0")


def test_only_shop_defaults_may_be_countersigned() -> None:
    assert {r.code for r in REASONS if r.countersign} == {
        "swap_cell_spread",
        "swap_charge_undecided",
        "swap_not_matched",
        "link_joint_ratio",
    }


def accept(bench: Bench, blocker: Blocker) -> None:
    """Accept a point as the door writes it down."""
    value = {"digest": blocker_digest(blocker), "code": blocker.code, "reason": "balancer"}
    value |= {"item": blocker.item, "qualifier": blocker.qualifier}
    bench.add(Kind.COUNTERSIGN, value, by=THORNE)


def test_a_countersigned_spread_no_longer_blocks() -> None:
    bench = swapped()
    again(bench, SPARE_CELL_V, "3.621", **M10)
    # What the hold point rested on was struck, so it is passed again.
    bench.hold("module_swap", "last_link")
    spread, means = sorted(found(bench, STEP), key=lambda b: b.code != "swap_cell_spread")
    assert (spread.code, means.item) == ("swap_cell_spread", "module_swap.means")
    accept(bench, spread)
    assert found(bench, STEP) == ()


def test_a_spare_that_does_not_match_stands_against_the_last_link_too() -> None:
    bench = swapped()
    again(bench, SPARE_CELL_V, "3.70", **M10)
    points = {(b.code, b.item) for b in held(bench, STEP, "last_link")}
    assert points == {
        ("swap_cell_spread", SPARE_CELL_V.key),
        ("missing", "module_swap.means"),
    }


def test_the_last_link_stays_locked_until_polarity_and_voltages_are_measured() -> None:
    bench = swapped()
    without(bench, LINKS.polarity)
    without(bench, LINKS.gap_v)
    missing = {b.item for b in held(bench, STEP, "last_link")}
    assert missing == {LINKS.polarity.key, LINKS.gap_v.key}
    assert LINKS.closed.hold == "last_link"
    assert held(swapped(), STEP, "last_link") == ()


def test_live_work_needs_gloves_of_today() -> None:
    bench = swapped()
    assert held(bench, STEP, LIVE_HOLD) == ()
    bench.wait(hours=20)
    assert "live_air_test_old" in {b.code for b in held(bench, STEP, LIVE_HOLD)}
    without(bench, LIVE.shield)
    assert LIVE.shield.key in {b.item for b in held(bench, STEP, LIVE_HOLD)}


def test_the_joints_of_both_links_of_the_module_are_asked_and_no_other() -> None:
    assert undone(localised("M10").record()) == ("M9 pos", "M10 neg", "M10 pos", "M11 neg")


def test_a_link_opened_for_localisation_alone_is_tightened_too() -> None:
    bench = localised("M10")
    bench.put(FOUND_LINK_OPENED, after="M3")
    bench.put(FOUND_LINK_OPENED, after="M7")
    asked = ("M3 pos", "M4 neg", "M9 pos", "M10 neg", "M10 pos", "M11 neg")
    assert undone(bench.record()) == asked


def test_time_since_the_rest_was_entered_counts_as_rest() -> None:
    bench = swapped()
    again(bench, REST_H, "1", **M10)
    bench.wait(hours=2.5)
    again(bench, SPARE_CELL_V, "3.604", **M10)
    assert "swap_rest" not in codes(bench, STEP)


def test_a_module_without_sign_of_damage_may_be_watched_for_the_shorter_time() -> None:
    bench = swapped()
    again(bench, CONDITION, "sound", **M10)
    again(bench, QUARANTINE_CLASS, DRY, **M10)
    assert codes(bench, STEP) == {"hold_not_passed"}
    bench.hold("module_swap", "last_link")
    assert codes(bench, STEP) == set()


def test_a_flat_chemistry_asks_for_the_end_of_the_scale() -> None:
    bench = localised("M10")
    assert bench.pack is not None
    assert SAME_END.key not in {item.key for item in STEP.items(bench.record())}
    bench.pack = bench.pack.model_copy(update={"chemistry": "lfp"})
    assert SAME_END.key in {item.key for item in STEP.items(bench.record())}


def test_a_tool_goes_on_from_stage_to_stage_until_another_is_picked() -> None:
    bench = swapped()
    bench.put(TIE.tool, SMALL_TOOL | {"label": "Small wrench"}, stage="2")
    (module,) = STEP.assess(bench.record()).modules
    assert module.tie is not None
    assert [stage.tool for stage in module.tie.stages] == ["TORQUE_TOOL"] + 2 * ["Small wrench"]


def test_nothing_is_swapped_where_no_module_leaks() -> None:
    assert STEP.skip(localised(None).record()) is NO_MODULE_LEAKS
    assert STEP.skip(localised("M10").record()) is None


def test_a_bound_stays_a_bound_and_a_short_fails() -> None:
    both = spare_insulation([Bounded(5e8, ">"), Bounded(5e8, ">")], 5.0, 2.5e6)
    assert (both.verdict, both.ohm_high) == ("pass", None)
    short = spare_insulation([Bounded(1e4, "<"), Bounded(5e8, ">")], 5.0, 2.5e6)
    assert (short.verdict, short.ohm_low) == ("fail", 0.0)


def test_the_customer_reads_what_was_replaced_and_where_it_comes_from() -> None:
    bench = swapped()
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    words = [part.text.format(**part.params) for part in section.plain if isinstance(part, Said)]
    assert "We replaced module M10 by one of the same kind, serial S-4471." in words
    assert section.verdict == "pass"
    assert section.pictures[0].description == "14 modules. Replaced: M10."


def test_a_low_reading_at_one_terminal_is_not_averaged_away() -> None:
    one = spare_insulation([Bounded(5e8, ">"), Bounded(1e6)], 0.0, 2.5e6)
    assert (one.verdict, round(one.ohm_low)) == ("fail", 1_000_000)


def test_a_flat_chemistry_asks_for_the_end_of_the_scale_of_every_module() -> None:
    bench = leaking("minibus", "M2", "M3")
    bench.put(SAME_END, module="M2")
    missing = {(b.item, b.qualifier) for b in found(bench, STEP) if b.code == "missing"}
    assert (SAME_END.key, "module=M3") in missing
    assert (SAME_END.key, "module=M2") not in missing
    warnings = STEP.section(bench.record(), STEP.assess(bench.record())).warnings
    assert any("no equal charge" in said.text for said in warnings)


def test_a_stack_without_gap_or_tie_bolts_asks_for_neither() -> None:
    bench = leaking("city-hatchback", "M3")
    bench.put(SPARE, A_SPARE, module="M3")
    assert "swap_wrong_spare" in codes(bench, STEP)
    keys = {item.key for item in STEP.items(bench.record())}
    assert (GAP.key in keys, TIE.values.key in keys) == (False, True)
    assert bench.pack is not None
    bench.pack = bench.pack.model_copy(update={"stack": Stack()})
    assert TIE.values.key not in {item.key for item in STEP.items(bench.record())}
    assert STEP.assess(bench.record()).modules[0].tie is None


def test_danger_signs_head_the_panel_and_a_spare_without_origin_is_not_described() -> None:
    bench = swapped()
    again(bench, QUARANTINE_CLASS, DANGER, **M10)
    again(bench, SPARE, A_SPARE | {"provenance": "", "capacity_ah": None}, **M10)
    without(bench, QUARANTINE_PLACE)
    without(bench, REST_H)
    without(bench, LINKS.drops)
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    assert section.warnings[0].text.startswith("Danger signs")
    assert not any("comes from" in part.text for part in section.plain if isinstance(part, Said))
    assert section.verdict == "none"
    assert STEP.assess(bench.record()).modules[0].rest_h is None


WHOLE = swapped()


@given(st.sets(st.integers(0, len(WHOLE.entries) - 1)))
@settings(max_examples=25)
def test_any_part_of_the_entries_can_be_judged_and_said(kept: set[int]) -> None:
    speaks(WHOLE, STEP, kept)
