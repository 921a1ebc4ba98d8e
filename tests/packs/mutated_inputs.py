"""Wrong inputs by the thousand: an example, broken in one to four ways, and what has to hold of it.

Deterministic: a number gives the same input every time.
"""

import copy
import dataclasses
import json
import math
import random
import time
from collections.abc import Callable
from typing import Any

from packs.calculations import answer, computed, explain, find
from packs.explanation import WIDTH
from packs.strict_json import InputRefused, read
from tests.packs.calculation_examples import EXAMPLES, calculation_of

CASES = {
    "decay": 1300,
    "absence": 1200,
    "isolation": 1400,
    "tester": 1200,
    "leak": 1300,
    "joint": 1200,
    "vin": 600,
    "match": 700,
    "charge": 500,
    "discharge": 500,
    "localise": 600,
    "cycle": 600,
}
"""How many of each: 11 100 in all."""
LONGEST_S = 5.0
"""Of the processor: a typing mistake must never keep anybody waiting longer."""
LONGEST_STEP = 60
RAW, TWICE = "@@raw@@", "@@twice@@"

NUMBERS: list[object] = [
    *(0, 0.0, -0.0, 1, -1, 0.5, 1e3, -1e3, 1e6, 1e-3, 1e-6, 1e-9, 1e9, 1e12, 1e13),
    *(5e-324, 2.3e-308, 1e-300, 1e300, 1.7e308, -1.7e308, 2**63, -(2**64), 10**30, 10**400),
]
OTHERS: list[object] = [
    *(True, False, None, "", " ", "12", "3,52", "NaN", "\x00", "ünï·电", "\ud800", "x" * 5000),
    *([], {}, [1], [[]], [None], {"": 1}, {"above_ohm": 1e6}, {"a": {"b": 1}}, [1, "a", None]),
    *(f"{RAW}NaN", f"{RAW}Infinity", f"{RAW}-Infinity", f"{RAW}1e999", f"{RAW}-1e999"),
    *(f"{RAW}{'[' * 20}{']' * 20}", f"{RAW}{'[' * 3000}", f"{RAW}{'9' * 5000}", f"{RAW}01"),
]

Step = tuple[Any, Any]
"""A dictionary or list, and a key or index in it."""


def mutated(example: str, number: int) -> bytes:
    """Return an example broken in one to four ways.

    Parameters
    ----------
    example : str
        Its name.
    number : int
        Which of its mutations.

    Returns
    -------
    raw : bytes
        JSON, or nearly so.
    """
    chance = random.Random(f"{example} {number}")  # noqa: S311
    data = copy.deepcopy(EXAMPLES[example])
    # Half are bent rather than broken, so that many of them are computed.
    ways = WAYS if chance.random() < 0.5 else GENTLE_WAYS
    for _ in range(chance.choice([1, 1, 1, 2, 2, 3, 4])):
        steps = _steps(data)
        if not steps:
            break
        place, key = chance.choice(steps)
        chance.choice(ways)(chance, data, place, key)
    text = json.dumps(data, ensure_ascii=chance.random() < 0.5)
    while f'"{RAW}' in text:
        before, _, rest = text.partition(f'"{RAW}')
        raw, _, after = rest.partition('"')
        text = before + raw + after
    text = text.replace(f'"{TWICE}', '"')
    return text.encode("utf-8", "surrogatepass")


def _steps(data: Any) -> list[Step]:
    """Return every place of a value inside data."""
    found: list[Step] = []
    inner = data.items() if isinstance(data, dict) else enumerate(data)
    for key, each in inner:
        found.append((data, key))
        if isinstance(each, dict | list):
            found += _steps(each)
    return found


def _number(chance: random.Random, _data: Any, place: Any, key: Any) -> None:
    place[key] = chance.choice(NUMBERS)


def _other(chance: random.Random, _data: Any, place: Any, key: Any) -> None:
    place[key] = copy.deepcopy(chance.choice(OTHERS))


def _scaled(chance: random.Random, _data: Any, place: Any, key: Any) -> None:
    value = place[key]
    if isinstance(value, int | float) and abs(value) < 1e300:
        factors = [1e3, 1e-3, 1e6, 1e-6, -1.0, 10.0, 0.1, 1.0 + 1e-9, 2.0, 0.5]
        place[key] = value * chance.choice(factors)
    else:
        _number(chance, _data, place, key)


def _bent(chance: random.Random, _data: Any, place: Any, key: Any) -> None:
    value = place[key]
    if isinstance(value, bool) or not isinstance(value, int | float):
        return
    if isinstance(value, int) and chance.random() < 0.8:
        place[key] = max(1, value + chance.choice([-2, -1, 1, 2, 10]))
    else:
        powers = [chance.uniform(-0.1, 0.1), chance.uniform(-1.0, 1.0), chance.uniform(-4.0, 4.0)]
        place[key] = chance.choice([1.0, 1.0, 1.0, -1.0]) * value * 10 ** chance.choice(powers)


def _shuffled(chance: random.Random, data: Any, place: Any, key: Any) -> None:
    if isinstance(place[key], list):
        chance.shuffle(place[key])
    else:
        _bent(chance, data, place, key)


def _neighbour(chance: random.Random, _data: Any, place: Any, key: Any) -> None:
    """Put another value of the same kind: a typing mistake in the wrong row."""
    alike = [each for each in place if isinstance(each, type(place[key]))]
    if isinstance(place, dict):
        alike = [each for each in place.values() if isinstance(each, type(place[key]))]
    if alike:
        place[key] = copy.deepcopy(chance.choice(alike))


def _removed(_chance: random.Random, _data: Any, place: Any, key: Any) -> None:
    del place[key]


def _added(chance: random.Random, _data: Any, place: Any, _key: Any) -> None:
    if isinstance(place, dict):
        place[chance.choice(["make", "Meter", "v ", "", "a.b", "ü", "x" * 80])] = 1
    else:
        place.append(chance.choice([*NUMBERS, *OTHERS]))


def _twice(chance: random.Random, _data: Any, place: Any, key: Any) -> None:
    if isinstance(place, dict):
        place[f"{TWICE}{key}"] = chance.choice([1, place[key]])
    else:
        place.insert(key, copy.deepcopy(place[key]))


def _long(chance: random.Random, _data: Any, place: Any, key: Any) -> None:
    if isinstance(place[key], list):
        place[key] = copy.deepcopy(place[key] * chance.choice([0, 2, 50]))
    else:
        place[key] = [place[key]] * chance.choice([1, 2, 300])


def _shortened(chance: random.Random, _data: Any, place: Any, key: Any) -> None:
    value = place[key]
    if isinstance(value, list) and value:
        place[key] = [value[0]] if chance.random() < 0.5 else value[::-1]
    else:
        _scaled(chance, _data, place, key)


def _exchanged(chance: random.Random, data: Any, place: Any, key: Any) -> None:
    other, other_key = chance.choice(_steps(data))
    place[key], other[other_key] = copy.deepcopy(other[other_key]), copy.deepcopy(place[key])


WAYS: list[Callable[[random.Random, Any, Any, Any], None]] = [
    *(_number, _number, _scaled, _scaled, _scaled, _other, _removed, _added),
    *(_twice, _long, _shortened, _exchanged),
]
GENTLE_WAYS: list[Callable[[random.Random, Any, Any, Any], None]] = [
    _bent,
    _bent,
    _bent,
    _bent,
    _shuffled,
    _neighbour,
    _removed,
]


def fault_of(example: str, number: int) -> str:
    """Return what does not hold of the answer to a broken example.

    Parameters
    ----------
    example : str
        Its name.
    number : int
        Which of its mutations.

    Returns
    -------
    fault : str
        Empty when all holds.
    """
    raw = mutated(example, number)
    started_s = time.process_time()
    found = answer(calculation_of(example), raw)
    took_s = time.process_time() - started_s
    if took_s > LONGEST_S:
        return f"took {took_s:.1f} s"
    try:
        said = json.loads(found.text, parse_constant=_refused)
    except ValueError as error:
        return f"no JSON: {error}"
    if "errors" in said:
        return "valid with errors" if found.valid else _fault_of_errors(said["errors"], raw)
    found = explain(calculation_of(example), raw)
    if (
        "Verdict: " not in found.text.splitlines()[-1]
        or max(map(len, found.text.splitlines())) > WIDTH
    ):
        return f"explanation {found.text[-300:]}"
    return _fault_of_result(computed(find(calculation_of(example)), read(raw)).result)


def _refused(constant: str) -> None:
    """Refuse what JSON does not know."""
    raise ValueError(constant)


def _fault_of_errors(errors: list[dict[str, str]], raw: bytes) -> str:
    """See that each error has a place in the input, or names a field that is missing from it."""
    try:
        data = json.loads(raw)
    except (ValueError, RecursionError):
        data = None
    if not errors:
        return "no error named"
    for error in errors:
        if not error["message"].strip() or len(error["message"]) > 1000:
            return f"message {error['message']!r}"
        if error["path"] and data is not None and not _is_place(data, error["path"]):
            return f"no such path: {error['path']!r} ({error['message']})"
    return ""


def _is_place(data: Any, path: str) -> bool:
    """Tell whether a path leads to a value, or to where a field is missing."""
    if not path:
        return True
    if isinstance(data, list):
        step, _, rest = path.partition(".")
        return step.isdigit() and int(step) < len(data) and _is_place(data[int(step)], rest)
    if not isinstance(data, dict):
        return False
    for key, value in data.items():
        shown = key[:LONGEST_STEP]
        if path == shown or (
            path.startswith(f"{shown}.") and _is_place(value, path[len(shown) + 1 :])
        ):
            return True
    return path.isidentifier()


def _fault_of_result(result: Any) -> str:
    """See that every figure is finite and inside its own interval."""
    for where, figure in _figures(dataclasses.asdict(result), ""):
        if not math.isfinite(figure):
            return f"{where} is {figure}"
    plain: dict[str, Any] = dataclasses.asdict(result)
    for name, low in plain.items():
        if not name.endswith("_low") or low is None:
            continue
        value, high = plain.get(name[:-4]), plain.get(f"{name[:-4]}_high")
        slack = 1e-9 * max(abs(low), abs(value or 0.0)) + 1e-300
        if value is not None and value < low - slack:
            return f"{name} {low} is above {value}"
        if high is not None and value is not None and value > high + slack:
            return f"{name[:-4]} {value} is above its high {high}"
    return ""


def _figures(value: Any, where: str) -> list[tuple[str, float]]:
    """Return every number in a result with its place."""
    if isinstance(value, dict):
        return [each for key, inner in value.items() for each in _figures(inner, f"{where}.{key}")]
    if isinstance(value, list | tuple):
        return [
            each
            for index, inner in enumerate(value)
            for each in _figures(inner, f"{where}.{index}")
        ]
    return [(where, value)] if isinstance(value, float) else []


def faults_of(example: str, numbers: range) -> list[str]:
    """Return what does not hold of many broken examples.

    Parameters
    ----------
    example : str
        Its name.
    numbers : range
        Which of its mutations.

    Returns
    -------
    faults : list[str]
        Each with the input that shows it.
    """
    found = []
    for number in numbers:
        try:
            fault = fault_of(example, number)
        except InputRefused as refused:
            fault = f"refused only once: {refused}"
        except Exception as error:  # noqa: BLE001  (whatever it is, it is to be shown with its input)
            fault = f"raised {error!r}"
        if fault:
            found.append(f"{example} {number}: {fault}: {mutated(example, number)[:400]!r}")
    return found
