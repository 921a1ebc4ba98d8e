"""Torque lists: stages, tolerances, tools, and lists that occur more than once."""

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.core.entry import Kind
from jobs.core.section import Quantity, Said
from jobs.core.torque import (
    check_torque,
    torque_blockers,
    torque_fact,
    torque_items,
    torque_table,
    used_in_date,
)
from jobs.core.torque_sheet import asked_torque
from tests.builders import Bench, a_bench, a_pack, an_equipment

ITEMS = torque_items("some_step.bolts", "Bolts", group="Bolts")
STACKS = torque_items("some_step.stack", "Stack", group="Stack", scope=("module",))
PLAN = a_pack().busbar_joints
TWO = ("M1 neg", "M1 pos")
TOOL = an_equipment("torque_tool", low_nm=2.0, high_nm=25.0, tolerance_percent=4.0)


def _tightened(**changed: str) -> Bench:
    bench = a_bench()
    bench.put(ITEMS.tool, TOOL, stage="1")
    bench.put(ITEMS.values, {"M1 neg": "5", "M1 pos": "5.5"}, stage="1")
    second = {"M1 neg": "9", "M1 pos": "9"} | {k.replace("_", " "): v for k, v in changed.items()}
    bench.put(ITEMS.values, second, stage="2")
    return bench


def test_a_list_within_its_tolerance_is_done() -> None:
    check = check_torque(_tightened().record(), ITEMS, PLAN, TWO)
    assert check.done
    assert torque_blockers(check, ITEMS) == ()
    fact = torque_fact(check)
    assert (fact.verdict, fact.limit, fact.limit_kind) == ("pass", Quantity(9.0, "Nm"), "maker")


@pytest.mark.parametrize(("got", "within"), [("8.46", True), ("8.45", False), ("9.55", False)])
def test_a_value_counts_up_to_the_edge_of_its_tolerance(got: str, within: bool) -> None:
    check = check_torque(_tightened(M1_pos=got).record(), ITEMS, PLAN, TWO)
    assert check.done is within


def test_the_line_of_proof_counts_the_bolts_that_are_asked_not_those_entered() -> None:
    none = torque_fact(check_torque(a_bench().record(), ITEMS, PLAN, TWO))
    assert isinstance(none.value, Said)
    assert (none.value.params, none.verdict) == ({"good": 0, "bolts": 2}, "none")
    off = torque_fact(check_torque(_tightened(M1_pos="12").record(), ITEMS, PLAN, TWO))
    assert isinstance(off.value, Said)
    assert (off.value.params, off.verdict) == ({"good": 1, "bolts": 2}, "fail")


def test_a_bolt_off_at_an_early_stage_is_not_counted_as_good() -> None:
    bench = a_bench()
    bench.put(ITEMS.tool, TOOL, stage="1")
    bench.put(ITEMS.values, {"M1 neg": "12"}, stage="1")
    fact = torque_fact(check_torque(bench.record(), ITEMS, PLAN, TWO))
    assert isinstance(fact.value, Said)
    assert (fact.value.params["good"], fact.verdict) == (0, "fail")


def test_the_blocker_names_position_target_and_what_was_got() -> None:
    check = check_torque(_tightened(M1_pos="12").record(), ITEMS, PLAN, TWO)
    (blocker,) = torque_blockers(check, ITEMS)
    named = {name: blocker.params[name] for name in ("position", "got_nm", "target_nm", "stage")}
    assert named == {"position": "M1 pos", "got_nm": 12.0, "target_nm": 9.0, "stage": 2}


def test_a_further_bolt_entered_in_one_stage_is_asked_in_every_stage() -> None:
    check = check_torque(_tightened(M2_neg="9").record(), ITEMS, PLAN, TWO)
    assert check.stages[0].missing == ("M2 neg",)


def test_nothing_is_asked_where_no_bolt_was_undone() -> None:
    assert check_torque(a_bench().record(), ITEMS, PLAN, ()).done


def test_a_list_occurs_once_for_each_place() -> None:
    bench, plan = a_bench(), a_pack().mounts
    places = [{"module": "M1"}, {"module": "M3"}]
    bolts, tool, values = asked_torque(bench.record(), STACKS, plan, places=places)
    assert tool.offered == ("stage=1", "stage=2")
    assert values.offered[0] == "module=M1;stage=1"
    assert len(values.offered) == 4
    assert bolts.key == "some_step.stack_new_bolts"
    bench.put(STACKS.values, {"P1": "60"}, module="M3", stage="1")
    check = check_torque(bench.record(), STACKS, plan, ("P1",), {"module": "M1"})
    assert (check.title, check.stages[0].missing) == ("Pack to vehicle, M1", ("P1",))


def test_bolts_that_may_be_used_again_are_not_asked_to_be_new() -> None:
    lid = a_pack().lid.bolts
    assert lid is not None
    assert ITEMS.bolts not in asked_torque(a_bench().record(), ITEMS, lid)


def test_a_tool_without_a_due_date_counts_as_lapsed() -> None:
    bench = a_bench()
    bench.put(ITEMS.tool, TOOL | {"due_on": None}, stage="1")
    given_tool = bench.record().given(ITEMS.tool)
    assert given_tool is not None
    assert not used_in_date(given_tool)
    bench.put(ITEMS.tool, TOOL, stage="2")
    later = bench.record().given(ITEMS.tool)
    assert later is not None
    assert used_in_date(later)
    assert not used_in_date(later, date(2027, 1, 1))


def test_a_bolt_tightened_again_at_the_first_stage_is_missing_in_the_second() -> None:
    bench = a_bench()
    bench.put(ITEMS.tool, TOOL, stage="1")
    for stage, got in (("1", "5"), ("2", "9")):
        for bolt in TWO:
            bench.put(ITEMS.values, {bolt: got}, stage=stage)
    first = next(e for e in bench.record().live[ITEMS.values.key] if "M1 pos" in e.value)
    bench.add(Kind.STRIKE, {"key": first.key, "reason": "loosened"})
    bench.put(ITEMS.values, {"M1 pos": "5"}, stage="1")
    check = check_torque(bench.record(), ITEMS, PLAN, TWO)
    assert [stage.missing for stage in check.stages] == [(), ("M1 pos",)]
    assert {blocker.code for blocker in torque_blockers(check, ITEMS)} == {"torque_missing"}
    assert not check.done
    bench.put(ITEMS.values, {"M1 pos": "9.1"}, stage="2")
    check = check_torque(bench.record(), ITEMS, PLAN, TWO)
    assert check.done
    assert dict(check.stages[1].values) == {"M1 neg": 9.0, "M1 pos": 9.1}


def test_a_whole_stage_entered_again_is_followed_by_the_next_again() -> None:
    bench = _tightened()
    first = bench.record().live[ITEMS.values.key][0]
    bench.add(Kind.STRIKE, {"key": first.key, "reason": "loosened"})
    bench.put(ITEMS.values, {"M1 neg": "5", "M1 pos": "5"}, stage="1")
    check = check_torque(bench.record(), ITEMS, PLAN, TWO)
    assert check.stages[1].missing == TWO


def test_a_bolt_of_one_module_tightened_again_leaves_the_other_modules_alone() -> None:
    plan, bench = a_pack().mounts, a_bench()
    for module in ("M1", "M2"):
        for number, stage in enumerate(plan.stages, start=1):
            got = {"P1": f"{stage.target_nm:g}"}
            bench.put(STACKS.values, got, module=module, stage=str(number))
    first = bench.record().live[STACKS.values.key][0]
    bench.add(Kind.STRIKE, {"key": first.key, "reason": "loosened"})
    bench.put(STACKS.values, {"P1": f"{plan.stages[0].target_nm:g}"}, module="M1", stage="1")

    def missing(module: str) -> tuple[str, ...]:
        check = check_torque(bench.record(), STACKS, plan, ("P1",), {"module": module})
        return check.stages[-1].missing

    assert (missing("M1"), missing("M2")) == (("P1",), ())


def test_the_table_shows_each_bolt_at_each_stage() -> None:
    table = torque_table(check_torque(_tightened(M2_neg="9").record(), ITEMS, PLAN, TWO))
    assert table.headings == ("Bolt", Quantity(5.0, "Nm"), Quantity(9.0, "Nm"))
    assert table.rows[1] == ("M1 pos", Quantity(5.5, "Nm"), Quantity(9.0, "Nm"))
    assert table.rows[2] == ("M2 neg", "–", Quantity(9.0, "Nm"))


@given(st.floats(0, 20, allow_nan=False))
@settings(max_examples=40)
def test_a_list_is_done_exactly_when_every_value_is_within(value: float) -> None:
    bench = _tightened(M1_pos=f"{value:.3f}")
    check = check_torque(bench.record(), ITEMS, PLAN, TWO)
    assert check.done is (abs(float(f"{value:.3f}") - 9.0) <= 9.0 * 0.06 + 1e-9)
