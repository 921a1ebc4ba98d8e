"""The database that is backed up: the shop's SQLite file, or a database on a server.

Both give a SQLite file as the data stood at one moment. A backup is therefore the same kind of file
whichever database the shop works with, and is restored into a data folder of its own; from there
`move` takes it into a server's database.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from sqlite3 import Connection
from typing import Any, Final, Protocol

from django.conf import settings
from django.core.management import call_command
from django.db import DatabaseError, connection, connections, transaction

from workshop.backups import database
from workshop.backups.manifest import Head
from workshop.backups.places import Places
from workshop.backups.refusal import BackupRefused
from workshop.copying import copy_rows

__all__ = ["Live", "live_database"]

COPY: Final = "copy"
_ONE_MOMENT: Final = "SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY"


class Live(Protocol):
    """What a backup asks of the database that is in use."""

    def size_bytes(self) -> int:
        """Give about how large it is."""

    def whose(self) -> tuple[str, str, str]:
        """Give the workshop's identifier, its name and its time zone."""

    def heads(self) -> tuple[Head, ...]:
        """Give the ends of all chains now."""

    def copy(self, target: Path) -> None:
        """Write it into a SQLite file of its own, as it stood at one moment."""


class _File:
    """The shop's own file, read and never written."""

    def __init__(self, link: Connection) -> None:
        self.link = link

    def size_bytes(self) -> int:
        return database.size_bytes(self.link)

    def whose(self) -> tuple[str, str, str]:
        return database.whose(self.link)

    def heads(self) -> tuple[Head, ...]:
        return database.heads_of(self.link)

    def copy(self, target: Path) -> None:
        database.copy(self.link, target)


class _Server:
    """A database on a server, read in one transaction; needs no tools of that server."""

    def size_bytes(self) -> int:
        return int(_asked("SELECT pg_database_size(current_database())")[0][0])

    def whose(self) -> tuple[str, str, str]:
        return database.whose_rows(_asked(database.SHOP))

    def heads(self) -> tuple[Head, ...]:
        return tuple(Head(*row) for row in _asked(database.HEADS))

    def copy(self, target: Path) -> None:
        with _scratch(target):
            call_command("migrate", database=COPY, interactive=False, verbosity=0)
            with transaction.atomic():
                with connection.cursor() as cursor:
                    # Every table as it stands when the first one is read, whoever writes meanwhile.
                    cursor.execute(_ONE_MOMENT)
                copy_rows("default", COPY, lambda _table, _rows: None)
            with connections[COPY].cursor() as cursor:
                # The copy is to be one file, without a log beside it.
                cursor.execute("PRAGMA journal_mode=DELETE")


def _asked(question: str) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(question)
        return list(cursor.fetchall())


@contextmanager
def _scratch(target: Path) -> Iterator[None]:
    """Let Django know a SQLite file under the name `COPY`."""
    base = connections.databases["default"]
    connections.databases[COPY] = {**base, **settings.SQLITE, "NAME": str(target)}
    try:
        yield
    finally:
        connections[COPY].close()
        del connections[COPY]
        del connections.databases[COPY]


@contextmanager
def live_database(places: Places) -> Iterator[Live]:
    """Open the database that is in use.

    Raises
    ------
    BackupRefused
        Where it cannot be read.
    """
    if not places.on_server:
        with database.reading(places.database) as link:
            yield _File(link)
        return
    try:
        yield _Server()
    except DatabaseError as reason:
        raise BackupRefused("unreadable", why=str(reason)) from None
