"""A killed server whose log was damaged says so, and goes on when told to; tablets send again."""

import random
import shutil
import sqlite3
import time
from collections import Counter, deque
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.running import Running, manage, running_server
from tests.soak_tablets import Line, Tablet, kill, open_jobs
from workshop.backups import shelf
from workshop.serving.data_folder import DATABASE_NAME, epoch_of
from workshop.serving.write_ahead import files_beside

BEFORE, AFTER = 3, 6
DRAINED_WITHIN_S = 30.0


@dataclass(frozen=True)
class Killed:
    """A folder as a kill left it, and the tablet whose entries were acknowledged before."""

    folder: Path
    tablet: Tablet

    def copy(self, folder: Path) -> Path:
        return Path(shutil.copytree(self.folder, folder))


def a_line(shop: Running) -> Line:
    line = Line(shop.address, random.Random(7), "")  # noqa: S311 - the network's fate
    line.sign_on("Aster")
    line.sound = True
    return line


def said_by(folder: Path, *words: str) -> tuple[int, str]:
    with manage(folder, *words) as process:
        said, _ = process.communicate()
    return process.returncode, said


@pytest.fixture(scope="module")
def killed(invented: Path, tmp_path_factory: pytest.TempPathFactory) -> Killed:
    """Entries, a backup, entries, and a kill; the log holds all of it."""
    folder = Path(shutil.copytree(invented, tmp_path_factory.mktemp("killed") / "data"))
    with running_server(folder) as shop:
        line = a_line(shop)
        tablet = Tablet(line, open_jobs(line)[:2])
        line.sound = True
        for _each in range(BEFORE):
            tablet.make()
        tablet.drain(time.monotonic() + DRAINED_WITHIN_S)
        code, said = said_by(folder, "backup")
        assert code == 0, said
        for _each in range(AFTER):
            tablet.make()
            tablet.send()
        kill(shop)
    assert len(tablet.acknowledged) == len(tablet.made) == BEFORE + AFTER
    return Killed(folder, tablet)


def log_of(folder: Path) -> Path:
    return files_beside(folder / DATABASE_NAME)[0]


def cut(folder: Path) -> None:
    raw = log_of(folder).read_bytes()
    log_of(folder).write_bytes(raw[: len(raw) * 2 // 3 + 100])


def garble_without_index(folder: Path) -> None:
    raw = bytearray(log_of(folder).read_bytes())
    raw[len(raw) // 2 : len(raw) // 2 + 100] = b"\xa5" * 100
    log_of(folder).write_bytes(raw)
    files_beside(folder / DATABASE_NAME)[1].unlink()


def delete(folder: Path) -> None:
    for path in files_beside(folder / DATABASE_NAME):
        path.unlink()


def cut_the_last_without_index(folder: Path) -> None:
    log_of(folder).write_bytes(log_of(folder).read_bytes()[:-100])
    files_beside(folder / DATABASE_NAME)[1].unlink()


def there(folder: Path, tablet: Tablet) -> Counter[str]:
    """Count a tablet's entries in the record of a stopped shop, by key."""
    with closing(sqlite3.connect(folder / DATABASE_NAME)) as link:
        rows = link.execute('SELECT "key" FROM jobs_entry').fetchall()
    ours = {entry["key"].replace("-", "") for entry in tablet.made}
    return Counter(key for (key,) in rows if key in ours)


def send_all_again(shop: Running, before: Tablet) -> None:
    """Send every receipt again, as a tablet does once it hears of another epoch."""
    again = Tablet(a_line(shop), before.jobs, before.device, deque(before.made), before.made)
    again.drain(time.monotonic() + DRAINED_WITHIN_S)
    assert again.refused == []
    assert sorted(again.acknowledged) == sorted(entry["key"] for entry in before.made)


def hold_that_nothing_is_lost(folder: Path, tablet: Tablet) -> None:
    assert set(there(folder, tablet).values()) == {1}
    assert len(there(folder, tablet)) == len(tablet.made)
    code, said = said_by(folder, "verify")
    assert code == 0, said


@pytest.mark.parametrize("damage", [cut, garble_without_index, delete])
def test_what_a_damaged_log_lost_is_said_and_comes_back_from_the_tablets(
    killed: Killed, tmp_path: Path, damage: Callable[[Path], None]
) -> None:
    folder, tablet = killed.copy(tmp_path / "data"), killed.tablet
    damage(folder)
    log = log_of(folder).read_bytes() if log_of(folder).exists() else b""
    code, said = said_by(folder, "up", "--no-serve")
    assert code == 1
    assert "Traceback" not in said
    assert "Entries that were acknowledged may be missing" in said
    assert "up --after-loss" in said
    assert f"restore {shelf.kept_in(folder / 'backups')[0].path}" in said
    if log:
        # Whoever opened the database now would take in what is left of the log.
        code, said = said_by(folder, "verify")
        assert code == 1
        assert "run up" in said
        assert log_of(folder).read_bytes() == log
    epoch = epoch_of(folder)
    with running_server(folder, "--after-loss") as shop:
        assert epoch_of(folder) not in {"", epoch}
        send_all_again(shop, tablet)
    kept = [path.read_bytes() for path in folder.glob(f"log-set-aside-*/{log_of(folder).name}")]
    assert kept == ([log] if log else [])
    hold_that_nothing_is_lost(folder, tablet)
    code, said = said_by(folder, "up", "--no-serve")
    assert code == 0, said


LOOKING = (
    ("doctor",),
    ("makemigrations", "--check", "--dry-run"),
    ("check", "--database", "default"),
)


@pytest.mark.parametrize("words", LOOKING, ids=lambda words: words[0])
def test_who_looks_at_a_damaged_log_leaves_it_as_it_is(
    killed: Killed, tmp_path: Path, words: tuple[str, ...]
) -> None:
    folder = killed.copy(tmp_path / "data")
    cut(folder)
    before = [path.read_bytes() for path in files_beside(folder / DATABASE_NAME)]
    code, said = said_by(folder, *words)
    assert code == 1
    assert "Entries may be missing: of the" in said
    assert "Traceback" not in said
    assert [path.read_bytes() for path in files_beside(folder / DATABASE_NAME)] == before
    code, said = said_by(folder, "up", "--no-serve")
    assert code == 1, said


def test_a_restore_that_is_declined_leaves_a_damaged_log_as_it_is(
    killed: Killed, tmp_path: Path
) -> None:
    folder = killed.copy(tmp_path / "data")
    cut(folder)
    before = [path.read_bytes() for path in files_beside(folder / DATABASE_NAME)]
    code, said = said_by(folder, "restore", str(shelf.kept_in(folder / "backups")[0].path))
    assert code == 1
    assert "what is lost is not known" in said
    assert "say --yes" in said
    assert [path.read_bytes() for path in files_beside(folder / DATABASE_NAME)] == before
    code, said = said_by(folder, "up", "--no-serve")
    assert code == 1
    assert "Entries that were acknowledged may be missing" in said


def test_a_file_that_may_not_be_read_is_no_loss(killed: Killed, tmp_path: Path) -> None:
    folder, tablet = killed.copy(tmp_path / "data"), killed.tablet
    log, index = files_beside(folder / DATABASE_NAME)
    before = log.read_bytes()
    kept = index.rename(tmp_path / "index")
    # Whoever runs the tests may read every file, but no folder as one.
    index.mkdir()
    for words in (("up", "--no-serve"), ("up", "--no-serve", "--after-loss"), ("verify",)):
        code, said = said_by(folder, *words)
        assert code == 1
        assert f"{index.name} beside it cannot be read" in said
        assert "missing: " not in said
        assert "--after-loss" not in said
    assert log.read_bytes() == before
    assert not list(folder.glob("log-set-aside-*"))
    index.rmdir()
    kept.rename(index)
    code, said = said_by(folder, "up", "--no-serve")
    assert code == 0, said
    hold_that_nothing_is_lost(folder, tablet)


def test_what_nothing_on_the_server_misses_the_tablets_bring_back(
    killed: Killed, tmp_path: Path
) -> None:
    """The last change looks like one that was never finished; the kill itself is noticed."""
    folder, tablet = killed.copy(tmp_path / "data"), killed.tablet
    cut_the_last_without_index(folder)
    epoch = epoch_of(folder)
    with running_server(folder) as shop:
        assert epoch_of(folder) not in {"", epoch}
        assert len(there(folder, tablet)) == len(tablet.made) - 1
        send_all_again(shop, tablet)
    hold_that_nothing_is_lost(folder, tablet)


def test_tablets_send_again_after_a_kill_and_not_after_a_stop(
    killed: Killed, tmp_path: Path
) -> None:
    folder, epoch = killed.copy(tmp_path / "data"), epoch_of(killed.folder)
    code, said = said_by(folder, "up", "--no-serve")
    assert code == 0, said
    assert "was not stopped in order" in said
    after_kill = epoch_of(folder)
    assert after_kill not in {"", epoch}
    with running_server(folder) as shop:
        shop.stop()
    code, said = said_by(folder, "up", "--no-serve")
    assert (code, epoch_of(folder)) == (0, after_kill)
    assert "send again" not in said
    hold_that_nothing_is_lost(folder, killed.tablet)


def test_the_log_of_another_shop_is_set_aside_and_nothing_of_it_taken(
    killed: Killed, tmp_path: Path
) -> None:
    folder = killed.copy(tmp_path / "data")
    other = tmp_path / "other"
    code, said = said_by(other, "up", "--no-serve")
    assert code == 0, said
    with closing(sqlite3.connect(other / DATABASE_NAME)) as link:
        link.execute("PRAGMA wal_autocheckpoint=0")
        for number in range(40):
            link.execute(f"CREATE TABLE further_{number} (text text)")
        link.commit()
        shutil.copyfile(log_of(other), log_of(folder))
    files_beside(folder / DATABASE_NAME)[1].unlink()
    code, said = said_by(folder, "up", "--no-serve")
    assert code == 1
    assert "does not belong to it" in said
    with running_server(folder, "--after-loss") as shop:
        send_all_again(shop, killed.tablet)
    hold_that_nothing_is_lost(folder, killed.tablet)
