"""A larger shop: its own database server, a role that owns nothing, several worker processes."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Thread
from typing import Any
from urllib.parse import quote
from uuid import uuid4

import pytest
from django.conf import settings
from django.db import connection

from tests.forging import postgresql_only
from tests.jobs.test_soak import EVERY_ENTRY, hold_to_account
from tests.running import manage
from tests.soak_tablets import soak
from workshop.backups import checking, keys, shelf

pytestmark = [postgresql_only, pytest.mark.django_db]

WORD = "only-for-this-test"
FORBIDDEN = (
    "UPDATE jobs_entry SET seq = seq",
    "DELETE FROM jobs_entry",
    "TRUNCATE jobs_entry",
    "DROP TABLE jobs_entry",
    "ALTER TABLE jobs_entry ADD COLUMN note text",
    "ALTER TABLE jobs_entry DISABLE TRIGGER USER",
    "DROP TRIGGER jobs_entry_no_update ON jobs_entry",
    "ALTER FUNCTION jobs_entry_refuse() RENAME TO jobs_entry_accept",
    "SET session_replication_role = replica",
    "CREATE TABLE public.note (word text)",
    "UPDATE jobs_quarantinecheck SET seq = seq",
    "UPDATE jobs_deskevent SET kind = kind",
    "DELETE FROM jobs_deskevent",
    "UPDATE jobs_disposal SET seq = seq",
    "DELETE FROM workshop_registerevent",
)


@dataclass(frozen=True)
class Server:
    """A database of its own, and a role beside its owner."""

    name: str
    role: str

    def address(self, user: str = "", word: str = "") -> str:
        """Give the address of the database for its owner, or for another role."""
        there = {name: str(value) for name, value in settings.DATABASES["default"].items()}
        user, word = user or there["USER"], word or there["PASSWORD"]
        host = f"{there['HOST']}:{there['PORT'] or 5432}"
        return f"postgresql://{quote(user)}:{quote(word)}@{host}/{self.name}"

    def link(self, user: str = "", word: str = "") -> Any:
        """Open a connection that commits each statement."""
        there = {**connection.get_connection_params(), "dbname": self.name}
        there |= {"user": user, "password": word} if user else {}
        return _plainly(there)


def _plainly(there: dict[str, Any]) -> Any:
    link = connection.get_new_connection(there)
    link.autocommit = True
    return link


@pytest.fixture
def server() -> Iterator[Server]:
    with a_server() as made:
        yield made


@pytest.fixture
def other() -> Iterator[Server]:
    with a_server() as made:
        yield made


@contextmanager
def a_server() -> Iterator[Server]:
    made = Server(f"coldbus_shop_{uuid4().hex[:8]}", f"coldbus_role_{uuid4().hex[:8]}")
    with _plainly(connection.get_connection_params()) as owner:
        owner.execute(f"CREATE DATABASE {made.name}")
        owner.execute(f"CREATE ROLE {made.role} LOGIN PASSWORD '{WORD}'")
        try:
            yield made
        finally:
            owner.execute(f"DROP DATABASE {made.name} WITH (FORCE)")
            owner.execute(f"DROP ROLE {made.role}")


def said_by(folder: Path, *words: str, address: str) -> tuple[int, str]:
    with manage(folder, *words, also={"COLDBUS_DATABASE_URL": address}) as process:
        said, _ = process.communicate()
    return process.returncode, said


def test_tablets_write_at_once_through_several_workers_that_own_nothing(
    server: Server, tmp_path: Path
) -> None:
    folder = tmp_path / "data"
    code, said = said_by(folder, "up", "--no-serve", "--demo", address=server.address())
    assert code == 0, said
    assert "CAUTION: this role may do more than add" in said
    code, said = said_by(folder, "database_role", server.role, address=server.address())
    assert code == 0, said
    code, said = said_by(folder, "guard", address=server.address(server.role, WORD))
    assert (code, said) == (0, "")
    also = {
        "COLDBUS_DATABASE_URL": server.address(server.role, WORD),
        "COLDBUS_WORKERS": "3",
    }
    soaked = soak(folder, tablets=20, lasting_s=8, kills=1, pause_s=0.2, also=also)
    with server.link() as owner:
        rows = owner.execute(EVERY_ENTRY).fetchall()
        forks = owner.execute(
            "SELECT job_id, previous FROM jobs_entry GROUP BY 1, 2 HAVING count(*) > 1"
        ).fetchall()
    assert hold_to_account(soaked, folder, rows, also) > 100
    assert forks == []
    # All of them wrote on the same few jobs.
    assert max(len({e["job"] for e in one.made}) for one in soaked.tablets) > 1
    with server.link(server.role, WORD) as served:
        for statement in FORBIDDEN:
            with pytest.raises(Exception, match=r"permission denied|must be owner"):
                served.execute(statement)
    with server.link(server.role, WORD) as one, server.link(server.role, WORD) as another:
        assert_changes_are_marked_and_wait_for_nobody(one, another)


def assert_changes_are_marked_and_wait_for_nobody(one: Any, another: Any) -> None:
    """Two who write in different rows of a register go on beside each other, and both are seen."""
    change = "UPDATE workshop_person SET pin_failures = 1 WHERE short_name = %s"

    def mark() -> int:
        (found,) = one.execute("SELECT mark FROM workshop_registermark").fetchone()
        return int(found)

    marks = [mark()]
    another.execute("SET lock_timeout = '2s'")
    one.execute("BEGIN")
    one.execute(change, ("Aster",))
    another.execute(change, ("Munk",))
    marks.append(mark())
    one.execute("COMMIT")
    marks.append(mark())
    assert len(set(marks)) == len(marks)


def test_a_shop_moves_from_its_file_to_a_server_and_every_chain_verifies_there(
    server: Server, tmp_path: Path
) -> None:
    folder = tmp_path / "data"
    with manage(folder, "up", "--no-serve", "--demo") as process:
        said, _ = process.communicate()
    assert process.returncode == 0, said
    with manage(folder, "move", "--to", server.address()) as process:
        said, _ = process.communicate()
    assert process.returncode == 0, said
    assert "Verified: 13 jobs" in said
    with server.link() as owner:
        (entries,) = owner.execute("SELECT count(*) FROM jobs_entry").fetchone()
    assert entries > 1000
    with manage(folder, "move", "--to", server.address()) as process:
        said, _ = process.communicate()
    assert process.returncode == 1
    assert "Somebody works in that database already" in said
    # What is entered there goes on behind what came along.
    code, said = said_by(folder, "up", "--no-serve", address=server.address())
    assert code == 0, said


def heads_in(server: Server) -> dict[str, int]:
    with server.link() as owner:
        rows = owner.execute(
            "SELECT j.number, h.count FROM jobs_chainhead h JOIN jobs_job j ON j.id = h.job_id"
        )
        return dict(rows.fetchall())


def backed_up(folder: Path, address: str) -> None:
    """Make a backup by hand; the server may be making its first one just then."""
    code, said = said_by(folder, "backup", address=address)
    for _ in range(60):
        if "Another backup is being made" not in said:
            break
        time.sleep(1)
        code, said = said_by(folder, "backup", address=address)
    assert code == 0, said


def writing_to(folder: Path, server: Server, also: dict[str, str]) -> Thread:
    """Let tablets write until they have begun; the thread ends when they are done."""
    begun = sum(heads_in(server).values())
    options: dict[str, Any] = {"tablets": 8, "lasting_s": 25, "kills": 0, "pause_s": 0.2}
    writing = Thread(target=soak, args=(folder,), kwargs={**options, "also": also})
    writing.start()
    until = time.monotonic() + 120
    while sum(heads_in(server).values()) == begun and time.monotonic() < until:
        time.sleep(0.2)
    return writing


def newest_of(folder: Path) -> tuple[Path, dict[str, int]]:
    """Give the newest backup, and how long each chain in it is."""
    path = max(shelf.kept_in(folder / "backups"), key=lambda each: each.made_at).path
    with checking.opened(path, keys.known_key(folder)) as (_, manifest):
        assert not manifest.missing_attachments
        return path, {head.job: head.count for head in manifest.heads}


def test_a_backup_made_while_tablets_write_is_restored_and_moved_to_another_database(
    server: Server, other: Server, tmp_path: Path
) -> None:
    folder = tmp_path / "data"
    code, said = said_by(folder, "up", "--no-serve", "--demo", address=server.address())
    assert code == 0, said
    code, said = said_by(folder, "database_role", server.role, address=server.address())
    assert code == 0, said
    served = server.address(server.role, WORD)
    also = {"COLDBUS_DATABASE_URL": served, "COLDBUS_WORKERS": "2"}
    writing = writing_to(folder, server, also)
    before = heads_in(server)
    backed_up(folder, served)
    after = heads_in(server)
    writing.join()
    assert sum(after.values()) > sum(before.values()), "nobody wrote meanwhile"
    path, held = newest_of(folder)
    assert all(before[job] <= held[job] <= after[job] for job in before)
    code, said = said_by(folder, "backup", "--drill", address=served)
    assert code == 0, said
    code, said = said_by(folder, "restore", str(path), "--yes", address=served)
    assert code == 1
    assert "move --to takes them into an empty database" in " ".join(said.split())
    again = tmp_path / "again" / "data"
    again.parent.mkdir()
    words = keys.words_of(keys.key_of(folder))
    for command in (
        ("restore", str(path), "--yes", "--key", words),
        ("verify",),
        ("move", "--to", other.address()),
    ):
        with manage(again, *command) as process:
            said, _ = process.communicate()
        assert process.returncode == 0, said
    assert heads_in(other) == held


def test_who_may_not_change_tables_is_told_who_has_to(server: Server, tmp_path: Path) -> None:
    address = server.address(server.role, WORD)
    code, said = said_by(tmp_path / "data", "up", "--no-serve", address=address)
    assert code == 1
    assert "by the owner of its tables" in said
