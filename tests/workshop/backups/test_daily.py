"""The daily backup is made when it is due, once, and only by the server's worker."""

import os
from datetime import timedelta
from pathlib import Path

import pytest

from tests.forging import sqlite_only
from tests.workshop.backups.small_shop import DAMAGES, NOW, a_shop
from workshop.backups import daily, shelf
from workshop.backups.daily import attend
from workshop.backups.manifest import DAILY
from workshop.backups.places import Places
from workshop.backups.refusal import BackupRefused
from workshop.serving.folder_lock import HOLDER_VARIABLE


@pytest.fixture
def here(tmp_path: Path) -> Places:
    return a_shop(tmp_path)


def test_the_first_is_made_at_once_and_the_next_after_closing_time(here: Places) -> None:
    first = attend(here, NOW, 21)
    assert first is not None
    assert first.manifest.reason == DAILY
    assert attend(here, NOW + timedelta(hours=8), 21) is None
    assert attend(here, NOW + timedelta(hours=9), 21) is not None
    assert attend(here, NOW + timedelta(hours=10), 21) is None
    assert len(shelf.kept_in(here.shelf)) == 2


def test_after_a_failure_it_waits_an_hour(here: Places, tmp_path: Path) -> None:
    away = Places(here.data, tmp_path / "stick" / "coldbus")
    with pytest.raises(BackupRefused):
        attend(away, NOW, 21)
    assert attend(away, NOW + timedelta(minutes=30), 21) is None
    away.shelf.parent.mkdir()
    assert attend(away, NOW + timedelta(minutes=61), 21) is not None


def test_a_damaged_database_is_refused_and_the_failure_is_noted(here: Places) -> None:
    attend(here, NOW, 21)
    DAMAGES["text"](here)
    with pytest.raises(BackupRefused):
        attend(here, NOW + timedelta(days=1), 21)
    attempt = shelf.last_attempt(here)
    assert attempt is not None
    assert attempt.failed


@sqlite_only
def test_only_the_worker_of_the_server_begins_the_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[str] = []

    class Thread:
        def __init__(self, **options: object) -> None:
            started.append(str(options["name"]))

        def start(self) -> None:
            """Do not run."""

    monkeypatch.setattr(daily, "Thread", Thread)
    monkeypatch.delenv(HOLDER_VARIABLE, raising=False)
    assert not daily.start_in_worker()
    monkeypatch.setenv(HOLDER_VARIABLE, str(os.getppid()))
    assert daily.start_in_worker()
    assert started == ["daily backup"]
