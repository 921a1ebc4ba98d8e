"""The plan of a move over time, and readings against it."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.core.charge_picture import charge_picture
from jobs.core.charge_watch import ChargePlan, Reading, course_of, moved_ah, plan_of
from packs.physics.charge import ChargeCase, ChargeMethod, charge
from packs.picture import Disc

RESISTOR = ChargeMethod(kind="resistor", ohm=4.7)
SUPPLY = ChargeMethod(kind="supply", current_a=10.0)


def a_case(spare_v: float, string_v: float, method: ChargeMethod) -> ChargeCase:
    return ChargeCase(
        curve="nmc532_graphite", cells=6, capacity_ah=118.0, spare_cell_v=spare_v,
        target_cell_v=string_v, method=method, module_resistance_ohm=0.006,
    )  # fmt: skip


def a_plan(spare_v: float, string_v: float, method: ChargeMethod) -> ChargePlan:
    case = a_case(spare_v, string_v, method)
    plan = plan_of(case, charge(case))
    assert plan is not None
    return plan


DOWN, UP = a_plan(3.69, 3.60, RESISTOR), a_plan(3.55, 3.62, SUPPLY)
LIMITS = {"low_v": 16.8, "high_v": 25.2}


@pytest.mark.parametrize(("spare_v", "string_v", "method"), [
    (3.69, 3.60, RESISTOR), (3.69, 3.60, SUPPLY), (3.55, 3.62, SUPPLY),
])  # fmt: skip
def test_the_plan_begins_under_current_and_ends_where_charge_says_to_stop(
    spare_v: float, string_v: float, method: ChargeMethod
) -> None:
    case = a_case(spare_v, string_v, method)
    result, plan = charge(case), a_plan(spare_v, string_v, method)
    assert plan.terminal_v[-1] == pytest.approx(result.stop_terminal_v)
    assert plan.whole_h == pytest.approx(result.hours)
    assert plan.hours[0] == 0.0
    sign = 1.0 if plan.charging else -1.0
    assert sign * (plan.terminal_v[0] - 6 * spare_v) > 0.0


@pytest.mark.parametrize("plan", [DOWN, UP], ids=["down", "up"])
def test_what_the_plan_itself_says_is_on_the_plan_and_moves_what_was_asked(
    plan: ChargePlan,
) -> None:
    readings = [Reading(h, v) for h, v in zip(plan.hours, plan.terminal_v, strict=True)]
    course = course_of(plan, readings, **LIMITS, now_h=plan.whole_h)
    assert (course.pace, course.stop, course.limit) == ("planned", True, False)
    assert not any(course.off)
    case = a_case(3.69, 3.60, RESISTOR) if plan is DOWN else a_case(3.55, 3.62, SUPPLY)
    assert moved_ah(plan, readings, plan.whole_h) == pytest.approx(charge(case).move_ah, rel=2e-3)


@given(st.floats(0.0, 1.0), st.booleans())
@settings(max_examples=40)
def test_a_module_of_half_or_twice_the_capacity_is_told_of_or_within_the_reading(
    share: float, half: bool
) -> None:
    plan, factor = DOWN, 2.0 if half else 0.5
    hours = share * plan.whole_h
    reading = Reading(hours, plan.at_v(hours * factor))
    pace = course_of(plan, [reading], **LIMITS, now_h=hours).pace
    edge_v = plan.at_v(hours * (1.25 if half else 0.75))
    told = abs(reading.terminal_v - edge_v) > plan.allowed_v + 1e-6
    if told:
        assert pace == ("faster" if half else "slower")
    else:
        assert pace == "planned"


def test_a_wrong_resistance_shows_at_the_very_start() -> None:
    readings = [Reading(0.0, DOWN.terminal_v[0] - 0.5), Reading(0.5, DOWN.at_v(0.5) - 0.5)]
    assert course_of(DOWN, readings, **LIMITS, now_h=0.5).pace == "start"


def test_no_cell_may_pass_its_limits() -> None:
    assert course_of(DOWN, [Reading(1.0, 16.8)], **LIMITS, now_h=1.0).limit
    assert course_of(UP, [Reading(1.0, 25.2)], **LIMITS, now_h=1.0).limit
    assert not course_of(UP, [Reading(1.0, 25.1)], **LIMITS, now_h=1.0).limit


def test_the_time_left_runs_down_to_nothing() -> None:
    none = course_of(DOWN, [], **LIMITS, now_h=0.0)
    assert (none.pace, none.left_h) == ("none", DOWN.whole_h)
    late = course_of(DOWN, [Reading(0.0, DOWN.terminal_v[0])], **LIMITS, now_h=99.0)
    assert late.left_h == 0.0


def test_the_picture_shows_plan_readings_and_stop() -> None:
    readings = (Reading(0.0, DOWN.terminal_v[0]), Reading(1.0, DOWN.at_v(1.0) - 0.4))
    course = course_of(DOWN, readings, **LIMITS, now_h=1.0)
    drawn = charge_picture(DOWN, readings, course, now_h=1.0, title="Move")
    marks = [shape.form for shape in drawn.shapes if isinstance(shape, Disc)]
    assert marks == ["disc", "octagon"]
    assert f"{DOWN.stop_v:.2f} V" in drawn.description
    assert "1 off the plan" in drawn.description
    assert all(0 <= shape.x <= drawn.width_mm for shape in drawn.shapes if isinstance(shape, Disc))
