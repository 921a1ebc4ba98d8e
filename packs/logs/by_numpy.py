"""The way from the lines of a log to numbers that runs on every processor.

Here: blocks of plain numbers at once, other blocks field by field. Not here: what stands in an odd
field (odd_fields.py), the fast way (by_polars.py).
"""

from collections.abc import Sequence
from operator import itemgetter

import numpy as np

from packs.logs.odd_fields import Numbers, with_points
from packs.physics.cycle_case import Floats

BLOCK_LINES = 1000


def numbers_by_numpy(
    lines: Sequence[str], delimiter: str, places: Sequence[int], numbers: Numbers
) -> Floats:
    """Read numbers out of lines.

    Parameters
    ----------
    lines : Sequence[str]
        Of equal width.
    delimiter : str
        Between the fields; quotation marks mean nothing.
    places : Sequence[int]
        Of the wanted fields in a line, counted from zero.
    numbers : Numbers
        Reads an odd field.

    Returns
    -------
    numbers : ndarray
        Rows by places, each column in one piece; NaN for a field that is no number.

    Examples
    --------
    >>> from packs.logs.decimals import Marks
    >>> numbers_by_numpy(
    ...     ["0;3,507;x", "1;;-2 A"], ";", [2, 1], Numbers(Marks(decimal=","))
    ... ).tolist()
    [[nan, 3.507], [-2.0, nan]]
    """
    values = np.empty((len(places), len(lines)))
    for start in range(0, len(lines), BLOCK_LINES):
        block = lines[start : start + BLOCK_LINES]
        read = _plain(block, delimiter, places, numbers)
        if read is None:
            read = _by_field(block, delimiter, places, numbers)
        values[:, start : start + len(block)] = read.T
    return values.T


def _plain(
    block: Sequence[str], delimiter: str, places: Sequence[int], numbers: Numbers
) -> Floats | None:
    """Read lines whose wanted fields are all plain numbers; None where one is not."""
    rows = with_points("\n".join(block), numbers.marks).split("\n")
    try:
        read = np.loadtxt(rows, delimiter=delimiter, comments=None, usecols=places, ndmin=2)
    except ValueError:
        return None
    return read if len(read) == len(block) else None


def _by_field(
    block: Sequence[str], delimiter: str, places: Sequence[int], numbers: Numbers
) -> Floats:
    """Read lines field by field."""
    wanted = itemgetter(*places)
    rows = (wanted(line.split(delimiter)) for line in block)
    return np.array([[numbers[field] for field in row] for row in rows])
