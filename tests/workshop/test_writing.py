"""One writer at a time."""

import pytest
from django.db import connection

from workshop.writing import one_writer

pytestmark = pytest.mark.django_db


def names() -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT session_key FROM django_session ORDER BY session_key")
        return [row[0] for row in cursor.fetchall()]


def write(name: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO django_session (session_key, session_data, expire_date) "
            "VALUES (%s, '', '2026-03-02')",
            [name],
        )


def fail_after_writing(name: str) -> None:
    with one_writer():
        write(name)
        raise ZeroDivisionError


def test_what_is_written_in_the_block_stays() -> None:
    with one_writer():
        write("first")
    assert names() == ["first"]


def test_a_block_that_fails_leaves_nothing() -> None:
    with pytest.raises(ZeroDivisionError):
        fail_after_writing("first")
    assert names() == []


def test_a_block_inside_a_block_can_fail_alone() -> None:
    with one_writer():
        write("outer")
        with pytest.raises(ZeroDivisionError):
            fail_after_writing("inner")
    assert names() == ["outer"]
