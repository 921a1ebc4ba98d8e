"""The column of times as seconds.

Here: which way of writing time a log uses, and numbers as times. Not here: dates and times of day
(dates.py), order and gaps (clock.py).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from packs.logs.dates import seconds_of_texts
from packs.physics.cycle_case import Floats
from packs.physics.instrument import Message
from packs.strict_json import InputRefused
from packs.words import told

SECONDS_OF = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "min": 60.0, "h": 3600.0, "d": 86400.0}
NAMES = {
    "ms": "milliseconds",
    "us": "microseconds",
    "ns": "nanoseconds",
    "min": "minutes",
    "h": "hours",
    "d": "days",
}
READABLE_SHARE = 0.5
EPOCHS = ((1e9, 4e9, "s"), (1e12, 4e12, "ms"), (1e15, 4e15, "us"), (1e18, 4e18, "ns"))
"""Seconds since 1970 between 2001 and 2096, and the same in smaller units."""
DAY_NUMBERS = (20_000.0, 80_000.0)
"""Days since 1900 of a spreadsheet between 1954 and 2119."""
SHORTEST_STEP_S = 1e-3
SLOWEST_STEP_S = 300.0
"""Nobody logs a charge every five minutes."""
FAST_STEP_S = 100.0
LONGEST_LOG_S = 7 * 86_400.0
SECONDS = "s"
LARGEST_NUMBER = 1e19
SMALLEST_NUMBER = 1e-9
"""What is smaller is zero: beside other times it would be lost in rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """Seconds of every row, NaN where the time cannot be read.

    Parameters
    ----------
    seconds : ndarray
        From any beginning, [s]
    absolute : bool
        They come from dates or since 1970, so that two parts of a log can be put in order.
    local : bool
        A clock on the wall, which is put forward and back with summer time.
    of_day : bool
        Times of day without a date.
    repairs, doubts : tuple of Message
        What was concluded.
    """

    seconds: Floats
    absolute: bool = False
    local: bool = False
    of_day: bool = False
    repairs: tuple[Message, ...] = ()
    doubts: tuple[Message, ...] = ()


def times_of(texts: Sequence[str], unit: str) -> Times:
    """Read the column of times.

    Parameters
    ----------
    texts : Sequence[str]
        Of every row, with decimal points.
    unit : str
        Named in the header, or empty.

    Returns
    -------
    times : Times
        Seconds and what was concluded.

    Raises
    ------
    InputRefused
        At path ``columns.time_s``, when less than half of the rows have a time that can be read.
    """
    numbers = np.fromiter(map(_number, texts), dtype=np.float64, count=len(texts))
    numbers = np.where(np.abs(numbers) < LARGEST_NUMBER, numbers, np.nan)
    numbers[np.abs(numbers) < SMALLEST_NUMBER] = 0.0
    if np.isfinite(numbers).mean() > READABLE_SHARE:
        return _numeric(numbers, unit)
    read = seconds_of_texts(texts)
    if read is None or np.isfinite(read.seconds).mean() <= READABLE_SHARE:
        raise InputRefused([("columns.time_s", _unreadable(texts))])
    return Times(
        seconds=read.seconds,
        absolute=not read.of_day,
        local=read.local,
        of_day=read.of_day,
        doubts=read.doubts,
    )


def _number(text: str) -> float:
    """Read a time that is one number; NaN where it is not."""
    try:
        return float(text.strip(" \t\"'")) if "_" not in text else np.nan
    except ValueError:
        return np.nan


def _unreadable(texts: Sequence[str]) -> str:
    """Say what stands there instead of times."""
    shown = next((text.strip()[:40] for text in texts if text.strip()), "")
    return told(
        "holds no times that can be read, for instance {shown!r}: seconds, "
        "2026-03-03T08:15:00, 03.03.2026 08:15:00 or 08:15:00 can be read",
        shown=shown,
    )


def _numeric(numbers: Floats, unit: str) -> Times:
    """Read numbers: by the unit named, by their size, or by the step where only one fits."""
    present = numbers[np.isfinite(numbers)]
    middle = float(np.median(present))
    for low, high, epoch_unit in EPOCHS:
        if low <= middle <= high:
            return Times(seconds=(numbers - present[0]) * SECONDS_OF[epoch_unit], absolute=True)
    steps = np.abs(np.diff(present))
    steps = steps[steps > 0.0]
    step = float(np.median(steps)) if steps.size else 1.0
    span = float(present.max() - present.min())
    if unit in SECONDS_OF and unit != SECONDS:
        return _scaled(numbers, unit)
    if step < SHORTEST_STEP_S and DAY_NUMBERS[0] <= middle <= DAY_NUMBERS[1]:
        return _scaled(numbers, "d")
    if span > LONGEST_LOG_S and step >= FAST_STEP_S:
        return _scaled(numbers, "ms")
    usual = SHORTEST_STEP_S <= step <= SLOWEST_STEP_S
    return Times(seconds=numbers - present[0], doubts=() if usual else (_unsure(step),))


def _scaled(numbers: Floats, unit: str) -> Times:
    """Turn another unit into seconds, and say so."""
    first = numbers[np.isfinite(numbers)][0]
    text = told("The times are {unit}; they were turned into seconds.", unit=NAMES[unit])
    return Times(
        seconds=(numbers - first) * SECONDS_OF[unit],
        absolute=unit == "d",
        repairs=(Message("time_unit", text),),
    )


def _unsure(step: float) -> Message:
    """Say that the unit of time cannot be told."""
    text = told(
        "The times rise by {step:g} from row to row and were taken as seconds, "
        "which is unusual: give the column a name with its unit, such as time [ms].",
        step=step,
    )
    return Message("time_unit_unsure", text)
