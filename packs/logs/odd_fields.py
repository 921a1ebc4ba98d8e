"""Fields that are more than a plain number: a unit behind it, thousands grouped, quotation marks.

Here: one field to one number, and the fields that a reader of plain numbers left. Not here: plain
numbers (by_polars.py, by_numpy.py), what the signs mean (decimals.py).
"""

import re
from collections.abc import Sequence

import numpy as np

from packs.logs.decimals import COMMA, POINT, Marks
from packs.physics.cycle_case import Floats

NUMBER = re.compile(
    r"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:e[+-]?[0-9]+)?)"
    r"\s*(?:[mµu]?v|[mk]?a|°?[cf]|k|deg ?c|%|m?s)?",
    re.IGNORECASE,
)
AROUND = " \t\"'\u00a0\u202f"
KEPT = 200_000
"""So many different fields are remembered; instruments repeat themselves."""


class Numbers(dict[str, float]):
    """The number of every field met so far, NaN where there is none.

    Parameters
    ----------
    marks : Marks
        The separators of the log.
    """

    __slots__ = ("marks",)

    def __init__(self, marks: Marks) -> None:
        super().__init__()
        self.marks = marks

    def __missing__(self, field: str) -> float:
        """Read a field that was not met before."""
        number = number_of(field, self.marks)
        if len(self) < KEPT:
            self[field] = number
        return number


def number_of(field: str, marks: Marks) -> float:
    """Read one field.

    Parameters
    ----------
    field : str
        As it stands in the log.
    marks : Marks
        The separators of the log.

    Returns
    -------
    number : float
        NaN where there is none.

    Examples
    --------
    >>> number_of("1.234,5 mV", Marks(decimal=",", thousands="."))
    1234.5
    """
    found = NUMBER.fullmatch(with_points(field.strip(AROUND), marks))
    return float(found[1]) if found else float("nan")


def with_points(text: str, marks: Marks) -> str:
    """Take out what groups thousands and make every decimal sign a point.

    Parameters
    ----------
    text : str
        A field, or lines whose delimiter is neither.
    marks : Marks
        The separators of the log.

    Returns
    -------
    text : str
        The same with decimal points only.
    """
    if marks.thousands:
        text = text.replace(marks.thousands, "")
    if marks.decimal == COMMA or marks.unsure:
        text = text.replace(COMMA, POINT)
    return text


def fill_in(
    values: Floats, lines: Sequence[str], delimiter: str, places: Sequence[int], numbers: Numbers
) -> None:
    """Look again at every field that was no plain number.

    Parameters
    ----------
    values : ndarray
        Rows by places; what is NaN is looked at and changed in place.
    lines : Sequence[str]
        The rows as they stand in the log.
    delimiter : str
        Between their fields.
    places : Sequence[int]
        Of the columns of `values` in a line.
    numbers : Numbers
        Reads a field.
    """
    odd = np.isnan(values.T).T
    for row in np.flatnonzero(odd.any(axis=1)).tolist():
        fields = lines[row].split(delimiter)
        columns = np.flatnonzero(odd[row]).tolist()
        values[row, columns] = [numbers[fields[places[column]]] for column in columns]
