from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packs.physics.instrument import CalculationRefused, Meter, Verdict
from packs.physics.joint import JointCase, JointResult, joint

FINE = Meter(input_ohm=1e7, accuracy_percent=0.1, accuracy_counts=2, resolution_v=1e-6)


def judged(drop_mv: float, **others: Any) -> JointResult:
    given_ = {"current_a": 200.0, "meter": FINE, "limit_micro_ohm": 20.0, **others}
    return joint(JointCase(drop_mv=drop_mv, **given_))


def codes(result: JointResult) -> set[str]:
    return {message.code for message in (*result.warnings, *result.advice)}


def test_three_millivolts_at_two_hundred_amperes_are_fifteen_micro_ohm() -> None:
    result = judged(3.0, rated_current_a=200.0)
    assert result.micro_ohm == pytest.approx(15.0)
    assert result.heat_w == pytest.approx(0.6)
    assert result.verdict is Verdict.PASS


def test_a_bad_joint_fails_and_stands_out_from_its_like() -> None:
    siblings = [14.2, 14.5, 14.6, 15.1]
    result = judged(4.52, siblings_micro_ohm=siblings, limit_micro_ohm=None)
    assert result.limit_micro_ohm == pytest.approx(1.2 * 14.55)
    assert result.ratio_to_median == pytest.approx(22.6 / 14.55)
    assert result.verdict is Verdict.FAIL
    assert "above_siblings" in codes(result)


def test_a_range_too_coarse_is_undecided_and_asks_for_a_finer_one() -> None:
    result = judged(3.0, meter=Meter(input_ohm=1e7))
    assert result.verdict is Verdict.UNDECIDED
    assert result.micro_ohm_low == 0.0
    assert codes(result) == {"finer_meter"}


def test_a_joint_at_its_limit_is_undecided_and_is_to_be_remade() -> None:
    result = judged(4.0)
    assert result.verdict is Verdict.UNDECIDED
    assert codes(result) == {"remake_joint"}


def test_the_error_of_the_current_widens_the_interval() -> None:
    assert judged(3.0, current_u_percent=5.0).micro_ohm_high > judged(3.0).micro_ohm_high


def test_swapped_leads_are_said_and_change_nothing() -> None:
    result = judged(-3.0)
    assert result.micro_ohm == pytest.approx(15.0)
    assert codes(result) == {"leads_swapped"}


def test_without_rated_current_there_is_no_heat() -> None:
    result = judged(3.0)
    assert (result.heat_w, result.ratio_to_median) == (None, None)


@pytest.mark.parametrize(
    ("others", "path"),
    [
        ({"current_a": 0.0}, "current_a"),
        ({"limit_micro_ohm": None}, "limit_micro_ohm"),
        ({"limit_micro_ohm": None, "siblings_micro_ohm": [10.0, 11.0]}, "limit_micro_ohm"),
    ],
)
def test_a_joint_needs_a_current_and_something_to_compare(
    others: dict[str, Any], path: str
) -> None:
    with pytest.raises(CalculationRefused) as refused:
        judged(3.0, **others)
    assert refused.value.path == path


@given(st.floats(0.0, 1e3), st.floats(0.1, 1e3))
def test_the_interval_holds_the_value_and_never_goes_below_zero(
    drop_mv: float, current_a: float
) -> None:
    result = judged(drop_mv, current_a=current_a)
    assert 0.0 <= result.micro_ohm_low <= result.micro_ohm <= result.micro_ohm_high
    assert (result.verdict is Verdict.UNDECIDED) == bool(result.advice)
