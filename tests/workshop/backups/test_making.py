"""A backup is made beside the running shop, read back, and only then gets its name."""

import hashlib
import sqlite3
import stat
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from threading import Event, Thread

import pytest
from django.db.backends.sqlite3 import base

from tests.workshop.backups.small_shop import (
    DAMAGES,
    NOW,
    OTHER,
    PICTURE_SHA256,
    WORKSHOP,
    a_shop,
    add_entry,
    alter,
    connect,
    listing,
    settle,
)
from workshop.backups import checking, database, making, shelf
from workshop.backups.keys import key_of
from workshop.backups.making import make
from workshop.backups.manifest import BY_HAND, DAILY, Manifest
from workshop.backups.places import Places
from workshop.backups.refusal import BackupRefused


@pytest.fixture
def here(tmp_path: Path) -> Places:
    return a_shop(tmp_path)


def names_on_shelf(here: Places) -> list[str]:
    return sorted(path.name for path in here.shelf.iterdir())


def read(path: Path) -> Manifest:
    with checking.opened(path, key_of(path.parents[1])) as (_archive, manifest):
        return manifest


def test_it_uses_the_very_library_that_django_uses() -> None:
    assert database.Database is base.Database  # type: ignore[attr-defined]


def test_a_backup_holds_database_picture_and_keys_and_says_so(here: Places) -> None:
    made = make(here, DAILY, NOW)
    told = read(made.path)
    assert told == made.manifest
    assert (told.shop_name, told.workshop_id, told.reason) == ("Test workshop", WORKSHOP, DAILY)
    assert (told.jobs, told.entries) == (2, 5)
    assert [(head.job, head.count) for head in told.heads] == [("W1", 3), ("W2", 2)]
    assert told.migrations == ("workshop.0002_shop_row",)
    assert {member.name for member in told.members} == {
        "coldbus.sqlite3",
        "secret_key",
        "pepper",
        f"attachments/{PICTURE_SHA256[:2]}/{PICTURE_SHA256}",
    }
    with checking.opened(made.path, key_of(here.data)) as (archive, _told):
        for member in told.members:
            assert hashlib.sha256(archive.read(member.name)).hexdigest() == member.sha256


def test_it_is_for_its_owner_only_and_leaves_nothing_else_lying_about(here: Places) -> None:
    made = make(here, DAILY, NOW)
    assert names_on_shelf(here) == ["coldbus-7d0f5f3c-20260302T120000Z-daily.sealed"]
    assert stat.S_IMODE(made.path.stat().st_mode) == 0o600
    assert stat.S_IMODE(here.shelf.stat().st_mode) == 0o700


def test_making_it_changes_nothing_in_the_data(here: Places) -> None:
    settle(here)
    before = listing(here.data)
    make(here, DAILY, NOW)
    after = listing(here.data)
    added = after.keys() - before.keys()
    assert added == {"backup_key", "backup_status.json", f"backups/{names_on_shelf(here)[0]}"}
    assert {name: after[name] for name in before} == before


def test_every_entry_acknowledged_before_it_began_is_in_it_while_others_are_written(
    here: Places,
) -> None:
    acknowledged, stop = [0], Event()

    def write() -> None:
        with closing(connect(here)) as writing:
            while not stop.is_set():
                acknowledged.append(add_entry(writing, "W1"))

    writer = Thread(target=write)
    writer.start()
    try:
        for number in range(3):
            before = acknowledged[-1]
            made = make(here, BY_HAND, NOW + timedelta(minutes=number))
            counts = {head.job: head.count for head in made.manifest.heads}
            assert counts["W1"] >= before
    finally:
        stop.set()
        writer.join()
    assert acknowledged[-1] > 0


def test_a_shop_without_pictures_and_with_no_other_files_is_backed_up_too(here: Places) -> None:
    picture = here.attachments / PICTURE_SHA256[:2] / PICTURE_SHA256
    picture.unlink()
    made = make(here, DAILY, NOW)
    assert made.manifest.missing_attachments == (PICTURE_SHA256,)


def test_a_certificate_whose_file_is_not_there_is_named(here: Places) -> None:
    alter(here, "CREATE TABLE workshop_certificate (id integer PRIMARY KEY, sha256 text)")
    assert make(here, DAILY, NOW).manifest.missing_attachments == ()
    alter(here, "INSERT INTO workshop_certificate (sha256) VALUES ('c0ffee')")
    made = make(here, DAILY, NOW + timedelta(hours=1))
    assert made.manifest.missing_attachments == ("c0ffee",)


def test_a_picture_on_its_way_is_left_out(here: Places) -> None:
    (here.attachments / f"{PICTURE_SHA256}.{'0' * 32}").write_bytes(b"half")
    made = make(here, DAILY, NOW)
    assert sum("attachments/" in member.name for member in made.manifest.members) == 1


def test_keys_given_from_outside_are_named_and_their_files_stay_behind(
    here: Places, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLDBUS_PEPPER", "pepper from outside")
    told = make(here, DAILY, NOW).manifest
    assert told.keys_from_outside == ("COLDBUS_PEPPER",)
    assert "pepper" not in {member.name for member in told.members}


# ---------------------------------------------------------------- what goes wrong


def refused(here: Places, to: Path | None = None) -> BackupRefused:
    with pytest.raises(BackupRefused) as caught:
        make(here, DAILY, NOW, to)
    return caught.value


def test_a_chain_that_does_not_end_where_its_head_says_makes_a_failed_backup(
    here: Places,
) -> None:
    alter(here, "DELETE FROM jobs_entry WHERE job_id = 'W1' AND seq = 3")
    assert refused(here).code == "failed_check"
    assert names_on_shelf(here) == ["coldbus-7d0f5f3c-20260302T120000Z-daily-failed.sealed"]
    (kept,) = shelf.kept_in(here.shelf)
    assert kept.failed
    noted = shelf.last_attempt(here)
    assert noted is not None
    assert noted.code == "failed_check"


def test_entries_seen_before_the_copy_have_to_be_in_it(here: Places) -> None:
    with database.reading(here.database) as live:
        least = database.heads_of(live)
        assert database.faults(live, least) == ""
    alter(here, "DELETE FROM jobs_entry WHERE job_id = 'W1' AND seq = 3")
    alter(
        here,
        "UPDATE jobs_chainhead SET count = 2, hash = (SELECT hash FROM jobs_entry "
        "WHERE job_id = 'W1' AND seq = 2) WHERE job_id = 'W1'",
    )
    with database.reading(here.database) as live:
        assert database.faults(live) == ""
        assert database.faults(live, least) == "entries of job W1 are missing"


@pytest.mark.parametrize("damage", ["pages", "truncated", "text"])
def test_a_damaged_database_gives_no_good_backup_and_the_reason_is_noted(
    here: Places, damage: str
) -> None:
    make(here, BY_HAND, NOW - timedelta(days=1))
    DAMAGES[damage](here)
    assert refused(here).code in {"unreadable", "failed_check"}
    attempt = shelf.last_attempt(here)
    assert attempt is not None
    assert attempt.failed
    assert attempt.workshop_id == WORKSHOP
    good = [each for each in shelf.kept_in(here.shelf) if not each.failed]
    assert [each.reason for each in good] == [BY_HAND]
    assert not list(here.shelf.glob("*.part"))


def test_without_room_none_is_begun(here: Places, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(making, "MARGIN_BYTES", 1 << 60)
    refusal = refused(here)
    assert refusal.code == "no_room"
    assert str(here.shelf) in str(refusal)
    assert names_on_shelf(here) == []


def test_a_stick_that_is_not_plugged_in_is_not_replaced_by_a_folder(
    here: Places, tmp_path: Path
) -> None:
    away = Places(here.data, tmp_path / "stick" / "coldbus")
    assert refused(away).code == "no_folder"
    assert not (tmp_path / "stick").exists()


def test_two_are_not_made_at_once(here: Places) -> None:
    with shelf.only_one(here):
        assert shelf.is_busy(here)
        assert refused(here).code == "busy"
    assert not shelf.is_busy(here)
    assert shelf.last_attempt(here) is None
    assert make(here, DAILY, NOW).path.exists()


def test_what_an_interrupted_attempt_left_is_cleared(here: Places) -> None:
    here.shelf.mkdir()
    (here.shelf / ".coldbus-100000-1.part").write_bytes(b"half a backup")
    make(here, DAILY, NOW)
    assert [path for path in here.shelf.iterdir() if path.suffix == ".part"] == []


def test_a_copy_elsewhere_is_not_counted_and_overwrites_nothing(
    here: Places, tmp_path: Path
) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    assert make(here, BY_HAND, NOW, stick).path.parent == stick
    named = make(here, BY_HAND, NOW, stick / "monday.zip").path
    assert named.name == "monday.zip"
    assert refused(here, stick / "monday.zip").code == "exists"
    assert refused(here, tmp_path / "nowhere" / "x.zip").code == "no_folder"
    assert shelf.last_attempt(here) is None
    assert not here.shelf.exists()


def test_another_workshops_backups_on_the_same_shelf_are_never_tidied_away(
    here: Places, tmp_path: Path
) -> None:
    other = a_shop(tmp_path / "other", OTHER)
    shared = Places(other.data, here.shelf)
    old = make(shared, DAILY, NOW - timedelta(days=900)).path
    mine = make(here, DAILY, NOW - timedelta(days=800)).path
    make(here, DAILY, NOW)
    assert old.exists()
    assert not mine.exists()


def test_a_reader_cannot_write(here: Places) -> None:
    with database.reading(here.database) as live, pytest.raises(sqlite3.Error):
        live.execute("DELETE FROM jobs_entry")
