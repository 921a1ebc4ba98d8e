from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packs.physics.instrument import CalculationRefused, Verdict, half_width_95
from packs.physics.isolation import AboveOhm, IsolationResult, TesterCase, isolation_by_tester

RESISTANCE = st.floats(1e2, 1e12) | st.floats(1e5, 1e12).map(lambda ohm: AboveOhm(above_ohm=ohm))


def judged(pos_ohm: float | AboveOhm, neg_ohm: float | AboveOhm, **others: Any) -> IsolationResult:
    given_ = {"test_voltage_v": 500.0, "working_voltage_v": 400.0, **others}
    return isolation_by_tester(TesterCase(pos_ohm=pos_ohm, neg_ohm=neg_ohm, **given_))


def codes(result: IsolationResult) -> set[str]:
    return {message.code for message in (*result.warnings, *result.advice)}


def test_the_smaller_pole_counts() -> None:
    result = judged(2.4e6, 5.0e6)
    assert (result.total_ohm, result.standard_ohm, result.ohm_per_v) == (2.4e6, 2.4e6, 6000.0)
    assert (result.pos_ohm, result.neg_ohm) == (2.4e6, 5.0e6)
    assert result.verdict is Verdict.PASS


def test_a_low_reading_fails() -> None:
    assert judged(20_000.0, 5.0e6).verdict is Verdict.FAIL


def test_a_reading_at_the_limit_is_undecided_and_asks_for_the_other_method() -> None:
    result = judged(40_500.0, 5.0e6)
    assert (result.verdict, codes(result)) == (Verdict.UNDECIDED, {"other_method"})


def test_over_range_stays_a_bound_and_passes_if_the_bound_does() -> None:
    result = judged(AboveOhm(above_ohm=5.5e8), AboveOhm(above_ohm=9.9e8))
    assert (result.standard_ohm, result.standard_ohm_high) == (5.5e8, None)
    assert (result.is_lower_bound, result.verdict) == (True, Verdict.PASS)
    assert codes(result) == {"prove_leads"}


def test_a_bound_below_the_limit_decides_nothing() -> None:
    result = judged(AboveOhm(above_ohm=20_000.0), AboveOhm(above_ohm=20_000.0))
    assert result.verdict is Verdict.UNDECIDED
    assert "higher_range" in codes(result)


def test_a_bound_below_the_other_poles_number_keeps_no_upper_end() -> None:
    result = judged(AboveOhm(above_ohm=1e6), 3e6)
    assert (result.standard_ohm, result.standard_ohm_high) == (1e6, None)


def test_a_number_below_the_other_poles_bound_is_a_number() -> None:
    result = judged(2e6, AboveOhm(above_ohm=5.5e8))
    assert result.standard_ohm_high is not None
    assert not result.is_lower_bound


@pytest.mark.parametrize(("fraction", "decided"), [(1.0, False), (0.5, True)])
def test_a_test_below_the_working_voltage_decides_only_where_half_is_enough(
    fraction: float, *, decided: bool
) -> None:
    result = judged(2e6, 3e6, test_voltage_v=250.0, minimum_fraction=fraction)
    assert (result.verdict is not Verdict.UNDECIDED) is decided
    assert ({"test_voltage_low", "higher_test_voltage"} <= codes(result)) is not decided


def test_a_short_test_is_told() -> None:
    assert codes(judged(2e6, 3e6, duration_s=15.0)) == {"short_duration"}


def test_absorption_is_shown_and_gates_nothing() -> None:
    result = judged(2e6, 3e6, at_30s_ohm=2e6, at_60s_ohm=1e6)
    assert (result.absorption_ratio, result.verdict) == (0.5, Verdict.PASS)
    assert judged(2e6, 3e6).absorption_ratio is None
    over = judged(2e6, 3e6, at_30s_ohm=2e6, at_60s_ohm=AboveOhm(above_ohm=5e8))
    assert over.absorption_ratio is None


def test_on_a_live_part_the_conductances_are_averaged() -> None:
    # 100 kilohm in the middle of 48 V: 500 V become 524 V at one end and 476 V at the other.
    result = judged(1e5 * 500 / 524, 1e5 * 500 / 476, own_voltage_v=48.0)
    assert result.total_ohm == pytest.approx(1e5)
    assert result.standard_ohm_low < 1e5 < (result.standard_ohm_high or 0.0)


def test_a_part_that_overcomes_the_tester_is_refused() -> None:
    with pytest.raises(CalculationRefused) as refused:
        judged(1e8, 1e8, own_voltage_v=500.0)
    assert refused.value.path == "own_voltage_v"


def test_a_leak_that_may_sit_at_either_end_of_a_high_part_is_only_bounded() -> None:
    result = judged(1e6, 1e6, own_voltage_v=499.0, accuracy_percent=50.0)
    share = half_width_95([0.25, 0.25, 0.499])
    assert result.standard_ohm_low == pytest.approx(1e6 / (1.0 + share))


def test_a_tester_that_may_be_off_by_all_it_shows_only_bounds() -> None:
    result = judged(1e6, 1e6, accuracy_percent=200.0)
    assert result.standard_ohm == result.standard_ohm_low == pytest.approx(1e6 / 2.9)
    assert result.standard_ohm_high is None


def test_the_interval_holds_every_resistance_that_would_be_shown_so() -> None:
    result = judged(1e6, 5e6, accuracy_percent=10.0)
    assert result.standard_ohm_low == pytest.approx(1e6 / 1.095)
    assert result.standard_ohm_high == pytest.approx(1e6 / 0.905)


def test_over_range_on_a_live_part_stays_a_bound() -> None:
    result = judged(1e8, AboveOhm(above_ohm=5e8), own_voltage_v=48.0)
    assert result.is_lower_bound
    assert result.standard_ohm == pytest.approx(2 / (1 / 1e8 + 1 / 5e8))


@given(RESISTANCE, RESISTANCE)
def test_a_pass_means_that_no_pole_may_be_below_the_limit(
    pos_ohm: float | AboveOhm, neg_ohm: float | AboveOhm
) -> None:
    result = judged(pos_ohm, neg_ohm)
    assert 0.0 <= result.standard_ohm_low <= result.standard_ohm
    if result.verdict is Verdict.PASS:
        assert result.standard_ohm_low >= 100.0 * 400.0
    assert (result.verdict is Verdict.UNDECIDED) == bool(result.advice)
