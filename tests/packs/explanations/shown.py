"""Reads an explanation back: figures from the text a person would read."""

import re
from collections.abc import Iterable, Sequence

from packs.explanation import PREFIXES, WIDTH, Line, text_of

FACTORS = {shown: factor for steps in PREFIXES.values() for factor, shown in steps}
DIGITS = 2e-3
"""Four digits are printed: half a unit of the last is at most this share, with room for sums."""


def line_of(lines: Iterable[Line], beginning: str) -> Line:
    """Return the one step whose words begin so."""
    (found,) = [line for line in lines if line.what.startswith(beginning)]
    return found


def last_of(lines: Iterable[Line], beginning: str) -> Line:
    """Return the last step whose words begin so."""
    return [line for line in lines if line.what.startswith(beginning)][-1]


def numbers(text: str) -> list[float]:
    """Return every figure in a text in its plain unit."""
    found = re.findall(r"(?<![\w.])(-?\d+(?:\.\d+)?(?:e-?\d+)?) ?([A-Za-z]*)", text)
    return [float(number) * FACTORS.get(unit, 1.0) for number, unit in found]


def number(text: str) -> float:
    """Return the first figure in a text in its plain unit."""
    return numbers(text)[0]


def near(one: float, other: float, share: float = DIGITS) -> bool:
    """Tell whether two figures are the same as far as they are printed."""
    return abs(one - other) <= share * max(abs(one), abs(other)) + 1e-12


def assert_printable(lines: Sequence[Line]) -> None:
    """See that the text fits a sheet, in characters any printer has."""
    text = text_of(lines)
    assert max(map(len, text.splitlines())) <= WIDTH
    assert "nan" not in text.split()
    assert "inf" not in text.split()
