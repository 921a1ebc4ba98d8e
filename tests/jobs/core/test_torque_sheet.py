"""The torque list as it is worked: pattern, stages that wait, bolts one by one, drawing."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.entering import enter_gate, row_gate
from jobs.core.entry import Kind
from jobs.core.item import Item
from jobs.core.parsing import parse
from jobs.core.reason import Blocker, InputRefused
from jobs.core.record import Record
from jobs.core.section import Said
from jobs.core.snapshot import Clicked
from jobs.core.torque import check_torque, torque_blockers, torque_items, torque_table
from jobs.core.torque_sheet import TorqueSheet, asked_torque, in_pattern
from jobs.steps.road_test import STEP
from tests.builders import Bench, a_bench, a_pack, a_person, an_equipment

ITEMS = torque_items("road_test.mounts", "Pack to vehicle", group="Refit")
PLAN = a_pack().mounts
TOOL = an_equipment("torque_tool", low_nm=20.0, high_nm=200.0, tolerance_percent=4.0)


def asked(record: Record) -> tuple[Item[Any], ...]:
    return asked_torque(record, ITEMS, PLAN)


STEP_OF_LIST = replace(STEP, items=asked, holds=lambda _r, _a: ())


def sheet(bench: Bench, stage: int = 1) -> TorqueSheet:
    values = asked(bench.record())[-1]
    assert values.sheet is not None
    shown = values.sheet(f"stage={stage}")
    assert isinstance(shown, TorqueSheet)
    return shown


def refused(bench: Bench, stage: int) -> set[str]:
    blockers: tuple[Blocker, ...] = enter_gate(
        (STEP_OF_LIST,), bench.record(), key=ITEMS.values.key, qualifier=f"stage={stage}",
        by=a_person(),
    )  # fmt: skip
    return {blocker.code for blocker in blockers}


def with_tool() -> Bench:
    bench = a_bench()
    bench.put(ITEMS.tool, TOOL, stage="1")
    return bench


def tightened(bench: Bench, stage: int, *but: str) -> None:
    target = PLAN.stages[stage - 1].target_nm
    for name in PLAN.positions:
        if name not in but:
            bench.put(ITEMS.values, {name: str(target)}, stage=str(stage))


@given(st.integers(1, 40), st.sampled_from(["crosswise", "outward", "in_order"]))
def test_every_pattern_takes_each_bolt_once(count: int, pattern: str) -> None:
    rows = [f"B{number}" for number in range(count)]
    assert sorted(in_pattern(rows, pattern)) == sorted(rows)


@given(st.integers(1, 20))
def test_crosswise_always_goes_to_the_opposite_bolt_first(half: int) -> None:
    rows = list(range(2 * half))
    turns = [int(each) for each in in_pattern([str(row) for row in rows], "crosswise")]
    assert all(b - a == half for a, b in zip(turns[::2], turns[1::2], strict=True))


def test_no_bolt_is_entered_before_its_tool() -> None:
    assert refused(a_bench(), 1) == {"torque_tool_first"}
    assert refused(with_tool(), 1) == set()


@pytest.mark.parametrize(
    ("tool", "code"),
    [
        (TOOL | {"due_on": "2026-03-01"}, "torque_tool_lapsed"),
        (an_equipment("torque_tool", low_nm=2.0, high_nm=25.0), "torque_tool_range"),
    ],
)
def test_a_tool_that_does_not_fit_opens_no_stage(tool: Any, code: str) -> None:
    bench = a_bench()
    bench.put(ITEMS.tool, tool, stage="1")
    assert refused(bench, 1) == {code}


def test_a_stage_waits_for_the_one_before_it() -> None:
    bench = with_tool()
    tightened(bench, 1, "P4")
    assert refused(bench, 2) == {"torque_stage_waits"}
    bench.put(ITEMS.values, {"P4": "999"}, stage="1")
    assert refused(bench, 2) == {"torque_stage_waits"}
    bench.entries.pop()
    bench.put(ITEMS.values, {"P4": str(PLAN.stages[0].target_nm)}, stage="1")
    assert refused(bench, 2) == set()


def test_bolts_go_in_one_by_one_and_none_twice() -> None:
    bench = with_tool()
    bench.put(ITEMS.values, {"P1": str(PLAN.stages[0].target_nm)}, stage="1")
    assert refused(bench, 1) == set()
    values, record = asked(bench.record())[-1], bench.record()
    twice = row_gate(values, record, qualifier="stage=1", value={"P1": "50"})
    assert [blocker.code for blocker in twice] == ["row_recorded"]
    assert row_gate(values, record, qualifier="stage=1", value={"P2": "50"}) == ()
    assert row_gate(values, record, qualifier="stage=2", value={"P1": "50"}) == ()
    tightened(bench, 1, "P1")
    assert refused(bench, 1) == {"already_recorded"}


def test_a_bolt_tightened_again_earlier_is_asked_again_and_may_be_entered() -> None:
    bench = with_tool()
    for number in (1, 2):
        tightened(bench, number)
    assert refused(bench, 2) == {"already_recorded"}
    first = next(e for e in bench.record().live[ITEMS.values.key] if "P4" in e.value)
    bench.add(Kind.STRIKE, {"key": first.key, "reason": "loosened"})
    bench.put(ITEMS.values, {"P4": str(PLAN.stages[0].target_nm)}, stage="1")
    turn = sheet(bench, 2).next
    assert turn is not None
    assert (turn.name, turn.again) == ("P4", True)
    assert refused(bench, 2) == set()
    values, second = asked(bench.record())[-1], str(PLAN.stages[1].target_nm)
    free = row_gate(values, bench.record(), qualifier="stage=2", value={"P4": second})
    taken = row_gate(values, bench.record(), qualifier="stage=2", value={"P1": second})
    assert (free, [blocker.code for blocker in taken]) == ((), ["row_recorded"])
    bench.put(ITEMS.values, {"P4": second}, stage="2")
    assert refused(bench, 2) == {"already_recorded"}
    assert sheet(bench, 2).next is None
    assert not any(bolt.again for bolt in sheet(bench, 2).bolts)


def test_bolts_entered_one_by_one_add_up_as_a_whole_stage_does() -> None:
    singly, wholly = with_tool(), with_tool()
    for number, stage in enumerate(PLAN.stages, start=1):
        tightened(singly, number)
        values = dict.fromkeys(PLAN.positions, str(stage.target_nm))
        wholly.put(ITEMS.values, values, stage=str(number))
    checks = [check_torque(b.record(), ITEMS, PLAN, PLAN.positions) for b in (singly, wholly)]
    assert checks[0].done
    assert checks[0].stages == checks[1].stages


def test_a_bolt_out_of_tolerance_is_the_only_one_named() -> None:
    bench = with_tool()
    tightened(bench, 1, "P4")
    bench.put(ITEMS.values, {"P4": "999"}, stage="1")
    check = check_torque(bench.record(), ITEMS, PLAN, PLAN.positions)
    off = [b for b in torque_blockers(check, ITEMS) if b.code == "torque_off"]
    assert [blocker.params["position"] for blocker in off] == ["P4"]
    states = {bolt.name: bolt.state for bolt in sheet(bench).bolts}
    assert states["P4"] == "off"
    assert {state for name, state in states.items() if name != "P4"} == {"done"}
    assert "out of tolerance: P4" in sheet(bench).picture.description


def test_the_next_bolt_follows_the_pattern() -> None:
    bench = with_tool()
    turns = in_pattern(PLAN.positions, PLAN.pattern)
    for name in turns[:3]:
        assert (sheet(bench).next or sheet(bench).bolts[0]).name == name
        bench.put(ITEMS.values, {name: str(PLAN.stages[0].target_nm)}, stage="1")
    assert sheet(bench).done == 3
    assert sheet(bench).next is not None
    tightened(bench, 1, *turns[:3])
    assert sheet(bench).next is None


def test_a_click_is_kept_as_a_click_and_counts_only_at_the_target() -> None:
    values = asked(with_tool().record())[-1]
    stored = parse(values, {"P1": {"clicked": "60"}, "P2": "61"})
    assert stored == {"P1": {"number": "60", "clicked": True}, "P2": "61"}
    read = values.read(stored)
    assert isinstance(read["P1"], Clicked)
    assert not isinstance(read["P2"], Clicked)
    target = PLAN.stages[0].target_nm
    bench = with_tool()
    bench.put(ITEMS.values, {"P1": {"clicked": str(target)}}, stage="1")
    bench.put(ITEMS.values, {"P2": {"clicked": str(target * 1.01)}}, stage="1")
    check = check_torque(bench.record(), ITEMS, PLAN, PLAN.positions)
    assert [name for name, _ in check.stages[0].off] == ["P2"]
    cell = torque_table(check).rows[0][1]
    assert cell == Said("clicked at {set_nm:g} Nm", {"set_nm": target})


def test_a_click_that_is_no_number_is_refused() -> None:
    values = asked(with_tool().record())[-1]
    wrong: tuple[Any, ...] = (
        {"P1": {"clicked": "loud"}},
        {"P1": {}},
        {},
        {"none": {"clicked": "5"}},
        None,
    )
    for raw in wrong:
        with pytest.raises(InputRefused):
            parse(values, raw)
