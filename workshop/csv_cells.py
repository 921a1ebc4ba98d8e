"""Cells of a CSV file that a spreadsheet shows and never runs."""

import csv
import io
import re
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Final

__all__ = ["csv_text", "decimal_text", "safe_cell"]

_STARTS: Final = frozenset("=+-@\t\r＝＋－＠")  # noqa: RUF001 - the wide ones are read too
"""What makes a spreadsheet take a cell for a formula."""
_OBEYED: Final = frozenset("\t\r")
"""Whitespace that itself has to be covered; other whitespace at the start is looked through."""
_NUMBER: Final = re.compile(r" *[+-]?[0-9]+([.,][0-9]+)?([eE][+-]?[0-9]+)? *")


def safe_cell(text: str) -> str:
    """Give a cell that no spreadsheet takes for a formula.

    Parameters
    ----------
    text : str
        What the cell says.

    Returns
    -------
    str
        With an apostrophe before it where it begins, after spaces, with ``= + - @``, a tab or a
        carriage return and is no number.

    Examples
    --------
    >>> [safe_cell(text) for text in ("=1+1", " @x", "-3.5", "-3,5", "-", "MK-4471", "")]
    ["'=1+1", "' @x", '-3.5', '-3,5', "'-", 'MK-4471', '']
    """
    first = next((each for each in text if each in _OBEYED or not each.isspace()), "")
    return f"'{text}" if first in _STARTS and _NUMBER.fullmatch(text) is None else text


def decimal_text(number: Decimal, *, comma: bool) -> str:
    """Write a number with a decimal comma or point and nothing that groups.

    Examples
    --------
    >>> decimal_text(Decimal("1234.50"), comma=True)
    '1234,50'
    """
    text = format(number, "f")
    return text.replace(".", ",") if comma else text


def csv_text(
    headings: Sequence[str], rows: Iterable[Sequence[object]], *, separator: str = ","
) -> str:
    r"""Write a table as CSV (RFC 4180), each cell made safe; None is an empty cell.

    Parameters
    ----------
    headings : Sequence[str]
        The first line.
    rows : Iterable[Sequence[object]]
        The others.
    separator : str
        What parts the columns; a semicolon where decimals have a comma.

    Returns
    -------
    str
        Lines that end as RFC 4180 asks, after a mark that tells spreadsheets that it is UTF-8.

    Examples
    --------
    >>> csv_text(["job", "km"], [["Q000001", 12], ["@x", None]]).splitlines()
    ['\ufeffjob,km', 'Q000001,12', "'@x,"]
    """
    into = io.StringIO(newline="")
    writer = csv.writer(into, delimiter=separator, lineterminator="\r\n")
    writer.writerow([safe_cell(each) for each in headings])
    for row in rows:
        writer.writerow(["" if each is None else safe_cell(str(each)) for each in row])
    return "\ufeff" + into.getvalue()
