"""The fast way from the text of a log to numbers; the only place that knows polars.

Here: one call. Not here: whether this computer can make it (processor.py: ask first, importing this
module on a processor that is too old may end the program).
"""

import io
from collections.abc import Sequence

import polars as pl

from packs.physics.cycle_case import Floats


def numbers_by_polars(
    text: bytes, delimiter: str, width: int, places: Sequence[int]
) -> Floats | None:
    r"""Read numbers out of delimited text.

    Parameters
    ----------
    text : bytes
        Lines of equal width with decimal points, in UTF-8.
    delimiter : str
        Between the fields; quotation marks mean nothing.
    width : int
        How many fields a line has.
    places : Sequence[int]
        Of the wanted fields in a line, counted from zero.

    Returns
    -------
    numbers : ndarray or None
        Rows by places, each column in one piece; NaN for a field that is no plain number. None
        where the lines could not be taken apart.

    Examples
    --------
    >>> numbers_by_polars(b"0;3.507;x\n1;;-2\n", ";", 3, [2, 1]).tolist()
    [[nan, 3.507], [-2.0, nan]]
    """
    try:
        frame = pl.read_csv(
            io.BytesIO(text),
            has_header=False,
            separator=delimiter,
            quote_char=None,
            schema={str(place): pl.Float64 for place in range(width)},
            columns=sorted(places),
            ignore_errors=True,
            truncate_ragged_lines=True,
        )
    except pl.exceptions.PolarsError:
        return None
    return frame.select(str(place) for place in places).to_numpy(order="fortran", writable=True)
