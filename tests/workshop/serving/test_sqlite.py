"""Which SQLite library is safe to use."""

import sqlite3

import pytest
from django.db import connection

from workshop.serving import sqlite


@pytest.mark.parametrize("version", [(3, 51, 3), (3, 53, 0), (3, 44, 6), (3, 50, 7), (4, 0, 0)])
def test_a_mended_version_is_known(version: tuple[int, ...]) -> None:
    assert sqlite.is_fixed(version)


@pytest.mark.parametrize("version", [(3, 40, 1), (3, 44, 5), (3, 50, 6), (3, 51, 2), (3, 45, 9)])
def test_a_version_with_the_fault_is_known(version: tuple[int, ...]) -> None:
    assert not sqlite.is_fixed(version)


@pytest.mark.django_db
def test_what_is_reported_is_what_the_database_runs_on() -> None:
    if connection.vendor != "sqlite":
        pytest.skip("the tests run on PostgreSQL")
    with connection.cursor() as cursor:
        cursor.execute("SELECT sqlite_version()")
        (version,) = cursor.fetchone()
    assert version == ".".join(str(part) for part in sqlite.version_in_use())
    assert sqlite3.sqlite_version == version
