"""What calculations say is English to the byte as ever, and can be translated to the last word."""

import ast
import copy
import json
import re
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any, Final

import pytest
import rfc8785
from django.utils.translation import gettext

from jobs.texts import collected
from packs.calculation_list import find
from packs.calculations import Computed, answer, computed
from packs.definition import CURVES
from packs.explanation import Line
from packs.physics.instrument import Message
from packs.physics.ocv import curve_named
from packs.words import Told, counted, in_a_row, joined, told, translated
from tests.marking import MARK, SYMBOL, marking, words_in
from tests.packs.calculation_examples import DATA
from tests.packs.reference_cases import reference_cases

CASES: Final = {label: (name, given) for label, name, given in reference_cases()}
SAID: Final[dict[str, list[str]]] = json.loads((DATA / "said.json").read_text("utf-8"))["cases"]
"""What each case said in English before it could be translated."""
WORD: Final = re.compile(rf"[^\W\d_{MARK}]{{2,}}")
UNITS = "SOH min ml Ah Wh mV kV uV nV Pa mbar ohm kohm Mohm Gohm mohm uohm mA uA nA nS uS mS mW kW"
NOTATION: Final = frozenset(UNITS.split())
SOURCES: Final = tuple(curve_named(each).source for found in CURVES.values() for each in found)
"""Where a curve comes from, and what it is called, is quoted as it is."""
FIELD: Final = re.compile(r"\{[^{}]*\}")
PATH: Final = re.compile(r"\b[a-z]+(?:[_.][a-z0-9_]+)+\b")
"""A field of the interface, which is named alike in every language."""


@cache
def found(label: str) -> Computed:
    name, given = CASES[label]
    return computed(find(name), given)


def explained(case: Computed) -> tuple[Line, ...]:
    """Show a case by hand."""
    module, _, function = case.route.explanation.partition(":")
    lines: tuple[Line, ...] = getattr(import_module(module), function)(case.given, case.result)
    return lines


def parts_of(line: Line) -> tuple[str, ...]:
    return (line.what, line.formula, line.numbers, line.value)


def sentences(value: Any) -> Iterator[str]:
    """Give what a result says in words."""
    if isinstance(value, dict):
        for name, part in value.items():
            if name in {"text", "why"} and isinstance(part, str):
                yield part
            else:
                yield from sentences(part)
    elif isinstance(value, list | tuple):
        for part in value:
            yield from sentences(part)
    elif hasattr(value, "__slots__") and not isinstance(value, str):
        yield from sentences({name: getattr(value, name) for name in value.__slots__})


def left(text: str, label: str) -> list[str]:
    """Give the words of a marked text that nobody marked and the case did not bring."""
    known = {*words_in(CASES[label][1]), *NOTATION}
    for source in SOURCES:
        text = text.replace(source, "")
    return [word for word in WORD.findall(SYMBOL.sub("", PATH.sub("", text))) if word not in known]


@pytest.mark.parametrize("label", CASES)
def test_the_english_of_a_case_is_what_it_was(label: str) -> None:
    name, given = CASES[label]
    result = json.loads(answer(name, json.dumps(given).encode()).text)
    assert list(sentences(result)) == SAID[label]


@pytest.mark.parametrize("label", CASES)
def test_every_word_a_case_says_can_be_translated(label: str) -> None:
    result = found(label).result
    with marking():
        said = [translated(text, gettext) for text in sentences(result)]
    assert len(said) == len(SAID[label])
    assert [(word, text) for text in said for word in left(text, label)] == []


@pytest.mark.parametrize("label", CASES)
def test_every_word_of_a_calculation_by_hand_can_be_translated(label: str) -> None:
    lines = explained(found(label))
    with marking():
        said = [translated(each, gettext) for line in lines for each in parts_of(line)]
    assert [(word, text) for text in said for word in left(text, label)] == []


@cache
def catalogue() -> frozenset[str]:
    return frozenset(each.singular for each in collected())


def test_whatever_the_cases_say_stands_in_the_catalogue() -> None:
    asked = dict[str, str]()

    def ask(text: str) -> str:
        asked.setdefault(str(text), label)
        return str(text)

    for label in CASES:
        case = found(label)
        for line in explained(case):
            for each in parts_of(line):
                assert translated(each, ask) == each
        for text in sentences(case.result):
            assert translated(text, ask) == text
    missing = {text for text in asked if left(FIELD.sub("", text), asked[text])} - catalogue()
    assert missing == set()


CALLED: Final = frozenset({"module", "name", "open_after", "part", "replaced", "serial"})
"""Where a case holds what somebody called a thing."""


def said_by(case: Computed) -> list[str]:
    return [*sentences(case.result), *(each for line in explained(case) for each in parts_of(line))]


def names_in(given: Any, field: str = "") -> Iterator[str]:
    match given:
        case dict():
            for key, value in given.items():
                yield from names_in(value, key)
        case list():
            for value in given:
                yield from names_in(value, field)
        case str() if field in CALLED:
            yield given


def renamed(given: Any, names: dict[str, str], field: str = "") -> Any:
    match given:
        case dict():
            return {key: renamed(value, names, key) for key, value in given.items()}
        case list():
            return [renamed(value, names, field) for value in given]
        case str() if field in CALLED:
            return names[given]
    return given


@cache
def words_alone() -> list[str]:
    """Give texts of the catalogue that are one word and would be marked."""
    alone = (text for text in catalogue() if text.isalpha() and len(text) > SHORTEST)
    with marking():
        return sorted(text for text in alone if gettext(text) != text)


BY_HAND: Final = Path(__file__).parents[2] / "packs" / "explanations"
SENTENCE: Final = re.compile(r"[a-z]{3,} [a-z]{2,}|[a-z]{3,} [0-9]+ %")
NAMING: Final = frozenset({"cycle", "localise", "match"})
NAMED: Final = [label for label, (name, _) in CASES.items() if name in NAMING]
SHORTEST: Final = 4
"""So short a word may be part of another by chance."""


@pytest.mark.parametrize("label", NAMED)
def test_a_thing_called_like_a_word_keeps_its_name_in_every_language(label: str) -> None:
    """Somebody may call a module or a spare by a word that has a translation."""
    name, given = CASES[label]
    first = " ".join(said_by(found(label)))
    free = [text for text in words_alone() if text not in first]
    names = dict(zip(dict.fromkeys(names_in(given)), free, strict=False))
    case = computed(find(name), renamed(given, names))
    plain = said_by(case)
    with marking():
        said = [translated(text, gettext) for text in plain]
    assert any(each in text for text in plain for each in names.values())
    for text, marked in zip(plain, said, strict=True):
        for each in names.values():
            assert marked.count(each) == text.count(each), (each, text)


def test_whatever_a_calculation_by_hand_may_say_stands_in_the_catalogue() -> None:
    """The cases do not reach every sentence."""
    missing = {
        f"{path.name}: {text}"
        for path in sorted(BY_HAND.glob("*.py"))
        for text in constants(ast.parse(path.read_text("utf-8")))
        if SENTENCE.search(text) and text not in catalogue()
    }
    assert missing == set()


def constants(tree: ast.Module) -> Iterator[str]:
    """Give every text that is no docstring and no piece of a longer one."""
    pieces = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        pieces |= {id(each) for each in node.values} if isinstance(node, ast.JoinedStr) else set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield from () if id(node) in pieces else (node.value,)


def test_told_words_are_the_english_text_wherever_text_is_wanted() -> None:
    words = told("Spare {serial}: {days:g} days", serial="V-12", days=2.0)
    assert (words, str(words), hash(words)) == ("Spare V-12: 2 days",) * 2 + (hash(str(words)),)
    assert Message("code", words) == Message("code", "Spare V-12: 2 days")
    assert json.dumps([words]) == '["Spare V-12: 2 days"]'
    assert rfc8785.dumps({"text": words}) == b'{"text":"Spare V-12: 2 days"}'
    again = copy.deepcopy(words)
    assert isinstance(again, Told)
    assert (again.text, again.fields) == ("Spare {serial}: {days:g} days", words.fields)  # type: ignore[attr-defined]


def test_joined_words_are_translated_part_by_part() -> None:
    german = {
        "{first} and {second}": "{first} und {second}",
        "{number} row": "{number} Zeile",
        "{number} rows": "{number} Zeilen",
        "Wait.": "Warten.",
    }
    parts = [counted(count, "{number} row", "{number} rows") for count in (1, 2, 3)]
    assert joined(parts) == "1 row and 2 rows and 3 rows"

    def in_german(text: str) -> str:
        return german.get(text, text)

    assert translated(joined(parts), in_german) == "1 Zeile und 2 Zeilen und 3 Zeilen"
    assert translated(in_a_row(["Wait.", "Wait."]), in_german) == "Warten. Warten."
