"""Names tell when, why and whether good; foreign files are left alone."""

from datetime import timedelta
from pathlib import Path

from tests.workshop.backups.small_shop import NOW, WORKSHOP
from workshop.backups import shelf
from workshop.backups.manifest import BEFORE_MIGRATION, REASONS
from workshop.backups.places import Places
from workshop.backups.shelf import Attempt


def test_a_name_is_read_as_it_was_given(tmp_path: Path) -> None:
    for reason in REASONS:
        for failed in (True, False):
            name = shelf.name_of(WORKSHOP, NOW, reason, failed=failed)
            (tmp_path / f"{name}.zip").write_bytes(b"12345")
            kept = next(each for each in shelf.kept_in(tmp_path) if each.name == name)
            assert (kept.made_at, kept.reason, kept.failed) == (NOW, reason, failed)
            assert (kept.size_bytes, kept.shop) == (5, WORKSHOP[:8])


def test_other_files_are_not_backups(tmp_path: Path) -> None:
    names = ("holiday.zip", "coldbus-7d0f5f3c-20261399T120000Z-daily.zip", ".coldbus-1-2.part")
    for name in names:
        (tmp_path / name).write_bytes(b"")
    assert shelf.kept_in(tmp_path) == []
    assert shelf.kept_in(tmp_path / "nowhere") == []


def test_the_newest_stands_first(tmp_path: Path) -> None:
    for days in (3, 1, 2):
        made_at = NOW - timedelta(days=days)
        name = shelf.name_of(WORKSHOP, made_at, BEFORE_MIGRATION)
        (tmp_path / f"{name}.zip").write_bytes(b"")
    found = shelf.kept_in(tmp_path)
    assert [each.made_at for each in found] == [NOW - timedelta(days=n) for n in (1, 2, 3)]


def test_a_note_is_read_back_and_a_damaged_one_is_none(tmp_path: Path) -> None:
    here = Places(tmp_path, tmp_path / "backups")
    attempt = Attempt(tried_at=NOW, code="disk", parameters={"why": "full"}, workshop_id=WORKSHOP)
    assert shelf.last_attempt(here) is None
    shelf.note(here, attempt)
    assert shelf.last_attempt(here) == attempt
    here.status.write_text("{", encoding="ascii")
    assert shelf.last_attempt(here) is None


def test_a_new_file_is_seen_although_the_list_is_remembered(tmp_path: Path) -> None:
    here = Places(tmp_path, tmp_path / "backups")
    assert shelf.known(here)[0] == []
    here.shelf.mkdir()
    name = shelf.name_of(WORKSHOP, NOW, "daily")
    (here.shelf / f"{name}.zip").write_bytes(b"")
    assert [each.name for each in shelf.known(here)[0]] == [name]
