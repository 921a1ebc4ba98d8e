"""The one clock."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from django.core.exceptions import ImproperlyConfigured
from pytest_django import Settings as DjangoSettings

from workshop import clock

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


def test_now_is_told_in_utc() -> None:
    assert clock.now().tzinfo is UTC


def test_a_fixed_clock_stands_until_it_is_moved() -> None:
    with clock.use_fixed(NOON) as fixed:
        assert clock.now() == clock.now() == NOON
        fixed.advance(timedelta(minutes=7))
        assert clock.now() == NOON + timedelta(minutes=7)


def test_a_moment_of_another_zone_is_told_in_utc() -> None:
    with clock.use_fixed(NOON.astimezone(timezone(timedelta(hours=5)))):
        assert clock.now().hour == NOON.hour


def test_time_goes_on_after_the_block_even_when_it_failed() -> None:
    with pytest.raises(ZeroDivisionError), clock.use_fixed(NOON):
        raise ZeroDivisionError
    assert clock.now() != NOON


def test_a_moment_without_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="time zone"), clock.use_fixed(NOON.replace(tzinfo=None)):
        pass


def test_the_clock_of_a_shops_own_database_cannot_be_set(settings: DjangoSettings) -> None:
    settings.COLDBUS_MOVABLE_CLOCK = False
    with pytest.raises(ImproperlyConfigured, match="cannot be set"), clock.use_fixed(NOON):
        pass
