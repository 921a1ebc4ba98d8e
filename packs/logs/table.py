"""The lines of a log as numbers.

Here: which way they are read, a field that is no number to NaN. Not here: the two ways
(by_polars.py, by_numpy.py), what the numbers mean (clock.py, cells.py).
"""

import importlib
import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from packs.logs import processor
from packs.logs.by_numpy import numbers_by_numpy
from packs.logs.decimals import COMMA, POINT, Marks, marks_of, sampled
from packs.logs.layout import Layout
from packs.logs.odd_fields import Numbers, fill_in, with_points
from packs.logs.wanted import Places
from packs.physics.cycle_case import Floats

LARGEST_NUMBER = 1e9
"""What is larger is no reading of anything here."""
INSIDE = re.compile(r"(?<=\d),(?=\d)")
"""A comma inside a number, not one between a date and its time of day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """What stands in the wanted columns.

    Parameters
    ----------
    times : list of str
        The column of times as text, with decimal points.
    values : ndarray
        Rows by current, cells, temperatures; NaN where there is no number.
    marks : Marks
        The separators that were used.
    """

    times: list[str]
    values: Floats
    marks: Marks


def table_of(layout: Layout, places: Places) -> Table:
    """Read the wanted columns.

    Parameters
    ----------
    layout : Layout
        Header and lines.
    places : Places
        Where the wanted columns stand.

    Returns
    -------
    table : Table
        Times as text and values as numbers.

    Notes
    -----
    Where the processor allows it the fast way is taken, otherwise one that runs everywhere. What
    either leaves as no plain number is read by the same code, so that both give the same numbers.
    """
    lines, delimiter, columns = layout.lines, layout.delimiter, places.values()
    marks = _marks(lines, delimiter, columns)
    numbers = Numbers(marks)
    values = _fast(layout, columns, marks) if processor.can_run_polars() else None
    if values is None:
        values = numbers_by_numpy(lines, delimiter, columns, numbers)
    fill_in(values, lines, delimiter, columns, numbers)
    for column in values.T:
        if not np.abs(column).max() < LARGEST_NUMBER:
            column[~(np.abs(column) < LARGEST_NUMBER)] = np.nan
    return Table(times=_times(layout, places.time, marks), values=values, marks=marks)


def _marks(lines: Sequence[str], delimiter: str, values: Sequence[int]) -> Marks:
    """Tell the separators from fields of lines all along the log."""
    rows = (line.split(delimiter) for line in sampled(lines))
    return marks_of(itertools.chain.from_iterable(([row[at] for at in values]) for row in rows))


def _fast(layout: Layout, columns: Sequence[int], marks: Marks) -> Floats | None:
    """Read by the fast way; None where that cannot take the lines apart."""
    by_polars = importlib.import_module("packs.logs.by_polars")
    body = with_points("\n".join(layout.lines), marks)
    text = body.encode("utf-8", errors="replace")
    del body
    values: Floats | None = by_polars.numbers_by_polars(
        text, layout.delimiter, len(layout.names), columns
    )
    return values if values is not None and len(values) == len(layout.lines) else None


def _times(layout: Layout, place: int, marks: Marks) -> list[str]:
    """Return the column of times as text."""
    delimiter, behind = layout.delimiter, len(layout.names) - 1 - place
    if place <= behind:
        texts = [line.split(delimiter, place + 1)[place] for line in layout.lines]
    else:
        texts = [line.rsplit(delimiter, behind + 1)[-behind - 1] for line in layout.lines]
    if marks.decimal == COMMA or marks.unsure:
        texts = [INSIDE.sub(POINT, text) if COMMA in text else text for text in texts]
    return texts
