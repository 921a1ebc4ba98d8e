"""What a log beside the database has lost is seen before SQLite drops it without a word."""

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from workshop.serving.write_ahead import LogFault, files_beside, log_fault

HEAD, FRAME = 32, 24 + 4096
NAME = "shop.sqlite3"
ADDED = "INSERT INTO entry (text) VALUES (?)"
CHANGES = 12


@pytest.fixture
def link(tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """A database in use, every change of which is still in its log."""
    with closing(sqlite3.connect(tmp_path / NAME)) as link:
        link.execute("PRAGMA journal_mode=WAL")
        link.execute("PRAGMA wal_autocheckpoint=0")
        link.execute("CREATE TABLE entry (id integer PRIMARY KEY, text text)")
        add(link, CHANGES)
        yield link


def add(link: sqlite3.Connection, count: int) -> None:
    """Make changes of some pages each."""
    for number in range(count):
        with link:
            link.execute(ADDED, (f"{number} " + "x" * 6000,))


def as_killed(link: sqlite3.Connection, folder: Path) -> Path:
    """Give a copy of the files as they would lie there if the process were killed now."""
    (_, _, file) = link.execute("PRAGMA database_list").fetchone()
    folder.mkdir()
    for path in (Path(file), *files_beside(Path(file))):
        shutil.copyfile(path, folder / path.name)
    return folder / NAME


def entries(database: Path) -> int:
    with closing(sqlite3.connect(database)) as link:
        (count,) = link.execute("SELECT count(*) FROM entry").fetchone()
    return int(count)


def cut(database: Path, size: int) -> None:
    log, _index = files_beside(database)
    log.write_bytes(log.read_bytes()[:size])


def garble(database: Path, at: int, count: int = 100) -> None:
    log, _index = files_beside(database)
    raw = bytearray(log.read_bytes())
    raw[at : at + count] = bytes(each ^ 0x5A for each in raw[at : at + count])
    log.write_bytes(raw)


def without_index(database: Path) -> Path:
    files_beside(database)[1].unlink()
    return database


def frames(database: Path) -> int:
    return (files_beside(database)[0].stat().st_size - HEAD) // FRAME


def is_known(database: Path) -> bool:
    """Ask, and hold that asking changed nothing."""
    beside = [path.read_bytes() if path.exists() else None for path in files_beside(database)]
    fault = log_fault(database)
    after = [path.read_bytes() if path.exists() else None for path in files_beside(database)]
    assert after == beside
    return fault is not None


def test_a_whole_log_has_no_fault(link: sqlite3.Connection, tmp_path: Path) -> None:
    database = as_killed(link, tmp_path / "killed")
    assert frames(database) > 2 * CHANGES
    assert not is_known(database)
    assert not is_known(without_index(database))
    assert entries(database) == CHANGES
    # SQLite has taken the log in and is gone.
    assert not is_known(database)


def test_wherever_the_log_was_cut_the_index_knows_it(
    link: sqlite3.Connection, tmp_path: Path
) -> None:
    database = as_killed(link, tmp_path / "killed")
    raw = files_beside(database)[0].read_bytes()
    for number in range(frames(database)):
        for size in (HEAD + number * FRAME, HEAD + number * FRAME + 1000):
            files_beside(database)[0].write_bytes(raw[:size])
            assert is_known(database), size
    # The last frame alone, and not the whole of it.
    files_beside(database)[0].write_bytes(raw[:-1])
    assert is_known(database)


def test_a_log_that_was_emptied_or_deleted_is_known_by_the_index(
    link: sqlite3.Connection, tmp_path: Path
) -> None:
    database = as_killed(link, tmp_path / "killed")
    for size in (20, 0):
        cut(database, size)
        assert is_known(database)
    files_beside(database)[0].unlink()
    fault = log_fault(database)
    assert fault is not None
    assert "is gone" in fault.what
    assert entries_or_none(database) is None


def entries_or_none(database: Path) -> int | None:
    """Count what SQLite makes of it; None where the table itself is lost."""
    try:
        return entries(database)
    except sqlite3.OperationalError:
        return None


def test_garbled_bytes_are_known_without_the_index_where_changes_follow(
    link: sqlite3.Connection, tmp_path: Path
) -> None:
    database = without_index(as_killed(link, tmp_path / "killed"))
    raw = files_beside(database)[0].read_bytes()
    # Two changes at the end may be all that a damage reaches: of these nothing tells.
    for number in range(frames(database) - 6):
        for place in (4, 10, 18, 500):
            files_beside(database)[0].write_bytes(raw)
            garble(database, HEAD + number * FRAME + place, 4)
            assert is_known(database), (number, place)


def test_garbled_bytes_in_the_last_change_are_known_by_the_index_alone(
    link: sqlite3.Connection, tmp_path: Path
) -> None:
    database = as_killed(link, tmp_path / "killed")
    garble(database, HEAD + (frames(database) - 1) * FRAME + 500)
    assert log_fault(database) == LogFault(
        f"of the {frames(database)} pages in its log {NAME}-wal only "
        f"{frames(database) - 3} can be read",
        usable=True,
    )
    # It looks like the change that a power cut leaves half written.
    assert not is_known(without_index(database))
    assert entries(database) == CHANGES - 1


def test_a_garbled_beginning_is_known(link: sqlite3.Connection, tmp_path: Path) -> None:
    database = without_index(as_killed(link, tmp_path / "killed"))
    for place in range(0, HEAD, 4):
        garble(database, place, 4)
        assert is_known(database), place
        garble(database, place, 4)
    assert not is_known(database)


def test_a_change_that_was_never_finished_is_no_fault(
    link: sqlite3.Connection, tmp_path: Path
) -> None:
    before = as_killed(link, tmp_path / "before")
    finished = files_beside(before)[0].stat().st_size
    add(link, 1)
    after = as_killed(link, tmp_path / "after")
    # As the disk may hold it after a power cut: the index from before, a part of the frames.
    shutil.copyfile(files_beside(before)[1], files_beside(after)[1])
    assert not is_known(after)
    garble(after, finished + 500)
    assert not is_known(after)
    cut(after, finished + FRAME + 100)
    assert not is_known(after)
    assert entries(after) == CHANGES


def test_a_log_that_has_begun_anew_since_the_index_is_no_fault(
    link: sqlite3.Connection, tmp_path: Path
) -> None:
    before = as_killed(link, tmp_path / "before")
    link.execute("PRAGMA wal_checkpoint(RESTART)")
    add(link, 1)
    after = as_killed(link, tmp_path / "after")
    shutil.copyfile(files_beside(before)[1], files_beside(after)[1])
    assert not is_known(after)
    assert entries(after) == CHANGES + 1


def test_a_log_all_of_which_is_in_the_database_may_be_missing(
    link: sqlite3.Connection, tmp_path: Path
) -> None:
    link.execute("PRAGMA wal_checkpoint(PASSIVE)")
    database = as_killed(link, tmp_path / "killed")
    files_beside(database)[0].unlink()
    assert not is_known(database)
    assert entries(database) == CHANGES


def test_a_log_that_falls_behind_what_was_copied_may_not_be_taken(
    link: sqlite3.Connection, tmp_path: Path
) -> None:
    with closing(sqlite3.connect(tmp_path / NAME)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM entry").fetchone()
        add(link, 2)
        # What came after the reader began is not copied yet.
        link.execute("PRAGMA wal_checkpoint(PASSIVE)")
        database = as_killed(link, tmp_path / "killed")
    cut(database, HEAD + (frames(database) - 1) * FRAME)
    fault = log_fault(database)
    assert fault is not None
    assert fault.usable
    cut(database, HEAD + 4 * FRAME)
    fault = log_fault(database)
    assert fault is not None
    assert not fault.usable


def test_an_older_log_and_that_of_another_database_are_known(
    link: sqlite3.Connection, tmp_path: Path
) -> None:
    older = files_beside(as_killed(link, tmp_path / "older"))[0]
    link.execute("PRAGMA wal_checkpoint(RESTART)")
    add(link, 1)
    database = as_killed(link, tmp_path / "killed")
    shutil.copyfile(older, files_beside(database)[0])
    assert log_fault(database) == LogFault(
        f"the log {NAME}-wal beside it is of another database, or of an earlier time", usable=False
    )
    with closing(sqlite3.connect(tmp_path / "another.sqlite3")) as another:
        another.execute("PRAGMA journal_mode=WAL")
        another.execute("CREATE TABLE entry (id integer PRIMARY KEY, text text)")
        add(another, 1)
        shutil.copyfile(tmp_path / "another.sqlite3-wal", files_beside(database)[0])
        assert is_known(database)


def test_a_log_that_cannot_be_read_is_a_fault(link: sqlite3.Connection, tmp_path: Path) -> None:
    database = as_killed(link, tmp_path / "killed")
    log, _index = files_beside(database)
    log.unlink()
    log.mkdir()
    fault = log_fault(database)
    assert fault is not None
    assert fault.what.startswith(f"{log.name} beside it cannot be read")
    assert (fault.usable, fault.unread) == (False, True)


def test_of_log_and_index_that_one_is_named_which_cannot_be_read(
    link: sqlite3.Connection, tmp_path: Path
) -> None:
    database = without_index(as_killed(link, tmp_path / "killed"))
    _log, index = files_beside(database)
    index.mkdir()
    fault = log_fault(database)
    assert fault is not None
    assert fault.what.startswith(f"{index.name} beside it cannot be read")
    assert fault.unread
    assert "missing" not in fault.sentence


def closes(link: sqlite3.Connection) -> None:
    link.close()


def writes(link: sqlite3.Connection) -> None:
    add(link, 1)


@pytest.mark.parametrize("meanwhile", [closes, writes])
@pytest.mark.parametrize("is_before", [True, False])
def test_what_another_does_between_the_two_readings_is_no_fault(
    link: sqlite3.Connection,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    meanwhile: Callable[[sqlite3.Connection], None],
    *,
    is_before: bool,
) -> None:
    left, read = [meanwhile], Path.read_bytes

    def disturbed(path: Path) -> bytes:
        if left and is_before:
            left.pop()(link)
        raw = read(path)
        if left:
            left.pop()(link)
        return raw

    monkeypatch.setattr(Path, "read_bytes", disturbed)
    assert log_fault(tmp_path / NAME) is None
    assert not left


def test_an_index_that_is_damaged_itself_says_nothing(
    link: sqlite3.Connection, tmp_path: Path
) -> None:
    database = as_killed(link, tmp_path / "killed")
    log, index = files_beside(database)
    cut(database, HEAD + FRAME)
    raw = index.read_bytes()
    for damaged in (raw[:100], raw[:20] + b"\1" + raw[21:], bytes(len(raw))):
        index.write_bytes(damaged)
        assert not is_known(database)
    index.write_bytes(raw)
    assert is_known(database)
    assert log.exists()
