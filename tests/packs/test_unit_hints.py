"""A number that is refused, and the unit it was probably given in."""

import copy
import json
from typing import Any

import pytest

from packs.calculation_list import CALCULATIONS
from packs.calculations import answer, schema_text
from packs.inputs.units import OTHER_UNITS, unit_hint
from tests.packs.calculation_examples import EXAMPLES, calculation_of


def message(example: str, path: str, value: object) -> str:
    """Return what is said of one field when it is given a value."""
    data = copy.deepcopy(EXAMPLES[example])
    *steps, last = path.split(".")
    place: Any = data
    for step in steps:
        place = place[int(step)] if isinstance(place, list) else place[step]
    place[int(last) if isinstance(place, list) else last] = value
    said = json.loads(answer(calculation_of(example), json.dumps(data).encode()).text)
    found: str = next(each["message"] for each in said["errors"] if each["path"].startswith(path))
    return found


@pytest.mark.parametrize(
    ("example", "path", "value", "hint"),
    [
        ("localise", "cell_v", 3520, "must be at most 10; was it given in mV?"),
        ("localise", "cell_v", [3520] * 12, "was it given in mV?"),
        ("charge", "spare_cell_v", 3600, "was it given in mV?"),
        ("localise", "readings.0.volts", 41_300, "was it given in mV?"),
        ("decay", "samples.1.v", -62_000, "was it given in mV?"),
        ("isolation", "shunt_ohm", 1.85e-4, "was it given in Mohm?"),
        ("tester", "pos_ohm", {"above_ohm": 5.5e-4}, "was it given in Mohm?"),
        ("leak", "barometer_pa", 1013.25, "was it given in hPa, that is mbar?"),
        ("leak", "barometer_pa", 101.325, "was it given in kPa?"),
        ("leak", "samples.0.temp_c", 293.15, "was it given in kelvin?"),
        ("leak", "volume_l", 2e6, "was it given in ml?"),
        ("charge", "capacity_ah", 520_000, "was it given in mAh?"),
        ("cycle", "limits.spread_rest_mv", 0.02, "was it given in V?"),
    ],
)
def test_a_slip_of_the_unit_is_named(example: str, path: str, value: object, hint: str) -> None:
    assert message(example, path, value).endswith(hint)


@pytest.mark.parametrize(
    ("example", "path", "value"),
    [
        ("localise", "cell_v", -3.5),
        ("localise", "cell_v", 0),
        ("localise", "cell_v", 1e12),
        ("localise", "cell_v", "3520"),
        ("localise", "cell_v", True),
        ("localise", "several_prior", 5),
        ("decay", "meter.accuracy_percent", 5000),
        ("leak", "samples.0.temp_c", 900),
    ],
)
def test_where_no_other_unit_fits_none_is_named(example: str, path: str, value: object) -> None:
    assert "was it given" not in message(example, path, value)


def test_a_module_named_like_a_unit_is_no_unit() -> None:
    found = unit_hint({"properties": {"prior": {"type": "object"}}}, ["prior", "M_v"], 2e6)
    assert found == ""


def fields(schema: dict[str, Any]) -> list[tuple[str, dict[str, Any]]]:
    """Return every field a schema describes, parts included."""
    kinds = [schema, *schema.get("oneOf", ()), *schema.get("$defs", {}).values()]
    return [each for kind in kinds for each in kind.get("properties", {}).items()]


SCHEMAS = [each.name for each in CALCULATIONS]
SUFFIXES = {*OTHER_UNITS, "percent", "c"} - {"a"}


@pytest.mark.parametrize("name", SCHEMAS)
def test_a_schema_is_a_manual_with_units(name: str) -> None:
    for field, description in fields(json.loads(schema_text(name))):
        assert "description" in description, field
        number = "number" in json.dumps(description) and field.rpartition("_")[2] in SUFFIXES
        assert not number or description["description"].endswith("]"), field


@pytest.mark.parametrize("name", SCHEMAS)
def test_every_reference_of_a_schema_leads_somewhere(name: str) -> None:
    text = schema_text(name)
    parts = json.loads(text).get("$defs", {})
    references = [each.split('"')[0] for each in text.split('"#/$defs/')[1:]]
    assert set(references) <= set(parts)
