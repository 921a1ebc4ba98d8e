"""The simulated pack and workshop: every reading inside its instrument's allowance of the truth."""

import math
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packs.physics.instrument import CalculationRefused, Meter
from packs.physics.simulate import (
    Enclosure,
    MeterInHand,
    PackUnderTest,
    Probe,
    SimulatedLeak,
    SimulatedModule,
    discharge_series,
    joint_drops_mv,
    meter_in_hand,
    meter_reading_v,
    pressure_samples,
    settled_v,
    settling_series,
    shown_insulation,
    shown_v,
    shunt_in_hand,
)

METER = Meter(input_ohm=1.0e7)
MODULES = tuple(SimulatedModule(name=f"M{n}", cells_v=(3.7,) * 10) for n in range(1, 5))
SOUND = PackUnderTest(modules=MODULES, sound_ohm=1.0e8, capacitance_uf=1.0)
LEAKING = PackUnderTest(
    modules=MODULES,
    leaks=(SimulatedLeak(module="M2", position_cells=5.0, leak_ohm=1.0e5),),
    sound_ohm=1.0e15,
)


def chance(seed: int = 1) -> Random:
    return Random(seed)  # noqa: S311  (repeatable readings, not a secret)


def test_sound_insulation_reads_from_the_middle_of_the_string() -> None:
    probe = Probe(module="M4", pole="pos")
    assert settled_v(SOUND, probe, 1.0e7) == pytest.approx(74.0 * 1.0e7 / 1.1e8)


def test_a_leak_reads_from_its_place() -> None:
    probe = Probe(module="M4", pole="pos")
    assert settled_v(LEAKING, probe, 1.0e7) == pytest.approx(92.5 * 1.0e7 / 1.01e7, rel=1.0e-6)


def test_a_leak_beyond_an_open_link_is_not_seen() -> None:
    probe = Probe(module="M4", pole="pos", open_after=("M2",))
    assert settled_v(LEAKING, probe, 1.0e7) == pytest.approx(0.0, abs=1.0e-5)


def test_a_leak_below_the_pole_reads_positive_and_above_it_negative() -> None:
    assert settled_v(LEAKING, Probe(module="M1", pole="neg"), 1.0e7) < 0.0
    assert settled_v(LEAKING, Probe(module="M2", pole="pos", open_after=("M2",)), 1.0e7) > 0.0


def test_the_shunt_pulls_a_reading_down() -> None:
    plain = settled_v(LEAKING, Probe(module="M4", pole="pos"), 1.0e7)
    shunted = settled_v(LEAKING, Probe(module="M4", pole="pos", shunt_ohm=1.0e5), 1.0e7)
    assert shunted == pytest.approx(92.5 / (1.0 + 1.0e5 * (1.0e-5 + 1.0e-7)), rel=1.0e-6)
    assert shunted < plain


def test_a_leak_at_the_end_of_its_module_is_the_pole() -> None:
    leak = SimulatedLeak(module="M4", position_cells=10.0, leak_ohm=1.0e5)
    pack = PackUnderTest(modules=MODULES, leaks=(leak,), sound_ohm=1.0e15)
    assert settled_v(pack, Probe(module="M4", pole="pos"), 1.0e7) == pytest.approx(0.0, abs=1e-5)


@given(true_v=st.floats(-450.0, 450.0), seed=st.integers(0, 1000))
def test_what_a_meter_shows_is_within_its_allowance_and_its_digits(
    true_v: float, seed: int
) -> None:
    shown = shown_v(true_v, METER, chance(seed))
    assert abs(shown - true_v) <= METER.half_width_v(true_v) + 1.0e-9
    assert shown == pytest.approx(round(shown, 2))


@given(seed=st.integers(0, 1000))
def test_instruments_stay_inside_their_tolerance(seed: int) -> None:
    assert abs(meter_in_hand(METER, chance(seed)).input_ohm / 1.0e7 - 1.0) <= 0.01
    assert abs(shunt_in_hand(1.0e6, 2.0, chance(seed)) / 1.0e6 - 1.0) <= 0.02


def test_the_same_chance_gives_the_same_reading() -> None:
    in_hand = meter_in_hand(METER, chance())
    probe = Probe(module="M4", pole="pos")
    first = meter_reading_v(LEAKING, in_hand, probe, chance(5))
    assert first == meter_reading_v(LEAKING, in_hand, probe, chance(5))
    assert first == pytest.approx(91.6, abs=1.0)


def test_a_reading_settles_with_the_capacitance_of_its_section() -> None:
    exact = MeterInHand(
        meter=Meter(input_ohm=1.0e7, accuracy_percent=0.0, accuracy_counts=0, resolution_v=1.0e-6),
        input_ohm=1.0e7,
    )
    probe = Probe(module="M4", pole="pos", open_after=("M2",))
    times_s = [0.0, 4.0, 1000.0]
    series = settling_series(SOUND, exact, probe, times_s=times_s, start_v=30.0, chance=chance())
    end_v = 37.0 * 0.05 / 1.05
    tau_s = 0.5e-6 / (0.5e-8 + 1.0e-7)
    expected = [end_v + (30.0 - end_v) * math.exp(-t / tau_s) for t in times_s]
    assert [volts for _, volts in series] == pytest.approx(expected, abs=1.0e-5)


def test_link_capacitors_discharge_through_the_bleed_resistor() -> None:
    series = discharge_series(
        start_v=400.0,
        capacitance_uf=1000.0,
        bleed_ohm=40.0e3,
        times_s=[0, 75.9, 1000],
        meter=METER,
        chance=chance(),
    )
    assert [volts for _, volts in series] == pytest.approx([400.0, 60.0, 0.0], abs=2.5)


def test_a_tester_reads_the_parts_in_parallel() -> None:
    shown = shown_insulation(
        [1.0e6, 1.0e6], accuracy_percent=5.0, ceiling_ohm=5.5e8, chance=chance()
    )
    assert shown.above_ohm is None
    assert shown.ohm is not None
    assert 4.75e5 <= shown.ohm <= 5.25e5


@pytest.mark.parametrize("parts_ohm", [[], [1.0e9], [5.4999e8]])
def test_a_tester_over_range_shows_more_than_its_ceiling(parts_ohm: list[float]) -> None:
    shown = [
        shown_insulation(parts_ohm, accuracy_percent=5.0, ceiling_ohm=5.5e8, chance=chance(seed))
        for seed in range(20)
    ]
    assert any(each.above_ohm == 5.5e8 and each.ohm is None for each in shown)
    assert all((each.ohm is None) != (each.above_ohm is None) for each in shown)


def test_a_tight_enclosure_keeps_its_pressure_and_follows_the_temperature() -> None:
    tight = Enclosure(volume_l=60.0, leak_pa_m3_per_s=0.0, drift_c_per_h=2.0)
    samples = pressure_samples(
        tight, times_s=[0, 1800], resolution_pa=1.0, repeatability_pa=0.0, chance=chance()
    )
    assert samples[0] == (0.0, 3000.0, 20.0)
    assert samples[1][1] - samples[0][1] == pytest.approx(104_325.0 / 293.15, abs=1.0)
    assert samples[1][2] == 21.0


def test_a_leaking_enclosure_loses_pressure_at_the_rate_of_its_leak() -> None:
    box = Enclosure(volume_l=60.0, leak_pa_m3_per_s=0.05)
    samples = pressure_samples(
        box, times_s=[0, 60], resolution_pa=0.01, repeatability_pa=0.0, chance=chance()
    )
    assert samples[0][1] - samples[1][1] == pytest.approx(0.05 * 60.0 / 0.06, rel=0.02)


def test_a_bad_joint_drops_more() -> None:
    fine = Meter(input_ohm=1.0e7, accuracy_percent=0.1, resolution_v=1.0e-6)
    drops = joint_drops_mv([15.0, 60.0], current_a=100.0, meter=fine, chance=chance())
    assert drops == pytest.approx([1.5, 6.0], abs=0.02)


def test_places_that_do_not_exist_are_refused() -> None:
    with pytest.raises(CalculationRefused, match="M9 is not part of this pack"):
        settled_v(SOUND, Probe(module="M9", pole="pos"), 1.0e7)
    stray = SimulatedLeak(module="M2", position_cells=11.0, leak_ohm=1.0e5)
    with pytest.raises(CalculationRefused, match="place the leak inside"):
        settled_v(
            PackUnderTest(modules=MODULES, leaks=(stray,)), Probe(module="M1", pole="pos"), 1.0e7
        )
