import dataclasses
import json
import math

import pytest
from hypothesis import given, settings

from packs.calculations import answer
from packs.physics.charge import ChargeCase, ChargeMethod, charge
from packs.physics.charge_case import ChargeVerdict, Direction
from packs.physics.instrument import CalculationRefused
from packs.physics.ocv import curve_named
from tests.packs.physics.charge_cases import SLOPED, SUPPLY, a_case, cases, charged, codes


@pytest.mark.parametrize(
    ("curve", "spare_cell_v", "target_cell_v", "move_ah"),
    [
        ("nmc532_graphite", 3.690, 3.720, 3.67),
        ("nca_graphite", 3.66, 3.70, 2.91),
        ("lmo70_nmc30_graphite", 3.86, 3.90, 4.80),
    ],
)
def test_sixty_ampere_hours_move_as_worked_out_by_hand(
    curve: str, spare_cell_v: float, target_cell_v: float, move_ah: float
) -> None:
    result = charged(spare_cell_v, target_cell_v, curve=curve)
    assert result.move_ah == pytest.approx(move_ah, rel=0.015)
    assert result.move_ah_low < result.move_ah < result.move_ah_high
    assert (result.direction, result.verdict) == (Direction.CHARGE, ChargeVerdict.MOVE)


def test_a_small_difference_is_ready_and_leaves_the_rest_to_the_balancer() -> None:
    result = charged(3.700, 3.703)
    assert (result.direction, result.verdict) == (Direction.NONE, ChargeVerdict.READY)
    assert result.hours == 0.0
    assert result.stop_terminal_v is None
    assert result.bleed_hours == pytest.approx(result.left_ah / 0.05)


def test_a_difference_that_may_stay_but_is_not_proven_small_is_undecided() -> None:
    result = charged(3.700, 3.709)
    assert result.verdict is ChargeVerdict.UNDECIDED
    assert result.difference_mv_low < 10.0 < result.difference_mv_high
    assert codes(result) == {"finer_meter"}
    assert charged(3.700, 3.709, voltage_u_v=0.0002).verdict is ChargeVerdict.READY


def test_readings_that_leave_the_sign_open_are_undecided() -> None:
    result = charged(3.700, 3.712, voltage_u_v=0.02)
    assert result.difference_mv_low < 0.0
    assert (result.verdict, result.direction) == (ChargeVerdict.UNDECIDED, Direction.NONE)


@pytest.mark.parametrize("spare_cell_v", [3.290, 3.295, 3.300])
def test_a_flat_curve_is_undecided_even_at_equal_voltages_and_names_a_knee(
    spare_cell_v: float,
) -> None:
    result = charged(spare_cell_v, 3.295, curve="lfp_graphite", capacity_ah=100.0)
    assert result.verdict is ChargeVerdict.UNDECIDED
    assert result.hours is None
    assert result.move_ah_high - result.move_ah_low > 6.0
    assert result.knee == "lower"
    assert result.knee_cell_v == pytest.approx(3.18, abs=0.05)
    assert result.ah_from_knee_low is not None
    assert result.ah_from_knee is not None
    assert result.ah_from_knee_high is not None
    assert result.ah_from_knee_low <= result.ah_from_knee <= result.ah_from_knee_high
    text = next(each.text for each in result.advice if each.code == "use_knee")
    assert f"{result.knee_cell_v:.3f} V" in text


def test_the_upper_knee_is_named_where_it_is_nearer() -> None:
    result = charged(3.333, 3.334, curve="lfp_graphite")
    assert result.knee == "upper"
    assert result.knee_soc_percent is not None
    assert result.knee_soc_percent > result.target_soc_percent
    assert any("3.40 V" in each.text for each in result.advice if each.code == "cell_cut_off")


def test_iron_phosphate_at_its_knee_can_be_moved() -> None:
    assert charged(3.15, 3.18, curve="lfp_graphite").verdict is ChargeVerdict.MOVE


def test_readings_too_coarse_for_any_knee_ask_for_a_finer_meter() -> None:
    result = charged(3.29, 3.295, curve="lfp_graphite", voltage_u_v=0.3)
    assert result.verdict is ChargeVerdict.UNDECIDED
    assert result.knee is None
    assert "finer_meter" in codes(result)


@pytest.mark.parametrize(
    ("curve", "temperature_c", "rest_h"),
    [
        ("nmc532_graphite", 25.0, 3.0),
        ("nmc532_graphite", 9.9, 6.0),
        ("nca_graphite", 25.0, 12.0),
        ("nca_graphite", 5.0, 12.0),
        ("lfp_graphite", 10.0, 3.0),
    ],
)
def test_the_rest_depends_on_chemistry_and_cold(
    curve: str, temperature_c: float, rest_h: float
) -> None:
    volts = 3.2 if curve == "lfp_graphite" else 3.7
    assert charged(volts, volts, curve=curve, temperature_c=temperature_c).rest_h == rest_h


def test_a_cold_module_must_not_be_charged_and_a_warm_one_is_brought_back() -> None:
    assert "too_cold_to_charge" in codes(charged(3.66, 3.70, temperature_c=-1.0))
    assert "temperature" in codes(charged(3.70, 3.66, temperature_c=-1.0))
    assert "temperature" in codes(charged(3.66, 3.70, temperature_c=41.0))
    assert not codes(charged(3.66, 3.70, temperature_c=40.0)) & {"temperature"}


@pytest.mark.parametrize(
    ("field", "volts"),
    [("spare_cell_v", 2.79), ("target_cell_v", 2.79), ("spare_cell_v", 4.24)],
)
def test_cells_outside_the_curve_are_refused_and_must_not_be_charged(
    field: str, volts: float
) -> None:
    given_ = {"spare_cell_v": 3.7, "target_cell_v": 3.7, field: volts}
    with pytest.raises(CalculationRefused, match="must not be charged") as refused:
        charged(given_["spare_cell_v"], given_["target_cell_v"])
    assert refused.value.path == field


def test_a_little_above_full_is_taken_as_full_with_a_warning() -> None:
    result = charged(4.215, 4.10)
    assert result.spare_soc_percent == 100.0
    assert result.direction is Direction.DISCHARGE
    assert "above_full" in codes(result)


def test_readings_no_single_curve_can_hold_are_told_as_widely_as_they_are() -> None:
    result = charged(4.23, 2.80)
    assert result.move_ah_low == pytest.approx(59.85, abs=0.01)
    assert result.move_ah_high == pytest.approx(60.0)
    assert "above_full" in codes(result)


def test_a_doubtful_amount_is_moved_in_parts() -> None:
    wide = charged(3.86, 3.95, curve="lmo70_nmc30_graphite")
    assert {"in_parts", "constructed_curve"} <= codes(wide)
    assert "in_parts" not in codes(charged(3.60, 3.62, curve="nca_graphite"))


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("module_resistance_ohm", 12.0, "milliohms"),
        ("capacity_ah", 60_000.0, "milliampere hours"),
        ("voltage_u_v", 0.9, "millivolts"),
        ("bleed_a", 50.0, "milliamperes"),
        ("method", ChargeMethod(kind="resistor", max_w=0.2), "kilowatts"),
        ("method", ChargeMethod(kind="supply", current_a=5000.0), "milliamperes"),
    ],
)
def test_a_unit_that_was_mistaken_is_pointed_out(field: str, value: object, words: str) -> None:
    warnings = charged(3.70, 3.70, **{field: value}).warnings
    assert any(each.code == "unit_suspect" and words in each.text for each in warnings)


def test_usual_figures_raise_no_suspicion() -> None:
    for cells, ohm, ah in ((6, 0.006, 60.0), (12, 0.012, 60.0), (8, 0.24, 3.0), (2, 0.001, 150.0)):
        result = charged(3.66, 3.72, cells=cells, module_resistance_ohm=ohm, capacity_ah=ah)
        assert "unit_suspect" not in codes(result)


@given(case=cases())
@settings(max_examples=40)
def test_whatever_is_asked_every_figure_is_finite_and_in_order(case: ChargeCase) -> None:
    result = charge(case)
    for name, value in dataclasses.asdict(result).items():
        assert not isinstance(value, float) or math.isfinite(value), name
    assert 0.0 <= result.move_ah_low <= result.move_ah <= result.move_ah_high
    for low, soc, high in (
        (result.spare_soc_percent_low, result.spare_soc_percent, result.spare_soc_percent_high),
        (result.target_soc_percent_low, result.target_soc_percent, result.target_soc_percent_high),
    ):
        assert 0.0 <= low <= soc <= high <= 100.0
    assert result.verdict is not ChargeVerdict.UNDECIDED or result.advice
    assert (result.stop_terminal_v is None) == (result.verdict is not ChargeVerdict.MOVE)


@given(case=cases())
@settings(max_examples=40)
def test_swapping_spare_and_string_turns_the_direction_and_keeps_the_move(case: ChargeCase) -> None:
    swapped = dataclasses.replace(
        case, spare_cell_v=case.target_cell_v, target_cell_v=case.spare_cell_v
    )
    one, other = charge(case), charge(swapped)
    turned = {Direction.CHARGE: Direction.DISCHARGE, Direction.DISCHARGE: Direction.CHARGE}
    assert other.direction is turned.get(one.direction, Direction.NONE)
    assert other.verdict is one.verdict
    for end in ("move_ah", "move_ah_low", "move_ah_high"):
        assert getattr(other, end) == pytest.approx(getattr(one, end), abs=1e-5)


@given(case=cases())
@settings(max_examples=40)
def test_twice_the_capacity_is_twice_the_move_and_twice_the_hours(case: ChargeCase) -> None:
    double = charge(dataclasses.replace(case, capacity_ah=2.0 * case.capacity_ah))
    single = charge(case)
    for name in ("move_ah", "move_ah_low", "move_ah_high", "left_ah", "bleed_hours", "hours"):
        value = getattr(single, name)
        assert getattr(double, name) == (pytest.approx(2.0 * value) if value else value)


@given(case=cases(SLOPED))
@settings(max_examples=40)
def test_finer_readings_do_not_widen_what_is_found(case: ChargeCase) -> None:
    coarse = charge(case)
    fine = charge(dataclasses.replace(case, voltage_u_v=case.voltage_u_v / 4.0))
    assert fine.difference_mv_low >= coarse.difference_mv_low - 1e-9
    assert fine.difference_mv_high <= coarse.difference_mv_high + 1e-9
    # The curve is shifted in steps: that alone may add a thousandth where readings are finer.
    assert fine.left_ah <= coarse.left_ah * 1.002


@given(case=cases(SLOPED))
@settings(max_examples=40)
def test_a_larger_difference_of_voltage_is_a_larger_move(case: ChargeCase) -> None:
    curve = curve_named(case.curve)
    away_v = 0.01 if case.spare_cell_v >= case.target_cell_v else -0.01
    further_v = min(max(case.spare_cell_v + away_v, curve.lowest_v), curve.highest_v)
    further = charge(dataclasses.replace(case, spare_cell_v=further_v))
    assert further.move_ah >= charge(case).move_ah


def test_the_door_answers_in_plain_figures_and_refuses_what_cannot_be() -> None:
    fields = {
        "curve": "nmc532_graphite",
        "cells": 12,
        "capacity_ah": 60,
        "spare_cell_v": 3.75,
        "target_cell_v": 3.72,
        "method": {"kind": "resistor", "ohm": None, "max_w": 200},
    }
    found = json.loads(answer("charge", json.dumps(fields).encode()).text)
    assert (found["direction"], found["verdict"]) == ("discharge", "move")
    assert found["resistor_ohm"] == 12.0
    backwards = json.dumps({**fields, "target_cell_v": 3.78}).encode()
    refused = json.loads(answer("charge", backwards).text)
    assert refused["errors"][0]["path"] == "method.kind"


def test_every_move_comes_with_its_cautions() -> None:
    assert {"attended", "cell_cut_off", "rest", "move"} <= codes(charged(3.66, 3.72))
    hot = charged(3.72, 3.66, method=ChargeMethod(kind="resistor", ohm=10.0))
    assert {"attended", "cell_cut_off", "resistor_hot", "rest"} <= codes(hot)


def test_side_by_side_cells_share_the_current() -> None:
    result = charge(a_case(3.66, 3.72, parallel=4, method=SUPPLY))
    assert result.cell_a == pytest.approx(1.25)
    assert result.move_ah == charged(3.66, 3.72).move_ah
