"""Decimal and thousands separators of a log, told from its numbers.

Here: which sign is which. Not here: reading the numbers (table.py).
"""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

SAMPLE_LINES = 100
LONGEST_VALUE = 40
POINT, COMMA = ".", ","
GROUPED = re.compile(r"[-+]?\d{1,3}(?:([.,' \u00a0\u202f])\d{3})(?:\1\d{3})*(?:([.,])\d*)?")
THREE = re.compile(r"[-+]?[1-9]\d{0,2}[.,]\d{3}")
PLAIN = re.compile(r"[-+]?\d*[.,]?\d+(?:[eE][-+]?\d+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """The signs inside the numbers of a log.

    Parameters
    ----------
    decimal : str
        A point or a comma.
    thousands : str
        What groups thousands; empty where nothing does.
    unsure : bool
        Points and commas both occur, and nothing tells which is which.
    """

    decimal: str = POINT
    thousands: str = ""
    unsure: bool = False


def sampled(lines: Sequence[str]) -> list[str]:
    """Return some lines from the whole length of a log.

    Parameters
    ----------
    lines : Sequence[str]
        All of them.

    Returns
    -------
    some : list[str]
        At most some 200.
    """
    return list(lines[:: max(len(lines) // SAMPLE_LINES, 1)])


def marks_of(values: Iterable[str]) -> Marks:
    """Tell the separators from values.

    Parameters
    ----------
    values : Iterable[str]
        Fields without times and dates.

    Returns
    -------
    marks : Marks
        What the signs mean.

    Notes
    -----
    In a value with both signs the last is the decimal one. A sign that comes twice in a value
    groups thousands. A sign followed by other than three digits is decimal. Where that leaves both
    signs, nothing tells them apart.

    Examples
    --------
    >>> marks_of(["1.234,5", "3,507"])
    Marks(decimal=',', thousands='.', unsure=False)
    >>> marks_of(["3,507", "-0,02"])
    Marks(decimal=',', thousands='', unsure=False)
    >>> marks_of(["3,507", "1.234"]).unsure
    True
    """
    votes: Counter[str] = Counter()
    groups: Counter[str] = Counter()
    open_marks: Counter[str] = Counter()
    for value in values:
        _vote(value.strip(), votes, groups, open_marks)
    decimal = COMMA if votes[COMMA] > votes[POINT] else POINT
    if not votes[COMMA] and not votes[POINT]:
        decimal = _left_over(groups, open_marks)
    other = POINT if decimal == COMMA else COMMA
    thousands = next((sign for sign, _ in groups.most_common() if sign != decimal), "")
    both = votes[other] > 0 or (open_marks[other] > 0 and thousands != other)
    return Marks(decimal=decimal, thousands=thousands, unsure=both)


def _vote(value: str, votes: Counter[str], groups: Counter[str], open_marks: Counter[str]) -> None:
    """Count what one value says."""
    if len(value) > LONGEST_VALUE:
        return
    points, commas = value.count(POINT), value.count(COMMA)
    grouped = GROUPED.fullmatch(value)
    if grouped and (points + commas != 1 or grouped[1] not in {POINT, COMMA}):
        groups[grouped[1]] += 1
        if grouped[2]:
            votes[grouped[2]] += 1
    elif points + commas == 1 and PLAIN.fullmatch(value):
        (open_marks if THREE.fullmatch(value) else votes)[POINT if points else COMMA] += 1


def _left_over(groups: Counter[str], open_marks: Counter[str]) -> str:
    """Choose the decimal sign where every value has three digits behind the only sign."""
    commas, points = open_marks[COMMA], open_marks[POINT]
    if groups[POINT] or (commas > points and not groups[COMMA]):
        return COMMA
    return POINT
