"""Dates and times of day as seconds.

Here: ISO 8601, dates of three numbers in either order, times of day, minutes and seconds. Not here:
numbers as times (times.py), midnight and summer time (clock.py).
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import numpy.typing as npt

from packs.physics.cycle_case import Floats
from packs.physics.instrument import Message
from packs.words import told

CLOCK = r"(\d{1,3}):(\d\d)(?::(\d\d)(?:[.,:](\d{1,9}))?)?\s*([AaPp]\.?[Mm]\.?)?"
DATE = r"(\d{1,4})\s*([-./])\s*(\d{1,2}|[A-Za-z]{3,9})\.?\s*\2\s*(\d{1,4})"
ZONE = r"\s*(Z|UTC|GMT|[-+]\d\d:?\d\d)?"
DATED = re.compile(DATE + r"[T_,;\s]*(?:" + CLOCK + r")?" + ZONE)
OF_DAY = re.compile(CLOCK + ZONE)
SHORT = re.compile(r"(\d{1,3}):(\d\d)(?:[.,](\d{1,9}))?")
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
MONTHS_A_YEAR = 12
LONGEST_DAY = 31
FULL_YEAR = 1000
CENTURY = 2000
DAY_S = 86_400.0
NOON_H = 12
TRIED = 200
MOST = 0.5
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """Seconds of every row, NaN where the text is no time.

    Parameters
    ----------
    seconds : ndarray
        Since 1970, or of the day, [s]
    local : bool
        Without an offset from universal time.
    of_day : bool
        Without a date.
    doubts : tuple of Message
        What could be read in two ways.
    """

    seconds: Floats
    local: bool = False
    of_day: bool = False
    doubts: tuple[Message, ...] = ()


def seconds_of_texts(texts: Sequence[str]) -> Read | None:
    """Read times that are no plain numbers.

    Parameters
    ----------
    texts : Sequence[str]
        Of every row.

    Returns
    -------
    read : Read or None
        None where no way of writing fits most rows.

    Examples
    --------
    >>> seconds_of_texts(["2026-03-03T08:15:00Z", "2026-03-03T08:15:01.5Z"]).seconds.tolist()
    [1772525700.0, 1772525701.5]
    """
    stripped = [text.strip(" \t\"'") for text in texts]
    some = stripped[:: max(len(stripped) // TRIED, 1)]
    if sum(_iso(text) is not None for text in some) > MOST * len(some):
        return _from_iso(stripped)
    if sum(DATED.fullmatch(text) is not None for text in some) > MOST * len(some):
        return _from_dates(stripped)
    if sum(OF_DAY.fullmatch(text) is not None for text in some) > MOST * len(some):
        return _from_day(stripped)
    if sum(SHORT.fullmatch(text) is not None for text in some) > MOST * len(some):
        return _from_minutes(stripped)
    return None


def _iso(text: str) -> datetime | None:
    """Read ISO 8601 with a time of day; a date alone is none."""
    if ":" not in text and "T" not in text:
        return None
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        pass
    try:
        return datetime.fromisoformat(text.replace(",", ".").replace(" Z", "Z"))
    except ValueError:
        return None


def _from_iso(texts: Sequence[str]) -> Read:
    """Read ISO 8601; a time without an offset is taken as it stands."""
    seconds = np.full(len(texts), np.nan)
    local = 0
    for row, text in enumerate(texts):
        read = _iso(text)
        if read is None:
            continue
        if read.tzinfo is None:
            local += 1
            read = read.replace(tzinfo=UTC)
        seconds[row] = (read - EPOCH).total_seconds()
    readable = int(np.isfinite(seconds).sum())
    return Read(seconds=seconds, local=local > 0, doubts=_zones(local, readable))


def _zones(local: int, readable: int) -> tuple[Message, ...]:
    """Say that only some times have an offset from universal time."""
    if local in {0, readable}:
        return ()
    text = told(
        "{local} of {readable} times have no offset from universal time, the "
        "others have one: the time between them cannot be told. Export the log in "
        "one form.",
        local=local,
        readable=readable,
    )
    return (Message("time_zone_mixed", text),)


def _from_dates(texts: Sequence[str]) -> Read:
    """Read dates of three numbers; the order of day and month is told from all of them."""
    found = [DATED.fullmatch(text) for text in texts]
    parts = np.zeros((len(texts), 3), dtype=np.int64)
    of_day = np.full(len(texts), np.nan)
    zones = 0
    points = False
    for row, match in enumerate(found):
        if match is None:
            continue
        first, sign, second, third = match.group(1, 2, 3, 4)
        parts[row] = int(first), _month(second), int(third)
        of_day[row] = _day_seconds(*match.group(5, 6, 7, 8, 9)) - _offset_s(match[10])
        zones += match[10] is not None
        points = points or sign == "." or second.isalpha()
    kept = np.isfinite(of_day)
    days, doubts = _days(parts, of_day, kept, day_first=points)
    readable = int(kept.sum())
    seconds = days * DAY_S + of_day
    doubts = (*doubts, *_zones(readable - zones, readable))
    return Read(seconds=seconds, local=zones == 0, doubts=doubts)


def _month(text: str) -> int:
    """Return a month's number; 0 where the word is none."""
    if text.isdigit():
        return int(text)
    return MONTHS.index(text[:3].casefold()) + 1 if text[:3].casefold() in MONTHS else 0


def _day_seconds(
    hours: str | None,
    minutes: str | None,
    seconds: str | None,
    fraction: str | None,
    half: str | None,
) -> float:
    """Return the seconds of a time of day."""
    if hours is None or minutes is None:
        return 0.0
    hour = int(hours)
    if half is not None:
        hour = hour % NOON_H + (NOON_H if half[0] in "Pp" else 0)
    whole = 3600 * hour + 60 * int(minutes) + int(seconds or 0)
    return whole + (float(f"0.{fraction}") if fraction else 0.0)


def _offset_s(zone: str | None) -> float:
    """Return how far a zone is ahead of universal time."""
    if zone is None or zone[0] not in "+-":
        return 0.0
    ahead = 3600.0 * int(zone[1:3]) + 60.0 * int(zone[-2:])
    return -ahead if zone[0] == "-" else ahead


def _days(
    parts: Ints, of_day: Floats, kept: npt.NDArray[np.bool_], *, day_first: bool
) -> tuple[Floats, tuple[Message, ...]]:
    """Return days since 1970, the order of the parts told from their size and from rising times."""
    first, second = parts[kept][:, 0], parts[kept][:, 1]
    if int(np.median(first)) >= FULL_YEAR:
        return _day_numbers(parts[:, 0], parts[:, 1], parts[:, 2]), ()
    by_day = _day_numbers(parts[:, 2], parts[:, 1], parts[:, 0])
    by_month = _day_numbers(parts[:, 2], parts[:, 0], parts[:, 1])
    if day_first or first.max() > MONTHS_A_YEAR:
        return by_day, ()
    if second.max() > MONTHS_A_YEAR:
        return by_month, ()
    seconds_by_day = (by_day * DAY_S + of_day)[kept]
    seconds_by_month = (by_month * DAY_S + of_day)[kept]
    if np.allclose(np.diff(seconds_by_day), np.diff(seconds_by_month), equal_nan=True):
        return by_day, ()
    worst_by_day, worst_by_month = _worst_step(seconds_by_day), _worst_step(seconds_by_month)
    chosen = by_day if worst_by_day <= worst_by_month else by_month
    if min(worst_by_day, worst_by_month) <= DAY_S < max(worst_by_day, worst_by_month):
        return chosen, ()
    text = (
        "Day and month cannot be told apart in the dates: export the log with times like"
        " 2026-03-03 08:15:00."
    )
    return chosen, (Message("date_order_unsure", text),)


def _day_numbers(years: Ints, months: Ints, days: Ints) -> Floats:
    """Return days since 1970, NaN where there is no such month or day."""
    full = np.where(years < FULL_YEAR, years + CENTURY, years)
    valid = (months >= 1) & (months <= MONTHS_A_YEAR) & (days >= 1) & (days <= LONGEST_DAY)
    counted = (full - 1970) * MONTHS_A_YEAR + np.where(valid, months, 1) - 1
    numbers = counted.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64) + days - 1
    return np.where(valid, numbers, np.nan).astype(np.float64)


def _worst_step(seconds: Floats) -> float:
    """Return the longest step in either direction; infinite where a date does not exist."""
    if not np.isfinite(seconds).all():
        return float("inf")
    return float(np.abs(np.diff(seconds)).max(initial=0.0))


def _from_day(texts: Sequence[str]) -> Read:
    """Read times of day or hours, minutes and seconds since a beginning."""
    seconds = np.full(len(texts), np.nan)
    with_seconds = 0
    for row, text in enumerate(texts):
        match = OF_DAY.fullmatch(text)
        if match is not None:
            seconds[row] = _day_seconds(*match.group(1, 2, 3, 4, 5)) - _offset_s(match[6])
            with_seconds += match[3] is not None
    of_day = bool(np.nanmax(seconds) < DAY_S)
    if with_seconds:
        return Read(seconds=seconds, local=of_day, of_day=of_day)
    return _hours_or_minutes(seconds, of_day=of_day)


def _hours_or_minutes(seconds: Floats, *, of_day: bool) -> Read:
    """Tell hours and minutes from minutes and seconds: only minutes go beyond 23."""
    if not of_day:
        return Read(seconds=seconds / 60.0)
    text = (
        "The times have two numbers and were taken as hours and minutes; they may be minutes and"
        " seconds. Export the log with seconds."
    )
    return Read(
        seconds=seconds, local=True, of_day=True, doubts=(Message("time_format_unsure", text),)
    )


def _from_minutes(texts: Sequence[str]) -> Read:
    """Read minutes and seconds with a fraction."""
    seconds = np.full(len(texts), np.nan)
    for row, text in enumerate(texts):
        match = SHORT.fullmatch(text)
        if match is not None:
            part = float(f"0.{match[3]}") if match[3] else 0.0
            seconds[row] = 60.0 * int(match[1]) + int(match[2]) + part
    return Read(seconds=seconds)
