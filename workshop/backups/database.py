"""What a backup asks of a SQLite file: a copy, its contents, whether it is whole.

The live file is opened read-only and only here. Tables are named in SQL, because a copy may be
older or newer than the models of this program.
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from sqlite3 import Connection
from typing import Any, Final

# Django's own library and no other: two copies of SQLite in a process drop each other's locks.
from django.db.backends.sqlite3.base import Database  # type: ignore[attr-defined]

from workshop.backups.manifest import Head
from workshop.backups.refusal import BackupRefused

SqliteError = Database.Error

BUSY_TIMEOUT_S: Final = 10
SHOP: Final = "SELECT workshop_id, name, time_zone FROM workshop_shop"
HEADS: Final = (
    "SELECT j.number, h.count, h.hash FROM jobs_chainhead h JOIN jobs_job j ON j.id = h.job_id "
    "ORDER BY j.number"
)
# With max() SQLite takes the other columns from the row that has the maximum.
ENDS: Final = (
    "SELECT j.number, count(*), max(e.seq), e.hash FROM jobs_entry e "
    "JOIN jobs_job j ON j.id = e.job_id GROUP BY e.job_id"
)
AT_SEQ: Final = (
    "SELECT e.hash FROM jobs_entry e JOIN jobs_job j ON j.id = e.job_id "
    "WHERE j.number = ? AND e.seq = ?"
)
ASTRAY: Final = (
    "SELECT j.number FROM jobs_chainhead h JOIN jobs_job j ON j.id = h.job_id "
    "LEFT JOIN jobs_entry e ON e.job_id = h.job_id AND e.seq = h.count "
    "WHERE (h.count > 0 AND e.hash IS NOT h.hash) OR EXISTS "
    "(SELECT 1 FROM jobs_entry x WHERE x.job_id = h.job_id AND x.seq > h.count) "
    "ORDER BY j.number LIMIT 1"
)
MIGRATIONS: Final = "SELECT app, name FROM django_migrations ORDER BY app, name"
ATTACHMENTS: Final = {
    "jobs_attachment": "SELECT sha256 FROM jobs_attachment",
    "workshop_certificate": "SELECT sha256 FROM workshop_certificate",
}
"""Tables whose rows name a file of the data folder by its digest."""


@dataclass(frozen=True, slots=True)
class Contents:
    """What a database holds, as far as a backup tells about it."""

    workshop_id: str
    shop_name: str
    time_zone: str
    jobs: int
    entries: int
    heads: tuple[Head, ...]
    migrations: tuple[str, ...]
    attachments: tuple[str, ...]

    @property
    def latest_migrations(self) -> tuple[str, ...]:
        """The last migration of each app."""
        latest = {name.split(".")[0]: name for name in self.migrations}
        return tuple(latest[app] for app in sorted(latest))


@contextmanager
def reading(path: Path, *, alone: bool = False) -> Iterator[Connection]:
    """Open a database for reading; ``alone`` for a file that nobody else has open.

    Raises
    ------
    BackupRefused
        Where there is no such file or it cannot be opened.
    """
    if not path.is_file():
        raise BackupRefused("no_database", path=str(path))
    options = "mode=ro&immutable=1" if alone else "mode=ro"
    address = f"{path.absolute().as_uri()}?{options}"
    try:
        connection = Database.connect(address, uri=True, timeout=BUSY_TIMEOUT_S)
    except SqliteError as reason:
        raise BackupRefused("unreadable", why=str(reason)) from None
    with closing(connection):
        connection.execute("PRAGMA query_only=ON")
        yield connection


def copy(live: Connection, target: Path) -> None:
    """Copy a database in one go, as it stood at one moment, into a file of its own."""
    with closing(Database.connect(str(target))) as copied:
        # Not in pieces: a copy in pieces begins again whenever somebody writes.
        live.backup(copied, pages=-1)
        # The copy is to be one file, without a log beside it.
        copied.execute("PRAGMA journal_mode=DELETE")


def take_log_in(path: Path) -> None:
    """Let SQLite take into a database what it can read of its log; nobody has it open."""
    with closing(Database.connect(str(path), timeout=BUSY_TIMEOUT_S)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def size_bytes(connection: Connection) -> int:
    """Give the size of the database without its log."""
    (pages,) = connection.execute("PRAGMA page_count").fetchone()
    (page_bytes,) = connection.execute("PRAGMA page_size").fetchone()
    return int(pages) * int(page_bytes)


def _tables(connection: Connection) -> set[str]:
    """Name the tables."""
    found = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
    return {name for (name,) in found}


def is_bare(connection: Connection) -> bool:
    """Say whether nothing was ever made in this database."""
    return not _tables(connection)


def has_tables(connection: Connection, *needed: str) -> bool:
    """Say whether tables are there; a copy may be older than some."""
    return set(needed) <= _tables(connection)


def rows(connection: Connection, question: str, *needed: str) -> list[tuple[Any, ...]]:
    """Ask, where the tables are there."""
    if not has_tables(connection, *needed):
        return []
    return connection.execute(question).fetchall()


def heads_of(connection: Connection) -> tuple[Head, ...]:
    """Give the chain heads."""
    found = rows(connection, HEADS, "jobs_chainhead", "jobs_job")
    return tuple(Head(number, count, digest) for number, count, digest in found)


def whose(connection: Connection) -> tuple[str, str, str]:
    """Give the workshop's identifier, its name and its time zone.

    Raises
    ------
    BackupRefused
        Where it is no database of a workshop.
    """
    return whose_rows(rows(connection, SHOP, "workshop_shop"))


def whose_rows(shops: Sequence[Sequence[Any]]) -> tuple[str, str, str]:
    """Give identifier, name and time zone from what `SHOP` asks for; refuse as `whose`."""
    if not shops:
        raise BackupRefused("unreadable", why="it holds no workshop")
    workshop_id, name, zone = shops[0]
    return str(workshop_id).replace("-", ""), str(name), str(zone)


def holds_workshop(connection: Connection) -> bool:
    """Say whether a workshop was set up in it; not so after a first start that was interrupted."""
    return bool(rows(connection, SHOP, "workshop_shop"))


def contents_of(connection: Connection) -> Contents:
    """Read what a backup tells about a database.

    Raises
    ------
    BackupRefused
        Where it is no database of a workshop.
    """
    workshop_id, name, zone = whose(connection)
    ends = rows(connection, ENDS, "jobs_entry", "jobs_job")
    ((jobs,),) = rows(connection, "SELECT count(*) FROM jobs_job", "jobs_job") or [(0,)]
    return Contents(
        workshop_id=workshop_id,
        shop_name=name,
        time_zone=zone,
        jobs=int(jobs),
        entries=sum(count for _number, count, *_end in ends),
        heads=heads_of(connection),
        migrations=tuple(
            f"{app}.{step}" for app, step in rows(connection, MIGRATIONS, "django_migrations")
        ),
        attachments=_attachments(connection),
    )


def _attachments(connection: Connection) -> tuple[str, ...]:
    """Give the digests of the pictures and certificates that the database names."""
    asked = (rows(connection, question, table) for table, question in ATTACHMENTS.items())
    return tuple(sorted({digest for found in asked for (digest,) in found}))


def quick_faults(connection: Connection) -> str:
    """Say what is damaged in the structure, quickly; "" where nothing is."""
    return _checked(connection, "PRAGMA quick_check(5)")


def faults(connection: Connection, least: Iterable[Head] = ()) -> str:
    """Say what is wrong with a database: structure, chains, entries missing; "" for nothing.

    Parameters
    ----------
    connection : Connection
        The database, open for reading.
    least : Iterable of Head
        Heads that it has to reach: those seen before it was copied.

    Returns
    -------
    str
        The first fault in words.
    """
    said = _checked(connection, "PRAGMA integrity_check(5)")
    if said:
        return said
    ends = {
        number: (count, last, digest)
        for number, count, last, digest in rows(connection, ENDS, "jobs_entry", "jobs_job")
    }
    heads = {head.job: head for head in heads_of(connection)}
    for job in sorted(ends.keys() | heads.keys()):
        head = heads.get(job)
        begun = job in ends or (head is not None and head.count > 0)
        if begun and (head is None or ends.get(job) != (head.count, head.count, head.hash)):
            return f"the chain of job {job} does not end where its head says"
    return next((f"entries of job {job} are missing" for job in behind(connection, least)), "")


def behind(connection: Connection, least: Iterable[Head]) -> Iterator[str]:
    """Name the jobs that do not reach the heads seen before."""
    is_readable = has_tables(connection, "jobs_entry", "jobs_job")
    for head in least:
        asked = (head.job, head.count)
        row = connection.execute(AT_SEQ, asked).fetchone() if is_readable else None
        if head.count and (row is None or row[0] != head.hash):
            yield head.job


def astray(connection: Connection) -> str:
    """Say, quickly, whether a chain does not end where its head says; "" where all do."""
    for (job,) in rows(connection, ASTRAY, "jobs_entry", "jobs_job", "jobs_chainhead"):
        return f"the chain of job {job} does not end where its head says"
    return ""


def _checked(connection: Connection, question: str) -> str:
    """Ask SQLite itself; its complaints in one line."""
    try:
        said = [str(row[0]) for row in connection.execute(question)]
    except SqliteError as reason:
        return str(reason)
    # Its first line only names the table set that was looked at.
    complaints = [text.removeprefix("*** in database main ***\n") for text in said if text != "ok"]
    return "; ".join(line for text in complaints for line in text.splitlines())
