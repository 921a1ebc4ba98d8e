"""A clock that misbehaves: rows backwards, repeats, midnight, steps back, stray times, pauses.

Here: seconds and rows to seconds that rise. Not here: how a time is written (times.py).
"""

import numpy as np

from packs.logs.rows import Clock, usual_step_s
from packs.logs.steps_back import mend
from packs.logs.times import Times
from packs.physics.cycle_case import Floats
from packs.physics.instrument import Message
from packs.words import counted, told

DAY_S, HOUR_S = 86_400.0, 3600.0
HALF_DAY_S = 43_200.0
BACKWARDS_SHARE = 0.95
GAP_STEPS = 5.0
"""A pause is longer than so many usual steps."""
NEIGHBOURS = 5
LISTED = 3
LONGEST_PAUSE_S = 7 * DAY_S
COARSE_SHARE = 0.5
NEAR_STEPS = 3.0
SUNDAY = 6
MARCH = 3
FORWARD_S = 7200.0
"""Summer time begins at two in the night on a Sunday in March."""
THURSDAY = 3
"""The first day of 1970."""


def in_order(times: Times, values: Floats) -> Clock:
    """Bring a log into rising time, and say what that took.

    Parameters
    ----------
    times : Times
        As read, in the order of the file.
    values : ndarray
        The rows, to tell repeated rows from others of the same time.

    Returns
    -------
    clock : Clock
        Rows that stay, with strictly rising seconds from zero.
    """
    rows = np.arange(times.seconds.size)
    clock = Clock(rows, times.seconds, list(times.repairs), list(times.doubts))
    _leave_out_unreadable(clock)
    _turn_round(clock, of_day=times.of_day)
    if times.of_day:
        _pass_midnight(clock)
    _leave_out_repeats(clock, values)
    if (np.diff(clock.seconds) < 0.0).any():
        mend(clock, times, values)
    _one_row_a_time(clock)
    if times.local and times.absolute:
        _summer_begins(clock)
    clock.seconds = clock.seconds - clock.seconds[0]
    return clock


def pauses_s(clock: Clock) -> tuple[float, ...]:
    """Return the pauses of a log, and say them.

    Parameters
    ----------
    clock : Clock
        In order.

    Returns
    -------
    gaps_s : tuple of float
        Steps longer than five usual ones, both of the whole log and of the rows around, [s]
    """
    steps = np.diff(clock.seconds)
    long = np.flatnonzero(steps > GAP_STEPS * usual_step_s(clock.seconds))
    gaps = [
        float(round(steps[at], 3))
        for at in long.tolist()
        if steps[at] > GAP_STEPS * _around(steps, at)
    ]
    if gaps:
        longest = ", ".join(f"{gap:g} s" for gap in sorted(gaps, reverse=True)[:LISTED])
        pauses = counted(len(gaps), "{number} pause in the log", "{number} pauses in the log")
        clock.said("gap", told("{pauses}, the longest {longest}.", pauses=pauses, longest=longest))
    if max(gaps, default=0.0) > LONGEST_PAUSE_S:
        days = max(gaps) / DAY_S
        text = told(
            "The time jumps by {days:.0f} days: the clock was set, or two logs were joined.",
            days=days,
        )
        clock.doubts.append(Message("clock_jump", text))
    return tuple(gaps)


def _around(steps: Floats, at: int) -> float:
    """Return the median step around one step, without it."""
    before, after = steps[max(at - NEIGHBOURS, 0) : at], steps[at + 1 : at + 1 + NEIGHBOURS]
    near = np.concatenate((before, after))
    return float(np.median(near)) if near.size else 0.0


def _leave_out_unreadable(clock: Clock) -> None:
    """Leave out rows without a time."""
    readable = np.isfinite(clock.seconds)
    left_out = int((~readable).sum())
    if left_out:
        rows = counted(left_out, "{number} row was", "{number} rows were")
        clock.said(
            "unreadable_times",
            told("{rows} left out because no time could be read there.", rows=rows),
        )
        clock.keep(readable)


def _turn_round(clock: Clock, *, of_day: bool) -> None:
    """Turn a log round that was written last row first."""
    steps = np.diff(clock.seconds)
    back, moves = int((steps < 0.0).sum()), int((steps != 0.0).sum())
    falls = of_day or clock.seconds[-1] < clock.seconds[0]
    if moves > 1 and back >= BACKWARDS_SHARE * moves and falls:
        clock.said("reversed_rows", "The rows stood last first; they were put in order of time.")
        clock.keep(np.arange(clock.rows.size)[::-1])


def _pass_midnight(clock: Clock) -> None:
    """Add a day wherever a time of day falls by more than half a day."""
    days = np.concatenate(([0.0], np.cumsum(np.diff(clock.seconds) < -HALF_DAY_S)))
    if days[-1]:
        clock.seconds = clock.seconds + days * DAY_S
        times = counted(int(days[-1]), "{number} time", "{number} times")
        clock.said(
            "midnight",
            told("The time of day passed midnight {times}; days were added.", times=times),
        )


def _leave_out_repeats(clock: Clock, values: Floats) -> None:
    """Leave out rows that stand there more than once, time and values alike."""
    steps = np.diff(clock.seconds)
    if (steps > 0.0).all():
        return
    ordered = values[clock.rows]
    if (steps < 0.0).any():
        seen: set[tuple[float, bytes]] = set()
        first = np.ones(clock.rows.size, dtype=bool)
        for row, second in enumerate(clock.seconds.tolist()):
            key = (second, ordered[row].tobytes())
            first[row] = key not in seen
            seen.add(key)
    else:
        same = np.flatnonzero(steps == 0.0)
        alike = [
            np.array_equal(ordered[row], ordered[row + 1], equal_nan=True) for row in same.tolist()
        ]
        first = np.ones(clock.rows.size, dtype=bool)
        first[same[alike] + 1] = False
    left_out = int((~first).sum())
    if left_out:
        rows = counted(left_out, "{number} repeated row was", "{number} repeated rows were")
        clock.said("repeated_rows", told("{rows} left out.", rows=rows))
        clock.keep(first)


def _one_row_a_time(clock: Clock) -> None:
    """Keep the first of several rows with one time."""
    first = np.concatenate(([True], np.diff(clock.seconds) > 0.0))
    left_out = int((~first).sum())
    if not left_out:
        return
    rows = counted(left_out, "{number} row was", "{number} rows were")
    said = told(
        "{rows} left out because the row before has the same time and other values.", rows=rows
    )
    if left_out > COARSE_SHARE * clock.rows.size:
        text = told(
            "{said} The times are too coarse: export the log with seconds and fractions.", said=said
        )
        clock.doubts.append(Message("same_time_rows", text))
    else:
        clock.said("same_time_rows", said)
    clock.keep(first)


def _summer_begins(clock: Clock) -> None:
    """Doubt a pause of an hour where clocks are put forward."""
    step = usual_step_s(clock.seconds)
    for at in np.flatnonzero(np.abs(np.diff(clock.seconds) - HOUR_S - step) <= NEAR_STEPS * step):
        before = float(clock.seconds[at])
        month = np.datetime64(int(before), "s").astype("datetime64[M]").astype(int) % 12 + 1
        weekday = (int(before // DAY_S) + THURSDAY) % 7
        if month == MARCH and weekday == SUNDAY and 0 < FORWARD_S - before % DAY_S <= 2.0 * step:
            text = (
                "An hour is missing in the night in which clocks are put forward: it may be the"
                " clock or a pause. Export the log in universal time."
            )
            clock.doubts.append(Message("clock_change_unsure", text))
