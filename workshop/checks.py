"""System checks: settings under which a shop's data would not be safe.

They run at every start (``manage.py up``) and in ``manage.py check --deploy``.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from django.apps.config import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register


def register_all() -> None:
    """Make the checks known to Django."""
    register(check_time, Tags.compatibility)
    register(check_sqlite, Tags.database)
    register(check_clock, Tags.security, deploy=True)


def check_time(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """Check that times are stored in UTC, whatever zone the shop reads them in."""
    del app_configs, kwargs
    if settings.USE_TZ and settings.TIME_ZONE == "UTC":
        return []
    hint = "The shop's own zone is a row in its register."
    return [Error("TIME_ZONE must be UTC and USE_TZ on.", hint=hint, id="workshop.E001")]


def check_sqlite(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """Check that an acknowledged entry survives a power cut and a writer waits its turn."""
    del app_configs, kwargs
    return faults_of_database(settings.DATABASES["default"])


def faults_of_database(database: Mapping[str, Any]) -> list[CheckMessage]:
    """Name what the settings of a SQLite database lack; another database has its own ways."""
    if not database["ENGINE"].endswith("sqlite3"):
        return []
    options = database.get("OPTIONS", {})
    first_words = options.get("init_command", "").replace(" ", "").lower()
    found: list[CheckMessage] = []
    if options.get("transaction_mode") != "IMMEDIATE":
        found.append(Error("SQLite needs transaction_mode IMMEDIATE.", id="workshop.E002"))
    if "synchronous=full" not in first_words or "journal_mode=wal" not in first_words:
        found.append(
            Error("SQLite needs journal_mode=WAL and synchronous=FULL.", id="workshop.E003")
        )
    if "recursive_triggers=on" not in first_words:
        found.append(Error("SQLite needs recursive_triggers=ON.", id="workshop.E004"))
    return found


def check_clock(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """Check that nobody can set the clock, or waits and due dates would mean nothing."""
    del app_configs, kwargs
    if not settings.COLDBUS_MOVABLE_CLOCK:
        return []
    hint = "Leave COLDBUS_MOVABLE_CLOCK out; it is for practice and test databases."
    return [Error("The clock of this database can be set.", hint=hint, id="workshop.E005")]
