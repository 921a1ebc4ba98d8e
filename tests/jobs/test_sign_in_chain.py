"""The log of ways in holds together: what is changed, put in, taken out or cut off shows."""

import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from jobs.queries.heads import heads_faults, heads_list, read_heads
from jobs.queries.verify import verify_around
from tests.forging import forged, postgresql_only
from tests.running import manage
from workshop import actions, clock, signing_keys
from workshop.models import SignIn
from workshop.serving.data_folder import DATABASE_NAME

KINDS = ("signed_on", "pin_wrong", "signed_off", "signed_on")
NOBODY = "00000000-0000-4000-8000-000000000009"


@pytest.fixture
def lines(db: None) -> list[int]:
    """Write some lines and give their numbers."""
    for kind in KINDS:
        actions.note_sign_in(kind, person_id=NOBODY)
    return list(SignIn.objects.order_by("id").values_list("id", flat=True))


def said() -> list[str]:
    return [fault.what for fault in verify_around() if "sign-ins" in fault.what]


def test_a_log_as_it_was_written_has_no_fault(lines: list[int]) -> None:
    assert len(lines) == len(KINDS)
    assert said() == []


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE workshop_signin SET kind = 'signed_off' WHERE id = %s",
        "UPDATE workshop_signin SET place = 'browser:another' WHERE id = %s",
        "UPDATE workshop_signin SET at = '2020-01-01 00:00:00+00:00' WHERE id = %s",
        "UPDATE workshop_signin SET digest = 'f' WHERE id = %s",
    ],
)
def test_a_changed_line_shows(change: str, lines: list[int]) -> None:
    forged("workshop_signin", change, lines[1])
    assert said()
    assert f"line {lines[1]} " in said()[0]


def test_a_line_taken_out_shows_at_the_next(lines: list[int]) -> None:
    forged("workshop_signin", "DELETE FROM workshop_signin WHERE id = %s", lines[1])
    assert said() == [f"line {lines[2]} of the log of sign-ins was changed, or the one before"]


def test_a_log_cut_off_or_written_anew_shows_against_a_list_kept_elsewhere(
    lines: list[int],
) -> None:
    keys = signing_keys.trusted_keys()
    then = read_heads(heads_list(clock.now()), keys)
    assert list(heads_faults(then)) == []
    actions.note_sign_in("signed_off", person_id=NOBODY)
    assert list(heads_faults(then)) == []
    forged("workshop_signin", "DELETE FROM workshop_signin WHERE id >= %s", lines[2])
    assert said() == []
    assert any("sign-ins" in what and "fewer" in what for what in heads_faults(then))
    for _ in KINDS:
        actions.note_sign_in("signed_off", person_id=NOBODY)
    assert said() == []
    assert any("sign-ins" in what and "not the one" in what for what in heads_faults(then))


def done(folder: Path, *words: str) -> str:
    with manage(folder, *words) as process:
        told, _ = process.communicate()
    assert process.returncode == 0, told
    return told


def test_lines_from_before_get_their_digests_and_lose_them_on_the_way_back(
    tmp_path: Path,
) -> None:
    done(tmp_path, "migrate", "workshop", "0010", "--verbosity", "0")
    with closing(sqlite3.connect(tmp_path / DATABASE_NAME)) as database:
        for kind in KINDS:
            database.execute(
                "INSERT INTO workshop_signin (at, kind, place) VALUES (?, ?, '')",
                ("2026-03-02 07:30:00.5", kind),
            )
        database.commit()
    done(tmp_path, "migrate", "--verbosity", "0")
    done(tmp_path, "guard")
    done(tmp_path, "verify")
    with closing(sqlite3.connect(tmp_path / DATABASE_NAME)) as database:
        digests = database.execute("SELECT DISTINCT digest FROM workshop_signin").fetchall()
        assert [len(digest) for (digest,) in digests] == [64] * len(KINDS)
    done(tmp_path, "migrate", "workshop", "0010", "--verbosity", "0")
    with closing(sqlite3.connect(tmp_path / DATABASE_NAME)) as database:
        rows = database.execute("SELECT * FROM workshop_signin").fetchall()
        assert len(rows) == len(KINDS)
        assert digests[0][0] not in rows[0]
        with pytest.raises(sqlite3.IntegrityError, match="only added to"):
            database.execute("DELETE FROM workshop_signin")


def beside(act: Callable[[], Any]) -> Any:
    """Do something on a connection of its own, outside the transaction of the test."""
    try:
        return act()
    finally:
        connection.close()


@postgresql_only
@pytest.mark.django_db
def test_four_who_write_at_once_make_one_chain() -> None:
    def write() -> None:
        actions.note_sign_in("signed_on", person_id=NOBODY)

    with ThreadPoolExecutor(4) as pool:
        try:
            list(pool.map(beside, [write] * 40))
            assert pool.submit(beside, SignIn.objects.count).result() == 40
            assert pool.submit(beside, said).result() == []
        finally:
            pool.submit(beside, clear).result()


def clear() -> None:
    forged("workshop_signin", "DELETE FROM workshop_signin")
