"""What holds for every interval and verdict, whatever was read."""

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packs.physics.absence import PAIRS, DeadReading, Pair, Proof, absence
from packs.physics.decay import DecayResult, Sample, decay
from packs.physics.instrument import Accuracy, Meter, Verdict
from packs.physics.isolation import (
    AboveOhm,
    IsolationResult,
    TesterCase,
    VoltmeterCase,
    isolation_by_tester,
    isolation_by_voltmeter,
)
from packs.physics.joint import JointCase, joint
from packs.physics.leak import Gauge, LeakCase, LeakLimit, LeakResult, PressureSample, leak

METER = Meter(input_ohm=1.0e7)
FINER = Meter(input_ohm=1.0e7, accuracy_percent=0.1, accuracy_counts=1, resolution_v=0.001)
SURE = Meter(input_ohm=1.0e7, input_tolerance_percent=0.0)
GAUGES = st.sampled_from(
    (
        Gauge(resolution_pa=1.0, repeatability_pa=2.0),
        Gauge(resolution_pa=10.0, repeatability_pa=20.0),
        Gauge(resolution_pa=10.0, repeatability_pa=0.0),
    )
)
# Least squares never makes the standard uncertainty larger when a reading is added. The factor from
# there to 95 % may grow, because few boxes end sooner than many, which are a bell: by so much.
FACTOR_OF_A_CURVE, FACTOR_OF_A_LINE = 1.03, 1.01
brief = settings(max_examples=25, deadline=None)


def within(
    value: float, low: float, high: float | None, outer_low: float, outer_high: float | None
) -> bool:
    """Tell whether one interval lies inside another, but for the last digits."""
    slack = 1e-6 * abs(value) + 1e-12
    upper = outer_high is None or (high is not None and high <= outer_high + slack)
    return low >= outer_low - slack and upper


# ---------------------------------------------------------------- decay


@st.composite
def curves(draw: st.DrawFn) -> list[Sample]:
    """Return exact readings of one exponential, one to six time constants long."""
    tau_s, end_v = draw(st.floats(2.0, 50.0)), draw(st.floats(-100.0, 100.0))
    step_v = draw(st.floats(20.0, 200.0)) * draw(st.sampled_from((-1.0, 1.0)))
    gaps = draw(st.lists(st.floats(0.05, 1.0), min_size=3, max_size=11))
    scale = draw(st.floats(1.0, 6.0)) / sum(gaps)
    at = [tau_s * scale * sum(gaps[:index]) for index in range(len(gaps) + 1)]
    return [Sample(t_s=t, v=end_v + step_v * math.exp(-t / tau_s)) for t in at]


def width_v(result: DecayResult) -> float:
    return result.end_v_high - result.end_v_low


@brief
@given(curves(), st.data())
def test_a_further_reading_on_the_curve_does_not_widen_the_end_value(
    samples: list[Sample], data: st.DataObject
) -> None:
    left_out = data.draw(st.integers(0, len(samples) - 1))
    fewer = [sample for index, sample in enumerate(samples) if index != left_out]
    with_all, without = decay(samples, METER), decay(fewer, METER)
    assert width_v(with_all) <= FACTOR_OF_A_CURVE * width_v(without)


@brief
@given(curves(), st.integers(-100_000, 100_000))
def test_only_the_time_between_readings_counts(samples: list[Sample], later_s: int) -> None:
    steps = [replace(sample, t_s=float(index * 8)) for index, sample in enumerate(samples)]
    later = [replace(sample, t_s=sample.t_s + later_s) for sample in steps]
    assert decay(later, METER) == decay(steps, METER)


@brief
@given(curves())
def test_a_finer_meter_knows_the_end_value_better(samples: list[Sample]) -> None:
    assert width_v(decay(samples, FINER)) <= width_v(decay(samples, METER)) * (1.0 + 1e-6)


@brief
@given(curves(), st.floats(-0.9, 0.9))
def test_the_kind_follows_from_the_interval(samples: list[Sample], off: float) -> None:
    shown = [
        replace(sample, v=sample.v + (-1.0) ** index * off * METER.half_width_v(sample.v))
        for index, sample in enumerate(samples)
    ]
    result = decay(shown, METER)
    assert result.end_v_low <= result.end_v <= result.end_v_high
    if result.kind == "floating":
        assert max(abs(result.end_v_low), abs(result.end_v_high)) <= 2.0
    if result.kind == "standing":
        assert result.end_v_low > 2.0 or result.end_v_high < -2.0
    if result.tau_s is not None:
        assert result.tau_s_low is not None
        assert result.tau_s_low <= result.tau_s <= (result.tau_s_high or math.inf)


# ---------------------------------------------------------------- isolation


@st.composite
def strings(draw: st.DrawFn) -> VoltmeterCase:
    """Return what a perfect meter reads on a string with one leak."""
    leak_ohm, x = 10.0 ** draw(st.floats(3.0, 8.5)), draw(st.floats(0.0, 1.0))
    bus_v, shunt_ohm = draw(st.floats(100.0, 450.0)), 10.0 ** draw(st.floats(4.0, 6.0))
    alone_v = bus_v / (1.0 + leak_ohm / METER.input_ohm)
    shunted_v = bus_v / (1.0 + leak_ohm * (1.0 / METER.input_ohm + 1.0 / shunt_ohm))
    return VoltmeterCase(
        pos_to_chassis_v=alone_v * (1.0 - x),
        neg_to_chassis_v=alone_v * x,
        shunt_ohm=shunt_ohm,
        shunt_across="neg" if x >= 0.5 else "pos",
        shunted_v=shunted_v * max(x, 1.0 - x),
        meter=METER,
        working_voltage_v=bus_v,
        limit_ohm_per_v=draw(st.sampled_from((100.0, 500.0))),
        bus_v=draw(st.sampled_from((None, bus_v))),
    )


def turned(case: VoltmeterCase) -> VoltmeterCase:
    return replace(
        case,
        pos_to_chassis_v=case.neg_to_chassis_v,
        neg_to_chassis_v=case.pos_to_chassis_v,
        shunt_across="neg" if case.shunt_across == "pos" else "pos",
    )


def ohms(result: IsolationResult) -> list[float | None]:
    return [
        result.total_ohm,
        result.total_ohm_low,
        result.total_ohm_high,
        result.standard_ohm,
        result.standard_ohm_low,
        result.standard_ohm_high,
        result.position_percent,
    ]


@brief
@given(strings(), st.floats(0.1, 20.0))
def test_voltages_that_all_grow_alike_leave_the_resistances(
    case: VoltmeterCase, factor: float
) -> None:
    scaled = replace(
        case,
        pos_to_chassis_v=case.pos_to_chassis_v * factor,
        neg_to_chassis_v=case.neg_to_chassis_v * factor,
        shunted_v=case.shunted_v * factor,
        working_voltage_v=case.working_voltage_v * factor,
        bus_v=None if case.bus_v is None else case.bus_v * factor,
        meter=replace(METER, resolution_v=METER.resolution_v * factor),
    )
    before, after = isolation_by_voltmeter(case), isolation_by_voltmeter(scaled)
    for now, then in zip(ohms(after), ohms(before), strict=True):
        assert now == then or now == pytest.approx(then, rel=1e-6, abs=1e-6)
    assert after.ohm_per_v == pytest.approx(before.ohm_per_v / factor, rel=1e-6, abs=1e-6)


@brief
@given(strings())
def test_poles_exchanged_mirror_the_place_and_nothing_else(case: VoltmeterCase) -> None:
    one, two = isolation_by_voltmeter(case), isolation_by_voltmeter(turned(case))
    assert ohms(two)[:6] == ohms(one)[:6]
    assert two.verdict == one.verdict
    if one.pos_ohm is not None:
        assert two.neg_ohm == pytest.approx(one.pos_ohm)
    if one.position_percent is not None:
        assert two.position_percent == pytest.approx(100.0 - one.position_percent)
        assert two.position_percent_low == pytest.approx(100.0 - (one.position_percent_high or 0.0))


@brief
@given(strings(), st.sampled_from((FINER, SURE)))
def test_a_better_meter_never_knows_the_isolation_worse(case: VoltmeterCase, meter: Meter) -> None:
    coarse, fine = isolation_by_voltmeter(case), isolation_by_voltmeter(replace(case, meter=meter))
    assert within(
        coarse.standard_ohm,
        fine.standard_ohm_low,
        fine.standard_ohm_high,
        coarse.standard_ohm_low,
        coarse.standard_ohm_high,
    )


@brief
@given(strings(), st.tuples(*[st.floats(-0.9, 0.9)] * 3))
def test_the_isolation_verdict_follows_from_interval_and_limit(
    case: VoltmeterCase, off: tuple[float, float, float]
) -> None:
    names = ("pos_to_chassis_v", "neg_to_chassis_v", "shunted_v")
    shown: dict[str, Any] = {
        name: max(0.0, (v := getattr(case, name)) + share * METER.half_width_v(v))
        for name, share in zip(names, off, strict=True)
    }
    result = isolation_by_voltmeter(replace(case, **shown))
    high = math.inf if result.standard_ohm_high is None else result.standard_ohm_high
    assert result.standard_ohm_low <= result.standard_ohm <= high
    assert result.total_ohm_low <= result.total_ohm <= (result.total_ohm_high or math.inf)
    limit_ohm = case.limit_ohm_per_v * case.working_voltage_v
    if result.verdict is Verdict.PASS:
        assert result.standard_ohm_low >= limit_ohm
    # A shunt that changes nothing is a hard leak and fails even where the interval reaches up.
    if result.verdict is Verdict.FAIL:
        assert result.standard_ohm_low < limit_ohm
    if result.is_lower_bound:
        assert (result.standard_ohm, result.standard_ohm_high) == (result.standard_ohm_low, None)


@given(
    st.floats(1e4, 1e9) | st.floats(1e6, 1e9).map(lambda ohm: AboveOhm(above_ohm=ohm)),
    st.floats(1e4, 1e9) | st.floats(1e6, 1e9).map(lambda ohm: AboveOhm(above_ohm=ohm)),
)
@brief
def test_a_better_tester_never_knows_the_isolation_worse(
    pos_ohm: float | AboveOhm, neg_ohm: float | AboveOhm
) -> None:
    case = TesterCase(
        test_voltage_v=500.0, pos_ohm=pos_ohm, neg_ohm=neg_ohm, working_voltage_v=400.0
    )
    coarse = isolation_by_tester(case)
    fine = isolation_by_tester(replace(case, accuracy_percent=2.0))
    turned_ = isolation_by_tester(replace(case, pos_ohm=neg_ohm, neg_ohm=pos_ohm))
    assert within(
        coarse.standard_ohm,
        fine.standard_ohm_low,
        fine.standard_ohm_high,
        coarse.standard_ohm_low,
        coarse.standard_ohm_high,
    )
    assert turned_.standard_ohm == coarse.standard_ohm


# ---------------------------------------------------------------- leak


@st.composite
def seal_tests(draw: st.DrawFn) -> LeakCase:
    """Return exact readings of a leak that stays the same."""
    gaps = draw(st.lists(st.floats(0.1, 1.0), min_size=2, max_size=12))
    per_s, duration_s = draw(st.floats(-0.1, 2.0)), draw(st.floats(100.0, 900.0))
    at = [duration_s * sum(gaps[:index]) / sum(gaps) for index in range(len(gaps) + 1)]
    return LeakCase(
        volume_l=60.0,
        samples=[PressureSample(t_s=t, gauge_pa=3000.0 - per_s * t, temp_c=20.0) for t in at],
        gauge=draw(GAUGES),
        limit=LeakLimit(ml_per_min=10.0),
        barometer_pa=101_325.0,
        barometer_u_pa=draw(st.floats(0.0, 30.0)),
        temp_u_c=draw(st.sampled_from((0.02, 0.1, 0.2))),
    )


def width(result: LeakResult) -> float:
    return result.leak_pa_m3_per_s_high - result.leak_pa_m3_per_s_low


@brief
@given(seal_tests(), st.data())
def test_a_further_sample_on_the_line_does_not_widen_the_leak(
    case: LeakCase, data: st.DataObject
) -> None:
    left_out = data.draw(st.integers(0, len(case.samples) - 1))
    fewer = [each for index, each in enumerate(case.samples) if index != left_out]
    without = width(leak(replace(case, samples=fewer)))
    assert width(leak(case)) <= FACTOR_OF_A_LINE * without


@brief
@given(seal_tests(), st.integers(-100_000, 100_000))
def test_only_the_time_between_samples_counts(case: LeakCase, later_s: int) -> None:
    steps = [replace(each, t_s=float(60 * index)) for index, each in enumerate(case.samples)]
    later = [replace(each, t_s=each.t_s + later_s) for each in steps]
    one, two = leak(replace(case, samples=steps)), leak(replace(case, samples=later))
    assert two.leak_pa_m3_per_s == pytest.approx(one.leak_pa_m3_per_s, abs=1e-9)
    assert width(two) == pytest.approx(width(one))
    assert two.verdict == one.verdict


@brief
@given(seal_tests(), st.sampled_from(("gauge", "thermometer", "barometer", "volume")))
def test_a_better_instrument_never_knows_the_leak_worse(case: LeakCase, which: str) -> None:
    better = {
        "gauge": replace(case, gauge=Gauge(resolution_pa=0.1, repeatability_pa=0.0)),
        "thermometer": replace(case, temp_u_c=0.01),
        "barometer": replace(case, barometer_u_pa=0.0),
        "volume": replace(case, volume_u_percent=0.5),
    }[which]
    assert width(leak(better)) <= width(leak(case)) * (1.0 + 1e-6)


@brief
@given(seal_tests())
def test_the_leak_verdict_follows_from_interval_and_limit(case: LeakCase) -> None:
    result = leak(case)
    low, high = result.leak_pa_m3_per_s_low, result.leak_pa_m3_per_s_high
    assert low <= result.leak_pa_m3_per_s <= high
    if result.verdict is Verdict.PASS:
        assert high <= result.limit_pa_m3_per_s
    if result.verdict is Verdict.FAIL:
        assert low > result.limit_pa_m3_per_s
    if low <= result.limit_pa_m3_per_s < high:
        assert result.verdict is Verdict.UNDECIDED


# ---------------------------------------------------------------- joint and absence


@brief
@given(st.floats(0.1, 100.0), st.floats(20.0, 300.0), st.floats(0.0, 5.0))
def test_a_better_meter_never_knows_the_joint_worse(
    drop_mv: float, current_a: float, percent: float
) -> None:
    meter = Meter(input_ohm=1e7, resolution_v=1e-5)
    case = JointCase(
        drop_mv=drop_mv,
        current_a=current_a,
        current_u_percent=percent,
        meter=meter,
        limit_micro_ohm=50.0,
    )
    coarse, fine = joint(case), joint(replace(case, meter=replace(meter, resolution_v=1e-6)))
    exact = joint(replace(case, current_u_percent=0.0))
    for better in (fine, exact):
        assert better.micro_ohm_low >= coarse.micro_ohm_low - 1e-9
        assert better.micro_ohm_high <= coarse.micro_ohm_high + 1e-9
    if coarse.verdict is Verdict.PASS:
        assert coarse.micro_ohm_high <= 50.0
    if coarse.verdict is Verdict.FAIL:
        assert coarse.micro_ohm_low > 50.0


@brief
@given(
    st.lists(st.tuples(st.sampled_from(PAIRS), st.floats(-10.0, 10.0)), min_size=3, max_size=6),
    st.randoms(use_true_random=False),
)
def test_readings_of_a_dead_point_may_come_in_any_order(
    pairs: list[tuple[Pair, float]], shuffled: Any
) -> None:
    proof = Proof(expected_v=400.0, reading_v=399.0)
    readings = [DeadReading(between=pair, volts=volts) for pair, volts in pairs]
    mixed = list(readings)
    shuffled.shuffle(mixed)
    one, two = (
        absence(
            threshold_v=5.0,
            instrument=Accuracy(),
            proof_before=proof,
            readings=order,
            proof_after=proof,
        )
        for order in (readings, mixed)
    )
    assert (one.verdict, one.worst_v) == (two.verdict, two.worst_v)
    assert {reason.text for reason in one.reasons} == {reason.text for reason in two.reasons}


def test_each_better_meter_narrows_every_calculation_a_little_more() -> None:
    series = [Sample(t_s=t, v=30.0 + 100.0 * math.exp(-t / 10.0)) for t in (0, 5, 10, 20, 40)]
    widths = [
        width_v(decay(series, replace(METER, accuracy_percent=percent)))
        for percent in (1.0, 0.5, 0.2, 0.1)
    ]
    assert all(later < earlier for earlier, later in pairwise(widths))
