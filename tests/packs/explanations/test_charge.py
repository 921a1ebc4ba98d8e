import pytest
from hypothesis import given, settings

from packs.explanation import Line, figure, text_of
from packs.explanations.charge import explained
from packs.physics.charge import ChargeCase, ChargeMethod, charge
from tests.packs.physics.charge_cases import RESISTOR, a_case, cases


def steps(case: ChargeCase) -> tuple[Line, ...]:
    return explained(case, charge(case))


def value_of(lines: tuple[Line, ...], beginning: str) -> str:
    return next(line.value for line in lines if line.what.startswith(beginning))


@pytest.mark.parametrize("method", [RESISTOR, ChargeMethod(kind="supply", current_a=4.0)])
def test_the_figures_worked_out_are_those_of_the_result(method: ChargeMethod) -> None:
    case = a_case(3.90, 3.60, method=method, module_resistance_ohm=0.012)
    result, lines = charge(case), steps(case)
    assert value_of(lines, "State of charge of the spare") == figure(result.spare_soc_percent, "%")
    assert value_of(lines, "Charge to move") == figure(-result.move_ah, "Ah")
    assert value_of(lines, "Time") == figure(result.hours, "h")
    assert value_of(lines, "Time for the balancer") == figure(result.bleed_hours, "h")
    assert value_of(lines, "The terminals") == figure(result.stop_terminal_v, "V")
    if method is RESISTOR:
        assert value_of(lines, "Power") == figure(result.resistor_w, "W")


@pytest.mark.parametrize(
    ("case", "ending"),
    [
        (a_case(3.66, 3.72), "move"),
        (a_case(3.70, 3.703), "ready"),
        (a_case(3.70, 3.709), "undecided"),
        (a_case(3.29, 3.295, curve="lfp_graphite"), "undecided"),
    ],
)
def test_the_last_step_is_the_comparison_that_makes_the_verdict(
    case: ChargeCase, ending: str
) -> None:
    last = steps(case)[-1]
    assert last.what.startswith("Comparison")
    assert last.value.endswith(f": {ending}")


def test_a_flat_curve_shows_why_and_works_out_the_knee() -> None:
    case = a_case(3.29, 3.295, curve="lfp_graphite")
    lines, result = steps(case), charge(case)
    assert value_of(lines, "How well its voltage").endswith("too flat")
    assert value_of(lines, "Charge between the knee") == figure(result.ah_from_knee, "Ah")


def test_a_chosen_resistor_says_so() -> None:
    case = a_case(3.75, 3.72, method=ChargeMethod(kind="resistor", max_w=200.0))
    assert any("IEC 60063" in line.what for line in steps(case))


def test_a_reading_above_full_says_how_far_the_curve_was_lifted() -> None:
    assert value_of(steps(a_case(4.215, 4.10)), "A reading stands above") == "15 mV"


@given(case=cases())
@settings(max_examples=40)
def test_whatever_is_asked_can_be_shown(case: ChargeCase) -> None:
    result = charge(case)
    lines = explained(case, result)
    assert text_of(lines)
    moved = value_of(lines, "Charge to move").lstrip("-")
    assert moved == figure(result.move_ah, "Ah") or result.move_ah < 1e-9
    assert lines[-1].value.endswith(result.verdict)
