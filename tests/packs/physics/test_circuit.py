"""The section circuit, forwards and backwards."""

import doctest
import math
import random
from dataclasses import fields

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packs.physics import circuit, insulation
from packs.physics.circuit import (
    Insulation,
    PathToEnclosure,
    against_limit,
    combine_parallel,
    estimates_agree,
    load_resistance,
    section_from_shunt,
    section_from_two_poles,
    section_reading,
)
from packs.physics.instrument import CalculationRefused, Meter, Verdict

METER = Meter(input_ohm=1.0e7, accuracy_percent=0.1)
EXACT = Meter(
    input_ohm=1.0e7,
    input_tolerance_percent=0.0,
    accuracy_percent=0.0,
    accuracy_counts=0,
    resolution_v=1.0e-7,
)
SHUNT_OHM = 1.0e6
some = settings(max_examples=40, deadline=None)


def one_leak_read(potential_v: float, leak_ohm: float, load_ohm: float) -> float:
    """Divide by hand: the open voltage over leak and load."""
    return potential_v * load_ohm / (load_ohm + leak_ohm)


def from_shunt(reading_v: float, shunted_v: float, meter: Meter = METER) -> Insulation:
    return section_from_shunt(
        reading_v=reading_v,
        shunted_v=shunted_v,
        shunt_ohm=SHUNT_OHM,
        shunt_tolerance_percent=1.0,
        meter=meter,
    )


def from_poles(upper_v: float, lower_v: float, meter: Meter = METER) -> Insulation:
    return section_from_two_poles(
        upper_v=upper_v, lower_v=lower_v, difference_v=100.0, difference_u_v=0.1, meter=meter
    )


def test_the_worked_examples_in_the_docstrings_hold() -> None:
    assert doctest.testmod(circuit).failed == 0
    assert doctest.testmod(insulation).failed == 0


def test_one_leak_reads_as_a_divider_of_leak_and_load() -> None:
    leak = PathToEnclosure(potential_v=30.0, resistance_ohm=2.0e5)
    assert section_reading(100.0, [leak], 1.0e7) == pytest.approx(68.627450980)


def test_two_equal_leaks_read_like_one_of_half_the_size_between_them() -> None:
    pair = [
        PathToEnclosure(potential_v=10.0, resistance_ohm=2.0e5),
        PathToEnclosure(potential_v=50.0, resistance_ohm=2.0e5),
    ]
    ghost = [PathToEnclosure(potential_v=30.0, resistance_ohm=1.0e5)]
    assert section_reading(80.0, pair, 1.0e7) == pytest.approx(section_reading(80.0, ghost, 1.0e7))


def test_a_section_without_any_way_to_the_enclosure_reads_nothing() -> None:
    assert section_reading(80.0, [], 1.0e7) == 0.0


@some
@given(
    leak_ohm=st.floats(2.0e3, 5.0e6),
    potential_v=st.floats(10.0, 300.0) | st.floats(-300.0, -10.0),
)
def test_exact_readings_with_a_shunt_give_back_leak_and_place(
    leak_ohm: float, potential_v: float
) -> None:
    section = from_shunt(
        one_leak_read(potential_v, leak_ohm, 1.0e7),
        one_leak_read(potential_v, leak_ohm, load_resistance(1.0e7, SHUNT_OHM)),
        EXACT,
    )
    assert section.total_ohm == pytest.approx(leak_ohm, rel=1.0e-3)
    assert section.open_v == pytest.approx(potential_v, rel=1.0e-3)


@some
@given(leak_ohm=st.floats(2.0e3, 1.0e9), share=st.floats(0.0, 1.0))
def test_exact_readings_at_two_poles_give_back_leak_and_place(
    leak_ohm: float, share: float
) -> None:
    upper_v = one_leak_read(100.0 * share, leak_ohm, 1.0e7)
    lower_v = one_leak_read(100.0 * share - 100.0, leak_ohm, 1.0e7)
    section = section_from_two_poles(
        upper_v=upper_v, lower_v=lower_v, difference_v=100.0, difference_u_v=0.0, meter=EXACT
    )
    assert section.total_ohm == pytest.approx(leak_ohm, rel=1.0e-3)
    assert section.open_v == pytest.approx(100.0 * share, abs=0.01)


def test_intervals_hold_the_truth_at_least_ninety_five_times_in_a_hundred() -> None:
    chance = random.Random(7)  # noqa: S311  (repeatable readings, not a secret)
    missed = 0
    for _ in range(400):
        leak_ohm = 10.0 ** chance.uniform(3.5, 7.0)
        loads = [1.0e7, load_resistance(1.0e7, SHUNT_OHM * (1.0 + chance.uniform(-0.01, 0.01)))]
        true = [one_leak_read(120.0, leak_ohm, load) for load in loads]
        seen = [v + chance.uniform(-0.9, 0.9) * METER.half_width_v(v) for v in true]
        section = from_shunt(seen[0], seen[1])
        high_ohm = math.inf if section.total_ohm_high is None else section.total_ohm_high
        missed += not section.total_ohm_low <= leak_ohm <= high_ohm
    assert missed <= 20


def test_a_reading_near_zero_excludes_nothing_and_says_so() -> None:
    section = from_shunt(0.02, 0.0)
    assert section.near_zero
    assert section.is_lower_bound
    assert (section.total_ohm, section.total_ohm_low, section.total_ohm_high) == (0.0, 0.0, None)
    assert [warning.code for warning in section.warnings] == ["leak_not_excluded"]
    assert against_limit(section, 100.0, 400.0) is Verdict.UNDECIDED


def test_two_readings_near_zero_at_two_poles_show_a_sound_section() -> None:
    section = from_poles(0.01, -0.01)
    assert not section.near_zero
    assert section.is_lower_bound
    assert section.total_ohm == section.total_ohm_low > 1.0e9


def test_a_leak_smaller_than_the_meter_resolves_is_a_lower_bound_and_never_negative() -> None:
    section = from_shunt(2.0, 0.18)
    assert section.is_lower_bound
    assert section.total_ohm == section.total_ohm_low > 1.0e7
    assert section.total_ohm_high is None
    assert section.open_v is None
    assert section.open_v_low is not None
    assert section.open_v_low > 1.9
    assert section.open_v_high is None


def test_a_shunt_that_changes_nothing_means_a_hard_leak() -> None:
    section = from_shunt(-100.0, -99.99)
    assert section.total_ohm_low == 0.0
    assert section.total_ohm_high is not None
    assert section.total_ohm_high < 5.0e3
    assert against_limit(section, 100.0, 400.0) is Verdict.FAIL
    assert section.open_v_high is not None
    assert section.open_v_high < -99.5


def test_a_shunted_reading_slightly_above_the_unshunted_one_is_still_a_hard_leak() -> None:
    section = from_shunt(100.0, 100.1)
    assert not section.contradictory
    assert section.total_ohm == 0.0


@pytest.mark.parametrize(
    ("reading_v", "shunted_v"),
    [(100.0, 103.0), (100.0, -40.0), (0.0, 30.0), (100.0, 0.5)],
    ids=["rises", "changes sign", "from nothing", "falls more than the meter explains"],
)
def test_readings_that_contradict_each_other_are_never_decided(
    reading_v: float, shunted_v: float
) -> None:
    section = from_shunt(reading_v, shunted_v)
    assert section.contradictory
    assert against_limit(section, 100.0, 400.0) is Verdict.UNDECIDED
    assert "contradictory_readings" in [warning.code for warning in section.warnings]


def test_a_shunt_that_leaves_nothing_of_a_reading_bounds_the_open_voltage_from_below() -> None:
    section = section_from_shunt(
        reading_v=-50.0, shunted_v=0.0, shunt_ohm=2.0e3, shunt_tolerance_percent=1.0, meter=METER
    )
    assert section.is_lower_bound
    assert section.open_v is None
    assert section.open_v_low is None
    assert section.open_v_high == pytest.approx(-50.0, abs=0.1)


def test_two_poles_that_read_nothing_give_no_open_voltage() -> None:
    section = from_poles(0.0, 0.0)
    assert section.is_lower_bound
    assert (section.open_v, section.open_v_low, section.open_v_high) == (None, None, None)


def test_more_between_the_poles_than_the_cells_give_is_a_contradiction() -> None:
    assert from_poles(80.0, -40.0).contradictory


def test_readings_at_two_poles_the_wrong_way_round_are_a_contradiction() -> None:
    assert from_poles(-40.0, 60.0).contradictory


def test_sections_add_by_conductance() -> None:
    whole = combine_parallel([from_shunt(79.21, 72.07), from_poles(60.0, -38.0)])
    assert whole.total_ohm == pytest.approx(1.0 / (1.0 / 1.0e5 + 1.0 / 2.0408e5), rel=0.01)
    assert whole.total_ohm_low < whole.total_ohm
    assert whole.total_ohm_high is not None
    assert whole.total_ohm_high > whole.total_ohm


def test_lower_bounds_stay_bounds_when_combined() -> None:
    bound = Insulation(
        total_ohm=4.0e7, total_ohm_low=4.0e7, total_ohm_high=None, is_lower_bound=True
    )
    whole = combine_parallel([bound, bound])
    assert whole.is_lower_bound
    assert whole.total_ohm == whole.total_ohm_low == pytest.approx(2.0e7)
    assert whole.total_ohm_high is None


def test_one_section_where_a_leak_can_hide_leaves_the_whole_undecided() -> None:
    whole = combine_parallel([from_shunt(20.0, 2.86), from_shunt(0.0, 0.0)])
    assert whole.near_zero
    assert whole.total_ohm_low == 0.0
    assert whole.total_ohm > 1.0e6
    assert against_limit(whole, 100.0, 400.0) is Verdict.UNDECIDED


def test_a_hard_leak_fails_whatever_hides_elsewhere() -> None:
    whole = combine_parallel([from_shunt(79.21, 78.9), from_shunt(0.0, 0.0)])
    assert against_limit(whole, 100.0, 400.0) is Verdict.FAIL


def test_a_contradictory_section_spoils_the_whole() -> None:
    whole = combine_parallel([from_shunt(100.0, -40.0), from_shunt(79.21, 72.07)])
    assert whole.contradictory


@some
@given(low=st.floats(1.0e3, 1.0e6), width=st.floats(1.0, 3.0), limit=st.floats(1.0, 5.0e3))
def test_a_limit_inside_the_interval_is_undecided(low: float, width: float, limit: float) -> None:
    leak = Insulation(total_ohm=low, total_ohm_low=low, total_ohm_high=low * width)
    limit_ohm = limit * 400.0
    expected = Verdict.UNDECIDED
    if low >= limit_ohm:
        expected = Verdict.PASS
    elif low * width < limit_ohm:
        expected = Verdict.FAIL
    assert against_limit(leak, limit, 400.0) is expected


def test_estimates_apart_by_little_agree_even_when_their_intervals_do_not_meet() -> None:
    first = Insulation(total_ohm=1.0e5, total_ohm_low=0.99e5, total_ohm_high=1.01e5)
    second = Insulation(total_ohm=1.1e5, total_ohm_low=1.09e5, total_ohm_high=1.11e5)
    third = Insulation(total_ohm=1.5e5, total_ohm_low=1.49e5, total_ohm_high=None)
    assert estimates_agree(first, second)
    assert not estimates_agree(first, third)
    assert not estimates_agree(third, first)


def test_resistances_of_zero_are_refused_with_the_field() -> None:
    with pytest.raises(CalculationRefused, match="shunt_ohm"):
        load_resistance(1.0e7, 0.0)
    with pytest.raises(CalculationRefused, match=r"meter\.input_ohm"):
        load_resistance(0.0)
    with pytest.raises(CalculationRefused, match="leaks"):
        section_reading(1.0, [PathToEnclosure(potential_v=0.0, resistance_ohm=0.0)], 1.0)


def test_impossible_arguments_are_refused_with_the_field() -> None:
    leak = Insulation(total_ohm=1.0, total_ohm_low=1.0, total_ohm_high=1.0)
    with pytest.raises(CalculationRefused, match="limit_ohm_per_v"):
        against_limit(leak, 0.0, 400.0)
    with pytest.raises(CalculationRefused, match="working_voltage_v"):
        against_limit(leak, 100.0, 0.0)
    with pytest.raises(CalculationRefused, match="sections"):
        combine_parallel([])
    with pytest.raises(CalculationRefused, match="difference_v"):
        section_from_two_poles(
            upper_v=1.0, lower_v=0.0, difference_v=0.1, difference_u_v=0.1, meter=METER
        )


@some
@given(volts=st.floats(-400.0, 400.0), shunted=st.floats(-400.0, 400.0))
def test_no_reading_gives_a_figure_that_is_negative_or_not_finite(
    volts: float, shunted: float
) -> None:
    for section in (from_shunt(volts, shunted), from_poles(volts, shunted)):
        numbers = [getattr(section, field.name) for field in fields(section)]
        assert all(math.isfinite(n) for n in numbers if isinstance(n, float))
        assert section.total_ohm_low >= 0.0
        assert section.total_ohm >= section.total_ohm_low
        assert section.total_ohm_high is None or section.total_ohm <= section.total_ohm_high
