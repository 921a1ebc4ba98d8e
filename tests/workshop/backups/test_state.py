"""One line says how the backups stand: quiet where all is well, loud where somebody has to act."""

import os
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from django.template.loader import render_to_string

from tests.workshop.backups.small_shop import NOW, WORKSHOP, a_shop, alter
from workshop.backups import BackupState, shelf, state
from workshop.backups.making import make
from workshop.backups.manifest import DAILY
from workshop.backups.places import Places
from workshop.backups.refusal import SENTENCES, BackupRefused, sentence
from workshop.backups.shelf import Attempt
from workshop.backups.state import state_of
from workshop.serving.data_folder import EPOCH_NAME, begin_epoch


@pytest.fixture
def here(tmp_path: Path) -> Places:
    return a_shop(tmp_path)


def line(backup: BackupState) -> str:
    text = render_to_string("workshop/backup_line.html", {"backup": backup})
    return " ".join(text.replace("\u00a0", " ").split())


def stand_since(here: Places, moment: datetime) -> None:
    """Let the data have begun at that time."""
    os.utime(here.data / EPOCH_NAME, (moment.timestamp(), moment.timestamp()))


def test_a_fresh_one_is_quiet(here: Places) -> None:
    make(here, DAILY, NOW)
    told = state_of(here, NOW + timedelta(hours=1))
    assert (told.code, told.is_loud, told.today) == ("fine", False, True)
    assert told.age == timedelta(hours=1)
    assert "Last backup today 12:00, checked." in line(told)
    assert "backup-loud" not in line(told)


def test_yesterdays_says_its_day(here: Places) -> None:
    make(here, DAILY, NOW)
    told = state_of(here, NOW + timedelta(hours=20))
    assert (told.code, told.today) == ("fine", False)
    assert "Last backup 2 Mar 2026, 12:00, checked." in line(told)


def test_after_twenty_six_hours_it_is_overdue_and_loud(here: Places) -> None:
    make(here, DAILY, NOW)
    assert state_of(here, NOW + timedelta(hours=26)).code == "fine"
    told = state_of(here, NOW + timedelta(hours=26, minutes=1))
    assert (told.code, told.is_loud) == ("overdue", True)
    assert "The backup is overdue." in line(told)
    assert "The newest good backup is of 2 Mar 2026, 12:00." in line(told)


def test_a_failure_is_loud_with_its_reason_until_the_next_good_one(here: Places) -> None:
    make(here, DAILY, NOW)
    refused = BackupRefused("no_room", needed_mb=80, free_mb=3, path="/backups")
    failed = Attempt(
        tried_at=NOW + timedelta(hours=1),
        code=refused.code,
        parameters=refused.parameters,
        workshop_id=WORKSHOP,
    )
    shelf.note(here, failed)
    told = state_of(here, NOW + timedelta(hours=2))
    assert (told.code, told.is_loud) == ("failed", True)
    assert "needs about 80 MB" in line(told)
    make(here, DAILY, NOW + timedelta(hours=2))
    assert state_of(here, NOW + timedelta(hours=2)).code == "fine"


def test_a_backup_that_failed_its_check_is_loud(here: Places) -> None:
    alter(here, "DELETE FROM jobs_entry WHERE job_id = 'W1' AND seq = 3")
    with pytest.raises(BackupRefused):
        make(here, DAILY, NOW)
    told = state_of(here, NOW)
    assert told.code == "failed"
    assert "the chain of job W1" in line(told)
    assert "There is no good backup at all." in line(told)


def test_in_the_first_hours_none_is_expected_and_later_it_is(here: Places) -> None:
    stand_since(here, NOW)
    assert state_of(here, NOW + timedelta(hours=1)).code == "none"
    assert not state_of(here, NOW + timedelta(hours=1)).is_loud
    assert state_of(here, NOW + timedelta(hours=27)).code == "overdue"


def test_a_backup_that_was_taken_away_is_missed(here: Places) -> None:
    path = make(here, DAILY, NOW).path
    stand_since(here, NOW - timedelta(days=9))
    assert state_of(here, NOW).code == "fine"
    path.unlink()
    assert state_of(here, NOW).code == "overdue"


def test_the_same_disk_is_said(here: Places) -> None:
    make(here, DAILY, NOW)
    told = state_of(here, NOW)
    assert told.same_disk
    assert "same disk as the data" in line(told)
    assert "same disk" not in line(BackupState(code="fine", newest_at=NOW))


def test_little_space_is_loud(here: Places, monkeypatch: pytest.MonkeyPatch) -> None:
    make(here, DAILY, NOW)
    monkeypatch.setattr(state, "LOW_SPACE_BYTES", 1 << 60)
    told = state_of(here, NOW)
    assert (told.code, told.low_space, told.is_loud) == ("fine", True, True)
    assert "The disk is nearly full" in line(told)


def test_each_refusal_has_a_sentence_and_an_unknown_one_its_code() -> None:
    given = dict.fromkeys(
        ("path", "why", "needed_mb", "free_mb", "format", "names", "theirs", "ours", "name"), "x"
    )
    assert all("{" not in sentence(code, given) for code in SENTENCES)
    assert sentence("from_another_version", {}) == "from_another_version"
    assert sentence("no_room", {}) == "no_room"


@pytest.mark.parametrize("of_this_life", [True, False])
def test_another_epoch_does_not_make_the_data_new(here: Places, *, of_this_life: bool) -> None:
    stand_since(here, NOW - timedelta(days=3))
    begin_epoch(here.data, of_this_life=of_this_life)
    told = state_of(here, NOW)
    assert (told.code, told.is_new) == ("overdue", False)
