"""What a log holds at first sight: header, first rows, and a guess which column is what.

Here: what a person is shown before a log is read. Not here: reading it whole (reading.py).
"""

import codecs
import itertools
from dataclasses import dataclass
from typing import IO

from packs.logs.fields import is_data, split
from packs.logs.guesses import ColumnGuess, Role, guessed
from packs.logs.layout import HEAD_LINES, head_of
from packs.logs.text import text_of
from packs.logs.wanted import Columns

PREVIEW_BYTES = 2_000_000
FIRST_ROWS = 8
SHOWN_ROWS = 50
WIDEST_CHARACTER = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class LogPreview:
    """A log at first sight.

    Parameters
    ----------
    names : tuple of str
        Of the columns, in the order of the file.
    units : tuple of str
        Of the row under the header; empty where there is none.
    rows : tuple of tuple of str
        The first rows, field by field.
    guesses : tuple of ColumnGuess
        One for each column, with the reason.
    columns : Columns or None
        The guesses put together; None where time, current or cells were not found.
    """

    names: tuple[str, ...]
    units: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    guesses: tuple[ColumnGuess, ...]
    columns: Columns | None


def preview_of(content: bytes | IO[bytes]) -> LogPreview:
    r"""Look at the beginning of a log.

    Parameters
    ----------
    content : bytes or an open binary file
        Only its beginning is read.

    Returns
    -------
    preview : LogPreview
        Header, first rows and guesses.

    Raises
    ------
    InputRefused
        At path ``file``, when it is no text or has no header.

    Examples
    --------
    >>> seen = preview_of(b"t [s];I [A];U1;U2;T1\n0;1,5;3,507;3,508;19\n1;1,5;3,508;3,509;19\n")
    >>> seen.columns.cell_v, seen.columns.temperature_c
    (('U1', 'U2'), ('T1',))
    """
    head = content[:PREVIEW_BYTES] if isinstance(content, bytes) else content.read(PREVIEW_BYTES)
    lines = text_of(_whole_characters(head)).split("\n")
    found = head_of(lines)
    rows: list[tuple[str, ...]] = []
    for line in itertools.islice(lines, found.data_from, found.data_from + HEAD_LINES):
        fields = split(line, found.delimiter)
        if is_data(fields) and len(fields) >= len(found.names):
            rows.append(tuple(field.strip() for field in fields[: len(found.names)]))
    guesses = guessed(found.names, found.units, rows[:SHOWN_ROWS])
    return LogPreview(
        names=tuple(name.strip() for name in found.names),
        units=found.units,
        rows=tuple(rows[:FIRST_ROWS]),
        guesses=guesses,
        columns=_together(guesses),
    )


def _whole_characters(head: bytes) -> bytes:
    """Leave off a character of two bytes that the end of the beginning cut."""
    wide = head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    return head[: len(head) // WIDEST_CHARACTER * WIDEST_CHARACTER] if wide else head


def _together(guesses: tuple[ColumnGuess, ...]) -> Columns | None:
    """Put guesses together, the cells in the order of their numbers."""
    times = [guess.name for guess in guesses if guess.role == Role.TIME]
    currents = [guess.name for guess in guesses if guess.role == Role.CURRENT]
    cells = sorted((guess for guess in guesses if guess.role == Role.CELL), key=_number)
    sensors = sorted((guess for guess in guesses if guess.role == Role.TEMPERATURE), key=_number)
    if not (times and currents and cells):
        return None
    return Columns(
        time_s=times[0],
        current_a=currents[0],
        cell_v=tuple(guess.name for guess in cells),
        temperature_c=tuple(guess.name for guess in sensors),
    )


def _number(guess: ColumnGuess) -> tuple[tuple[int, ...], int]:
    """Order by the numbers in a name, then by place."""
    return guess.numbers, guess.index
