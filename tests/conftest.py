"""What every test may rely on: fast settings, a repeatable hypothesis, and three fixtures.

``clock`` stands still until moved, ``no_queries`` blocks the database, ``data_folder`` is empty.
"""

import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import connection
from hypothesis import settings as hypothesis_settings

from workshop import clock as shop_clock

hypothesis_settings.register_profile("house", derandomize=True, deadline=None)
hypothesis_settings.load_profile("house")

# A Monday morning, in winter, before the shop opens.
START = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
DATABASE_FIXTURES = {"db", "transactional_db", "live_server"}
DATA = Path(tempfile.mkdtemp(prefix="coldbus-tests-"))


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--database-only",
        action="store_true",
        help="only tests that use the database: what is pure is the same on every database",
    )


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--database-only"):
        pure = [item for item in items if not DATABASE_FIXTURES & {*_fixtures_of(item)}]
        items[:] = [item for item in items if DATABASE_FIXTURES & {*_fixtures_of(item)}]
        config.hook.pytest_deselected(items=pure)


def _fixtures_of(item: pytest.Item) -> list[str]:
    marked = item.get_closest_marker("django_db") is not None
    return [*getattr(item, "fixturenames", ()), *(["db"] if marked else [])]


def pytest_configure() -> None:
    plain = {"BACKEND": settings.COLDBUS_PLAIN_STATIC}
    settings.STORAGES = {**settings.STORAGES, "staticfiles": plain}
    settings.COLDBUS_MOVABLE_CLOCK = True
    settings.COLDBUS_DATA = DATA
    settings.COLDBUS_BACKUPS = DATA / "backups"
    settings.STATIC_ROOT = DATA / "staticfiles"
    settings.STATIC_ROOT.mkdir()
    settings.MEDIA_ROOT = DATA / "attachments"
    settings.SESSION_COOKIE_SECURE = False
    settings.CSRF_COOKIE_SECURE = False


def pytest_unconfigure() -> None:
    shutil.rmtree(DATA, ignore_errors=True)


@pytest.fixture
def clock() -> Iterator[shop_clock.FixedClock]:
    """Time stands at START until the test moves it with ``clock.advance``."""
    with shop_clock.use_fixed(START) as fixed:
        yield fixed


class QueryWhileRenderingError(AssertionError):
    """The database was asked where only what was read before may be shown."""


def _refuse_query(
    execute: Callable[..., Any], sql: str, params: Any, many: bool, context: dict[str, Any]
) -> Any:
    del execute, params, many, context
    raise QueryWhileRenderingError(sql)


@pytest.fixture
def no_queries() -> Callable[[], AbstractContextManager[None]]:
    """Return a block inside which any query fails: ``with no_queries(): render(…)``."""
    return lambda: connection.execute_wrapper(_refuse_query)


@pytest.fixture
def data_folder(tmp_path: Path) -> Path:
    """Return an empty data folder."""
    folder = tmp_path / "data"
    folder.mkdir()
    return folder
