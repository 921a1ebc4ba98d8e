"""Figures worked out by hand beside the formulas, each by the calculation it belongs to."""

import math

import pytest

from packs.physics.circuit import combine_parallel
from packs.physics.decay import Sample, decay
from packs.physics.instrument import Meter, Verdict, half_width_95
from packs.physics.insulation import Insulation
from packs.physics.isolation import TesterCase, isolation_by_tester
from packs.physics.joint import JointCase, joint
from packs.physics.leak import (
    KELVIN,
    PA_M3_PER_S_PER_MBAR_L_PER_S,
    PA_M3_PER_S_PER_ML_PER_MIN,
    STANDARD_PA,
    Gauge,
    LeakCase,
    LeakLimit,
    PressureSample,
    leak,
)
from packs.physics.loading import total_by_loading
from packs.physics.shunt import ShuntReadings, place, standard_by_shunt

METER = Meter(input_ohm=1.0e7)
MICROVOLTS = Meter(input_ohm=1.0e7, accuracy_percent=0.1, resolution_v=1.0e-6)


def two_step(pos_v: float, neg_v: float, *, shunted_v: float, bus_v: float) -> ShuntReadings:
    return ShuntReadings(
        pos_v=pos_v,
        neg_v=neg_v,
        shunted_v=shunted_v,
        shunt_across="neg",
        shunt_ohm=185_000.0,
        shunt_tolerance_percent=1.0,
        meter=METER,
        bus_v=bus_v,
        gain_shared=False,
    )


def test_the_pole_resistance_is_the_regulations_formula() -> None:
    readings = two_step(106.11, 261.68, shunted_v=197.55, bus_v=370.0)
    # The sum of the readings over what the meter leaves of it stands for the bus voltage.
    true_v = 370.0
    by_rule_ohm = 185_000.0 * true_v * (1.0 / 197.55 - 1.0 / 261.68)
    assert by_rule_ohm == pytest.approx(84_916, abs=2.0)
    assert standard_by_shunt(readings).value == pytest.approx(by_rule_ohm, rel=1e-4)
    worst_current_ma = 1000.0 * true_v / standard_by_shunt(readings).value
    assert worst_current_ma == pytest.approx(4.4, abs=0.05)


def test_a_leak_in_module_seventeen_of_twenty_four() -> None:
    readings = two_step(116.17, 250.69, shunted_v=0.0, bus_v=369.97)
    position, loading = place(readings), total_by_loading(readings)
    assert position is not None
    assert loading is not None
    assert position.value == pytest.approx(0.6833, abs=1e-4)
    assert position.value * 369.97 == pytest.approx(252.82, abs=0.05)
    # A hundredth of a volt in the sum is worth 270 ohm here.
    assert loading.value == pytest.approx(85_000, abs=270.0)


@pytest.mark.parametrize(("scatter_v", "modules"), [(0.5, 0.02), (2.0, 0.10)])
def test_scatter_of_the_readings_moves_the_place_by_a_fraction_of_a_module(
    scatter_v: float, modules: float
) -> None:
    x, sum_v = 0.6833, 366.86
    by_hand = 24.0 * scatter_v * math.hypot(1.0 - x, x) / sum_v
    assert by_hand == pytest.approx(modules, abs=0.01)
    meter = Meter(
        input_ohm=1e7,
        accuracy_percent=0.0,
        accuracy_counts=scatter_v * math.sqrt(3.0),
        resolution_v=1.0,
    )
    readings = ShuntReadings(
        pos_v=116.17,
        neg_v=250.69,
        shunted_v=100.0,
        shunt_across="neg",
        shunt_ohm=1e5,
        shunt_tolerance_percent=1.0,
        meter=meter,
        bus_v=None,
        gain_shared=False,
    )
    position = place(readings)
    assert position is not None
    rounding = half_width_95([0.5 * x / sum_v, 0.5 * (1.0 - x) / sum_v])
    half = (position.low - position.value) * -24.0
    assert by_hand < half < 1.96 * by_hand + 24.0 * rounding


def test_three_readings_of_a_bridge_foretell_where_it_settles() -> None:
    series = [Sample(t_s=0, v=90.0), Sample(t_s=1, v=62.0), Sample(t_s=2, v=46.7)]
    result = decay(series, METER)
    assert result.end_v == pytest.approx(28.3, abs=0.05)
    assert result.tau_s == pytest.approx(1.66, abs=0.01)


def test_a_millifarad_on_forty_kilohm_is_below_sixty_volt_after_seventy_six_seconds() -> None:
    series = [Sample(t_s=t, v=round(400.0 * math.exp(-t / 40.0), 2)) for t in (0, 10, 20, 30)]
    result = decay(series, METER)
    assert result.tau_s == pytest.approx(40.0, abs=0.1)
    assert result.seconds_to_threshold == pytest.approx(75.9 - 30.0, abs=0.1)


def test_from_180_to_85_volt_in_half_a_minute_leaves_fourteen_seconds() -> None:
    tau_s = 30.0 / math.log(180.0 / 85.0)
    assert tau_s == pytest.approx(40.0, abs=0.05)
    series = [Sample(t_s=t, v=round(180.0 * math.exp(-t / tau_s), 2)) for t in (0, 10, 20, 30)]
    assert decay(series, METER).seconds_to_threshold == pytest.approx(13.9, abs=0.1)


def test_a_tester_on_a_live_module_reads_91_and_111_kilohm_of_100() -> None:
    result = isolation_by_tester(
        TesterCase(
            test_voltage_v=500.0,
            pos_ohm=1e5 / (1.0 + 48.0 / 500.0),
            neg_ohm=1e5 / (1.0 - 48.0 / 500.0),
            working_voltage_v=48.0,
            own_voltage_v=48.0,
        )
    )
    assert result.pos_ohm == pytest.approx(91e3, abs=500.0)
    assert result.neg_ohm == pytest.approx(111e3, abs=500.0)
    assert result.total_ohm == pytest.approx(100e3)


def test_twenty_four_modules_over_range_bound_the_pack_at_41_6_megohm() -> None:
    over = Insulation(
        total_ohm=999e6, total_ohm_low=999e6, total_ohm_high=None, is_lower_bound=True
    )
    whole = combine_parallel([over] * 24)
    assert (whole.total_ohm_high, whole.is_lower_bound) == (None, True)
    assert whole.total_ohm == pytest.approx(41.6e6, rel=1e-3)


def test_every_module_needs_so_many_times_what_the_pack_needs() -> None:
    module = Insulation(total_ohm=24e6, total_ohm_low=23e6, total_ohm_high=25e6)
    assert combine_parallel([module] * 24).total_ohm == pytest.approx(1e6)


def test_one_kelvin_at_one_atmosphere_is_346_pascal() -> None:
    per_kelvin_pa = STANDARD_PA / (KELVIN + 20.0)
    assert per_kelvin_pa == pytest.approx(346.0, abs=0.5)


def test_the_units_of_a_leak() -> None:
    ml_per_min = PA_M3_PER_S_PER_MBAR_L_PER_S / PA_M3_PER_S_PER_ML_PER_MIN
    assert ml_per_min == pytest.approx(59.2, abs=0.05)
    # One atmosphere times a cubic centimetre a second.
    atm_cc_per_s = 60.0 * PA_M3_PER_S_PER_ML_PER_MIN / PA_M3_PER_S_PER_MBAR_L_PER_S
    assert atm_cc_per_s == pytest.approx(1.013, abs=1e-3)


def test_ten_millilitres_a_minute_empty_169_pascal_from_sixty_litres_in_ten_minutes() -> None:
    fallen_pa = 10.0 * PA_M3_PER_S_PER_ML_PER_MIN * 600.0 / 0.06
    assert fallen_pa == pytest.approx(169.0, abs=0.5)


@pytest.mark.parametrize(
    ("temp_c", "gauge_pa", "barometer_pa", "ml_per_min"),
    [(0.02, 1.0, 5.0, 2.0), (0.1, 5.0, 20.0, 9.6), (0.5, 10.0, 50.0, 43.0)],
)
def test_what_a_test_of_sixty_litres_in_five_minutes_can_resolve(
    temp_c: float, gauge_pa: float, barometer_pa: float, ml_per_min: float
) -> None:
    box = math.sqrt(3.0)
    samples = [PressureSample(t_s=t_s, gauge_pa=3000.0, temp_c=20.0) for t_s in (0.0, 300.0)]
    result = leak(
        LeakCase(
            volume_l=60.0,
            volume_u_percent=0.0,
            barometer_pa=STANDARD_PA,
            samples=samples,
            gauge=Gauge(resolution_pa=1e-3, repeatability_pa=gauge_pa),
            # By hand one error of temperature stands for the difference of two readings.
            temp_u_c=temp_c * box / math.sqrt(2.0),
            barometer_u_pa=barometer_pa * box,
            limit=LeakLimit(ml_per_min=10.0),
        )
    )
    assert result.leak_ml_per_min_high == pytest.approx(ml_per_min, rel=0.08)


@pytest.mark.parametrize(
    ("micro_ohm", "drop_mv", "heat_w"), [(15.0, 3.0, 0.6), (50.0, 10.0, 2.0), (200.0, 40.0, 8.0)]
)
def test_joints_at_two_hundred_amperes(micro_ohm: float, drop_mv: float, heat_w: float) -> None:
    result = joint(
        JointCase(
            drop_mv=drop_mv,
            current_a=200.0,
            meter=MICROVOLTS,
            rated_current_a=200.0,
            siblings_micro_ohm=(14.2, 14.5, 14.6, 15.1),
        )
    )
    assert result.micro_ohm == pytest.approx(micro_ohm)
    assert result.heat_w == pytest.approx(heat_w)
    assert result.limit_micro_ohm == pytest.approx(17.5, abs=0.05)
    assert (result.verdict is Verdict.FAIL) == (micro_ohm > 17.5)


def test_a_joint_of_22_6_among_a_median_of_14_55_fails() -> None:
    result = joint(
        JointCase(
            drop_mv=4.52,
            current_a=200.0,
            meter=MICROVOLTS,
            siblings_micro_ohm=(14.2, 14.5, 14.6, 15.1),
        )
    )
    assert result.micro_ohm == pytest.approx(22.6)
    assert result.verdict is Verdict.FAIL
