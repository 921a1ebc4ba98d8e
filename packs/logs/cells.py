"""The columns of cells as volts, and what in them is no voltage.

Here: units told from size, codes of the electronics, missing, empty and stuck columns. Not here:
what a cell's voltage says (packs/physics).
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from packs.logs.rows import Clock
from packs.physics.cycle_case import Floats
from packs.physics.instrument import Message
from packs.strict_json import InputRefused
from packs.words import counted, told

SMALLEST_V, LARGEST_V = 0.3, 6.0
"""A column whose values lie here is volts, and millivolts a thousand times higher."""
SMALLEST_MV, LARGEST_MV = 300.0, 6000.0
TENTHS_MV = (6000.0, 60_000.0)
MICROVOLTS = (300_000.0, 6_000_000.0)
NEARLY_ALL = 0.99
HIGHEST_CELL_V, LOWEST_CELL_V = 5.5, -2.0
FULL_SCALE_V = 5.0
BELOW_FULL_SCALE_V = 4.7
"""No cell that otherwise stays below this reads five volts for a moment."""
MOVES_V = 0.02
FEWEST_ROWS = 10
LISTED = 3
SAMPLE_ROWS = 2000
MILLI, MICRO = 1e-3, 1e-6
Flags = npt.NDArray[np.bool_]


def in_volts(
    cells: Floats, units: Sequence[str], repairs: list[Message], doubts: list[Message]
) -> Floats:
    """Return cells in volts, whatever of volts and millivolts each column holds.

    Parameters
    ----------
    cells : ndarray
        Rows by cells as they stand in the file; changed in place.
    units : Sequence[str]
        Of each column as named, or empty.
    repairs, doubts : list of Message
        Is added to.

    Returns
    -------
    cells : ndarray
        The same, [V]
    """
    as_volts = ((cells > SMALLEST_V) & (cells < LARGEST_V)).sum(axis=0)
    as_millivolts = ((cells > SMALLEST_MV) & (cells < LARGEST_MV)).sum(axis=0)
    told = as_volts + as_millivolts
    milli = (as_millivolts > NEARLY_ALL * told) & (told > 0)
    volts = (as_volts > NEARLY_ALL * told) & (told > 0)
    both = (told > 0) & ~milli & ~volts
    for column in np.flatnonzero(milli | both).tolist():
        _divide(cells[:, column], whole=bool(milli[column]))
    _say(milli, volts, both, units, repairs, doubts)
    _finer(cells, told == 0, units, repairs, doubts)
    return cells


def _divide(column: Floats, *, whole: bool) -> None:
    """Turn a column of millivolts into volts; what in it are volts already stays or is missing."""
    small = (column > SMALLEST_V) & (column < LARGEST_V)
    if whole:
        column *= MILLI
        column[small] = np.nan
        return
    column[column > SMALLEST_MV] *= MILLI


def _say(
    milli: Flags,
    volts: Flags,
    both: Flags,
    units: Sequence[str],
    repairs: list[Message],
    doubts: list[Message],
) -> None:
    """Say what was divided; columns in different units are a doubt unless their names say so."""
    count = int(milli.sum())
    if count:
        columns = counted(count, "{number} cell column holds", "{number} cell columns hold")
        repairs.append(
            Message("millivolts", told("{columns} millivolts; divided by 1000.", columns=columns))
        )
    named = all((unit == "mV") == bool(milli[at]) for at, unit in enumerate(units))
    if both.any() or (count and volts.any() and not named):
        text = (
            "Cell columns hold volts as well as millivolts: both were read as volts."
            " Compare the log with the instrument and export it in one unit."
        )
        doubts.append(Message("mixed_units", text))


def _finer(
    cells: Floats,
    others: Flags,
    units: Sequence[str],
    repairs: list[Message],
    doubts: list[Message],
) -> None:
    """Read tenths of a millivolt and microvolts; what the name does not say is a doubt."""
    named = unnamed = 0
    for column in np.flatnonzero(others).tolist():
        present = cells[:: max(len(cells) // SAMPLE_ROWS, 1), column]
        present = present[np.isfinite(present)]
        middle = float(np.median(present)) if present.size else 0.0
        if MICROVOLTS[0] < middle < MICROVOLTS[1]:
            cells[:, column] *= MICRO
            named, unnamed = (named + 1, unnamed) if units[column] == "uV" else (named, unnamed + 1)
        elif TENTHS_MV[0] < middle < TENTHS_MV[1]:
            cells[:, column] *= MILLI / 10.0
            unnamed += 1
    if named:
        columns = counted(named, "{number} cell column holds", "{number} cell columns hold")
        repairs.append(
            Message(
                "microvolts", told("{columns} microvolts; divided by 1 000 000.", columns=columns)
            )
        )
    if unnamed:
        columns = counted(unnamed, "{number} cell column is", "{number} cell columns are")
        text = told(
            "{columns} neither in volts nor in millivolts and read as a fraction of a "
            "millivolt: export the log in volts.",
            columns=columns,
        )
        doubts.append(Message("cell_unit_unsure", text))


def without_codes(cells: Floats, names: Sequence[str], clock: Clock) -> Floats:
    """Take out what the electronics write instead of a voltage, and say what is missing.

    Parameters
    ----------
    cells : ndarray
        Rows in order of time by cells, [V]; changed in place.
    names : Sequence[str]
        Of the columns.
    clock : Clock
        Takes what is said.

    Returns
    -------
    cells : ndarray
        The same with NaN for what is no voltage, [V]

    Raises
    ------
    InputRefused
        At path ``columns.cell_v``, when no column holds a voltage.
    """
    coded = (cells == 0.0) | (cells > HIGHEST_CELL_V) | (cells < LOWEST_CELL_V)
    for column in np.flatnonzero((cells == FULL_SCALE_V).any(axis=0)).tolist():
        whole = cells[:, column] == FULL_SCALE_V
        if np.fmax.reduce(np.where(whole, np.nan, cells[:, column])) < BELOW_FULL_SCALE_V:
            coded[:, column] |= whole
    if coded.any():
        said = ", ".join(f"{value:g} V" for value in np.unique(cells[coded])[:LISTED].tolist())
        readings = counted(
            int(coded.sum()), "{number} cell reading is a code", "{number} cell readings are codes"
        )
        text = told(
            "{readings} of the electronics ({said}) and no voltage; treated as missing.",
            readings=readings,
            said=said,
        )
        clock.said("sensor_codes", text)
        cells[coded] = np.nan
    empty: Flags = np.asarray(np.isnan(cells).all(axis=0))
    if empty.all():
        text = "hold no voltages of cells: compare the names with the header"
        raise InputRefused([("columns.cell_v", text)])
    _say_empty(empty, names, clock)
    _say_missing(cells, empty, coded, clock)
    _say_stuck(cells, names, clock)
    return cells


def listed(names: Sequence[str]) -> str:
    """Return some names for a sentence.

    Parameters
    ----------
    names : Sequence[str]
        Of columns.

    Returns
    -------
    text : str
        The first three and how many more.

    Examples
    --------
    >>> listed(["c1", "c2", "c3", "c4"])
    'c1, c2, c3 and 1 more'
    """
    names_shown = ", ".join(name.strip() for name in names[:LISTED])
    more = len(names) - LISTED
    return (
        told("{names_shown} and {more} more", names_shown=names_shown, more=more)
        if more > 0
        else names_shown
    )


def _say_empty(empty: Flags, names: Sequence[str], clock: Clock) -> None:
    """Doubt a log in which a cell has no voltage at all."""
    if empty.any():
        named = listed([names[column] for column in np.flatnonzero(empty).tolist()])
        columns = counted(
            int(empty.sum()), "{number} cell column holds", "{number} cell columns hold"
        )
        text = told(
            "{columns} no voltage at all ({named}): check the sense wires and record again.",
            columns=columns,
            named=named,
        )
        clock.doubts.append(Message("empty_column", text))


def _say_missing(cells: Floats, empty: Flags, coded: Flags, clock: Clock) -> None:
    """Say how many values are missing beside codes and empty columns."""
    missing = np.isnan(cells) & ~coded & ~empty[None, :]
    if missing.any():
        columns = counted(int(missing.any(axis=0).sum()), "{number} column", "{number} columns")
        values = counted(int(missing.sum()), "{number} cell value is", "{number} cell values are")
        clock.said(
            "missing_values",
            told("{values} missing or unreadable, in {columns}.", values=values, columns=columns),
        )


def _say_stuck(cells: Floats, names: Sequence[str], clock: Clock) -> None:
    """Say which cells stand still while the others move."""
    if len(cells) < FEWEST_ROWS:
        return
    moves = np.fmax.reduce(cells, axis=0) - np.fmin.reduce(cells, axis=0)
    stuck = np.flatnonzero(moves == 0.0)
    if stuck.size and np.median(moves[np.isfinite(moves)]) > MOVES_V:
        named = listed([names[column] for column in stuck.tolist()])
        columns = counted(
            int(stuck.size), "{number} cell column stands", "{number} cell columns stand"
        )
        text = told(
            "{columns} still while the others move ({named}): check sense wire and electronics.",
            columns=columns,
            named=named,
        )
        clock.said("stuck_column", text)
