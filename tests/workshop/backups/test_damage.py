"""A damaged database is said in words, with the way back; nothing is touched."""

from datetime import timedelta
from pathlib import Path

import pytest

from tests.workshop.backups.small_shop import DAMAGES, NOW, a_shop, alter, listing
from workshop.backups.damage import EMPTY, MISSING, fault_of, words_about
from workshop.backups.making import make
from workshop.backups.manifest import BY_HAND, DAILY
from workshop.backups.places import Places
from workshop.backups.refusal import BackupRefused
from workshop.serving.data_folder import prepare


@pytest.fixture
def here(tmp_path: Path) -> Places:
    return a_shop(tmp_path)


def test_a_whole_database_has_no_fault(here: Places) -> None:
    assert fault_of(here) == ""


@pytest.mark.parametrize("damage", DAMAGES)
def test_each_damage_is_found_and_nothing_is_changed(here: Places, damage: str) -> None:
    DAMAGES[damage](here)
    before = listing(here.data)
    assert fault_of(here) != ""
    assert listing(here.data) == before


def test_an_empty_and_a_missing_file_are_named_as_such(here: Places) -> None:
    DAMAGES["empty"](here)
    assert fault_of(here) == EMPTY
    DAMAGES["gone"](here)
    assert fault_of(here) == MISSING


def test_a_new_folder_is_not_damaged(tmp_path: Path) -> None:
    here = Places(tmp_path, tmp_path / "backups")
    prepare(tmp_path)
    assert fault_of(here) == ""
    here.database.write_bytes(b"")
    assert fault_of(here) == ""


def test_the_words_name_the_file_the_backups_and_the_command(here: Places) -> None:
    older = make(here, BY_HAND, NOW - timedelta(days=1)).path
    newest = make(here, DAILY, NOW).path
    DAMAGES["pages"](here)
    text = words_about(here, fault_of(here))
    assert str(here.database) in text
    assert "Nothing was changed" in text
    assert f"python3 manage.py restore {newest}" in text
    assert text.index(str(newest)) < text.index(str(older))
    assert "2 jobs, 5 entries" in text


def test_a_backup_that_failed_or_cannot_be_opened_is_not_offered(here: Places) -> None:
    good = make(here, BY_HAND, NOW - timedelta(days=1)).path
    broken = make(here, DAILY, NOW).path
    broken.write_bytes(broken.read_bytes()[:500])
    alter(here, "DELETE FROM jobs_entry WHERE job_id = 'W1' AND seq = 3")
    with pytest.raises(BackupRefused):
        make(here, DAILY, NOW + timedelta(hours=1))
    DAMAGES["text"](here)
    text = words_about(here, fault_of(here))
    assert f"python3 manage.py restore {good}" in text
    assert str(broken) not in text
    assert "-failed" not in text


def test_without_a_backup_it_says_what_to_do(here: Places) -> None:
    DAMAGES["text"](here)
    text = words_about(here, fault_of(here))
    assert "There is no good backup" in text
    assert "restore FILE" in text
