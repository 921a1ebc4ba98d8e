import pytest
from hypothesis import given
from hypothesis import strategies as st

from packs.physics.slope import Series, Slope, fit_slope


def fitted(values: list[float], **others: float) -> Slope:
    count = len(values)
    return fit_slope(
        Series(
            times_s=tuple(10.0 * index for index in range(count)),
            values=tuple(values),
            boxes=((others.get("box", 0.0),),) * count,
            bells=(others.get("bell", 1.0),) * count,
            drift=others.get("drift", 0.0),
        )
    )


@given(st.floats(-1e5, 1e5), st.floats(-100, 100), st.integers(2, 9))
def test_a_straight_line_is_found_and_does_not_bend(start: float, per_s: float, count: int) -> None:
    slope = fitted([start + per_s * 10.0 * index for index in range(count)])
    assert slope.per_s == pytest.approx(per_s, abs=1e-6)
    assert slope.bend == pytest.approx(0.0, abs=1e-5)
    assert slope.scatter == 1.0


def test_two_readings_give_the_difference_and_its_error() -> None:
    slope = fitted([100.0, 90.0])
    assert slope.per_s == -1.0
    assert slope.half_per_s == pytest.approx(1.96 * 2**0.5 / 10.0, rel=1e-3)


def test_more_readings_know_the_slope_better() -> None:
    assert fitted([0.0] * 9).half_per_s < fitted([0.0] * 3).half_per_s


def test_a_drift_counts_once_however_many_readings() -> None:
    slope = fitted([0.0] * 9, bell=0.0, drift=8.0)
    assert slope.half_per_s == pytest.approx(0.95 * 8.0 / 80.0)


def test_a_parabola_is_seen_with_its_last_slope() -> None:
    slope = fitted([float(index**2) for index in range(6)], bell=0.1)
    assert slope.bend > 10.0
    assert slope.last_per_s == pytest.approx(1.0)


def test_scatter_beyond_the_errors_widens_the_slope() -> None:
    calm, wild = fitted([0.0, 1.0, 0.0, 1.0, 0.0, 1.0]), fitted([0.0, 30.0] * 3)
    assert wild.scatter > 1.0
    assert wild.half_per_s > calm.half_per_s


def test_readings_without_any_error_do_not_divide_by_zero() -> None:
    assert fitted([0.0, 1.0, 2.0], bell=0.0).half_per_s == 0.0
