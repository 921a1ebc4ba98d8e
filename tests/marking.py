"""A language that marks: every letter that a translation could change becomes one sign.

Only texts that stand whole in the source are marked, as only those can be in a catalogue; figures
and names put into them are left, and so is whatever was put together before it was translated.
"""

import ast
import dataclasses
import re
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any, Final

import pytest
from django.utils import translation

from packs.picture import Label, Picture

__all__ = ["MARK", "SYMBOL", "marking", "texts_in", "words_in"]

MARK: Final = "ø"
ROOT: Final = Path(__file__).parents[1]
FIELD: Final = re.compile(r"(\{[^}]*\}|%\([a-z_]+\)s)")
WORD: Final = re.compile(r"[^\W\d_]{2,}")
SYMBOL: Final = re.compile(
    r"\b[A-Za-z]+(?:_[A-Za-z0-9]+)+\b|\b(?:sqrt|ln|exp|min|max|tau)\b|\bd[A-Za-z]/d[A-Za-z]\b"
)
"""What a formula is written with: a letter with its index, a function."""


@cache
def _sentences() -> frozenset[str]:
    """Give every text that stands whole in the source."""
    found = set[str]()
    for part in ("jobs", "packs", "workshop"):
        for file in (ROOT / part).rglob("*.py"):
            for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Constant) and isinstance(node.value, str):
                    found.add(node.value)
    return frozenset(found)


def _marked(text: str) -> str:
    if text not in _sentences():
        return text
    parts = FIELD.split(text)
    return "".join(p if FIELD.fullmatch(p) else re.sub(r"[^\W\d_]", MARK, p) for p in parts)


@contextmanager
def marking() -> Iterator[None]:
    """Let every translation mark what it was given."""
    translation.gettext("")
    translation.ngettext("", "", 1)
    translation.pgettext("", "")
    chosen: Any = vars(translation)["_trans"]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(chosen, "gettext", _marked)
        patch.setattr(chosen, "ngettext", lambda one, many, n: _marked(one if n == 1 else many))
        patch.setattr(chosen, "pgettext", lambda _context, text: _marked(text))
        yield


def texts_in(value: Any) -> Iterator[str]:
    """Give every text of a document as it would be drawn."""
    match value:
        case str():
            yield value
        case Picture():
            yield value.title
            labels = (shape for shape in value.shapes if isinstance(shape, Label))
            yield from (label.text for label in labels)
        case tuple() | list():
            for part in value:
                yield from texts_in(part)
        case _ if dataclasses.is_dataclass(value):
            for each in dataclasses.fields(value):
                if each.name != "verdict":
                    yield from texts_in(getattr(value, each.name))
        case _:
            return


def words_in(value: Any) -> Iterator[str]:
    """Give every word of data: of entries, definitions, names."""
    match value:
        case str():
            yield from WORD.findall(value)
        case dict():
            yield from words_in(tuple(value.values()))
        case tuple() | list():
            for part in value:
                yield from words_in(part)
        case _ if dataclasses.is_dataclass(value):
            yield from words_in([getattr(value, each.name) for each in dataclasses.fields(value)])
        case _ if hasattr(value, "model_dump"):
            yield from words_in(value.model_dump(mode="json"))
