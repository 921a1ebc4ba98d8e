import dataclasses
import itertools

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from packs.physics.charge import ChargeCase, ChargeMethod, charge
from packs.physics.charge_current import (
    E12,
    Path,
    charge_over_volts_ah_per_v,
    resistor_for_ohm,
    standard_resistor_ohm,
)
from packs.physics.instrument import CalculationRefused
from packs.physics.ocv import CHEMISTRY_OF, curve_named
from tests.packs.physics.charge_cases import RESISTOR, a_case, cases, charged, codes

positive = st.floats(min_value=1e-3, max_value=1e6)


def test_a_supply_runs_for_charge_over_current() -> None:
    result = charged(3.66, 3.72, method=ChargeMethod(kind="supply", current_a=4.0))
    assert result.hours == pytest.approx(result.move_ah / 4.0)
    assert result.resistor_ohm is None


def test_the_terminals_stand_above_while_charging_and_below_while_discharging() -> None:
    up = charged(3.66, 3.72, module_resistance_ohm=0.012)
    down = charged(3.72, 3.66, module_resistance_ohm=0.012)
    assert up.stop_terminal_v == pytest.approx(12 * 3.72 + 5.0 * 0.012)
    assert down.stop_terminal_v == pytest.approx(12 * 3.66 - 5.0 * 0.012)


def test_the_terminals_never_pass_the_ends_of_the_curve() -> None:
    strong = ChargeMethod(kind="supply", current_a=60.0)
    full = charged(4.10, 4.195, module_resistance_ohm=0.05, method=strong)
    assert full.stop_terminal_v == pytest.approx(12 * 4.2)
    empty = charged(3.0, 2.85, module_resistance_ohm=0.05, method=strong)
    assert empty.stop_terminal_v == pytest.approx(12 * 2.8)
    for result in (full, empty):
        assert "current_too_high_to_finish" in codes(result)


def test_forty_four_volts_through_ten_ohm_take_what_the_hand_says() -> None:
    # 44.6 V, 10 ohm: 4.5 A, 199 W, and 1.8 Ah in 24 minutes.
    result = charged(44.6 / 12, 3.702, method=RESISTOR, capacity_ah=60.0)
    assert result.resistor_w == pytest.approx(199.0, rel=0.001)
    assert result.start_a == pytest.approx(4.46)
    assert result.hours == pytest.approx(result.move_ah / 4.45, rel=0.005)


def test_the_hours_of_a_resistor_are_those_of_the_differential_equation() -> None:
    curve = curve_named("nca_graphite")
    case = a_case(4.1, 3.2, curve="nca_graphite", method=RESISTOR, module_resistance_ohm=0.2)
    result = charge(case)

    def fall(_hours: float, soc: np.ndarray) -> np.ndarray:
        volts = case.cells * np.interp(soc, curve.soc_percent, curve.ocv_v)
        return np.asarray(-100.0 * volts / 10.2 / case.capacity_ah)

    assert result.hours is not None
    start = [result.spare_soc_percent]
    found = solve_ivp(fall, (0.0, result.hours), start, rtol=1e-8, max_step=result.hours / 500)
    assert found.y[0, -1] == pytest.approx(result.target_soc_percent, abs=1e-3)


@given(case=cases(), ohm=st.floats(min_value=0.5, max_value=100.0))
def test_the_hours_lie_between_those_at_the_first_and_the_last_current(
    case: ChargeCase, ohm: float
) -> None:
    method = ChargeMethod(kind="resistor", ohm=ohm)
    down = dataclasses.replace(case, method=method)
    assume(down.spare_cell_v > down.target_cell_v)
    result = charge(down)
    assume(result.hours)
    assert result.hours is not None
    assert result.start_a is not None
    assert result.stop_a is not None
    slack = 1e-9 * result.hours
    assert result.move_ah / result.start_a <= result.hours + slack
    assert result.hours <= result.move_ah / result.stop_a + slack


@pytest.mark.parametrize("name", CHEMISTRY_OF)
def test_the_integral_over_the_curve_is_that_of_very_short_steps(name: str) -> None:
    curve = curve_named(name)
    path = Path(curve=curve, spare_soc_percent=93.3, target_soc_percent=4.7, shift_v=0.01)
    soc = np.linspace(4.7, 93.3, 200_001)
    steps = np.trapezoid(1.0 / (np.interp(soc, curve.soc_percent, curve.ocv_v) + 0.01), soc)
    assert charge_over_volts_ah_per_v(path, 100.0) == pytest.approx(float(steps), rel=1e-7)


def test_a_resistor_cannot_charge() -> None:
    with pytest.raises(CalculationRefused) as refused:
        charged(3.66, 3.72, method=RESISTOR)
    assert refused.value.path == "method.kind"


def test_a_method_without_its_figures_is_refused() -> None:
    with pytest.raises(CalculationRefused) as refused:
        charged(3.72, 3.66, method=ChargeMethod(kind="resistor"))
    assert refused.value.path == "method.max_w"
    with pytest.raises(CalculationRefused) as refused:
        charged(3.72, 3.66, method=ChargeMethod(kind="supply"))
    assert refused.value.path == "method.current_a"


def test_a_resistor_that_takes_too_much_is_pointed_out() -> None:
    small = ChargeMethod(kind="resistor", ohm=10.0, max_w=100.0)
    assert "resistor_overload" in codes(charged(3.72, 3.66, method=small))
    large = ChargeMethod(kind="resistor", ohm=10.0, max_w=300.0)
    assert "resistor_overload" not in codes(charged(3.72, 3.66, method=large))


def test_a_current_that_empties_within_the_hour_or_lasts_for_days_is_pointed_out() -> None:
    fast, slow = (ChargeMethod(kind="supply", current_a=current_a) for current_a in (70.0, 0.05))
    assert "high_current" in codes(charged(3.66, 3.72, method=fast))
    assert "slow" in codes(charged(3.66, 3.72, method=slow))


@given(least_ohm=positive)
def test_a_standard_resistor_is_the_next_of_twelve_a_decade(least_ohm: float) -> None:
    found = standard_resistor_ohm(least_ohm)
    assert found >= least_ohm * (1.0 - 1e-9)
    assert found <= least_ohm * 1.26
    mantissa = f"{found:.3e}".partition("e")[0]
    assert mantissa in {f"{float(step):.3f}" for step in E12}


def test_a_standard_resistor_stands_for_itself() -> None:
    for step, power in itertools.product(E12, range(-3, 6)):
        ohm = float(f"{step}e{power}")
        assert standard_resistor_ohm(ohm) == ohm


def test_no_resistor_is_the_next_of_nothing() -> None:
    with pytest.raises(ValueError, match="above zero"):
        standard_resistor_ohm(0.0)


@given(
    open_v=st.floats(min_value=3.0, max_value=800.0),
    module_ohm=st.floats(min_value=0.0, max_value=1.0),
    max_w=st.floats(min_value=1.0, max_value=1e5),
)
def test_the_chosen_resistor_stays_within_its_power_and_the_next_smaller_does_not(
    open_v: float, module_ohm: float, max_w: float
) -> None:
    def power_w(ohm: float) -> float:
        return (open_v / (ohm + module_ohm)) ** 2 * ohm

    found = resistor_for_ohm(open_v, module_ohm, max_w)
    assert power_w(found) <= max_w * (1.0 + 1e-9)
    assert found >= module_ohm
    smaller = found / 1.26
    assume(smaller > max(module_ohm, 1e-3))
    assert power_w(smaller) > max_w * (1.0 - 1e-9)
