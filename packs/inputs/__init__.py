"""What each calculation accepts as JSON: one strict model a calculation, and its faults in words.

Here: which model belongs to which calculation, and what is wrong with data. Field names, bounds and
defaults stand in fields.py (shared), electrical.py, enclosure.py and cells.py. Not here: any
physics, and what contradicts itself across fields; the calculations refuse that themselves.
"""

from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from packs.inputs.cells import ChargeInput, CycleInput, MatchInput
from packs.inputs.electrical import (
    AbsenceInput,
    DecayInput,
    InsulationTesterInput,
    JointInput,
    LocaliseInput,
    VoltmeterInput,
)
from packs.inputs.enclosure import LeakInput, VinInput
from packs.inputs.fields import LONGEST_NAME, TAGS, Strict

MODELS: dict[str, type[Strict]] = {
    "decay": DecayInput,
    "absence": AbsenceInput,
    "voltmeter": VoltmeterInput,
    "tester": InsulationTesterInput,
    "localise": LocaliseInput,
    "match": MatchInput,
    "charge": ChargeInput,
    "leak": LeakInput,
    "joint": JointInput,
    "cycle": CycleInput,
    "vin": VinInput,
}

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
        accepted = MODELS[model].model_validate(data)
    except ValidationError as error:
        return {}, [(_path(fault), _words(fault)) for fault in error.errors(include_url=False)]
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
    return MODELS[model].model_json_schema()


def _path(fault: ErrorDetails) -> str:
    """Return the path as the user wrote it, without the names of alternatives."""
    steps = [str(step)[:LONGEST_NAME] for step in fault["loc"] if step not in TAGS]
    return ".".join(step for step in steps if step != "[key]")


def _words(fault: ErrorDetails) -> str:
    """Say what is wrong and how to mend it."""
    pattern = WORDS.get(fault["type"])
    return pattern.format(**fault.get("ctx", {})) if pattern else fault["msg"]
