"""What localise makes of odd, extreme and mistaken input: an answer or a refusal."""

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packs.calculations import answer
from packs.physics.instrument import CalculationRefused, Meter
from packs.physics.localise import LocaliseCase, Module, Reading, localise

METER = Meter(input_ohm=1.0e7)
READINGS = (
    Reading(module="M4", pole="pos", open_after=("M4",), volts=109.9),
    Reading(module="M4", pole="pos", open_after=("M4",), shunt_ohm=1e6, volts=100.0),
    Reading(module="M5", pole="neg", open_after=("M4",), volts=-4.2),
    Reading(module="M5", pole="neg", open_after=("M4",), shunt_ohm=1e6, volts=-0.40),
)
CASE = LocaliseCase(
    modules=tuple(Module(name=f"M{number}", cells=12) for number in range(1, 9)),
    cell_v=3.7,
    meter=METER,
    readings=READINGS,
    propose=False,
)
some = settings(max_examples=8, deadline=None)
VOLTS = st.one_of(st.sampled_from((0.0, 1.0e4, -1.0e4, 1.0e-9)), st.floats(-1.0e4, 1.0e4))
OHMS = st.sampled_from((1.0, 10.0, 1.0e5, 1.0e7, 1.0e13))
POLES = st.sampled_from(("pos", "neg"))


def suspected(case: LocaliseCase) -> list[str]:
    return [each.text for each in localise(case).warnings if each.code == "unit_suspect"]


def test_usual_figures_are_not_suspected() -> None:
    assert suspected(CASE) == []


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"meter": replace(METER, input_ohm=10.0)}, "meter.input_ohm"),
        ({"meter": replace(METER, input_ohm=1.0e4)}, "meter.input_ohm"),
        ({"meter": replace(METER, resolution_v=10.0)}, "meter.resolution_v"),
        ({"cell_v_spread_v": 0.9}, "cell_v_spread_v"),
        (
            {"readings": (*READINGS[:1], replace(READINGS[1], shunt_ohm=1.0e3), *READINGS[2:])},
            "readings.1.shunt_ohm",
        ),
        (
            {"readings": (*READINGS[:2], replace(READINGS[2], volts=-4200.0), *READINGS[3:])},
            "readings.2.volts",
        ),
    ],
)
def test_a_figure_a_thousand_times_off_is_suspected(changed: dict[str, Any], named: str) -> None:
    texts = suspected(replace(CASE, **changed))
    assert [text.split()[0] for text in texts] == [named]


def test_a_meter_without_resistance_is_refused() -> None:
    with pytest.raises(CalculationRefused) as refused:
        localise(replace(CASE, meter=replace(METER, input_ohm=0.0)))
    assert refused.value.path == "meter.input_ohm"


def test_one_reading_that_no_string_can_show_is_accused() -> None:
    reading = replace(READINGS[0], volts=990.0)
    result = localise(replace(CASE, readings=(reading,), propose=True))
    assert result.inconsistent
    assert result.suspect_reading == 0
    assert result.next_readings


def test_one_module_alone_can_be_confirmed_or_sound() -> None:
    modules = (Module(name="M1", cells=12),)
    readings = (
        Reading(module="M1", pole="pos", volts=20.0),
        Reading(module="M1", pole="pos", shunt_ohm=1.0e6, volts=18.0),
        Reading(module="M1", pole="neg", volts=-23.9),
    )
    result = localise(replace(CASE, modules=modules, readings=readings))
    assert (result.verdict, result.modules[0].name) == ("named", "M1")


def computed(given_input: dict[str, Any]) -> dict[str, Any]:
    """Ask through the door, which prints no figure that is not finite."""

    def refuse(constant: str) -> None:
        raise AssertionError(constant)

    said = answer("localise", json.dumps(given_input).encode())
    assert said.valid
    result: dict[str, Any] = json.loads(said.text, parse_constant=refuse)
    return result


@some
@given(
    volts=st.lists(VOLTS, min_size=1, max_size=5),
    input_ohm=OHMS,
    shunt_ohm=st.one_of(st.none(), st.sampled_from((1.0e-3, 1.0e6, 1.0e13))),
    accuracy=st.sampled_from((0.0, 0.5, 50.0)),
    step_v=st.sampled_from((1.0e-9, 0.01, 100.0)),
    pole=POLES,
)
def test_extreme_but_valid_input_gives_finite_figures(
    volts: list[float],
    input_ohm: float,
    shunt_ohm: float | None,
    accuracy: float,
    step_v: float,
    pole: str,
) -> None:
    readings = [
        {
            "module": f"M{1 + index % 3}",
            "pole": pole,
            "open_after": ["M2"] if index % 2 else [],
            "shunt_ohm": shunt_ohm if index % 2 else None,
            "volts": value,
        }
        for index, value in enumerate(volts)
    ]
    meter = {
        "input_ohm": input_ohm,
        "accuracy_percent": accuracy,
        "accuracy_counts": 0,
        "resolution_v": step_v,
    }
    modules = [{"name": f"M{number}", "cells": 6} for number in (1, 2, 3)]
    result = computed({"modules": modules, "cell_v": 3.7, "meter": meter, "readings": readings})
    assert result["confirmed"] or result["next_readings"]
    assert all(0.0 <= each["probability"] <= 1.0 for each in result["modules"])
    if result["leak_ohm"] is not None:
        assert result["leak_ohm_low"] <= result["leak_ohm"] <= result["leak_ohm_high"]
        assert result["position_cells_low"] <= result["position_cells_high"]
