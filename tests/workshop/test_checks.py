"""Settings under which a shop's data would not be safe are named."""

from typing import Any

import pytest
from pytest_django import Settings as DjangoSettings

from workshop import checks


def found(check: Any) -> list[str | None]:
    return [message.id for message in check(None)]


def test_the_settings_as_they_are_pass() -> None:
    assert found(checks.check_time) == []
    assert found(checks.check_sqlite) == []


def test_another_time_zone_is_refused(settings: DjangoSettings) -> None:
    settings.TIME_ZONE = "Europe/Dublin"
    assert found(checks.check_time) == ["workshop.E001"]


@pytest.mark.parametrize(
    ("options", "messages"),
    [
        ({}, ["workshop.E002", "workshop.E003", "workshop.E004"]),
        (
            {
                "transaction_mode": "IMMEDIATE",
                "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;",
            },
            ["workshop.E003", "workshop.E004"],
        ),
    ],
)
def test_a_database_that_could_lose_an_entry_is_refused(
    options: dict[str, Any], messages: list[str]
) -> None:
    sqlite = {"ENGINE": "django.db.backends.sqlite3", "OPTIONS": options}
    assert [fault.id for fault in checks.faults_of_database(sqlite)] == messages


def test_another_database_has_its_own_ways() -> None:
    postgresql = {"ENGINE": "django.db.backends.postgresql"}
    assert checks.faults_of_database(postgresql) == []


def test_a_clock_that_can_be_set_is_named(settings: DjangoSettings) -> None:
    settings.COLDBUS_MOVABLE_CLOCK = True
    assert found(checks.check_clock) == ["workshop.E005"]
    settings.COLDBUS_MOVABLE_CLOCK = False
    assert found(checks.check_clock) == []
