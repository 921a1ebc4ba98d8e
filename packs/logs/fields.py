"""Fields of a line: taking a line apart, and telling values from words.

Here: one line at a time. Not here: which line is which (layout.py), nor what a value is (table.py).
"""

import csv
import re
from collections.abc import Sequence

DELIMITERS = ("\t", ";", "|", ",", " ")
"""Strongest first: what is hardly ever found inside a value."""
JOINT = "\x1f"
"""Stands between the fields of a line that had to be written anew."""
NOT_THERE = {"", "nan", "na", "n/a", "nul", "null", "none", "nil", "missing", "void", "undef"}
NO_READING = {"invalid", "inv", "err", "error", "fault", "ovl", "ol", "open", "sna", "inf", "-inf"}
SIGNS = {"-", "--", "---", "----", "?", "*", ".", "#n/a", "#value!", "#div/0!", "#ref!"}
MISSING_WORDS = frozenset(NOT_THERE | NO_READING | SIGNS)
VALUE = re.compile(r"[-+(]?[\d.,:/+\-' \u00a0\u202fTZeE]*\d[\d.,:/+\-' \u00a0\u202fTZeE]*\)?")
LONGEST_VALUE, LONGEST_UNIT = 60, 20
COMMENT_SIGNS = "#%/*! "


def split(line: str, delimiter: str) -> list[str]:
    """Take a line apart.

    Parameters
    ----------
    line : str
        Without its line feed.
    delimiter : str
        One of `DELIMITERS`; a space stands for any run of white space.

    Returns
    -------
    fields : list[str]
        Without quotation marks; spaces around a field stay.

    Examples
    --------
    >>> split('0,"3,507",-1.5', ",")
    ['0', '3,507', '-1.5']
    """
    if delimiter == " ":
        return line.replace('"', "").split()
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        return line.split(delimiter)


def is_value(field: str) -> bool:
    """Tell a number, a time or a date from words.

    Parameters
    ----------
    field : str
        One field.

    Returns
    -------
    value : bool
        True for what may be a value.

    Examples
    --------
    >>> is_value(" -1,5 "), is_value("2026-03-03T08:15:00Z"), is_value("cell 1 mV")
    (True, True, False)
    """
    return len(field) <= LONGEST_VALUE and VALUE.fullmatch(field.strip()) is not None


def is_data(fields: Sequence[str]) -> bool:
    """Tell a row of values from a header, a comment or a footer.

    Parameters
    ----------
    fields : Sequence[str]
        Of one line.

    Returns
    -------
    data : bool
        True where at least half of what stands there are values.
    """
    said = [field for field in fields if field.strip().casefold() not in MISSING_WORDS]
    return len(fields) > 1 and bool(said) and 2 * sum(map(is_value, said)) >= len(said)


def are_units(fields: Sequence[str]) -> bool:
    """Tell the row of units that may stand under a header.

    Parameters
    ----------
    fields : Sequence[str]
        Of one line.

    Returns
    -------
    units : bool
        True where there is no digit, nothing long, and not only words for missing values.

    Examples
    --------
    >>> are_units(["s", "[A]", "mV", ""]), are_units(["n/a", "n/a"])
    (True, False)
    """
    said = [field.strip() for field in fields if field.strip().casefold() not in MISSING_WORDS]
    return bool(said) and all(
        len(field) <= LONGEST_UNIT and not any(map(str.isdigit, field)) for field in said
    )
