"""Entries that a damaged log lost are missed by what the shop has: the index, or its backups."""

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from tests.workshop.backups.small_shop import (
    NOW,
    OTHER,
    a_shop,
    add_entries,
    add_entry,
    as_killed,
    connect,
    listing,
    settle,
)
from workshop.backups import database as backups_database
from workshop.backups import shelf
from workshop.backups.damage import (
    Weight,
    look,
    settle_log,
    take_as_ours,
    words_about_loss,
    words_of,
)
from workshop.backups.making import make
from workshop.backups.manifest import BY_HAND, DAILY
from workshop.backups.places import Places
from workshop.serving.data_folder import begin_epoch
from workshop.serving.write_ahead import files_beside

ADDED = 4


@pytest.fixture
def killed(tmp_path: Path) -> Iterator[Places]:
    """A shop that was killed: a backup was made, more came, and all of it is in the log."""
    here = a_shop(tmp_path / "shop")
    settle(here)
    with closing(connect(here)) as database:
        database.execute("PRAGMA wal_autocheckpoint=0")
        add_entry(database, "W1")
        make(here, DAILY, NOW)
        for _each in range(ADDED):
            add_entry(database, "W2")
        yield as_killed(here, tmp_path / "killed")


def log_of(here: Places) -> Path:
    return files_beside(here.database)[0]


def delete_index(here: Places) -> None:
    files_beside(here.database)[1].unlink()


def cut_in_two(here: Places) -> None:
    raw = log_of(here).read_bytes()
    log_of(here).write_bytes(raw[: len(raw) // 2])


def garble(here: Places) -> None:
    raw = bytearray(log_of(here).read_bytes())
    raw[len(raw) // 3 : len(raw) // 3 + 40] = b"\xa5" * 40
    log_of(here).write_bytes(raw)


def empty(here: Places) -> None:
    log_of(here).write_bytes(b"")


def delete(here: Places) -> None:
    log_of(here).unlink()


def entries_of(here: Places, job: str) -> int:
    with closing(connect(here)) as database:
        asked = "SELECT count(*) FROM jobs_entry WHERE job_id = ?"
        (count,) = database.execute(asked, (job,)).fetchone()
    return int(count)


def said_of(here: Places) -> str:
    """Look, and hold that looking changed neither the log nor any file that is kept."""
    before = listing(here.data), log_of(here).read_bytes() if log_of(here).exists() else None
    found = look(here)
    after = listing(here.data), log_of(here).read_bytes() if log_of(here).exists() else None
    assert found is not None
    assert found.passable
    assert after[0] == before[0]
    assert before[1] in {after[1], None}
    return found.what


DAMAGES = (cut_in_two, garble, empty, delete)


def test_a_killed_shop_whose_log_is_whole_lacks_nothing(killed: Places) -> None:
    assert look(killed) is None
    delete_index(killed)
    assert look(killed) is None
    assert (entries_of(killed, "W1"), entries_of(killed, "W2")) == (4, 2 + ADDED)


@pytest.mark.parametrize("damage", DAMAGES)
def test_each_damage_of_the_log_is_found_before_the_database_is_opened(
    killed: Places, damage: Callable[[Places], None]
) -> None:
    damage(killed)
    assert "log coldbus.sqlite3-wal" in said_of(killed)
    # The way on is said, and looking once more finds it as well.
    assert "up --after-loss" in words_about_loss(killed, said_of(killed))


@pytest.mark.parametrize("damage", [empty, delete])
def test_without_the_index_the_newest_backup_is_the_witness(
    killed: Places, damage: Callable[[Places], None]
) -> None:
    delete_index(killed)
    damage(killed)
    assert "job W1 had entries in the backup of" in said_of(killed)


def test_what_came_after_the_backup_is_not_missed_without_the_index(killed: Places) -> None:
    """Nothing on the server can tell: the tablets have to send again, and they are made to."""
    delete_index(killed)
    raw = log_of(killed).read_bytes()
    log_of(killed).write_bytes(raw[:-100])
    assert look(killed) is None
    assert (entries_of(killed, "W1"), entries_of(killed, "W2")) == (4, 2 + ADDED - 1)


def test_a_backup_of_another_life_is_no_witness(killed: Places) -> None:
    delete_index(killed)
    delete(killed)
    begin_epoch(killed.data, of_this_life=True)
    assert "job W1 had entries" in said_of(killed)
    begin_epoch(killed.data)
    assert look(killed) is None


def test_an_older_database_put_in_its_place_is_noticed(tmp_path: Path) -> None:
    here = a_shop(tmp_path)
    settle(here)
    older = tmp_path / "older"
    shutil.copyfile(here.database, older)
    add_entries(here, "W2", 1)
    add_entries(here, "W3", 1)
    make(here, BY_HAND, NOW)
    settle(here)
    assert look(here) is None
    shutil.copyfile(older, here.database)
    assert "job W2 and 1 further jobs had entries" in said_of(here)


def test_of_several_backups_the_newest_of_this_life_bears_witness(killed: Places) -> None:
    failed = "coldbus-7d0f5f3c-20260303T120000Z-daily-failed.sealed"
    (killed.shelf / failed).write_bytes(b"")
    foreign = a_shop(killed.data.parent / "foreign", OTHER)
    add_entries(foreign, "W1", 20)
    made = make(foreign, BY_HAND, NOW + timedelta(days=1))
    shutil.copyfile(made.path, killed.shelf / made.path.name)
    assert look(killed) is None
    delete_index(killed)
    delete(killed)
    assert "job W1 had entries" in said_of(killed)


# One like ours to the page, so that only whose it is tells; one larger, so that pages do not fit.
@pytest.mark.parametrize("more", [0, 400])
def test_a_log_of_another_shop_is_told_and_not_taken(
    killed: Places, tmp_path: Path, more: int
) -> None:
    other = a_shop(tmp_path / "other", OTHER)
    add_entries(other, "W2", more)
    settle(other)
    with closing(connect(other)) as database:
        database.execute("PRAGMA wal_autocheckpoint=0")
        database.execute("UPDATE workshop_shop SET name = 'Another workshop'")
        database.commit()
        add_entry(database, "W2")
        shutil.copyfile(log_of(other), log_of(killed))
    assert "of another database, or of an earlier time" in said_of(killed)
    delete_index(killed)
    assert "does not belong to it; without it the database is sounder" in said_of(killed)
    aside = settle_log(killed, NOW)
    assert aside is not None
    assert not log_of(killed).exists()
    assert "job W1 had entries in the backup" in said_of(killed)
    assert entries_of(killed, "W1") == 3


def test_chains_that_a_log_left_astray_are_noticed(killed: Places) -> None:
    with closing(connect(killed)) as database, database:
        database.execute("PRAGMA wal_autocheckpoint=0")
        database.execute("UPDATE jobs_chainhead SET count = 3 WHERE job_id = 'W2'")
        database.commit()
        mixed = as_killed(killed, killed.data.parent / "mixed")
    assert "the chain of job W2 does not end where its head says" in said_of(mixed)


@pytest.mark.parametrize(("damage", "left"), [(garble, True), (delete, False)])
def test_a_log_is_set_aside_as_it_was_and_what_can_be_read_is_taken(
    killed: Places, damage: Callable[[Places], None], *, left: bool
) -> None:
    damage(killed)
    log, index = files_beside(killed.database)
    before = {path.name: path.read_bytes() for path in (log, index) if path.exists()}
    aside = settle_log(killed, NOW)
    assert aside is not None
    assert {path.name: path.read_bytes() for path in aside.iterdir()} == before
    # What the backup is a witness of is a loss still, which may be gone on after.
    found = look(killed)
    assert found is None or found.passable
    assert entries_of(killed, "W1") == (4 if left else 3)
    assert settle_log(killed, NOW) is None


def test_a_log_of_which_nothing_is_taken_is_moved_and_not_copied(killed: Places) -> None:
    log, index = files_beside(killed.database)
    raw = bytearray(log.read_bytes())
    raw[4] ^= 0x5A
    log.write_bytes(raw)
    were = {path.name: path.stat().st_ino for path in (log, index)}
    aside = settle_log(killed, NOW)
    assert aside is not None
    assert {path.name: path.stat().st_ino for path in aside.iterdir()} == were


def test_copies_are_on_the_disk_before_the_log_is_taken_in(
    killed: Places, monkeypatch: pytest.MonkeyPatch
) -> None:
    through: set[int] = set()
    sync = os.fsync

    def noted(descriptor: int) -> None:
        sync(descriptor)
        through.add(os.fstat(descriptor).st_ino)

    def power_cut(_path: Path) -> None:
        raise OSError("power cut")

    garble(killed)
    monkeypatch.setattr(os, "fsync", noted)
    monkeypatch.setattr(backups_database, "take_log_in", power_cut)
    before = {path.name: path.read_bytes() for path in files_beside(killed.database)}
    with pytest.raises(OSError, match="power cut"):
        settle_log(killed, NOW)
    (aside,) = killed.data.glob("log-set-aside-*")
    assert {path.name: path.read_bytes() for path in aside.iterdir()} == before
    kept = {path.stat().st_ino for path in (killed.data, aside, *aside.iterdir())}
    assert kept <= through
    assert {path.name: path.read_bytes() for path in files_beside(killed.database)} == before


@pytest.mark.parametrize("number", [0, 1])
def test_what_may_not_be_read_is_no_loss_and_is_left_alone(killed: Places, number: int) -> None:
    path = files_beside(killed.database)[number]
    kept = path.rename(killed.data.parent / "kept")
    path.mkdir()
    found = look(killed)
    assert found is not None
    assert (found.weight, found.passable) == (Weight.UNREAD, False)
    said = words_of(killed, found)
    assert f"{path.name} beside it cannot be read" in said
    assert "--after-loss" not in said
    assert settle_log(killed, NOW) is None
    path.rmdir()
    kept.rename(path)
    assert look(killed) is None


def test_another_workshop_is_asked_about_once(killed: Places) -> None:
    noted = shelf.last_attempt(killed)
    assert noted is not None
    shelf.note(killed, shelf.Attempt(tried_at=NOW, workshop_id=OTHER, shop_name="Another"))
    found = look(killed)
    assert found is not None
    assert (found.weight, found.passable) == (Weight.FOREIGN, True)
    take_as_ours(killed, NOW)
    assert look(killed) is None
