"""A backup takes the place of the data only after everything about it is known to be right."""

from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from tests.workshop.backups.small_shop import (
    DAMAGES,
    NOW,
    OTHER,
    WORKSHOP,
    a_shop,
    add_entries,
    add_entry,
    alter,
    as_killed,
    connect,
    listing,
    settle,
)
from workshop.backups import database, restoring, shelf
from workshop.backups.keys import key_of, read_words, words_of
from workshop.backups.making import make
from workshop.backups.manifest import DAILY, Head
from workshop.backups.places import Places
from workshop.backups.refusal import BackupRefused
from workshop.backups.restoring import Loss, losses, prepared, put_in_place, take_backups_along
from workshop.serving.data_folder import epoch_of
from workshop.serving.write_ahead import files_beside, log_fault

LATER = NOW + timedelta(hours=3)


@pytest.fixture
def here(tmp_path: Path) -> Places:
    return a_shop(tmp_path)


@pytest.fixture(autouse=True)
def known_migrations(monkeypatch: pytest.MonkeyPatch) -> None:
    # Reading every migration of the disk anew for each test takes longer than the test.
    class Loader:
        disk_migrations = dict.fromkeys(
            [("workshop", "0001_registers"), ("workshop", "0002_shop_row")]
        )

        def __init__(self, *args: object, **options: object) -> None:
            """Take what the loader takes."""

    monkeypatch.setattr(restoring, "MigrationLoader", Loader)


def heads(here: Places) -> dict[str, int]:
    with database.reading(here.database) as live:
        return {head.job: head.count for head in database.heads_of(live)}


def restore(here: Places, path: Path, *, foreign: bool = False, key: bytes | None = None) -> Path:
    with prepared(here, path, LATER, foreign=foreign, key=key) as plan:
        aside = put_in_place(plan, LATER)
    assert take_backups_along(here, aside)
    return aside


def refusal_of(here: Places, path: Path, key: bytes | None = None) -> BackupRefused:
    """Try it, and see that the data folder and what lies beside it stayed as they were."""
    beside, before = sorted(here.data.parent.iterdir()), listing(here.data)
    with pytest.raises(BackupRefused) as caught:
        restore(here, path, key=key)
    assert sorted(here.data.parent.iterdir()) == beside
    assert listing(here.data) == before
    return caught.value


def test_data_whose_log_is_damaged_are_not_opened_to_say_what_is_lost(
    here: Places, tmp_path: Path
) -> None:
    path = make(here, DAILY, NOW).path
    with closing(connect(here)) as live:
        for _each in range(3):
            add_entry(live, "W1")
        killed = as_killed(here, tmp_path / "killed")
    log, index = files_beside(killed.database)
    log.write_bytes(log.read_bytes()[:-5000])
    before = log.read_bytes(), index.read_bytes()
    with prepared(killed, path, LATER, foreign=False) as plan:
        assert plan.present is not None
        assert (plan.present.workshop_id, plan.present.contents) == (WORKSHOP, None)
        assert plan.losses == ()
    assert (log.read_bytes(), index.read_bytes()) == before
    assert log_fault(killed.database) is not None


def test_the_data_are_as_they_were_and_the_others_are_kept(here: Places) -> None:
    path = make(here, DAILY, NOW).path
    keys = (here.data / "secret_key").read_bytes()
    (here.data / "secret_key").write_bytes(b"lost")
    add_entries(here, "W1", 2)
    add_entries(here, "W3", 1)
    epoch = epoch_of(here.data)
    aside = restore(here, path)
    assert heads(here) == {"W1": 3, "W2": 2}
    assert heads(Places(aside, aside)) == {"W1": 5, "W2": 2, "W3": 1}
    assert (here.data / "secret_key").read_bytes() == keys
    assert len([each for each in here.attachments.rglob("*") if each.is_file()]) == 1
    assert epoch_of(here.data) not in {"", epoch}
    assert [each.reason for each in shelf.kept_in(here.shelf)] == [DAILY]
    assert here.data.stat().st_mode & 0o777 == 0o700
    assert sorted(each.name for each in here.data.parent.iterdir()) == [
        "data",
        "data.before-restore-20260302T150000Z",
    ]


def test_what_would_be_lost_is_counted_before(here: Places) -> None:
    path = make(here, DAILY, NOW).path
    add_entries(here, "W1", 2)
    add_entries(here, "W3", 4)
    with prepared(here, path, LATER, foreign=False) as plan:
        assert plan.losses == (Loss("W1", 2, whole=False), Loss("W3", 4, whole=True))
    assert heads(here)["W3"] == 4


def test_chains_that_went_different_ways_are_lost_whole() -> None:
    assert losses((Head("W1", 3, "a"),), (Head("W1", 3, "b"),)) == (Loss("W1", 3, whole=False),)
    assert losses((Head("W1", 3, "a"),), (Head("W1", 3, "a"), Head("W2", 1, "c"))) == ()


def test_a_plan_that_is_not_carried_out_leaves_nothing(here: Places) -> None:
    path = make(here, DAILY, NOW).path
    before = sorted(here.data.parent.iterdir())
    with prepared(here, path, LATER, foreign=False):
        assert sorted(here.data.parent.iterdir()) != before
    assert sorted(here.data.parent.iterdir()) == before


def test_somebody_elses_backup_is_refused_with_both_names(here: Places, tmp_path: Path) -> None:
    other = a_shop(tmp_path / "other", OTHER, "Quayside workshop")
    path = make(other, DAILY, NOW).path
    assert refusal_of(here, path).code == "no_key"
    refusal = refusal_of(here, path, key_of(other.data))
    assert refusal.code == "other_workshop"
    assert "Quayside workshop" in str(refusal)
    assert "Test workshop" in str(refusal)
    restore(here, path, foreign=True, key=key_of(other.data))
    with database.reading(here.database) as live:
        assert database.whose(live)[:2] == (OTHER, "Quayside workshop")


def test_it_is_refused_too_where_the_present_data_are_damaged_but_known(
    here: Places, tmp_path: Path
) -> None:
    make(here, DAILY, NOW)
    other = a_shop(tmp_path / "other", OTHER)
    path = make(other, DAILY, NOW).path
    DAMAGES["text"](here)
    assert refusal_of(here, path).code == "other_key"
    assert refusal_of(here, path, key_of(other.data)).code == "other_workshop"


def test_an_empty_folder_takes_anybodys(here: Places, tmp_path: Path) -> None:
    path = make(here, DAILY, NOW).path
    fresh = Places(tmp_path / "fresh" / "data", tmp_path / "fresh" / "data" / "backups")
    fresh.data.mkdir(parents=True)
    restore(fresh, path, key=read_words(words_of(key_of(here.data))))
    assert heads(fresh) == heads(here)
    # It goes on with the key that is on the sheet.
    assert key_of(fresh.data) == key_of(here.data)


@pytest.mark.parametrize("damage", DAMAGES)
def test_damaged_data_are_replaced_by_their_own_backup_and_kept(here: Places, damage: str) -> None:
    path = make(here, DAILY, NOW).path
    DAMAGES[damage](here)
    broken = here.database.read_bytes() if here.database.exists() else None
    aside = restore(here, path)
    assert heads(here) == {"W1": 3, "W2": 2}
    assert (aside / "coldbus.sqlite3").exists() == (broken is not None)
    if broken is not None:
        assert (aside / "coldbus.sqlite3").read_bytes() == broken


def test_a_damaged_backup_changes_nothing(here: Places) -> None:
    path = make(here, DAILY, NOW).path
    settle(here)
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 3] ^= 0xFF
    path.write_bytes(raw)
    assert refusal_of(here, path).code == "damaged"


def test_a_backup_of_a_newer_program_is_refused(here: Places) -> None:
    alter(here, "INSERT INTO django_migrations (app, name) VALUES ('jobs', '0999_future')")
    path = make(here, DAILY, NOW).path
    settle(here)
    refusal = refusal_of(here, path)
    assert refusal.code == "newer_migrations"
    assert "jobs.0999_future" in str(refusal)


def test_without_room_nothing_is_unpacked(here: Places, monkeypatch: pytest.MonkeyPatch) -> None:
    path = make(here, DAILY, NOW).path
    settle(here)
    monkeypatch.setattr(restoring, "MARGIN_BYTES", 1 << 60)
    assert refusal_of(here, path).code == "no_room"


@pytest.mark.parametrize("failing", [1, 2])
def test_a_rename_that_fails_leaves_the_old_data_in_place(
    here: Places, monkeypatch: pytest.MonkeyPatch, failing: int
) -> None:
    path = make(here, DAILY, NOW).path
    settle(here)
    rename: Callable[[Path, Path], Path] = Path.rename
    calls: list[Path] = []

    def breaking(source: Path, target: Path) -> Path:
        calls.append(source)
        if len(calls) == failing:
            raise OSError(16, "Device or resource busy")
        return rename(source, target)

    monkeypatch.setattr(Path, "rename", breaking)
    refusal = refusal_of(here, path)
    assert refusal.code == "rename"
    assert "The data are as they were" in str(refusal)
    assert heads(here) == {"W1": 3, "W2": 2}


def test_the_restored_folder_knows_whose_it_is(here: Places) -> None:
    restore(here, make(here, DAILY, NOW).path)
    attempt = shelf.last_attempt(here)
    assert attempt is not None
    assert (attempt.workshop_id, attempt.failed) == (WORKSHOP, False)
