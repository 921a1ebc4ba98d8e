"""Doing with the database what its triggers refuse, as somebody with its file or its owner could.

``sqlite_only`` marks what SQLite alone can do, and what is left to a database server's own tools.
"""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.db import connection

from jobs.triggers import create_triggers

__all__ = ["drop_trigger", "forged", "postgresql_only", "sqlite_only", "without_triggers"]

postgresql_only = pytest.mark.skipif(
    connection.vendor != "postgresql", reason="a matter of PostgreSQL alone"
)
sqlite_only = pytest.mark.skipif(connection.vendor != "sqlite", reason="a matter of SQLite alone")


def _run(statement: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement)


def drop_trigger(name: str) -> None:
    """Drop one trigger by its name, which begins with that of its table."""
    table = name.rsplit("_no_", 1)[0]
    if connection.vendor == "sqlite":
        _run(f"DROP TRIGGER {name}")
        return
    # A table whose rows wait for the check of their constraints cannot be altered.
    _run("SET CONSTRAINTS ALL IMMEDIATE")
    _run(f"DROP TRIGGER {name} ON {table}")


@contextmanager
def without_triggers(table: str) -> Iterator[None]:
    """Take the triggers of a table away for a while."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = %s", [table]
            )
            names = [name for (name,) in cursor.fetchall()]
        for name in names:
            _run(f"DROP TRIGGER {name}")
        yield
        create_triggers()
        return
    _run("SET CONSTRAINTS ALL IMMEDIATE")
    _run(f"ALTER TABLE {table} DISABLE TRIGGER USER")
    yield
    _run("SET CONSTRAINTS ALL IMMEDIATE")
    _run(f"ALTER TABLE {table} ENABLE TRIGGER USER")


def forged(table: str, statement: str, *values: str | int | bytes) -> None:
    """Run a statement on a table without its triggers."""
    with without_triggers(table), connection.cursor() as cursor:
        cursor.execute(statement, values)
