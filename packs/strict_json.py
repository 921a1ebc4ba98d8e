"""JSON as the calculations take it: UTF-8, every name once, finite numbers, not deep.

Here: bytes to plain data, and the refusal with every fault's path. Not here: which fields a
calculation has (inputs.py).
"""

import json
import math
from typing import Any

LARGEST_INPUT_BYTES = 4_000_000
DEEPEST = 12
LONGEST_NAME = 60
LARGEST_NUMBER = 1e300

Problem = tuple[str, str]
"""A path as the user wrote it, and a sentence."""


class InputRefused(ValueError):
    """Raised when input cannot be computed.

    Parameters
    ----------
    problems : list[Problem]
        Every fault found.
    """

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__("; ".join(f"{path}: {message}" for path, message in problems))
        self.problems = problems


class _Twice(dict[str, Any]):
    """An object in which one name occurred more than once."""

    name = ""


def read(raw: bytes) -> object:
    """Return what bytes of JSON say, if they say it once and in finite numbers.

    Parameters
    ----------
    raw : bytes
        JSON in UTF-8, with or without a byte order mark.

    Returns
    -------
    data : object
        Dictionaries, lists, text and numbers.

    Raises
    ------
    InputRefused
        When it is empty, too long, not UTF-8, not JSON, too deep, or says a name twice.

    Examples
    --------
    >>> read(b'{"vin": "AB12-004521"}')
    {'vin': 'AB12-004521'}
    """
    if len(raw) > LARGEST_INPUT_BYTES:
        raise InputRefused([("", f"is longer than {LARGEST_INPUT_BYTES} bytes")])
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        message = f"is not UTF-8 at byte {error.start}: save it as UTF-8"
        raise InputRefused([("", message)]) from error
    if not text.strip():
        raise InputRefused([("", "is empty: give one JSON object")])
    try:
        data = json.loads(text, object_pairs_hook=_object)
    except json.JSONDecodeError as error:
        message = f"is not JSON: {error.msg} in line {error.lineno}, column {error.colno}"
        raise InputRefused([("", message)]) from error
    except (ValueError, RecursionError) as error:
        raise InputRefused([("", "is not JSON that can be read: too long or too deep")]) from error
    faults = _faults(data)
    if faults:
        raise InputRefused(faults)
    return data


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Build an object, remembering a name that occurs twice."""
    found = dict(pairs)
    if len(found) == len(pairs):
        return found
    twice = _Twice(found)
    seen: set[str] = set()
    for name, _ in pairs:
        if name in seen:
            twice.name = name
            break
        seen.add(name)
    return twice


def _faults(data: object) -> list[Problem]:
    """Return names said twice, numbers that are not finite, and nesting that is too deep."""
    waiting: list[tuple[tuple[str, ...], object]] = [((), data)]
    faults: list[Problem] = []
    while waiting:
        path, value = waiting.pop()
        if len(path) > DEEPEST:
            return [(".".join(path[:3]), "is nested too deeply")]
        faults.extend(_fault_of(path, value))
        if isinstance(value, dict):
            waiting.extend(((*path, key[:LONGEST_NAME]), each) for key, each in value.items())
        elif isinstance(value, list):
            waiting.extend(((*path, str(index)), each) for index, each in enumerate(value))
    return faults


def _fault_of(path: tuple[str, ...], value: object) -> list[Problem]:
    """Return what is wrong with one value whatever its meaning."""
    if isinstance(value, _Twice):
        return [(".".join((*path, value.name[:LONGEST_NAME])), "is given twice: keep one")]
    if isinstance(value, float) and not math.isfinite(value):
        return [(".".join(path), "must be a finite number")]
    if isinstance(value, int) and abs(value) > LARGEST_NUMBER:
        return [(".".join(path), "is too large a number")]
    return []
