"""A larger shop: its own database server, a role that owns nothing, several worker processes."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
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


def test_who_may_not_change_tables_is_told_who_has_to(server: Server, tmp_path: Path) -> None:
    address = server.address(server.role, WORD)
    code, said = said_by(tmp_path / "data", "up", "--no-serve", address=address)
    assert code == 1
    assert "by the owner of its tables" in said
