"""The JSON door to the calculations: a name and bytes in, one line of JSON or an explanation out.

Here: the way from JSON to a call and back; what is called is imported on use. Not here: the list
of calculations (calculation_list.py), reading bytes (strict_json.py), fields and bounds (inputs/),
formulas (physics/), the steps of an explanation (explanations/), words and files (calc_door.py).
"""

import dataclasses
import json
import math
import textwrap
from collections.abc import Mapping
from importlib import import_module
from typing import Any

from packs.calculation_list import CALCULATIONS, Calculation, Route, find
from packs.physics.instrument import CalculationRefused
from packs.strict_json import InputRefused, Problem, read

__all__ = [
    "CALCULATIONS",
    "Answer",
    "Computed",
    "answer",
    "compute",
    "computed",
    "errors_text",
    "explain",
    "find",
    "schema_text",
]

EXTREME = "holds figures too extreme to compute with"
WIDTH = 100
ENDINGS = ("advice", "reasons", "warnings")
"""Fields of a result whose sentences an explanation ends with."""


@dataclasses.dataclass(frozen=True, slots=True)
class Answer:
    """What is printed for one input, and whether the input could be computed."""

    text: str
    valid: bool


@dataclasses.dataclass(frozen=True, slots=True)
class Computed:
    """What the calculation was given and what it gave, in its own types."""

    route: Route
    given: Any
    result: Any


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


def explain(name: str, raw: bytes) -> Answer:
    """Show one calculation with the numbers put in, or say what is wrong with the input.

    Parameters
    ----------
    name : str
        Of the calculation.
    raw : bytes
        JSON in UTF-8.

    Returns
    -------
    answer : Answer
        Steps a person can check by hand and the verdict; ``{"errors": [...]}`` if refused.

    Examples
    --------
    >>> explain("vin", b'{"vin": "1J9RP1A36A1644345"}').text.splitlines()[-1]
    'Verdict: valid'
    """
    try:
        calculation = find(name)
        found = computed(calculation, read(raw))
        lines = _named(found.route.explanation)(found.given, found.result)
    except InputRefused as refused:
        return Answer(errors_text(refused.problems), valid=False)
    text = import_module("packs.explanation").text_of(lines)
    return Answer("\n".join([text, "", *_ending(calculation, found.result)]), valid=True)


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
    calculation = find(name)
    schemas = [inputs.schema(route.model) for route in calculation.routes]
    # References to parts count from the root, so that is where the parts have to be.
    parts = {key: part for schema in schemas for key, part in schema.pop("$defs", {}).items()}
    whole = schemas[0] if len(schemas) == 1 else {"oneOf": schemas}
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": calculation.name}
    whole = head | {"description": calculation.summary} | whole | head
    return json.dumps(whole | ({"$defs": parts} if parts else {}), indent=2)


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
    result = computed(calculation, data).result
    return {key: _plain(value) for key, value in dataclasses.asdict(result).items()}


def computed(calculation: Calculation, data: object) -> Computed:
    """Check data and call the calculation.

    Parameters
    ----------
    calculation : Calculation
        Which one.
    data : object
        What JSON gave.

    Returns
    -------
    computed : Computed
        What the calculation was given and what it gave, in its own types.

    Raises
    ------
    InputRefused
        With every fault found.

    Examples
    --------
    >>> computed(find("vin"), {"vin": "1J9RP1A36A1644345"}).result.model_year
    2010
    """
    if not isinstance(data, dict):
        raise InputRefused([("", "must be one JSON object, in curly brackets")])
    route = _route(calculation, data)
    fields, faults = import_module("packs.inputs").checked(route.model, data)
    if faults:
        raise InputRefused(faults)
    try:
        found = _called(route, fields)
    except CalculationRefused as refused:
        raise InputRefused([(refused.path, refused.message)]) from refused
    except ArithmeticError as error:
        raise InputRefused([("", EXTREME)]) from error
    if not _is_finite(dataclasses.asdict(found.result)):
        raise InputRefused([("", EXTREME)])
    return found


def _route(calculation: Calculation, data: Mapping[str, Any]) -> Route:
    """Choose the route by the input's method where there is more than one."""
    if len(calculation.routes) == 1:
        return calculation.routes[0]
    for route in calculation.routes:
        if route.model == data.get("method"):
            return route
    known = " or ".join(f'"{route.model}"' for route in calculation.routes)
    wrong = f"must be {known}" if "method" in data else f"is missing: give {known}"
    raise InputRefused([("method", wrong)])


def _called(route: Route, fields: dict[str, Any]) -> Computed:
    """Build what the function takes from checked fields, and call it."""
    function = _named(route.function)
    built = {name: _built(route.parts, name, value) for name, value in fields.items()}
    if route.case is None:
        return Computed(route, built, function(**built))
    if built.get("method") == route.model:
        del built["method"]
    case = _named(route.case)(**built)
    return Computed(route, case, function(case))


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


def _ending(calculation: Calculation, result: Any) -> list[str]:
    """Say the verdict, and what the result advises and warns of."""
    ending = [
        line
        for name in ENDINGS
        for message in getattr(result, name, ())
        for line in textwrap.wrap(
            f"{name.capitalize().removesuffix('s')}: {message.text}", WIDTH, subsequent_indent="  "
        )
    ]
    return [*ending, f"Verdict: {_verdict(getattr(result, calculation.verdict))}"]


def _verdict(value: Any) -> str:
    """Say how a calculation ended: a word, yes or no, or the first of a ranking."""
    if isinstance(value, bool):
        return "valid" if value else "not valid"
    if isinstance(value, list | tuple):
        first = next(iter(value), None)
        return "none suits" if first is None else str(getattr(first, "serial", first))
    return str(value)


def _is_finite(value: Any) -> bool:
    """Tell whether every number in a result is one."""
    if isinstance(value, Mapping):
        return all(map(_is_finite, value.values()))
    if isinstance(value, list | tuple):
        return all(map(_is_finite, value))
    return not isinstance(value, float) or math.isfinite(value)


def _plain(value: Any) -> Any:
    """Return data that JSON can hold."""
    if isinstance(value, Mapping):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return float(value) if isinstance(value, float) else value
