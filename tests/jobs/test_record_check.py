"""Once a day the record is verified by itself; a manager's Today says what was wrong."""

import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client

from jobs.actions import record_check
from jobs.actions.record_check import RESTS, attend, check_record
from jobs.models import ChainHead, Job
from jobs.queries import verify
from jobs.queries.record_check import last_check
from jobs.queries.verify import verify_job
from tests.forging import forged
from tests.jobs.conftest import Shop
from tests.jobs.test_verify import ENTRIES, told
from workshop import upkeep

__all__ = ["told"]

DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(settings, "COLDBUS_DATA", tmp_path)
    monkeypatch.setattr(connection, "close", lambda: None)
    return tmp_path


def today(client_of: Callable[[str], Client], who: str) -> str:
    return " ".join(client_of(who).get("/").content.decode().split())


def test_it_is_due_once_a_day_and_noted(told: Shop) -> None:
    assert last_check() is None
    first = attend(told.clock.now())
    assert first is not None
    assert (first.jobs, first.faults) == (1, 0)
    assert last_check() == first
    assert attend(told.clock.now()) is None
    assert attend(told.clock.now() + DAY) is not None


def test_the_upkeep_verifies_and_says_so_in_the_log(
    told: Shop, caplog: pytest.LogCaptureFixture
) -> None:
    forged(ENTRIES, "DELETE FROM jobs_entry WHERE seq = 5")
    upkeep.look()
    assert "The record was verified: jobs 1, faults 1." in caplog.text


def test_a_fault_is_told_to_a_manager_with_its_place_and_to_nobody_else(
    told: Shop, client_of: Callable[[str], Client]
) -> None:
    check_record(told.clock.now())
    assert "The record is not" not in today(client_of, "thorne")
    forged(ENTRIES, "DELETE FROM jobs_entry WHERE seq = 5")
    check_record(told.clock.now())
    shown = today(client_of, "thorne")
    assert "The record is not as it was written." in shown
    assert f"The first: job {Job.objects.get().number}, entry 4." in shown
    assert "The record is not" not in today(client_of, "aster")


def test_a_verification_that_is_long_ago_is_told(
    told: Shop, client_of: Callable[[str], Client]
) -> None:
    check_record(told.clock.now() - 4 * DAY)
    assert "The record was last verified" in today(client_of, "thorne")
    check_record(told.clock.now() - 2 * DAY)
    assert "The record was last verified" not in today(client_of, "thorne")


def test_a_broken_note_counts_as_none(told: Shop, folder: Path) -> None:
    (folder / "record_check.json").write_text("{")
    assert last_check() is None
    assert attend(told.clock.now()) is not None


def test_an_entry_that_comes_while_the_job_is_read_is_no_fault(
    told: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    read, came = verify.rows_of, list[object]()

    def meanwhile(job: Job) -> object:
        if not came:
            came.append(told.enter("intake.note", "four"))
        return read(job)

    monkeypatch.setattr(verify, "rows_of", meanwhile)
    assert verify_job(Job.objects.get().id) == ()
    assert ChainHead.objects.get().count == 6


def test_it_rests_longer_after_each_job_than_the_job_took(
    told: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A shop with ten thousand jobs is verified for hours, and works meanwhile."""
    rests, took_s = list[float](), 0.02
    monkeypatch.setattr(time, "sleep", rests.append)

    def slow(*_: object) -> tuple[()]:
        until = time.monotonic() + took_s
        while time.monotonic() < until:
            pass
        return ()

    monkeypatch.setattr(record_check, "verify_job", slow)
    attend(told.clock.now())
    assert [rest >= RESTS * took_s for rest in rests] == [True]
    assert RESTS >= 1.0
