"""One writer at a time: every action writes inside ``one_writer``.

On SQLite one process owns the file and its threads take turns, which keeps the wait short
and even; a command that writes while the server runs is refused. On PostgreSQL the database
does this, and an action locks the rows it changes.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from threading import RLock

from django.conf import settings
from django.db import connection, transaction

from workshop import once_a_request
from workshop.serving.folder_lock import FolderLock

_TURN = RLock()


@lru_cache(maxsize=1)
def folder_lock() -> FolderLock:
    """Return the lock of this process's data folder."""
    return FolderLock(settings.COLDBUS_DATA)


@contextmanager
def one_writer() -> Iterator[None]:
    """Run the block as the only writer, in one transaction.

    A process that has written keeps the data folder until it ends. Blocks may be nested; an
    inner one is a savepoint of the outer.

    Raises
    ------
    FolderInUse
        Where another process, as a rule the server, owns the data folder.
    """
    with _turn():
        try:
            with transaction.atomic():
                once_a_request.forget()
                yield
        finally:
            # What was read inside may have been rolled back.
            once_a_request.forget()


@contextmanager
def _turn() -> Iterator[None]:
    if connection.vendor != "sqlite":
        yield
        return
    with _TURN:
        if not _is_in_memory():
            folder_lock().take("a command that writes")
        yield


def take_turn(number: int) -> None:
    """Wait, inside ``one_writer``, until nobody else adds to the same log; held until it ends.

    On SQLite ``one_writer`` is that turn. On PostgreSQL the last row of a log cannot be locked
    against one that comes after it, and the role that serves may lock no row of it at all.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [number])


def _is_in_memory() -> bool:
    """Say whether the database is a test's, which no other process can reach."""
    name = str(connection.settings_dict["NAME"])
    return ":memory:" in name or "mode=memory" in name
