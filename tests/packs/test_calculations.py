import copy
import dataclasses
import json
import math
import random
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packs.calculations import CALCULATIONS, answer, explain, find, schema_text
from packs.inputs import electrical, enclosure, fields
from packs.inputs import isolation as isolation_inputs
from packs.physics import absence, instrument, isolation, joint, leak, vin
from packs.strict_json import DEEPEST, InputRefused
from tests.packs.calculation_examples import EXAMPLES, calculation_of

DATA = Path(__file__).parents[1] / "data"
# Those whose arithmetic takes long are tested with their own reference cases.
QUICK = sorted(set(EXAMPLES) - {"localise", "cycle"})


def asked(example: str, data: object) -> dict[str, Any]:
    """Return the answer to data, and see that it is one line of honest JSON."""
    found = answer(calculation_of(example), json.dumps(data).encode())
    return checked(found.text, valid=found.valid)


def checked(text: str, *, valid: bool) -> dict[str, Any]:
    def refuse(constant: str) -> None:
        raise AssertionError(constant)

    assert "\n" not in text
    said: dict[str, Any] = json.loads(text, parse_constant=refuse)
    assert valid is ("errors" not in said)
    return said


def paths(said: dict[str, Any]) -> list[str]:
    return [problem["path"] for problem in said["errors"]]


def changed(example: str, path: str, value: object) -> dict[str, Any]:
    """Return an example with one field set; ``path`` is written as the door writes it."""
    data = copy.deepcopy(EXAMPLES[example])
    *steps, last = path.split(".")
    place: Any = data
    for step in steps:
        place = place[int(step)] if isinstance(place, list) else place[step]
    place[int(last) if isinstance(place, list) else last] = value
    return data


@pytest.mark.parametrize("example", sorted(EXAMPLES))
def test_each_example_is_computed(example: str) -> None:
    assert "errors" not in asked(example, EXAMPLES[example])


def test_the_list_names_what_can_be_computed_and_nothing_else() -> None:
    names = [calculation.name for calculation in CALCULATIONS]
    assert names == [
        "decay",
        "absence",
        "isolation",
        "localise",
        "match",
        "charge",
        "leak",
        "joint",
        "cycle",
        "vin",
    ]


@pytest.mark.parametrize("calculation", CALCULATIONS, ids=lambda each: each.name)
def test_each_calculation_publishes_its_schema(calculation: Any) -> None:
    schema = json.loads(schema_text(calculation.name))
    for each in schema.get("oneOf", [schema]):
        assert each["additionalProperties"] is False
        assert not any("~" in name for name in each["properties"])


@pytest.mark.parametrize("calculation", CALCULATIONS, ids=lambda each: each.name)
def test_everything_the_list_names_is_there(calculation: Any) -> None:
    for route in calculation.routes:
        paths = [route.function, route.explanation, route.case, *route.parts.values()]
        for module, _, attribute in (path.partition(":") for path in paths if path):
            assert callable(getattr(import_module(module), attribute))


@pytest.mark.parametrize("example", sorted(EXAMPLES))
def test_each_example_is_explained(example: str) -> None:
    found = explain(calculation_of(example), json.dumps(EXAMPLES[example]).encode())
    assert found.valid
    assert found.text.splitlines()[-1].startswith("Verdict: ")


@pytest.mark.parametrize("name", ["decay", "isolation", "leak"])
def test_reference_cases_pass_through_the_door(name: str) -> None:
    cases = json.loads((DATA / f"{name}.json").read_text("utf-8"))["cases"]
    for case in cases[:5]:
        assert "errors" not in asked(name, case["input"])


def test_results_hold_plain_data() -> None:
    said = asked("isolation", EXAMPLES["isolation"])
    assert said["verdict"] == "pass"
    assert said["warnings"] == []
    assert said["standard_ohm_low"] < said["standard_ohm"] < said["standard_ohm_high"]


def test_messages_have_code_and_text() -> None:
    said = asked("isolation", changed("isolation", "shunted_v", 300))
    assert {"code", "text"} == set(said["warnings"][0])


def test_an_over_range_reading_may_be_given_and_leaves_no_upper_end() -> None:
    said = asked("tester", changed("tester", "neg_ohm", {"above_ohm": 6e8}))
    assert (said["standard_ohm_high"], said["is_lower_bound"]) == (None, True)


@pytest.mark.parametrize(
    ("example", "path", "value"),
    [
        ("decay", "samples.1.t_s", "10"),
        ("decay", "samples.1.t_s", True),
        ("decay", "samples.1.t_s", None),
        ("decay", "samples.2.t_s", 5),
        ("decay", "samples.1.x", 1),
        ("decay", "samples", {}),
        ("decay", "samples", []),
        ("decay", "meter.input_ohm", 0),
        ("decay", "meter.input_ohm", -1e7),
        ("decay", "meter.input_ohm", 1e30),
        ("decay", "meter.input_ohm", 10**400),
        ("decay", "meter.accuracy_percent", 101),
        ("decay", "meter.make", "ours"),
        ("decay", "meter", 5),
        ("decay", "gain_shared", 1),
        ("absence", "readings.0.between", "neg-pos"),
        ("absence", "readings.0.below_v", 1),
        ("absence", "readings.2.below_v", 0),
        ("absence", "proof_before.reading_v", "399"),
        ("absence", "proof_before.expected_v", 0),
        ("absence", "threshold_v", 0),
        ("isolation", "shunt_across", "middle"),
        ("isolation", "pos_to_chassis_v", -50),
        ("isolation", "limit_ohm_per_v", 0),
        ("isolation", "method", "guess"),
        ("isolation", "method", ["tester"]),
        ("tester", "pos_ohm", "many"),
        ("tester", "pos_ohm", -5),
        ("tester", "pos_ohm.above_ohm", -5),
        ("tester", "pos_ohm.below_ohm", 5),
        ("leak", "samples.1.t_s", 0),
        ("leak", "samples.0.gauge_pa", 0),
        ("leak", "samples.0.temp_c", 293.15),
        ("leak", "barometer_pa", 1013.25),
        ("leak", "limit.ml_per_hour", 1),
        ("leak", "test_pressure_pa", [1]),
        ("leak", "gauge.resolution_pa", -1),
        ("joint", "current_a", 0),
        ("joint", "limit_micro_ohm", None),
        ("vin", "vin", 17),
        ("vin", "vin", ""),
        ("vin", "vin", "X" * 65),
        ("localise", "modules.0.cells", 0),
        ("localise", "modules.0.cells", 6.5),
        ("localise", "modules.0.cells", True),
        ("localise", "cell_v", [3.6, "3.6"]),
        ("localise", "cell_v", True),
        ("localise", "readings.0.pole", "plus"),
        ("localise", "prior", {"M1": -1}),
        ("localise", "reachable", [{"module": "M1"}]),
    ],
)
def test_a_wrong_field_is_named_as_the_user_wrote_it(
    example: str, path: str, value: object
) -> None:
    deeper = {
        '[3.6, "3.6"]': "cell_v.1",
        '{"M1": -1}': "prior.M1",
        '[{"module": "M1"}]': "reachable.0.pole",
    }
    expected = deeper.get(json.dumps(value), path)
    if expected == "readings.0.below_v":
        expected = "readings.0"
    assert expected in paths(asked(example, changed(example, path, value)))


@pytest.mark.parametrize(
    ("example", "name"),
    [(example, name) for example in sorted(EXAMPLES) for name in EXAMPLES[example]],
)
def test_a_field_left_out_is_either_optional_or_named(example: str, name: str) -> None:
    data = {key: value for key, value in EXAMPLES[example].items() if key != name}
    if example == "localise" and name == "readings":
        data.pop("modules")
    said = asked(example, data)
    if "errors" in said:
        assert any(path.split(".")[0] == name for path in paths(said))


def test_every_fault_is_named_at_once() -> None:
    data = changed("decay", "samples.0.v", "x")
    data["meter"] = {}
    assert set(paths(asked("decay", data))) == {"samples.0.v", "meter.input_ohm"}


def test_a_limit_is_exactly_one() -> None:
    for limit in ({}, {"ml_per_min": 1, "drop_pa": 2}):
        assert paths(asked("leak", changed("leak", "limit", limit))) == ["limit"]


@pytest.mark.parametrize("constant", ["NaN", "Infinity", "-Infinity", "1e999"])
def test_numbers_that_are_not_finite_are_named(constant: str) -> None:
    raw = json.dumps(EXAMPLES["decay"]).replace("46.7", constant).encode()
    found = answer("decay", raw)
    assert paths(checked(found.text, valid=found.valid)) == ["samples.2.v"]


@pytest.mark.parametrize("raw", [b"[]", b"null", b'"vin"', b"17", b"", b"{", b"[" * 100_000])
def test_anything_but_one_object_gets_an_errors_object(raw: bytes) -> None:
    found = answer("vin", raw)
    assert paths(checked(found.text, valid=found.valid)) == [""]


def test_a_series_of_absurd_length_is_refused() -> None:
    samples = [{"t_s": index, "v": 1} for index in range(5001)]
    assert paths(asked("decay", changed("decay", "samples", samples))) == ["samples"]


def test_figures_too_extreme_to_compute_with_are_said(monkeypatch: pytest.MonkeyPatch) -> None:
    def overflowing(**fields: object) -> object:
        raise OverflowError(fields)

    monkeypatch.setattr(vin, "vin", overflowing)
    assert "too extreme" in asked("vin", EXAMPLES["vin"])["errors"][0]["message"]


def test_a_figure_that_is_no_number_is_refused_and_not_left_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    sound = joint.joint

    def endless(case: joint.JointCase) -> joint.JointResult:
        return dataclasses.replace(sound(case), micro_ohm=math.inf)

    monkeypatch.setattr(joint, "joint", endless)
    said = asked("joint", EXAMPLES["joint"])
    assert "too extreme" in said["errors"][0]["message"]


def test_a_name_that_is_no_text_is_refused() -> None:
    found = answer("vin", b'{"vin": "A", "\\ud800": 1}')
    assert len(paths(checked(found.text, valid=found.valid))) == 1


def test_localise_is_reached_with_what_it_takes() -> None:
    data = changed("localise", "modules", [{"name": "M1", "cells": 6}])
    data |= {"prior": {"M1": 2}, "openable": [], "propose": False}
    data["reachable"] = [{"module": "M1", "pole": "neg"}]
    assert asked("localise", data)["modules"][0]["name"] == "M1"


def test_an_unknown_calculation_is_refused_with_those_there_are() -> None:
    with pytest.raises(InputRefused, match="none of decay"):
        find("calibration")


def instrument_defaults(kind: type) -> dict[str, Any]:
    return {
        field.name: field.default
        for field in dataclasses.fields(kind)
        if field.default is not dataclasses.MISSING
    }


@pytest.mark.parametrize(
    ("model", "kind"),
    [
        (fields.MeterInput, instrument.Meter),
        (fields.AccuracyInput, instrument.Accuracy),
        (isolation_inputs.VoltmeterInput, isolation.VoltmeterCase),
        (isolation_inputs.InsulationTesterInput, isolation.TesterCase),
        (enclosure.LeakInput, leak.LeakCase),
        (enclosure.LeakLimitInput, leak.LeakLimit),
        (enclosure.PressureSampleInput, leak.PressureSample),
        (electrical.DeadReadingInput, absence.DeadReading),
    ],
)
def test_what_is_left_out_means_the_same_at_the_door_and_behind_it(
    model: type[fields.Strict], kind: type
) -> None:
    left_out = {
        name: field.default for name, field in model.model_fields.items() if not field.is_required()
    }
    assert left_out == instrument_defaults(kind)


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=8,
)


def places(data: object, path: str = "") -> list[str]:
    """Return the path of every value inside an example."""
    inner: list[tuple[str, object]] = []
    if isinstance(data, dict):
        inner = list(data.items())
    elif isinstance(data, list):
        inner = [(str(index), each) for index, each in enumerate(data)]
    found = []
    for key, each in inner:
        here = f"{path}.{key}" if path else key
        found += [here, *places(each, here)]
    return found


@pytest.mark.parametrize("example", QUICK)
@given(data=st.data())
@settings(max_examples=30)
def test_any_value_anywhere_gets_a_result_or_an_errors_object(
    example: str, data: st.DataObject
) -> None:
    path = data.draw(st.sampled_from(places(EXAMPLES[example])))
    value = data.draw(JSON | st.floats(allow_nan=False) | st.sampled_from([0, 1e-9, 1e9, -1, 1]))
    asked(example, changed(example, path, value))


@given(raw=st.binary(max_size=200))
@settings(max_examples=200)
def test_any_bytes_get_a_result_or_an_errors_object(raw: bytes) -> None:
    found = answer("vin", raw)
    checked(found.text, valid=found.valid)


@given(seed=st.integers(0, 10_000))
@settings(max_examples=100)
def test_torn_and_doubled_input_gets_a_result_or_an_errors_object(seed: int) -> None:
    chance = random.Random(seed)  # noqa: S311
    raw = json.dumps(EXAMPLES["leak"]).encode()
    cut = chance.randrange(len(raw))
    torn = raw[:cut] + bytes([chance.randrange(256)]) + raw[cut + chance.randrange(3) :]
    found = answer("leak", torn)
    checked(found.text, valid=found.valid)


def test_nesting_within_the_limit_is_read() -> None:
    inner: object = 1
    for _ in range(DEEPEST - 2):
        inner = [inner]
    assert paths(asked("vin", {"vin": inner})) == ["vin"]
