"""What the doctor says about a data folder and a database."""

import os
from datetime import timedelta
from pathlib import Path

import pytest
from pytest_django import Settings

from tests.forging import sqlite_only
from tests.workshop.backups.small_shop import NOW, a_shop
from workshop.backups.making import make
from workshop.backups.manifest import DAILY
from workshop.management.commands import doctor
from workshop.serving.data_folder import EPOCH_NAME, mark_as_practice, prepare


def test_a_folder_as_it_should_be_needs_no_mending(tmp_path: Path) -> None:
    place = tmp_path / "data"
    prepare(place)
    assert all(good for good, _text in doctor.folder(place))


def test_a_folder_that_is_not_there_is_named_with_its_remedy(tmp_path: Path) -> None:
    ((good, text),) = doctor.folder(tmp_path / "data")
    assert not good
    assert "manage.py up" in text


def test_a_folder_that_others_can_read_needs_mending(tmp_path: Path) -> None:
    prepare(tmp_path)
    tmp_path.chmod(0o755)
    assert "data folder can be read by others too" in [
        text for good, text in doctor.folder(tmp_path) if not good
    ]


def test_invented_data_are_named_as_such(tmp_path: Path) -> None:
    prepare(tmp_path)
    mark_as_practice(tmp_path)
    assert any("invented" in text for _good, text in doctor.folder(tmp_path))


def test_the_program_names_its_versions() -> None:
    texts = [text for _good, text in doctor.program()]
    assert texts[0].startswith("Python 3.")


@pytest.mark.django_db
def test_a_database_that_is_whole_and_up_to_date_needs_no_mending(settings: Settings) -> None:
    findings = list(doctor.database(Path(settings.COLDBUS_DATA)))
    assert findings[-1] == (True, "database is up to date")
    assert all(good for good, _text in findings)


@sqlite_only
def test_the_newest_backup_is_named_and_a_missing_or_old_one_needs_mending(
    tmp_path: Path, settings: Settings
) -> None:
    here = a_shop(tmp_path)
    settings.COLDBUS_DATA, settings.COLDBUS_BACKUPS = here.data, here.shelf
    assert any("no good backup yet" in text for good, text in doctor.backups(NOW) if not good)
    make(here, DAILY, NOW)
    findings = list(doctor.backups(NOW + timedelta(hours=1)))
    assert all(good for good, _text in findings)
    assert any(str(here.shelf) in text for _good, text in findings)
    assert any("same disk" in text for _good, text in findings)
    late = list(doctor.backups(NOW + timedelta(days=2)))
    assert [text for good, text in late if not good] == [findings[0][1]]


def test_how_tablets_reach_this_computer_is_said() -> None:
    assert all(good for good, _text in doctor.listening())
    assert list(doctor.listening())


@sqlite_only
def test_new_data_without_a_backup_need_no_mending_for_a_day(
    tmp_path: Path, settings: Settings
) -> None:
    here = a_shop(tmp_path)
    settings.COLDBUS_DATA, settings.COLDBUS_BACKUPS = here.data, here.shelf
    os.utime(here.data / EPOCH_NAME, (NOW.timestamp(), NOW.timestamp()))
    fresh = list(doctor.backups(NOW + timedelta(hours=23)))
    assert all(good for good, _text in fresh)
    assert any("the first is made while it serves" in text for _good, text in fresh)
    assert not all(good for good, _text in doctor.backups(NOW + timedelta(hours=25)))
