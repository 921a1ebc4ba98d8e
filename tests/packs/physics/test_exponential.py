import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packs.physics.exponential import (
    CHI2_95,
    Fit,
    Series,
    best_of,
    chi2_step,
    edge,
    extremes,
    fit_at,
    fit_constant,
    scan,
)


def exact(end_v: float, step_v: float, tau_s: float, times_s: tuple[float, ...]) -> Series:
    volts = tuple(end_v + step_v * math.exp(-t / tau_s) for t in times_s)
    return Series(times_s, volts, ((0.1,),) * len(times_s), 0.0)


@given(st.floats(-100, 100), st.floats(10, 200), st.floats(2.0, 50.0))
def test_exact_readings_give_back_the_curve(end_v: float, step_v: float, tau_s: float) -> None:
    series = exact(end_v, step_v, tau_s, (0.0, 5.0, 12.0, 30.0))
    fit = fit_at(series, tau_s)
    assert fit.end_v == pytest.approx(end_v, abs=1e-6)
    assert fit.step_v == pytest.approx(step_v, abs=1e-6)
    assert fit.chi2 == pytest.approx(0.0, abs=1e-9)


def test_the_time_constant_is_found_from_a_coarse_scan() -> None:
    series = exact(20.0, 80.0, 7.0, (0.0, 3.0, 6.0, 9.0, 20.0))
    assert best_of(series, scan(series, 0.5, 500.0, 60)).tau_s == pytest.approx(7.0, rel=1e-4)


def test_very_long_time_constants_stay_finite() -> None:
    series = exact(0.0, 100.0, 10.0, (0.0, 1.0, 2.0))
    fit = fit_at(series, 1e9)
    assert math.isfinite(fit.end_v)
    assert math.isfinite(fit.end_u_v)


def test_the_edge_is_where_the_fit_stops_being_acceptable() -> None:
    series = exact(20.0, 80.0, 7.0, (0.0, 3.0, 6.0, 9.0, 20.0))
    best = fit_at(series, 7.0)
    tau_s = edge(series, best, CHI2_95, 500.0)
    assert tau_s is not None
    assert fit_at(series, tau_s).chi2 == pytest.approx(CHI2_95, rel=1e-3)
    assert edge(series, best, 1e9, 500.0) is None


def test_a_fit_that_is_not_acceptable_adds_nothing_to_the_interval() -> None:
    good, bad = Fit(1.0, 10.0, 1.0, 0.5, 0.0), Fit(2.0, 99.0, 1.0, 0.5, 50.0)
    assert extremes([good, bad], 4.0) == (9.0, 11.0)


def test_the_interval_of_one_box_is_narrower_than_that_of_a_bell() -> None:
    series = Series((0.0, 1000.0, 1001.0), (100.0, 1.0, 1.0), ((0.1,),) * 3, 0.0)
    assert chi2_step(series, fit_constant(series)) < CHI2_95


def test_a_decay_over_before_the_second_reading_leaves_the_rest_to_the_end_value() -> None:
    series = Series((0.0, 1000.0, 1001.0), (100.0, 1.0, 1.0), ((0.1,),) * 3, 0.0)
    assert chi2_step(series, fit_at(series, 0.2)) == pytest.approx(1.902**2, rel=0.02)


def test_where_nothing_is_left_for_the_end_value_the_bell_is_used() -> None:
    one = Series((0.0,), (100.0,), ((0.1,),), 0.0)
    assert chi2_step(one, Fit(10.0, 0.0, 100.0, 1.0, 0.0)) == CHI2_95
