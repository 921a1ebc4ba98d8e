"""A full disk has an answer of its own, by which a tablet knows that it has to keep its entries."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from django.db import connection
from django.db.utils import OperationalError
from django.http import HttpRequest
from django.test import RequestFactory

from workshop import disk_full, fault_pages
from workshop.disk_full import is_disk_full


def fill_up(database: sqlite3.Connection) -> None:
    database.execute("CREATE TABLE filling (text text)")
    database.execute("PRAGMA max_page_count=8")
    database.execute("INSERT INTO filling VALUES (?)", ("x" * 100_000,))


def answer_to(request: HttpRequest) -> tuple[int, str]:
    with closing(sqlite3.connect(":memory:")) as database:
        try:
            fill_up(database)
        except sqlite3.OperationalError as reason:
            return answered_while_handling(request, reason)
    raise AssertionError("the file was not full")


def answered_while_handling(request: HttpRequest, reason: Exception) -> tuple[int, str]:
    """Answer as the server does while what Django makes of a reason is being handled."""
    with pytest.raises(OperationalError) as caught, connection.wrap_database_errors:
        raise reason
    try:
        raise caught.value
    except OperationalError:
        answer = fault_pages.server_error(request)
    return answer.status_code, answer.content.decode()


def test_what_sqlite_says_of_a_full_disk_is_told_from_a_mistake() -> None:
    status, text = answer_to(RequestFactory().post("/jobs/7/"))
    assert status == 507
    assert "stays there" in text
    assert not is_disk_full(None)
    assert not is_disk_full(sqlite3.OperationalError("database is locked"))


class Unsaid(Exception):
    """What SQLite says where the index of its log finds no room, and of a failing disk too."""

    sqlite_errorname = "SQLITE_IOERR"


def test_where_sqlite_says_only_that_reading_failed_the_disk_is_asked_for_its_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert not is_disk_full(Unsaid(), tmp_path)
    monkeypatch.setattr(disk_full, "NO_ROOM_BYTES", shutil.disk_usage(tmp_path).total + 1)
    assert is_disk_full(Unsaid(), tmp_path)
    assert not is_disk_full(Unsaid())
    assert not is_disk_full(sqlite3.OperationalError("database is locked"), tmp_path)
