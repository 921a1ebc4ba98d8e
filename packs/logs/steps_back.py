"""A clock that steps back: rows out of order, stray times, summer time, and the cut.

Here: what is done where a time is earlier than the one before. Not here: repeats (clock.py).
"""

import numpy as np
import numpy.typing as npt

from packs.logs.rows import Clock, usual_step_s
from packs.logs.times import Times
from packs.physics.cycle_case import Floats
from packs.physics.instrument import Message
from packs.words import counted, told

HOUR_S = 3600.0
NEAR_STEPS = 3.0
WHOLE_STEP = 0.8
"""Rows that only changed places are as far apart as others once they are in order."""
DISORDER_ROWS = 50
STRAY_SHARE = 0.01
FEWEST_STRAY = 2
AROUND = 100
"""So many rows on either side say what usually changes from row to row."""
NEIGHBOURS = 5
JUMP_FACTOR = 3.0
JUMP_V = 0.005
JUMP_A = 1.0
JUMP_SHARE = 0.05
LISTED = 3
MOST_JOINTS = 20
"""A clock that steps back more often tells no time."""


def mend(clock: Clock, times: Times, values: Floats) -> None:
    """Make times rise that step back.

    Parameters
    ----------
    clock : Clock
        Its times fall at least once; afterwards they nowhere do.
    times : Times
        How they were written.
    values : ndarray
        Rows of the table, current in amperes first, then cells in volts.

    Notes
    -----
    In this order: an hour back on a clock on the wall is the end of summer time; rows that fit
    between others have changed places; a single row whose neighbours fit each other is stray; what
    is left is cut and joined by the usual step. That is only certain where current and voltages go
    on across the joint as they do from row to row, else it is a doubt.
    """
    if times.local:
        _summer_ends(clock)
    if _falls(clock).size and _sort(clock, absolute=times.absolute):
        return
    if _falls(clock).size:
        _leave_out_stray(clock)
    if _falls(clock).size:
        _join(clock, values)


def _falls(clock: Clock) -> npt.NDArray[np.int64]:
    """Return the rows that are earlier than the one before."""
    return np.flatnonzero(np.diff(clock.seconds) < 0.0) + 1


def _summer_ends(clock: Clock) -> None:
    """Add an hour after a clock on the wall was put back by one."""
    step = usual_step_s(clock.seconds)
    falls = _falls(clock)
    back = clock.seconds[falls - 1] - clock.seconds[falls] + step
    at = falls[np.abs(back - HOUR_S) <= NEAR_STEPS * step]
    if at.size == 1:
        clock.seconds = clock.seconds + np.where(np.arange(clock.rows.size) >= at[0], HOUR_S, 0.0)
        text = "The clock was put back by one hour (summer time); the times after it were moved on."
        clock.said("clock_step_back", text)


def _sort(clock: Clock, *, absolute: bool) -> bool:
    """Put rows in order where each then stands a whole step from the next."""
    order = np.argsort(clock.seconds, kind="stable")
    moved = np.abs(order - np.arange(order.size))
    steps = np.diff(clock.seconds)
    shortest = float(np.percentile(steps[steps > 0.0], 5)) if (steps > 0.0).any() else np.inf
    near = absolute or moved.max() <= DISORDER_ROWS
    if not near or np.diff(clock.seconds[order]).min() < WHOLE_STEP * shortest:
        return False
    if _has_stray(clock):
        return False
    rows = counted(_falls(clock).size, "{number} place", "{number} places")
    clock.keep(order)
    clock.said(
        "rows_out_of_order",
        told("The rows were out of order at {rows}; they were sorted.", rows=rows),
    )
    return True


def _stray(clock: Clock) -> npt.NDArray[np.bool_]:
    """Mark rows that lie outside their neighbours while those fit each other."""
    before, here, after = clock.seconds[:-2], clock.seconds[1:-1], clock.seconds[2:]
    between = after - before
    fit = (between > 0.0) & (between <= NEAR_STEPS * usual_step_s(clock.seconds))
    marked = np.zeros(clock.rows.size, dtype=bool)
    marked[1:-1] = fit & ((here < before) | (here > after))
    return marked


def _has_stray(clock: Clock) -> bool:
    """Tell whether a marked row would land far from where it stands."""
    marked = np.flatnonzero(_stray(clock))
    order = np.argsort(np.argsort(clock.seconds, kind="stable"), kind="stable")
    return bool((np.abs(order[marked] - marked) > DISORDER_ROWS).any())


def _leave_out_stray(clock: Clock) -> None:
    """Leave out single rows with a time that fits nowhere."""
    stray = _stray(clock)
    count = int(stray.sum())
    if not 0 < count <= max(FEWEST_STRAY, STRAY_SHARE * stray.size):
        return
    rows = counted(count, "{number} row was", "{number} rows were")
    clock.said(
        "stray_times",
        told("{rows} left out because the time does not fit the rows around it.", rows=rows),
    )
    clock.keep(~stray)


def _join(clock: Clock, values: Floats) -> None:
    """Cut the log where time falls and go on with the usual step."""
    falls = _falls(clock)
    steps = np.diff(clock.seconds)
    usual = usual_step_s(clock.seconds)
    added = np.zeros(clock.rows.size)
    certain = falls.size <= MOST_JOINTS
    ordered = values[clock.rows]
    for at in falls.tolist():
        near = steps[max(at - NEIGHBOURS, 0) : at + NEIGHBOURS]
        near = near[near > 0.0]
        step = float(np.median(near)) if near.size else usual
        added[at] = clock.seconds[at - 1] - clock.seconds[at] + step
        certain = certain and _goes_on(ordered, at)
    clock.seconds = clock.seconds + np.cumsum(added)
    largest = ", ".join(f"{size:g} s" for size in sorted(added[falls], reverse=True)[:LISTED])
    times = counted(falls.size, "{number} time", "{number} times")
    said = told(
        "The clock stepped back {times}, by {largest}; the log was joined by the usual step.",
        times=times,
        largest=largest,
    )
    if certain:
        clock.said("clock_step_back", said)
        return
    text = told(
        "{said} Current or voltages jump there, so a pause may be hidden: record the log again.",
        said=said,
    )
    clock.doubts.append(Message("clock_step_back_unsure", text))


def _goes_on(ordered: Floats, at: int) -> bool:
    """Tell whether current and cells change across a joint as they do around it."""
    near = ordered[max(at - AROUND, 0) : at + AROUND]
    joint = min(at, AROUND)
    changes = np.abs(np.diff(near, axis=0))
    current, cells = changes[:, 0], _middle(changes[:, 1:])
    usual_a = max(
        JUMP_FACTOR * _median(current), JUMP_A, JUMP_SHARE * np.fmax.reduce(np.abs(near[:, 0]))
    )
    usual_v = max(JUMP_FACTOR * _median(cells), JUMP_V)
    return bool(current[joint - 1] <= usual_a and cells[joint - 1] <= usual_v)


def _middle(changes: Floats) -> Floats:
    """Return the median change of each row, 0 where all are missing."""
    return np.array([_median(row) for row in changes])


def _median(values: Floats) -> float:
    """Return the median of what is present."""
    present = values[np.isfinite(values)]
    return float(np.median(present)) if present.size else 0.0
