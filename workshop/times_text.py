"""How days and times are written for people, in the reader's language: used by pages and papers.

No clock: what is written is given. Numbers with units are `workshop.figures_text`.
"""

from datetime import date, datetime, tzinfo
from decimal import Decimal
from math import isfinite
from typing import Final

from django.utils.translation import pgettext_lazy

__all__ = ["clock_time", "day", "duration", "moment"]

SPACE: Final = "\u00a0"
"""Where a line never breaks."""
MINUS: Final = "\u2212"
NONE: Final = "–"


_MONTHS: Final = (
    pgettext_lazy("month", "Jan"),
    pgettext_lazy("month", "Feb"),
    pgettext_lazy("month", "Mar"),
    pgettext_lazy("month", "Apr"),
    pgettext_lazy("month", "May"),
    pgettext_lazy("month", "Jun"),
    pgettext_lazy("month", "Jul"),
    pgettext_lazy("month", "Aug"),
    pgettext_lazy("month", "Sep"),
    pgettext_lazy("month", "Oct"),
    pgettext_lazy("month", "Nov"),
    pgettext_lazy("month", "Dec"),
)
"""The short names of the months in their order in the language of whoever reads."""


def duration(seconds: float | str | Decimal | None) -> str:
    """Write a time span in the two largest units that fit.

    Examples
    --------
    >>> [duration(s).replace(SPACE, " ") for s in (35, 600, 14_400, 100_800)]
    ['35 s', '10 min', '4 h', '1 d 4 h']
    """
    whole = None if seconds is None or seconds == "" else float(seconds)
    if whole is None or not isfinite(whole):
        return NONE
    rest = abs(round(whole))
    sign = MINUS if whole < 0 and rest else ""
    shown: list[str] = []
    for unit, length in (("d", 86_400), ("h", 3600), ("min", 60), ("s", 1)):
        count, rest = divmod(rest, length)
        if count:
            shown.append(f"{count}{SPACE}{unit}")
        elif shown:
            break
    return sign + SPACE.join(shown[:2]) if shown else f"0{SPACE}s"


def day(value: date | None) -> str:
    """Write a day.

    Examples
    --------
    >>> day(date(2026, 3, 2)).replace(SPACE, " ")
    '2 Mar 2026'
    """
    if value is None:
        return NONE
    return f"{value.day}{SPACE}{_MONTHS[value.month - 1]}{SPACE}{value.year}"


def moment(value: datetime | None, zone: tzinfo) -> str:
    """Write day and time in a zone.

    Examples
    --------
    >>> from datetime import UTC
    >>> moment(datetime(2026, 3, 2, 9, 42, tzinfo=UTC), UTC).replace(SPACE, " ")
    '2 Mar 2026, 09:42'
    """
    if value is None:
        return NONE
    local = value.astimezone(zone)
    return f"{day(local.date())},{SPACE}{local:%H:%M}"


def clock_time(value: datetime | None, zone: tzinfo) -> str:
    """Write only the time of day in a zone.

    Examples
    --------
    >>> from datetime import UTC
    >>> clock_time(datetime(2026, 3, 2, 9, 42, tzinfo=UTC), UTC)
    '09:42'
    """
    return NONE if value is None else f"{value.astimezone(zone):%H:%M}"
