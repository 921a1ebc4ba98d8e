"""What each calculation accepts as JSON: one strict model a calculation, and its faults in words.

Here: which model belongs to which calculation, and what is wrong with data. Field names, bounds and
defaults stand in fields.py (shared), electrical.py, isolation.py, localise.py, enclosure.py,
cells.py and cycle.py. Not here: any physics, and what contradicts itself across fields; the
calculations refuse that themselves.
"""

from functools import cache
from importlib import import_module
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from packs.inputs.fields import LONGEST_NAME, TAGS, Strict
from packs.inputs.units import unit_hint

MODELS = {
    "decay": "electrical:DecayInput",
    "absence": "electrical:AbsenceInput",
    "voltmeter": "isolation:VoltmeterInput",
    "tester": "isolation:InsulationTesterInput",
    "localise": "localise:LocaliseInput",
    "match": "cells:MatchInput",
    "charge": "cells:ChargeInput",
    "leak": "enclosure:LeakInput",
    "joint": "electrical:JointInput",
    "cycle": "cycle:CycleInput",
    "vin": "enclosure:VinInput",
}
"""Where each model is; imported on use, because making models takes longer than most sums."""
BOUND_PASSED = frozenset(("greater_than_equal", "less_than_equal", "less_than"))

# What is wrong, by the library's kind of fault; {x} is filled from what the library knows.
WORDS = {
    "missing": "is missing",
    "extra_forbidden": "is not a field of this calculation: remove it or correct its name",
    "float_type": "must be a number, without quotes",
    "int_type": "must be a whole number, without quotes",
    "int_from_float": "must be a whole number",
    "finite_number": "must be a finite number",
    "string_type": "must be text, in quotes",
    "string_unicode": "must be readable text",
    "string_too_short": "must not be empty",
    "string_too_long": "must not be longer than {max_length} characters",
    "bool_type": "must be true or false, without quotes",
    "list_type": "must be a list, in square brackets",
    "dict_type": "must be an object, in curly brackets",
    "model_type": "must be an object, in curly brackets",
    "too_short": "needs at least {min_length} entries, has {actual_length}",
    "too_long": "takes at most {max_length} entries",
    "greater_than_equal": "must be at least {ge:g}",
    "less_than_equal": "must be at most {le:g}",
    "less_than": "must be below {lt:g}",
    "literal_error": "must be {expected}",
}


def checked(model: str, data: object) -> tuple[dict[str, Any], list[tuple[str, str]]]:
    """Check data against a model.

    Parameters
    ----------
    model : str
        A name in `MODELS`.
    data : object
        What JSON gave.

    Returns
    -------
    found : tuple[dict[str, Any], list[tuple[str, str]]]
        Every field, and each fault as the user's own path and a sentence.

    Examples
    --------
    >>> checked("vin", {"vin": 17})
    ({}, [('vin', 'must be text, in quotes')])
    """
    try:
        accepted = _model(model).model_validate(data)
    except ValidationError as error:
        faults = error.errors(include_url=False)
        return {}, [(_path(fault), _words(fault) + _hint(model, fault)) for fault in faults]
    return accepted.model_dump(), []


def schema(model: str) -> dict[str, Any]:
    """Return the JSON Schema of a model.

    Parameters
    ----------
    model : str
        A name in `MODELS`.

    Returns
    -------
    schema : dict[str, Any]
        Draft 2020-12.

    Examples
    --------
    >>> schema("vin")["required"]
    ['vin']
    """
    return _model(model).model_json_schema()


def _model(name: str) -> type[Strict]:
    """Import a model."""
    module, _, kind = MODELS[name].partition(":")
    found: type[Strict] = getattr(import_module(f"packs.inputs.{module}"), kind)
    return found


def _path(fault: ErrorDetails) -> str:
    """Return the path as the user wrote it, without the names of alternatives."""
    steps = [str(step)[:LONGEST_NAME] for step in fault["loc"] if step not in TAGS]
    return ".".join(step for step in steps if step != "[key]")


def _words(fault: ErrorDetails) -> str:
    """Say what is wrong and how to mend it."""
    pattern = WORDS.get(fault["type"])
    return pattern.format(**fault.get("ctx", {})) if pattern else fault["msg"]


@cache
def _cached_schema(model: str) -> dict[str, Any]:
    """Keep a schema: one input may hold thousands of numbers that are out of bounds."""
    return schema(model)


def _hint(model: str, fault: ErrorDetails) -> str:
    """Say in which unit a number out of bounds may have been given."""
    if fault["type"] not in BOUND_PASSED:
        return ""
    return unit_hint(
        _cached_schema(model), [s for s in fault["loc"] if s not in TAGS], fault["input"]
    )
