"""How long a backup stays, and when the next one is due."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.backups.keeping import FAILED_KEPT, Kept, is_due, newest_good, to_remove
from workshop.backups.manifest import BEFORE_MIGRATION, DAILY, REASONS

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
BERLIN = ZoneInfo("Europe/Berlin")


def kept(hours_ago: float, reason: str = DAILY, *, failed: bool = False) -> Kept:
    made_at = NOW - timedelta(hours=hours_ago)
    return Kept(
        name=f"{reason} {hours_ago} {failed}", made_at=made_at, reason=reason, failed=failed
    )


@st.composite
def shelves(draw: st.DrawFn) -> list[Kept]:
    hours = draw(st.lists(st.integers(0, 24 * 800), unique=True, max_size=60))
    return [
        kept(hour, draw(st.sampled_from(REASONS)), failed=draw(st.booleans())) for hour in hours
    ]


def left(shelf: list[Kept], now: datetime = NOW) -> list[Kept]:
    gone = to_remove(shelf, now, UTC)
    return [each for each in shelf if each.name not in gone]


@given(shelves())
def test_the_newest_good_one_is_never_removed(shelf: list[Kept]) -> None:
    newest = newest_good(shelf, NOW)
    assert newest is None or newest in left(shelf)


@given(shelves())
def test_all_of_seven_days_and_thirty_days_before_migrations_stay(shelf: list[Kept]) -> None:
    days = {DAILY: 6, "by-hand": 6, BEFORE_MIGRATION: 29}
    young = [
        each
        for each in shelf
        if not each.failed and NOW - each.made_at <= timedelta(days=days[each.reason])
    ]
    assert set(young) <= set(left(shelf))


@given(shelves())
def test_weeks_and_months_keep_one_each_and_no_more(shelf: list[Kept]) -> None:
    stays = [each for each in left(shelf) if not each.failed and each.reason != BEFORE_MIGRATION]
    old = [each for each in stays if NOW - each.made_at > timedelta(days=7)]
    assert len(old) <= 8 + 12
    months = {(each.made_at.year, each.made_at.month) for each in shelf if not each.failed}
    recent = {month for month in months if month >= (2025, 12)}
    every = [each for each in left(shelf) if not each.failed]
    assert recent <= {(each.made_at.year, each.made_at.month) for each in every}


@given(shelves())
def test_tidying_twice_removes_nothing_more(shelf: list[Kept]) -> None:
    once = left(shelf)
    assert left(once) == once


@given(shelves())
def test_a_failed_one_never_takes_the_place_of_a_good_one(shelf: list[Kept]) -> None:
    good = [each for each in shelf if not each.failed]
    assert [each for each in left(shelf) if not each.failed] == left(good)
    assert sum(each.failed for each in left(shelf)) <= FAILED_KEPT


def test_a_year_of_days_leaves_a_handful() -> None:
    shelf = [kept(24 * day) for day in range(365)]
    stays = left(shelf)
    assert stays[:7] == shelf[:7]
    assert 7 + 6 + 10 <= len(stays) <= 7 + 8 + 12


def test_an_old_one_goes_and_the_same_one_stays_where_it_is_the_last() -> None:
    old = kept(24 * 500)
    assert to_remove([old, kept(1)], NOW, UTC) == (old.name,)
    assert to_remove([old], NOW, UTC) == ()


def due(now: datetime, newest: datetime | None, tried: datetime | None = None) -> bool:
    return is_due(now, newest, tried=tried, zone=BERLIN, hour=21)


def local(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 11, day, hour, minute, tzinfo=BERLIN)


@pytest.mark.parametrize(
    ("now", "newest", "expected"),
    [
        (local(25, 8), None, True),
        (local(25, 8), local(24, 21, 1), False),
        (local(25, 20, 59), local(24, 21, 1), False),
        (local(25, 21), local(24, 21, 1), True),
        (local(25, 21, 5), local(25, 21, 1), False),
        # The computer was off at nine in the evening.
        (local(25, 8), local(24, 8), True),
        # The clock was ahead when the newest was made.
        (local(25, 8), local(27, 8), True),
    ],
)
def test_it_is_due_once_for_each_passing_of_the_hour(
    now: datetime, newest: datetime | None, *, expected: bool
) -> None:
    assert due(now, newest) is expected


def test_after_a_failure_an_hour_passes() -> None:
    failed_at = local(25, 21)
    assert not due(local(25, 21, 59), None, failed_at)
    assert due(local(25, 22), None, failed_at)


@given(st.datetimes(datetime(2026, 1, 1), datetime(2027, 1, 1)), st.integers(0, 23))  # noqa: DTZ001
def test_a_backup_made_now_is_never_followed_at_once_and_always_within_a_day(
    moment: datetime, hour: int
) -> None:
    made_at = moment.replace(tzinfo=UTC)
    assert not is_due(made_at, made_at, zone=BERLIN, hour=hour)
    # The day on which clocks go back has 25 hours.
    assert is_due(made_at + timedelta(hours=25), made_at, zone=BERLIN, hour=hour)


def test_one_dated_ahead_of_the_clock_or_failed_does_not_count_as_the_newest() -> None:
    good = kept(30)
    assert newest_good([kept(-5), kept(1, failed=True), good], NOW) == good
    assert newest_good([kept(1, failed=True)], NOW) is None
