"""A data folder with a small database in it: the tables that a backup asks, two jobs, a picture."""

import hashlib
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from workshop.backups.places import Places
from workshop.backups.sealing import SealedReader
from workshop.serving.data_folder import begin_epoch, prepare

WORKSHOP = "7d0f5f3c11aa4c0e9d0b5a4c6f1e2d3c"
OTHER = "00aa5f3c11aa4c0e9d0b5a4c6f1e2d3c"
NOW = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
PICTURE = b"not really a picture"
PICTURE_SHA256 = hashlib.sha256(PICTURE).hexdigest()

TABLES = """
PRAGMA journal_mode=WAL;
CREATE TABLE workshop_shop (id integer PRIMARY KEY, workshop_id text, name text, time_zone text);
CREATE TABLE jobs_job (id text PRIMARY KEY, number text);
CREATE TABLE jobs_chainhead (job_id text PRIMARY KEY, count integer, hash text);
CREATE TABLE jobs_entry (key integer PRIMARY KEY, job_id text, seq integer, hash text);
CREATE TABLE jobs_attachment (id integer PRIMARY KEY, sha256 text);
CREATE TABLE django_migrations (id integer PRIMARY KEY, app text, name text);
CREATE TABLE filling (id integer PRIMARY KEY, text text);
INSERT INTO django_migrations (app, name) VALUES
    ('workshop', '0001_registers'), ('workshop', '0002_shop_row');
"""


def unsealed(path: Path, key: bytes) -> Path:
    """Take a backup out of its envelope; give the plain file beside it."""
    plain = path.with_suffix(".zip")
    with path.open("rb") as file:
        plain.write_bytes(SealedReader(file, key).read())
    return plain


def connect(here: Places) -> sqlite3.Connection:
    return sqlite3.connect(here.database, timeout=10)


def a_shop(folder: Path, workshop_id: str = WORKSHOP, name: str = "Test workshop") -> Places:
    """Make a data folder; its backups lie in it."""
    here = Places(folder / "data", folder / "data" / "backups")
    prepare(here.data)
    begin_epoch(here.data)
    with closing(connect(here)) as database, database:
        database.executescript(TABLES)
        shop = (1, workshop_id, name, "UTC")
        database.execute("INSERT INTO workshop_shop VALUES (?, ?, ?, ?)", shop)
        database.execute("INSERT INTO jobs_attachment (sha256) VALUES (?)", (PICTURE_SHA256,))
        rows = [(f"row {number} " + "x" * 200,) for number in range(300)]
        database.executemany("INSERT INTO filling (text) VALUES (?)", rows)
    add_entries(here, "W1", 3)
    add_entries(here, "W2", 2)
    picture = here.attachments / PICTURE_SHA256[:2] / PICTURE_SHA256
    picture.parent.mkdir(parents=True)
    picture.write_bytes(PICTURE)
    return here


def add_entries(here: Places, job: str, count: int) -> None:
    """Put entries at the end of a job's chain."""
    with closing(connect(here)) as database:
        for _each in range(count):
            add_entry(database, job)


def add_entry(database: sqlite3.Connection, job: str) -> int:
    """Put one entry at the end of a job's chain, head and all, in one transaction."""
    with database:
        database.execute("BEGIN IMMEDIATE")
        asked = "SELECT count FROM jobs_chainhead WHERE job_id = ?"
        row = database.execute(asked, (job,)).fetchone()
        if row is None:
            database.execute("INSERT INTO jobs_job VALUES (?, ?)", (job, job))
            database.execute("INSERT INTO jobs_chainhead VALUES (?, 0, '')", (job,))
        seq: int = (row[0] if row else 0) + 1
        digest = hashlib.sha256(f"{job} {seq}".encode()).hexdigest()
        entry = (job, seq, digest)
        database.execute("INSERT INTO jobs_entry (job_id, seq, hash) VALUES (?, ?, ?)", entry)
        head = (seq, digest, job)
        database.execute("UPDATE jobs_chainhead SET count = ?, hash = ? WHERE job_id = ?", head)
    return seq


def alter(here: Places, statement: str) -> None:
    """Change the database behind everybody's back."""
    with closing(connect(here)) as database, database:
        database.execute(statement)


def settle(here: Places) -> None:
    """Bring the log into the database file, so that damaging the file damages the data."""
    with closing(connect(here)) as database:
        database.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def overwrite_pages(here: Places) -> None:
    """Damage the database as a failing disk does."""
    settle(here)
    with here.database.open("r+b") as file:
        file.seek(4096)
        file.write(b"\xa5" * 4096 * 8)


def truncate(here: Places) -> None:
    settle(here)
    with here.database.open("r+b") as file:
        file.truncate(here.database.stat().st_size // 2 + 100)


def empty(here: Places) -> None:
    settle(here)
    here.database.write_bytes(b"")


def replace_with_text(here: Places) -> None:
    settle(here)
    here.database.write_text("This is a letter, not a database.\n" * 200, encoding="ascii")


def remove(here: Places) -> None:
    settle(here)
    here.database.unlink()


DAMAGES = {
    "pages": overwrite_pages,
    "truncated": truncate,
    "empty": empty,
    "text": replace_with_text,
    "gone": remove,
}


def listing(folder: Path) -> dict[str, bytes]:
    """Give every file of a data folder but the passing ones, to see that nothing changed."""
    passing = {"backup.lock", "writer.lock", "coldbus.sqlite3-shm", "coldbus.sqlite3-wal"}
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name not in passing
    }


def as_killed(here: Places, folder: Path) -> Places:
    """Copy a data folder as it would lie there if whoever has its database open were killed."""
    left = Places(folder / "data", folder / "data" / "backups")
    shutil.copytree(here.data, left.data)
    return left
