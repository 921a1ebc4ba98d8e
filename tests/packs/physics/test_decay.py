import json
import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packs.physics.decay import DecayResult, Sample, decay
from packs.physics.instrument import CalculationRefused, Meter

CASES = json.loads((Path(__file__).parents[2] / "data" / "decay.json").read_text("utf-8"))["cases"]
METER = Meter(input_ohm=1e7)
COARSE = Meter(input_ohm=1.1e7, accuracy_percent=0.7, accuracy_counts=3, resolution_v=0.1)


def series(volts: list[float], step_s: float = 10.0) -> list[Sample]:
    return [Sample(t_s=index * step_s, v=v) for index, v in enumerate(volts)]


def curve(end_v: float, start_v: float, tau_s: float, times_s: list[float]) -> list[Sample]:
    return [
        Sample(t_s=t, v=round(end_v + (start_v - end_v) * math.exp(-t / tau_s), 2)) for t in times_s
    ]


def codes(result: DecayResult) -> set[str]:
    return {message.code for message in (*result.warnings, *result.advice)}


@pytest.mark.parametrize("case", CASES)
def test_reference_series_are_told_apart(case: dict[str, Any]) -> None:
    given_, truth = case["input"], case["truth"]
    samples = [Sample(**sample) for sample in given_["samples"]]
    result = decay(samples, Meter(**given_["meter"]), floor_v=given_["floor_v"])
    assert result.kind == truth["kind"]
    assert result.end_v_low <= truth["end_v"] <= result.end_v_high
    assert result.tau_s == pytest.approx(truth["tau_s"], rel=0.1)


def test_three_equally_spaced_samples_give_the_hand_formula() -> None:
    result = decay(series([90.0, 62.0, 46.7]), METER)
    assert result.end_v == pytest.approx(
        (90.0 * 46.7 - 62.0**2) / (90.0 + 46.7 - 2 * 62.0), abs=0.1
    )
    assert result.tau_s == pytest.approx(16.6, abs=0.1)


def test_a_flat_series_has_no_time_constant() -> None:
    result = decay(series([61.2, 61.3, 61.2, 61.2]), METER)
    assert (result.kind, result.tau_s) == ("standing", None)
    assert result.seconds_to_threshold is None


def test_a_flat_series_at_nothing_floats_and_warns_about_its_one_point() -> None:
    result = decay(series([0.1, 0.0, 0.1, 0.0]), COARSE)
    assert result.kind == "floating"
    assert "one_point_only" in codes(result)


def test_a_flat_series_that_was_not_watched_long_enough_decides_nothing() -> None:
    result = decay(series([8.0, 8.0, 8.0], step_s=0.1), COARSE)
    assert result.kind == "undecided"
    assert {"too_short", "keep_recording"} <= codes(result)


def test_a_curve_broken_off_early_decides_nothing_and_says_how_long_to_go_on() -> None:
    result = decay(curve(0.0, 100.0, 30.0, [0, 1, 2, 3]), METER)
    assert result.kind == "undecided"
    assert "keep_recording" in codes(result)


def test_an_unresolved_time_constant_has_no_upper_end() -> None:
    result = decay(series([100.0, 98.6, 97.2], step_s=1.0), COARSE)
    assert result.tau_s_high is None
    assert result.kind == "undecided"


def test_an_end_value_across_the_floor_decides_nothing() -> None:
    result = decay(curve(2.0, 100.0, 10.0, [0, 10, 20, 30, 40, 50, 60]), COARSE)
    assert result.kind == "undecided"
    assert result.end_v_low < 2.0 < result.end_v_high


def test_two_time_constants_are_not_taken_for_one() -> None:
    times_s = [2.0 * index for index in range(12)]
    samples = [
        Sample(t_s=t, v=round(150 * math.exp(-t / 2) + 100 * math.exp(-t / 60), 2)) for t in times_s
    ]
    result = decay(samples, Meter(input_ohm=1e7, accuracy_percent=0.1))
    assert result.kind == "undecided"
    assert {"does_not_fit", "take_again"} <= codes(result)


def test_a_wobbling_reading_that_does_not_move_still_stands() -> None:
    result = decay(series([300.0, 306.0, 299.0, 304.0, 301.0, 305.0, 300.0, 303.0]), METER)
    assert result.kind == "standing"
    assert "does_not_fit" in codes(result)


def test_seconds_count_from_the_last_sample() -> None:
    result = decay(curve(0.0, 400.0, 40.0, [0, 10, 20, 30]), METER)
    assert result.seconds_to_threshold == pytest.approx(40 * math.log(400 / 60) - 30, abs=1.0)


def test_nothing_is_left_to_wait_for_below_the_threshold() -> None:
    result = decay(curve(0.0, 400.0, 40.0, [0, 40, 80, 120]), METER)
    assert result.seconds_to_threshold == 0.0


def test_a_fit_that_never_gets_there_gives_no_wait() -> None:
    result = decay(curve(80.0, 200.0, 10.0, [0, 10, 20, 30, 40]), METER)
    assert result.seconds_to_threshold is None


def test_a_fit_at_the_threshold_gives_no_wait_below_zero() -> None:
    result = decay(curve(0.0, 200.0, 10.0, [0, 5, 10, 12.05]), COARSE, threshold_v=59.9)
    assert result.seconds_to_threshold is not None
    assert result.seconds_to_threshold >= 0.0


def test_a_fit_just_below_a_reading_just_above_the_threshold_waits_no_longer() -> None:
    samples = [*curve(20.0, 200.0, 10.0, [0, 5, 10, 15]), Sample(t_s=20, v=44.6)]
    result = decay(samples, METER, threshold_v=44.59)
    assert result.seconds_to_threshold == 0.0


def test_a_rising_reading_never_falls_below_the_threshold() -> None:
    result = decay(curve(200.0, 0.0, 10.0, [0, 10, 20, 30, 40]), METER)
    assert (result.kind, result.seconds_to_threshold) == ("standing", None)


def test_a_shared_gain_widens_the_interval_of_a_standing_value() -> None:
    samples = curve(100.0, 200.0, 10.0, [0, 10, 20, 30, 40, 50, 60])
    alone = decay(samples, METER)
    shared = decay(samples, METER, gain_shared=True)
    assert shared.end_v_high - shared.end_v_low > alone.end_v_high - alone.end_v_low


@pytest.mark.parametrize("times_s", [[0, 1, 1], [0, 2, 1], [0, 1, 1.0000001]])
def test_times_must_rise(times_s: list[float]) -> None:
    with pytest.raises(CalculationRefused) as refused:
        decay([Sample(t_s=t, v=10.0) for t in times_s], METER)
    assert refused.value.path == "samples.2.t_s"


def test_two_samples_are_too_few() -> None:
    with pytest.raises(CalculationRefused, match="at least 3"):
        decay(series([10.0, 9.0]), METER)


def test_a_meter_without_any_error_is_refused() -> None:
    perfect = Meter(input_ohm=1e7, accuracy_percent=0, accuracy_counts=0, resolution_v=0)
    with pytest.raises(CalculationRefused) as refused:
        decay(series([10.0, 9.0, 8.0]), perfect)
    assert refused.value.path == "meter"


@given(
    st.lists(st.floats(-1e3, 1e3), min_size=3, max_size=6),
    st.lists(st.floats(0.01, 100.0), min_size=6, max_size=6),
)
@settings(max_examples=12)
def test_any_series_gives_a_finite_interval_around_its_end_value(
    volts: list[float], gaps_s: list[float]
) -> None:
    samples = [Sample(t_s=sum(gaps_s[:index]), v=v) for index, v in enumerate(volts)]
    result = decay(samples, METER)
    assert math.isfinite(result.end_v)
    assert result.end_v_low <= result.end_v <= result.end_v_high
    assert (result.kind == "undecided") == bool(result.advice)


@given(st.floats(20.0, 150.0), st.floats(2.0, 40.0))
@settings(max_examples=12)
def test_turning_the_leads_round_changes_only_the_sign(end_v: float, tau_s: float) -> None:
    samples = curve(end_v, end_v + 60.0, tau_s, [tau_s * part for part in (0, 1, 2, 3)])
    turned = [Sample(t_s=sample.t_s, v=-sample.v) for sample in samples]
    one, two = decay(samples, METER), decay(turned, METER)
    assert one.kind == two.kind
    assert one.end_v == pytest.approx(-two.end_v, rel=1e-6)
    assert one.end_v_low == pytest.approx(-two.end_v_high, rel=1e-6)


def test_longer_recording_narrows_the_interval() -> None:
    widths = []
    for count in (5, 8, 12):
        result = decay(curve(40.0, 180.0, 10.0, [5.0 * index for index in range(count)]), METER)
        widths.append(result.end_v_high - result.end_v_low)
    assert all(later < earlier for earlier, later in pairwise(widths))
