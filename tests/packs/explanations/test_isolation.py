import json
import random
from pathlib import Path

import pytest

from packs.calculations import explain
from packs.explanations.isolation import explained
from packs.physics.instrument import Meter
from packs.physics.isolation import (
    AboveOhm,
    TesterCase,
    VoltmeterCase,
    isolation_by_tester,
    isolation_by_voltmeter,
)
from packs.physics.shunt import Pole
from tests.packs.explanations.shown import assert_printable, line_of, near, number, numbers

DATA = Path(__file__).parents[2] / "data"


def case_by_voltmeter(seed: int) -> VoltmeterCase:
    """Return readings as a pack would give them, some of them with a contradiction."""
    chance = random.Random(seed)  # noqa: S311
    bus_v, x = chance.uniform(50.0, 800.0), chance.random()
    leak_g, meter_g = 10 ** -chance.uniform(3.0, 9.0), 1e-7
    shunt_ohm = 10 ** chance.uniform(4.0, 6.5)
    kept = leak_g / (leak_g + meter_g)
    pos_v, neg_v = bus_v * (1.0 - x) * kept, bus_v * x * kept
    across: Pole = "pos" if pos_v > neg_v else "neg"
    shunted_v = max(pos_v, neg_v) * (leak_g + meter_g) / (leak_g + meter_g + 1.0 / shunt_ohm)
    return VoltmeterCase(
        pos_to_chassis_v=round(pos_v, 2),
        neg_to_chassis_v=round(neg_v, 2),
        shunt_ohm=shunt_ohm,
        shunt_across=across,
        shunted_v=round(shunted_v * chance.choice([1.0, 1.0, 1.0, 1.3]), 2),
        meter=Meter(input_ohm=1e7),
        working_voltage_v=bus_v,
        bus_v=chance.choice([None, round(bus_v, 2)]),
        gain_shared=chance.choice([False, True]),
    )


@pytest.mark.parametrize("seed", range(80))
def test_the_voltmeter_steps_lead_to_the_figures_of_the_result(seed: int) -> None:
    case = case_by_voltmeter(seed)
    result = isolation_by_voltmeter(case)
    lines = explained(case, result)
    total = [line for line in lines if line.what == "Total"]
    if not result.is_lower_bound and total and result.loading_total_ohm is None:
        assert near(number(total[0].value), result.total_ohm)
    second = [line for line in lines if line.what.startswith("Second estimate")]
    if second and result.loading_total_ohm is not None:
        shown = number(second[0].value)
        assert near(shown, result.loading_total_ohm) or result.loading_total_ohm > shown
    if result.position_percent is not None:
        assert near(100.0 * number(line_of(lines, "Place between").value), result.position_percent)
        assert near(number(line_of(lines, "The smaller of them").value), result.standard_ohm)
    assert near(number(line_of(lines, "A volt of").value), result.ohm_per_v)
    assert result.verdict in lines[-1].value.split(": ")[-1]
    assert_printable(lines)


@pytest.mark.parametrize("seed", range(80))
def test_the_ends_of_the_interval_can_be_checked(seed: int) -> None:
    case = case_by_voltmeter(seed)
    result = isolation_by_voltmeter(case)
    lines = explained(case, result)
    checks = [line for line in lines if line.formula.startswith("difference = ")]
    for line in checks:
        missed, allowed = numbers(line.numbers)
        assert near(missed, allowed, 0.02)
    if result.position_percent is not None or result.loading_total_ohm is None:
        ends = (result.standard_ohm_low, result.standard_ohm_high)
        assert len(checks) == sum(end is not None and 1e-3 < end < 1e14 for end in ends)


def test_an_interval_from_the_meters_loading_is_checked_as_such() -> None:
    found = []
    for seed in range(80):
        case = case_by_voltmeter(seed)
        lines = explained(case, isolation_by_voltmeter(case))
        found += [line for line in lines if "the second estimate says more" in line.what]
    assert len(found) >= 3


def case_by_tester(seed: int) -> TesterCase:
    chance = random.Random(seed)  # noqa: S311

    def reading() -> float | AboveOhm:
        ohm = 10 ** chance.uniform(3.0, 9.0)
        return AboveOhm(above_ohm=ohm) if chance.random() < 0.3 else ohm

    return TesterCase(
        test_voltage_v=chance.choice([250.0, 500.0, 1000.0]),
        pos_ohm=reading(),
        neg_ohm=reading(),
        at_30s_ohm=2e6,
        at_60s_ohm=3e6,
        working_voltage_v=400.0,
        accuracy_percent=chance.choice([1.0, 5.0, 30.0]),
        own_voltage_v=chance.choice([0.0, 0.0, 45.0]),
    )


@pytest.mark.parametrize("seed", range(60))
def test_the_tester_steps_lead_to_the_figures_of_the_result(seed: int) -> None:
    case = case_by_tester(seed)
    result = isolation_by_tester(case)
    lines = explained(case, result)
    interval = line_of(lines, "95 % interval")
    ohm, share = numbers(interval.numbers.replace("s = ", ""))
    if not result.is_lower_bound:
        assert near(ohm, result.standard_ohm)
        assert near(ohm / (1.0 + share), result.standard_ohm_low)
        assert near(ohm / (1.0 - share), result.standard_ohm_high or 0.0)
    assert near(number(interval.value.removeprefix("at least ")), result.standard_ohm_low)
    assert near(number(line_of(lines, "Absorption").value), result.absorption_ratio or 0.0)
    assert lines[-1].value.endswith(f": {result.verdict}")
    assert_printable(lines)


def test_reference_cases_are_explained_through_the_door() -> None:
    for case in json.loads((DATA / "isolation.json").read_text("utf-8"))["cases"]:
        found = explain("isolation", json.dumps(case["input"]).encode())
        assert found.valid
        assert found.text.splitlines()[-1].startswith("Verdict: ")
