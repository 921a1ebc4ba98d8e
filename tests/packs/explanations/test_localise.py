import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from packs.calculations import Computed, computed, find
from packs.explanation import Line
from packs.explanations.localise import explained
from packs.explanations.localise_circuit import StringInVolts, string_of, would_read
from packs.physics.instrument import Meter
from packs.physics.localise import localise
from packs.physics.localise_case import Leak, LocaliseCase, Module, Pole, Reading
from tests.packs.calculation_examples import EXAMPLES
from tests.packs.explanations.shown import assert_printable, line_of, near, number, numbers

DATA = Path(__file__).parents[2] / "data"
KINDS = ("localise_one_leak", "localise_two_leaks")
MOST = 3
"""Reference cases of each kind; all of them would take long."""


@cache
def inputs() -> list[dict[str, Any]]:
    found = [EXAMPLES["localise"]]
    for kind in KINDS:
        cases = json.loads((DATA / f"{kind}.json").read_text("utf-8"))[:MOST]
        found += [case["input"] | {"propose": False} for case in cases]
    return found


@cache
def solved(index: int) -> tuple[Computed, tuple[Line, ...]]:
    found = computed(find("localise"), inputs()[index])
    return found, explained(found.given, found.result)


CASES = pytest.mark.parametrize("index", range(1 + MOST * len(KINDS)))


@CASES
def test_the_steps_lead_to_the_verdict(index: int) -> None:
    found, lines = solved(index)
    assert lines[-1].value == found.result.verdict
    best = found.result.modules[0]
    assert lines[-1].numbers.startswith(best.name)
    assert near(number(lines[-1].numbers.split(maxsplit=1)[1]), 100.0 * best.probability)
    assert_printable(lines)


@CASES
def test_the_leaks_and_probabilities_are_those_of_the_result(index: int) -> None:
    found, lines = solved(index)
    for leak in found.result.leaks:
        ohm, cells = numbers(line_of(lines, f"Leak in {leak.module}:").value)
        assert near(ohm, leak.leak_ohm)
        assert near(cells, leak.position_cells)
    several = numbers(line_of(lines, "After the readings").numbers)[-1]
    assert near(several, 100.0 * found.result.several_leaks_probability)


@CASES
def test_the_rule_of_thumb_leads_into_the_module_it_names(index: int) -> None:
    found, lines = solved(index)
    cells = number(line_of(lines, "For comparison").value)
    string = string_of(found.given)
    module = string.names.index(found.result.hand_rule_module)
    assert string.borders[module] - 0.5 <= cells <= string.borders[module + 1] + 0.5


def test_a_single_leak_put_into_the_formula_explains_the_readings() -> None:
    singles = [solved(index) for index in range(1, MOST + 1)]
    within = [line_of(lines, "Difference").value.startswith("all within") for _, lines in singles]
    assert sum(within) >= MOST - 1


@pytest.mark.parametrize(("ohm", "words"), [(2e4, "it could not"), (1e12, "it could")])
def test_whether_there_need_be_a_leak_is_worked_out(ohm: float, words: str) -> None:
    places: tuple[tuple[str, Pole], ...] = (("M4", "pos"), ("M1", "neg"), ("M2", "pos"))
    blank = case_of(tuple(Reading(module=name, pole=pole, volts=0.0) for name, pole in places))
    leak = leak_at(5.0, ohm)
    readings = tuple(
        replace(each, volts=round(would_read(blank, string_of(blank), each, [leak], 1e8).volts, 2))
        for each in blank.readings
    )
    case = case_of(readings)
    found = localise(case)
    lines = explained(case, found)
    assert line_of(lines, "Could sound").value.startswith(words)
    assert (found.verdict == "no_leak") is (words == "it could")
    assert line_of(lines, "After").numbers.startswith("excluded") is (words == "it could not")


def case_of(readings: tuple[Reading, ...]) -> LocaliseCase:
    return LocaliseCase(
        modules=tuple(Module(name=f"M{n}", cells=10) for n in range(1, 5)),
        cell_v=4.0,
        meter=Meter(input_ohm=1e7),
        readings=readings,
    )


def leak_at(cells: float, ohm: float) -> Leak:
    return Leak(
        module="M1",
        leak_ohm=ohm,
        leak_ohm_low=ohm,
        leak_ohm_high=ohm,
        position_cells=cells,
        position_cells_low=cells,
        position_cells_high=cells,
    )


def test_a_meter_alone_on_one_leak_divides_the_voltage() -> None:
    reading = Reading(module="M4", pole="pos", volts=0.0)
    case = case_of((reading,))
    one = would_read(case, string_of(case), reading, [leak_at(5.0, 1e6)], 1e18)
    assert near(one.volts, 140.0 * 10.0 / 11.0, 1e-6)


def test_a_leak_in_another_section_is_not_read() -> None:
    reading = Reading(module="M4", pole="pos", open_after=("M2",), volts=0.0)
    case = case_of((reading,))
    one = would_read(case, string_of(case), reading, [leak_at(5.0, 1e6)], 1e18)
    assert abs(one.volts) < 1e-6


def test_places_between_cells_lie_on_the_line_between_them() -> None:
    string = StringInVolts(names=("M1",), borders=(0, 2), cells_v=(0.0, 3.0, 7.0))
    assert [string.at(cells) for cells in (0.0, 0.5, 1.0, 1.5, 2.0)] == [0.0, 1.5, 3.0, 5.0, 7.0]


def test_a_reading_under_suspicion_is_said() -> None:
    data = inputs()[1]
    wrong = json.loads(json.dumps(data))
    wrong["readings"][0]["volts"] *= -1.0
    found = computed(find("localise"), wrong)
    lines = explained(found.given, found.result)
    assert found.result.inconsistent
    assert f"without reading {found.result.suspect_reading} " in lines[-1].what
    assert (
        f"reading {found.result.suspect_reading} is under suspicion"
        in line_of(lines, "Difference").value
    )
