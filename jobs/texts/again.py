"""Sentences that an entry keeps in English, told again so that they can be translated.

The entry of a log holds what `cycle` said when it was read in. The patterns are those of the
source, so that an entry of any age is read alike; a sentence that no pattern fits stays English.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from string import Formatter
from typing import Any, Final

from django.conf import settings

from jobs.texts.from_python import python_texts
from packs.words import told

__all__ = ["told_again"]

SOURCES: Final = ("packs/physics/cycle*.py", "packs/logs/*.py", "packs/words.py")
"""Where what an entry keeps was said."""
FEWEST_LETTERS: Final = 2
"""A pattern with fewer of its own would fit anything."""
_NUMBER: Final = r"[+-]?[0-9.]+(?:e[+-]?[0-9]+)?"
_LETTER: Final = re.compile(r"[^\W\d_]")


@dataclass(frozen=True, slots=True)
class _Pattern:
    text: str
    figures: frozenset[str]
    fits: re.Pattern[str]
    own: int


def _pattern(text: str) -> _Pattern | None:
    figures, own, seen, parts = set[str](), "", set[str](), list[str]()
    for literal, name, spec, conversion in Formatter().parse(text):
        own += literal
        parts.append(re.escape(literal))
        if name is None:
            continue
        if conversion:
            return None
        if spec:
            figures.add(name)
        wanted = _NUMBER if spec else ".+?"
        parts.append(f"(?P={name})" if name in seen else f"(?P<{name}>{wanted})")
        seen.add(name)
    if not seen or len(_LETTER.findall(own)) < FEWEST_LETTERS:
        return None
    return _Pattern(text, frozenset(figures), re.compile("".join(parts)), len(own))


@cache
def _known() -> tuple[frozenset[str], tuple[_Pattern, ...]]:
    """Give the sentences without fields, and the patterns, those with most words first."""
    texts = set(_texts(Path(settings.BASE_DIR)))
    patterns = [pattern for text in sorted(texts) if (pattern := _pattern(text))]
    patterns.sort(key=lambda pattern: -pattern.own)
    return frozenset(texts), tuple(patterns)


def _texts(root: Path) -> Iterator[str]:
    for source in SOURCES:
        for path in sorted(root.glob(source)):
            place = path.relative_to(root).as_posix()
            for text, _ in python_texts(place, path.read_text(encoding="utf-8")):
                yield text


def told_again(sentence: str) -> str:
    """Find the pattern of a sentence and what was put into it.

    Parameters
    ----------
    sentence : str
        As an entry keeps it, in English.

    Returns
    -------
    str
        The same words as `packs.words.told` gave them; as they were where no pattern fits.
    """
    texts, patterns = _known()
    if sentence in texts:
        return str(sentence)
    for pattern in patterns:
        found = pattern.fits.fullmatch(sentence)
        if found is None:
            continue
        fields: dict[str, Any] = {
            name: float(value) if name in pattern.figures else told_again(value)
            for name, value in found.groupdict().items()
        }
        again = told(pattern.text, **fields)
        if again == sentence:
            return again
    return str(sentence)
