"""A slip of a thousand is warned of; what is merely rare is not."""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packs.calculations import answer
from packs.physics.unit_suspicion import suspect, suspicions

DATA = Path(__file__).parents[2] / "data"
VOLTMETER = {
    "method": "voltmeter",
    "pos_to_chassis_v": 106.11,
    "neg_to_chassis_v": 261.68,
    "shunt_ohm": 185000.0,
    "shunt_across": "neg",
    "shunted_v": 197.55,
    "meter": {"input_ohm": 1.0e7},
    "working_voltage_v": 370.0,
    "bus_v": 370.0,
}
TESTER = {
    "method": "tester",
    "test_voltage_v": 500.0,
    "pos_ohm": 2.4e6,
    "neg_ohm": {"above_ohm": 5.5e8},
    "working_voltage_v": 400.0,
}
DECAY = {
    "samples": [{"t_s": t, "v": v} for t, v in ((0, 90.0), (10, 62.0), (20, 46.7))],
    "meter": {"input_ohm": 1.0e7},
}
ABSENCE = {
    "threshold_v": 5.0,
    "instrument": {"resolution_v": 0.1},
    "proof_before": {"expected_v": 400.0, "reading_v": 399.0},
    "readings": [{"between": pair, "volts": 0.2} for pair in ("pos-neg", "pos-chassis")]
    + [{"between": "neg-chassis", "below_v": 5.0}],
    "proof_after": {"expected_v": 400.0, "reading_v": 399.0},
}
LEAK = {
    "volume_l": 60.0,
    "barometer_pa": 101325.0,
    "samples": [
        {"t_s": 0, "gauge_pa": 3000.0, "temp_c": 20.0},
        {"t_s": 300, "gauge_pa": 2990.0, "temp_c": 20.1},
    ],
    "gauge": {"resolution_pa": 1.0, "repeatability_pa": 1.0},
    "limit": {"ml_per_min": 10.0},
}
JOINT = {
    "drop_mv": 3.0,
    "current_a": 200.0,
    "meter": {"input_ohm": 1.0e7, "resolution_v": 1e-6},
    "siblings_micro_ohm": [14.2, 14.5, 14.6, 15.1],
    "limit_micro_ohm": 20.0,
    "rated_current_a": 300.0,
}
CASES: dict[str, tuple[str, dict[str, Any]]] = {
    "voltmeter": ("isolation", VOLTMETER),
    "tester": ("isolation", TESTER),
    "decay": ("decay", DECAY),
    "absence": ("absence", ABSENCE),
    "leak": ("leak", LEAK),
    "joint": ("joint", JOINT),
}


def changed(fields: Any, path: str, value: Any) -> Any:
    """Return fields with the one at a path replaced."""
    first, _, rest = path.partition(".")
    inner = (
        changed(fields[int(first) if isinstance(fields, list) else first], rest, value)
        if rest
        else value
    )
    if isinstance(fields, list):
        return [inner if index == int(first) else each for index, each in enumerate(fields)]
    return {**fields, first: inner}


def suspected(name: str, fields: dict[str, Any]) -> list[str]:
    result = json.loads(answer(name, json.dumps(fields).encode()).text)
    assert "errors" not in result, result
    return [each["text"] for each in result["warnings"] if each["code"] == "unit_suspect"]


@pytest.mark.parametrize("kind", CASES)
def test_usual_figures_are_not_warned_of(kind: str) -> None:
    assert suspected(*CASES[kind]) == []


@pytest.mark.parametrize("name", ["decay", "isolation", "leak"])
def test_no_reference_case_is_warned_of(name: str) -> None:
    cases = json.loads((DATA / f"{name}.json").read_text("utf-8"))["cases"]
    assert [text for case in cases for text in suspected(name, case["input"])] == []


@pytest.mark.parametrize(
    ("kind", "path", "slip", "words"),
    [
        ("voltmeter", "meter.input_ohm", 10.0, "megohms"),
        ("voltmeter", "meter.input_ohm", 10_000.0, "kilohms"),
        ("voltmeter", "meter.resolution_v", 10.0, "millivolts"),
        ("voltmeter", "shunt_ohm", 185.0, "kilohms"),
        ("voltmeter", "shunt_ohm", 1.85e8, "ohms already"),
        ("voltmeter", "working_voltage_v", 0.37, "kilovolts"),
        ("voltmeter", "working_voltage_v", 3700.0, "decimal point"),
        ("voltmeter", "limit_ohm_per_v", 0.5, "kilohms per volt"),
        ("voltmeter", "limit_ohm_per_v", 185_000.0, "for the string"),
        ("voltmeter", "bus_v", 0.37, "unit of the working voltage"),
        ("tester", "test_voltage_v", 0.5, "kilovolts"),
        ("tester", "test_voltage_v", 9000.0, "volts already"),
        ("tester", "pos_ohm", 2.4, "megohms"),
        ("tester", "neg_ohm", {"above_ohm": 550.0}, "megohms"),
        ("tester", "working_voltage_v", 0.4, "kilovolts"),
        ("decay", "meter.input_ohm", 10.0, "megohms"),
        ("decay", "samples.0.v", 9000.0, "millivolts"),
        ("decay", "samples.2.t_s", 20_000_000.0, "milliseconds"),
        ("decay", "floor_v", 2000.0, "millivolts"),
        ("decay", "floor_v", 0.002, "kilovolts"),
        ("decay", "threshold_v", 0.06, "kilovolts"),
        ("decay", "threshold_v", 5000.0, "millivolts"),
        ("absence", "threshold_v", 0.06, "kilovolts"),
        ("absence", "threshold_v", 5000.0, "millivolts"),
        ("absence", "readings.0.volts", 5000.0, "millivolts"),
        ("absence", "proof_before.expected_v", 0.4, "kilovolts"),
        ("absence", "proof_after.expected_v", 4000.0, "millivolts"),
        ("absence", "instrument.resolution_v", 100.0, "millivolts"),
        ("leak", "volume_l", 0.06, "cubic metres"),
        ("leak", "volume_l", 60_000.0, "ml"),
        ("leak", "samples.0.gauge_pa", 30.0, "millibars"),
        ("leak", "samples.0.gauge_pa", 300_000.0, "pascals already"),
        ("leak", "samples.1.temp_c", 68.0, "Fahrenheit"),
        ("leak", "samples.1.t_s", 5.0, "minutes"),
        ("leak", "limit", {"ml_per_min": 0.01}, "unit of its name"),
        ("leak", "limit", {"pa_m3_per_s": 10.0}, "unit of its name"),
        ("leak", "limit", {"mbar_l_per_s": 100.0}, "unit of its name"),
        ("leak", "limit", {"drop_pa": 0.5}, "unit of its name"),
        ("joint", "drop_mv", 0.003, "volts"),
        ("joint", "drop_mv", 3000.0, "microvolts"),
        ("joint", "current_a", 20_000.0, "milliamperes"),
        ("joint", "rated_current_a", 30_000.0, "milliamperes"),
        ("joint", "limit_micro_ohm", 0.02, "micro-ohm"),
        ("joint", "siblings_micro_ohm.1", 14_500.0, "micro-ohm"),
    ],
)
def test_a_slip_of_a_thousand_is_warned_of_by_its_field(
    kind: str, path: str, slip: Any, words: str
) -> None:
    name, fields = CASES[kind]
    found = suspected(name, changed(fields, path, slip))
    assert any(words in text and path.split(".", maxsplit=1)[0] in text for text in found), found


@pytest.mark.parametrize(
    ("kind", "path", "rare"),
    [
        ("voltmeter", "meter.input_ohm", 200_000.0),
        ("voltmeter", "meter.input_ohm", 1e10),
        ("voltmeter", "shunt_ohm", 6000.0),
        ("voltmeter", "working_voltage_v", 900.0),
        ("voltmeter", "limit_ohm_per_v", 2700.0),
        ("tester", "pos_ohm", 5000.0),
        ("tester", "test_voltage_v", 50.0),
        ("decay", "threshold_v", 5.0),
        ("decay", "meter.input_ohm", 3000.0),
        ("absence", "threshold_v", 60.0),
        ("absence", "proof_before.expected_v", 12.0),
        ("leak", "volume_l", 2.5),
        ("leak", "samples.0.gauge_pa", 500.0),
        ("leak", "samples.1.temp_c", -5.0),
        ("leak", "limit", {"ml_per_min": 0.5}),
        ("leak", "limit", {"drop_pa": 5.0}),
        ("joint", "drop_mv", 100.0),
        ("joint", "drop_mv", 0.0),
        ("joint", "current_a", 5.0),
    ],
)
def test_what_is_rare_but_honest_is_not_warned_of(kind: str, path: str, rare: Any) -> None:
    name, fields = CASES[kind]
    assert suspected(name, changed(fields, path, rare)) == []


def test_a_low_test_pressure_is_believed_where_the_shop_says_so() -> None:
    low = changed(LEAK, "samples.0.gauge_pa", 150.0)
    assert suspected("leak", low) != []
    assert suspected("leak", {**low, "test_pressure_pa": [120.0, 180.0]}) == []


@given(st.floats(-1e6, 1e6), st.floats(0.0, 10.0), st.floats(10.0, 1e3))
def test_only_what_lies_outside_and_is_not_nothing_is_suspect(
    value: float, low: float, high: float
) -> None:
    outside = value != 0.0 and not low <= abs(value) <= high
    assert (suspect("x", value, low, high, "?") is not None) == outside


def test_what_is_not_given_is_not_suspect() -> None:
    assert suspicions(suspect("x", None, 1.0, 2.0, "?"), suspect("x", 1.5, 1.0, 2.0, "?")) == ()
