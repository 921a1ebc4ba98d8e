"""How long a backup stays and when the next one is due: pure rules, no clock, no files."""

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from typing import Final

from workshop.backups.manifest import BEFORE_MIGRATION

DAYS: Final = 7
WEEKS: Final = 8
MONTHS: Final = 12
BEFORE_MIGRATION_DAYS: Final = 30
FAILED_KEPT: Final = 2
RETRY_AFTER: Final = timedelta(hours=1)
OVERDUE_AFTER: Final = timedelta(hours=26)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """One backup as its file name tells: when, why, whether it passed its check."""

    name: str
    made_at: datetime
    reason: str
    failed: bool = False


def to_remove(backups: Iterable[Kept], now: datetime, zone: tzinfo) -> tuple[str, ...]:
    """Name the backups that may go.

    Kept are: all of the last 7 days, the newest of each of the last 8 weeks and of each of the
    last 12 months, those made before a migration for 30 days, and always the newest good one. Of
    those that failed their check the newest two stay to be looked at.

    Parameters
    ----------
    backups : Iterable of Kept
        The backups of one workshop.
    now : datetime
        The time.
    zone : tzinfo
        The zone in which the workshop's days begin.

    Returns
    -------
    tuple of str
        Names of files.
    """
    newest_first = sorted(backups, key=lambda each: each.made_at, reverse=True)
    failed = [each.name for each in newest_first if each.failed]
    good = [each for each in newest_first if not each.failed]
    today = now.astimezone(zone).date()
    kept = {each.name for each in good[:1]}
    kept |= {each.name for each in good if _is_recent(each, today, zone)}
    kept |= _newest_of_each(good, [_week(today - timedelta(weeks=n)) for n in range(WEEKS)], zone)
    kept |= _newest_of_each(good, [_month(today, n) for n in range(MONTHS)], zone)
    gone = [each.name for each in good if each.name not in kept]
    return (*gone, *failed[FAILED_KEPT:])


def _day(each: Kept, zone: tzinfo) -> date:
    """Give the workshop's day on which a backup was made."""
    return each.made_at.astimezone(zone).date()


def _is_recent(each: Kept, today: date, zone: tzinfo) -> bool:
    """Say whether a backup is young enough for its kind; one from the future always is."""
    days = BEFORE_MIGRATION_DAYS if each.reason == BEFORE_MIGRATION else DAYS
    return _day(each, zone) > today - timedelta(days=days)


def _week(day: date) -> tuple[str, int, int]:
    """Name the week of a day."""
    year, week, _weekday = day.isocalendar()
    return ("week", year, week)


def _month(day: date, before: int = 0) -> tuple[str, int, int]:
    """Name the month of a day, or one that many months before."""
    year, month = divmod(day.year * 12 + day.month - 1 - before, 12)
    return ("month", year, month + 1)


def _newest_of_each(
    newest_first: Sequence[Kept], periods: Sequence[Hashable], zone: tzinfo
) -> set[str]:
    """Name the newest backup of each period."""
    newest: dict[Hashable, str] = {}
    for each in newest_first:
        day = _day(each, zone)
        for period in (_week(day), _month(day)):
            if period in periods:
                newest.setdefault(period, each.name)
    return set(newest.values())


def newest_good(backups: Iterable[Kept], now: datetime) -> Kept | None:
    """Give the newest backup that passed its check; one dated ahead of the clock does not count."""
    good = [each for each in backups if not each.failed and each.made_at <= now]
    return max(good, key=lambda each: each.made_at, default=None)


def last_hour_before(now: datetime, zone: tzinfo, hour: int) -> datetime:
    """Give the last time the workshop's clock showed that full hour."""
    local = now.astimezone(zone)
    slot = datetime.combine(local.date(), time(hour), zone)
    if slot > local:
        slot = datetime.combine(local.date() - timedelta(days=1), time(hour), zone)
    return slot


def is_due(
    now: datetime,
    newest: datetime | None,
    *,
    tried: datetime | None = None,
    zone: tzinfo,
    hour: int,
) -> bool:
    """Say whether the daily backup is to be made now.

    Once for each passing of ``hour``, the hour at which the shop is usually closed; where the
    computer was off then, soon after its next start. So none is ever older than a day while it
    runs. After a failure an hour passes before the next attempt.

    Parameters
    ----------
    now : datetime
        The time.
    newest : datetime or None
        When the newest good backup was made.
    tried : datetime or None
        When an attempt last failed.
    zone : tzinfo
        The workshop's zone.
    hour : int
        Local hour of the day [h].

    Returns
    -------
    bool
        Whether it is due.
    """
    if tried is not None and timedelta(0) <= now - tried < RETRY_AFTER:
        return False
    return newest is None or newest > now or newest < last_hour_before(now, zone, hour)
