"""Backup, restore, a damaged database and the workshop's network, as a person meets them."""

import shutil
import sqlite3
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.running import Running, manage, running_server
from tests.workshop.backups.small_shop import DAMAGES
from workshop.backups import shelf
from workshop.backups.drill import last_drill
from workshop.backups.manifest import BEFORE_MIGRATION, BY_HAND
from workshop.backups.places import Places
from workshop.serving.data_folder import DATABASE_NAME, epoch_of

# Kept after a restart, dropped by a restore of what is older.
# Part of a table that no job's chain reaches; foreign keys are not asked here.
ORPHAN = """
INSERT INTO jobs_entry ("key", job_id, seq, kind, item, qualifier, value, person, at, effect,
    canonical, previous, hash)
VALUES ('5', '5', 1, 'value', '', '', '1', '5', '2026-01-01 00:00:00', '',
    x'7b7d', '', 'h')
"""
MARK = "UPDATE workshop_shop SET phone = '{}'"
PASSING = {"staticfiles", "staticfiles.sha256", "writer.lock", "backup.lock", "upkeep.lock"}
PASSING |= {"record_check.json", "drill.json", "serving"}
# On paper, never in a backup: a stick that is found tells nothing.
PASSING |= {"backup_key"}
KEYS = {"secret_key", "pepper", "signing_key.pem", "signing_keys.json"}
KNOWN = {DATABASE_NAME, *KEYS, "epoch", "backups", "backup_status.json"}


def said_by(folder: Path, *words: str) -> tuple[int, str]:
    with manage(folder, *words) as process:
        said, _ = process.communicate()
    return process.returncode, said


def places(folder: Path) -> Places:
    return Places(folder, folder / "backups")


def phone(folder: Path) -> str:
    with closing(sqlite3.connect(folder / DATABASE_NAME)) as database:
        (found,) = database.execute("SELECT phone FROM workshop_shop").fetchone()
    return str(found)


def alter(folder: Path, statement: str) -> None:
    with closing(sqlite3.connect(folder / DATABASE_NAME)) as database, database:
        database.execute(statement)


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop's folder after its first start, with one backup in it."""
    folder = tmp_path_factory.mktemp("prepared") / "data"
    code, said = said_by(folder, "up", "--no-serve")
    assert code == 0, said
    code, said = said_by(folder, "backup")
    assert code == 0, said
    assert "Backup made and checked:" in said
    assert "same disk" in said
    return folder


@pytest.fixture
def shop(prepared: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(prepared, tmp_path / "data"))


def test_every_file_of_a_data_folder_is_backed_up_or_can_be_made_again(prepared: Path) -> None:
    found = {path.name for path in prepared.iterdir()}
    left = {name for name in found if name.startswith(DATABASE_NAME) and name != DATABASE_NAME}
    assert found - left - PASSING <= KNOWN
    assert found >= KNOWN


def test_a_backup_is_made_beside_the_running_server_and_a_restore_is_refused(shop: Path) -> None:
    with running_server(shop) as server:
        code, said = said_by(shop, "backup")
        assert code == 0, said
        path = shelf.kept_in(shop / "backups")[0].path
        code, said = said_by(shop, "restore", str(path), "--yes")
        assert code == 1
        assert f"in use by the Coldbus server, process {server.process.pid}" in said
    assert [each.reason for each in shelf.kept_in(shop / "backups")] == [BY_HAND, BY_HAND]


def test_a_restore_brings_back_the_data_and_the_shop_starts(shop: Path) -> None:
    (kept,) = shelf.kept_in(shop / "backups")
    epoch = epoch_of(shop)
    alter(shop, MARK.format("changed since"))
    code, said = said_by(shop, "restore", str(kept.path), "--yes")
    assert code == 0, said
    assert "It is whole" in said
    assert "changes of the shop's settings: 1" in said
    assert "no entry is lost" not in said
    assert phone(shop) == ""
    assert epoch_of(shop) not in {"", epoch}
    (aside,) = [each for each in shop.parent.iterdir() if "before-restore" in each.name]
    assert phone(aside) == "changed since"
    code, said = said_by(shop, "up", "--no-serve")
    assert code == 0, said


def test_a_drill_proves_the_newest_backup_and_leaves_nothing_behind(shop: Path) -> None:
    beside = sorted(each.name for each in shop.parent.iterdir())
    code, said = said_by(shop, "backup", "--drill")
    assert code == 0, said
    assert "every chain in it verifies" in said
    done = last_drill(shop)
    assert done is not None
    assert done.why == ""
    assert sorted(each.name for each in shop.parent.iterdir()) == beside


def test_a_drill_finds_what_was_wrong_before_the_backup_was_made(shop: Path) -> None:
    alter(shop, ORPHAN)
    code, said = said_by(shop, "backup")
    assert code == 0, said
    code, said = said_by(shop, "backup", "--drill")
    assert code == 1
    assert "cannot be relied on: verify: " in said
    done = last_drill(shop)
    assert done is not None
    assert done.why.startswith("verify: ")


def test_the_key_from_the_sheet_opens_it_on_another_computer(shop: Path, tmp_path: Path) -> None:
    code, words = said_by(shop, "backup", "--key")
    assert code == 0, words
    (kept,) = shelf.kept_in(shop / "backups")
    other = tmp_path / "other" / "data"
    other.parent.mkdir()
    code, said = said_by(other, "restore", str(kept.path), "--yes")
    assert code == 1
    assert "has no key for it" in said
    code, said = said_by(other, "restore", str(kept.path), "--yes", "--key", words.strip()[:-2])
    assert code == 1
    assert "a letter is wrong or missing" in said
    code, said = said_by(other, "restore", str(kept.path), "--yes", "--key")
    assert code == 1
    assert "Nobody can be asked here" in said
    sheet = tmp_path / "sheet"
    sheet.write_text(words.lower(), encoding="utf-8")
    code, said = said_by(other, "restore", str(kept.path), "--yes", "--key-file", str(sheet))
    assert code == 0, said
    assert words.strip()[:9] not in said
    assert said_by(other, "backup", "--key")[1] == words
    code, said = said_by(other, "up", "--no-serve")
    assert code == 0, said


def test_a_restore_that_nobody_confirms_changes_nothing(shop: Path) -> None:
    (kept,) = shelf.kept_in(shop / "backups")
    alter(shop, MARK.format("changed since"))
    code, said = said_by(shop, "restore", str(kept.path))
    assert code == 1
    assert "say --yes" in said
    assert phone(shop) == "changed since"
    assert [each.name for each in shop.parent.iterdir()] == ["data"]


# Each kind of damage is looked at in tests/workshop/backups/test_damage.py.
@pytest.mark.parametrize("damage", ["pages", "empty"])
def test_a_damaged_database_stops_the_start_in_words(shop: Path, damage: str) -> None:
    (kept,) = shelf.kept_in(shop / "backups")
    DAMAGES[damage](places(shop))
    database = shop / DATABASE_NAME
    before = database.read_bytes() if database.exists() else None
    code, said = said_by(shop, "up", "--no-serve")
    assert code == 1
    assert "Traceback" not in said
    assert "The database cannot be used" in said
    assert f"python3 manage.py restore {kept.path}" in said
    assert (database.read_bytes() if database.exists() else None) == before
    code, said = said_by(shop, "restore", str(kept.path), "--yes")
    assert code == 0, said
    assert phone(shop) == ""


def test_a_start_without_what_pins_rest_on_says_so_and_a_restore_brings_it_back(shop: Path) -> None:
    (kept,) = shelf.kept_in(shop / "backups")
    (shop / "pepper").write_bytes(b"")
    code, said = said_by(shop, "up", "--no-serve")
    assert code == 1
    assert "pepper is empty" in said
    assert f"python3 manage.py restore {kept.path}" in said
    code, said = said_by(shop, "restore", str(kept.path), "--yes")
    assert code == 0, said
    code, said = said_by(shop, "up", "--no-serve")
    assert code == 0, said


def test_a_start_without_what_pins_rest_on_says_so_with_a_database_on_a_server(shop: Path) -> None:
    (shop / DATABASE_NAME).unlink()
    (shop / "pepper").write_bytes(b"")
    # Nobody answers there, and nobody is asked before the folder was looked at.
    also = {"COLDBUS_DATABASE_URL": "postgresql://shop@127.0.0.1:1/shop"}
    with manage(shop, "up", "--no-serve", also=also) as process:
        said, _ = process.communicate()
    assert process.returncode == 1
    assert "pepper is empty" in said
    assert "it is in every backup too" in said
    assert not (shop / "pepper").stat().st_size


def test_another_workshops_database_is_asked_about_once(shop: Path) -> None:
    alter(shop, "UPDATE workshop_shop SET workshop_id = '00aa5f3c11aa4c0e9d0b5a4c6f1e2d3c'")
    code, said = said_by(shop, "up", "--no-serve")
    assert code == 1
    assert "that of another workshop" in said
    for words in (("--after-loss",), ()):
        code, said = said_by(shop, "up", "--no-serve", *words)
        assert code == 0, said


def test_before_a_migration_a_backup_is_made(shop: Path) -> None:
    undo_last_migration(shop)
    code, said = said_by(shop, "up", "--no-serve")
    assert code == 0, said
    assert said.index("Backup made and checked") < said.index("Bringing the database up to date")
    assert shelf.kept_in(shop / "backups")[0].reason == BEFORE_MIGRATION


def test_where_none_can_be_made_nothing_is_migrated_unless_that_is_said(shop: Path) -> None:
    undo_last_migration(shop)
    shutil.rmtree(shop / "backups")
    (shop / "backups").write_text("in the way", encoding="ascii")
    code, said = said_by(shop, "up", "--no-serve")
    assert code == 1
    assert "was not brought up to date" in said
    assert "Traceback" not in said
    code, said = said_by(shop, "up", "--no-serve", "--without-backup")
    assert code == 0, said


def undo_last_migration(shop: Path) -> None:
    """Let the last step of the sessions' tables seem not done yet; doing it again is harmless."""
    alter(shop, "DELETE FROM django_migrations WHERE app = 'sessions'")
    alter(shop, "DROP TABLE django_session")


# ---------------------------------------------------------------- the network


@pytest.fixture(scope="module")
def second(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A server at another address of this computer's own."""
    with running_server(tmp_path_factory.mktemp("listen"), "--listen", "127.0.0.2") as running:
        yield running


def status_of(address: str, host: str) -> int:
    request = urllib.request.Request(address, headers={"Host": host})  # noqa: S310 - our own
    try:
        with urllib.request.urlopen(request) as answer:  # noqa: S310 - as above
            status: int = answer.status
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code
    return status


@pytest.mark.parametrize(
    ("host", "expected"),
    [("127.0.0.2", 200), ("localhost", 200), ("elsewhere.example", 400), ("127.0.0.3", 400)],
)
def test_it_answers_to_its_own_names_and_to_no_others(
    second: Running, host: str, expected: int
) -> None:
    assert second.address.startswith("http://127.0.0.2:")
    assert status_of(second.address + "shop/first-run/", host) == expected


def test_a_public_address_is_refused_in_words(tmp_path: Path) -> None:
    code, said = said_by(tmp_path, "up", "--listen", "8.1.2.3", "--no-serve")
    assert code == 1
    assert "is a public address" in said
    assert "Traceback" not in said
