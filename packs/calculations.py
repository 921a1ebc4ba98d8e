"""The JSON door to the calculations: a name and bytes in, one line of JSON out.

Here: the list of calculations and the way from JSON to a call and back. Models and functions are
named by dotted path and imported on use, so that listing them stays light. Not here: reading bytes
(strict_json.py), fields and bounds (inputs.py), formulas (physics/), the command (calc.py).
"""

import dataclasses
import json
import math
from collections.abc import Mapping
from importlib import import_module
from typing import Any

from packs.physics.instrument import CalculationRefused
from packs.strict_json import InputRefused, Problem, read

LONGEST_NAME = 60

METER = "packs.physics.instrument:Meter"
ABOVE = "packs.physics.isolation:AboveOhm"


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """How one kind of input is checked, built and computed."""

    model: str
    function: str
    case: str | None = None
    parts: Mapping[str, str] = dataclasses.field(default_factory=dict)


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Calculation:
    """One calculation; with several routes, its input's ``method`` chooses."""

    name: str
    summary: str
    routes: tuple[Route, ...]
    version: int = 1


@dataclasses.dataclass(frozen=True, slots=True)
class Answer:
    """One line of JSON, and whether the input could be computed."""

    text: str
    valid: bool


CALCULATIONS = (
    Calculation(
        name="decay",
        summary="Is a reading settling to nothing, or standing?",
        routes=(
            Route(
                model="decay",
                function="packs.physics.decay:decay",
                parts={"meter": METER, "samples": "packs.physics.decay:Sample"},
            ),
        ),
    ),
    Calculation(
        name="absence",
        summary="Has the absence of voltage been proven?",
        routes=(
            Route(
                model="absence",
                function="packs.physics.absence:absence",
                parts={
                    "instrument": "packs.physics.instrument:Accuracy",
                    "proof_before": "packs.physics.absence:Proof",
                    "proof_after": "packs.physics.absence:Proof",
                    "readings": "packs.physics.absence:DeadReading",
                },
            ),
        ),
    ),
    Calculation(
        name="isolation",
        summary="What is the isolation resistance, and does it reach the limit?",
        routes=(
            Route(
                model="voltmeter",
                function="packs.physics.isolation:isolation_by_voltmeter",
                case="packs.physics.isolation:VoltmeterCase",
                parts={"meter": METER},
            ),
            Route(
                model="tester",
                function="packs.physics.isolation:isolation_by_tester",
                case="packs.physics.isolation:TesterCase",
                parts=dict.fromkeys(("pos_ohm", "neg_ohm", "at_30s_ohm", "at_60s_ohm"), ABOVE),
            ),
        ),
    ),
    Calculation(
        name="localise",
        summary="Which module leaks, and what should be read next?",
        routes=(
            Route(
                model="localise",
                function="packs.physics.localise:localise",
                case="packs.physics.localise:LocaliseCase",
                parts={
                    "meter": METER,
                    "modules": "packs.physics.localise:Module",
                    "readings": "packs.physics.localise:Reading",
                    "reachable": "packs.physics.localise:Place",
                },
            ),
        ),
    ),
    Calculation(
        name="match",
        summary="Which spare suits the string?",
        routes=(
            Route(
                model="match",
                function="packs.physics.match:match",
                case="packs.physics.match:MatchCase",
                parts={
                    "wanted": "packs.physics.match:Wanted",
                    "limits": "packs.physics.match:MatchLimits",
                    "spares": "packs.physics.match:SpareModule",
                },
            ),
        ),
    ),
    Calculation(
        name="charge",
        summary="How is the spare brought to the string's charge?",
        routes=(
            Route(
                model="charge",
                function="packs.physics.charge:charge",
                case="packs.physics.charge:ChargeCase",
                parts={"method": "packs.physics.charge:ChargeMethod"},
            ),
        ),
    ),
    Calculation(
        name="leak",
        summary="Does the sealed enclosure hold its pressure?",
        routes=(
            Route(
                model="leak",
                function="packs.physics.leak:leak",
                case="packs.physics.leak:LeakCase",
                parts={
                    "samples": "packs.physics.leak:PressureSample",
                    "gauge": "packs.physics.leak:Gauge",
                    "limit": "packs.physics.leak:LeakLimit",
                },
            ),
        ),
    ),
    Calculation(
        name="joint",
        summary="Is a bolted joint as good as its like?",
        routes=(
            Route(
                model="joint",
                function="packs.physics.joint:joint",
                case="packs.physics.joint:JointCase",
                parts={"meter": METER},
            ),
        ),
    ),
    Calculation(
        name="cycle",
        summary="Did the repaired string behave in a charge, a discharge or a drive?",
        routes=(
            Route(
                model="cycle",
                function="packs.cycle_file:cycle_of_file",
                case="packs.cycle_file:CycleFileCase",
                parts={
                    "columns": "packs.cycle_file:Columns",
                    "modules": "packs.physics.cycle_case:CycleModule",
                    "limits": "packs.physics.cycle_case:CycleLimits",
                },
            ),
        ),
    ),
    Calculation(
        name="vin",
        summary="Is a vehicle identification number well formed?",
        routes=(Route(model="vin", function="packs.physics.vin:vin"),),
    ),
)


def find(name: str) -> Calculation:
    """Return a calculation by name.

    Parameters
    ----------
    name : str
        As in the list.

    Returns
    -------
    calculation : Calculation
        Its routes and version.

    Raises
    ------
    InputRefused
        When there is none of that name.

    Examples
    --------
    >>> find("leak").version
    1
    """
    for calculation in CALCULATIONS:
        if calculation.name == name:
            return calculation
    known = ", ".join(calculation.name for calculation in CALCULATIONS)
    raise InputRefused([("calculation", f"{name[:LONGEST_NAME]!r} is none of {known}")])


def answer(name: str, raw: bytes) -> Answer:
    """Compute one input, or say what is wrong with it.

    Parameters
    ----------
    name : str
        Of the calculation.
    raw : bytes
        JSON in UTF-8.

    Returns
    -------
    answer : Answer
        The result or ``{"errors": [...]}``, on one line.

    Examples
    --------
    >>> answer("vin", b'{"vin": 1}').text
    '{"errors": [{"path": "vin", "message": "must be text, in quotes"}]}'
    """
    try:
        result = compute(find(name), read(raw))
    except InputRefused as refused:
        return Answer(errors_text(refused.problems), valid=False)
    return Answer(json.dumps(result, allow_nan=False), valid=True)


def errors_text(problems: list[Problem]) -> str:
    """Return faults as the interface prints them.

    Parameters
    ----------
    problems : list[Problem]
        Paths and sentences.

    Returns
    -------
    text : str
        One line of JSON.

    Examples
    --------
    >>> errors_text([("file", "is empty")])
    '{"errors": [{"path": "file", "message": "is empty"}]}'
    """
    return json.dumps({"errors": [{"path": path, "message": text} for path, text in problems]})


def schema_text(name: str) -> str:
    """Return the JSON Schema of a calculation's input.

    Parameters
    ----------
    name : str
        Of the calculation.

    Returns
    -------
    text : str
        Indented JSON.

    Raises
    ------
    InputRefused
        When there is none of that name.

    Examples
    --------
    >>> '"vin"' in schema_text("vin")
    True
    """
    inputs = import_module("packs.inputs")
    schemas = [inputs.schema(route.model) for route in find(name).routes]
    return json.dumps(schemas[0] if len(schemas) == 1 else {"oneOf": schemas}, indent=2)


def compute(calculation: Calculation, data: object) -> dict[str, Any]:
    """Check data, call the calculation, and return its result as plain data.

    Parameters
    ----------
    calculation : Calculation
        Which one.
    data : object
        What JSON gave.

    Returns
    -------
    result : dict[str, Any]
        Text, finite numbers, None, lists and dictionaries.

    Raises
    ------
    InputRefused
        With every fault found.

    Examples
    --------
    >>> compute(find("vin"), {"vin": "1J9RP1A36A1644345"})["check_digit"]
    'matches'
    """
    if not isinstance(data, dict):
        raise InputRefused([("", "must be one JSON object, in curly brackets")])
    route = _route(calculation, data)
    fields, faults = import_module("packs.inputs").checked(route.model, data)
    if faults:
        raise InputRefused(faults)
    try:
        result = _called(route, fields)
    except CalculationRefused as refused:
        raise InputRefused([(refused.path, refused.message)]) from refused
    except ArithmeticError as error:
        raise InputRefused([("", "holds figures too extreme to compute with")]) from error
    return {key: _plain(value) for key, value in dataclasses.asdict(result).items()}


def _route(calculation: Calculation, data: Mapping[str, Any]) -> Route:
    """Choose the route by the input's method where there is more than one."""
    if len(calculation.routes) == 1:
        return calculation.routes[0]
    for route in calculation.routes:
        if route.model == data.get("method"):
            return route
    known = " or ".join(f'"{route.model}"' for route in calculation.routes)
    raise InputRefused([("method", f"must be {known}")])


def _called(route: Route, fields: dict[str, Any]) -> Any:
    """Build what the function takes from checked fields, and call it."""
    function = _named(route.function)
    built = {name: _built(route.parts, name, value) for name, value in fields.items()}
    if route.case is None:
        return function(**built)
    if built.get("method") == route.model:
        del built["method"]
    return function(_named(route.case)(**built))


def _built(parts: Mapping[str, str], name: str, value: Any) -> Any:
    """Turn checked plain data into the calculation's own types."""
    if isinstance(value, list):
        return tuple(_built(parts, name, each) for each in value)
    if not isinstance(value, dict):
        return value
    if name not in parts:
        return value
    return _named(parts[name])(**{key: _built({}, key, each) for key, each in value.items()})


def _named(dotted: str) -> Any:
    """Import what a dotted path names."""
    module, _, attribute = dotted.partition(":")
    return getattr(import_module(module), attribute)


def _plain(value: Any) -> Any:
    """Return data that JSON can hold; a number that is not finite becomes null."""
    if isinstance(value, Mapping):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    return value
