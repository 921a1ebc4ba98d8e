import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packs.physics.instrument import (
    Accuracy,
    CalculationRefused,
    Meter,
    Verdict,
    at_least,
    at_most,
    half_width_95,
    scatter,
    standard_uncertainty,
)

WIDTHS = st.lists(st.floats(0.0, 1e3), min_size=1, max_size=6)


def test_the_allowance_is_share_counts_and_rounding() -> None:
    meter = Meter(input_ohm=1e7, accuracy_percent=0.5, accuracy_counts=2, resolution_v=0.1)
    assert meter.half_width_v(-100.0) == pytest.approx(0.5 + 0.2 + 0.05)


def test_an_instrument_and_a_voltmeter_have_the_same_allowance() -> None:
    assert Accuracy().half_width_v(12.0) == Meter(input_ohm=1e7).half_width_v(12.0)


def test_a_box_has_the_standard_uncertainty_of_the_guide() -> None:
    assert standard_uncertainty(3.0) == pytest.approx(math.sqrt(3.0))


def test_no_errors_leave_no_width() -> None:
    assert half_width_95([], 0.0) == 0.0
    assert half_width_95([0.0], 0.0) == 0.0


@pytest.mark.parametrize(
    ("boxes", "bell"), [([1.0], 0.0), ([1.0, 1.0], 0.0), ([1.0, 0.4], 0.3), ([0.3, 0.2], 1.0)]
)
def test_ninety_five_in_a_hundred_sums_lie_within(boxes: list[float], bell: float) -> None:
    chance = random.Random(4)  # noqa: S311
    half = half_width_95(boxes, bell)
    sums = (
        sum(chance.uniform(-box, box) for box in boxes) + chance.gauss(0.0, bell)
        for _ in range(8000)
    )
    assert sum(abs(each) <= half for each in sums) / 8000 == pytest.approx(0.95, abs=0.01)


@given(WIDTHS, st.floats(0.0, 1e3))
def test_a_half_width_lies_between_none_and_the_worst_case(
    widths: list[float], bell: float
) -> None:
    half = half_width_95(widths, bell)
    assert 0.0 <= half <= sum(widths) + 1.97 * bell + 1e-9


@given(WIDTHS, st.floats(0.0, 1e3))
def test_signs_of_sensitivities_do_not_matter(widths: list[float], bell: float) -> None:
    assert half_width_95([-width for width in widths], bell) == half_width_95(widths, bell)


def test_a_limit_inside_the_interval_is_undecided() -> None:
    assert at_least(90.0, 110.0, 100.0) is Verdict.UNDECIDED
    assert at_most(90.0, 110.0, 100.0) is Verdict.UNDECIDED


def test_a_lower_bound_can_pass_but_not_fail() -> None:
    assert at_least(120.0, None, 100.0) is Verdict.PASS
    assert at_least(20.0, None, 100.0) is Verdict.UNDECIDED


def test_an_interval_beyond_the_limit_fails() -> None:
    assert at_least(10.0, 20.0, 100.0) is Verdict.FAIL
    assert at_most(10.0, 20.0, 5.0) is Verdict.FAIL
    assert at_most(1.0, 2.0, 5.0) is Verdict.PASS


def test_scatter_is_one_when_chance_explains_it_or_nothing_can_be_said() -> None:
    assert scatter(100.0, 0) == 1.0
    assert scatter(9.0, 8) == 1.0
    assert scatter(80.0, 8) == 10.0


def test_a_refusal_names_the_field() -> None:
    refused = CalculationRefused("samples.1.t_s", "must be later")
    assert (refused.path, refused.message) == ("samples.1.t_s", "must be later")
