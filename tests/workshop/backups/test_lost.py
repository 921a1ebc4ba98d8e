"""What a restore loses beside entries is counted, and what was barred since is named."""

from datetime import timedelta
from io import StringIO
from pathlib import Path

import pytest

from tests.workshop.backups.small_shop import NOW, a_shop, add_entries, alter
from workshop.backups import restoring
from workshop.backups.lost import Besides
from workshop.backups.making import make
from workshop.backups.manifest import DAILY
from workshop.backups.places import Places
from workshop.backups.restoring import prepared
from workshop.management.commands.restore import Command

LATER = NOW + timedelta(hours=3)
NOTHING_LOST = "no entry is lost"
TABLES = (
    "CREATE TABLE workshop_registerevent (id text PRIMARY KEY, subject text, kind text)",
    """CREATE TABLE workshop_equipment (
        id text PRIMARY KEY, label text, withdrawn_at text, withdrawn_reason text)""",
    "CREATE TABLE jobs_quarantinewatch (id text PRIMARY KEY, job_id text, module text)",
    """CREATE TABLE jobs_quarantinecheck (
        "key" text PRIMARY KEY, watch_id text, seq integer, "values" text)""",
    "CREATE TABLE jobs_deskevent (id integer PRIMARY KEY, kind text, words text)",
    "CREATE TABLE packs_spare (id text PRIMARY KEY, serial text, state text)",
    "CREATE TABLE packs_spareevent (id text PRIMARY KEY, state text)",
    "CREATE TABLE packs_packdraft (id text PRIMARY KEY, version integer)",
    "CREATE TABLE packs_packrevision (id text PRIMARY KEY, sha256 text)",
    """CREATE TABLE workshop_device (
        id text PRIMARY KEY, name text, token_digest text, revoked_at text)""",
    "INSERT INTO workshop_device VALUES ('t', 'Bay 2', 'ab', NULL)",
    "INSERT INTO workshop_equipment VALUES ('g', 'G1', NULL, ''), ('h', 'G0', '2026', 'old')",
    "INSERT INTO workshop_registerevent VALUES ('e0', 'g', 'added'), ('e1', 'h', 'withdrawn')",
    "INSERT INTO jobs_quarantinewatch VALUES ('w', 'W1', 'M9')",
    "INSERT INTO packs_packdraft VALUES ('d', 1)",
    "INSERT INTO jobs_deskevent VALUES (1, 'call', 'Told her')",
)


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Places:
    # Reading every migration of the disk anew for each test takes longer than the test.
    class Loader:
        disk_migrations = dict.fromkeys(
            [("workshop", "0001_registers"), ("workshop", "0002_shop_row")]
        )

        def __init__(self, *args: object, **options: object) -> None:
            """Take what the loader takes."""

    monkeypatch.setattr(restoring, "MigrationLoader", Loader)
    shop = a_shop(tmp_path)
    for statement in TABLES:
        alter(shop, statement)
    return shop


def found(here: Places, path: Path) -> tuple[Besides, str]:
    """Give what is found, and all that the command says of it."""
    out = StringIO()
    with prepared(here, path, LATER, foreign=False) as plan:
        Command(stdout=out).tell(plan)
        return plan.besides, out.getvalue()


def test_nothing_is_lost_where_all_is_equal(here: Places) -> None:
    lost, said = found(here, make(here, DAILY, NOW).path)
    assert not lost
    assert NOTHING_LOST in said
    assert "LOST" not in said


def test_a_withdrawal_and_an_alarm_since_are_named(here: Places) -> None:
    path = make(here, DAILY, NOW).path
    alter(here, "UPDATE workshop_equipment SET withdrawn_at='2026', withdrawn_reason='cut'")
    alter(here, "INSERT INTO workshop_registerevent VALUES ('e2', 'g', 'withdrawn')")
    alter(
        here,
        """INSERT INTO jobs_quarantinecheck VALUES
        ('c1', 'w', 1, '{"word": "calm"}'), ('c2', 'w', 2, '{"word": "evacuate"}')""",
    )
    add_entries(here, "W1", 1)
    lost, said = found(here, path)
    assert dict(lost.counts) == {"quarantine checks": 2, "changes of equipment": 1}
    assert lost.barred == (
        "equipment G1 was withdrawn (cut)",
        "quarantine check of M9 in job W1 said evacuate",
    )
    assert NOTHING_LOST not in said
    for line in (*lost.barred, "quarantine checks: 2", "job W1: 1 entries", "set aside"):
        assert line in said


@pytest.mark.parametrize(
    ("statement", "counts", "barred"),
    [
        (
            "INSERT INTO jobs_deskevent VALUES (2, 'moved', '{}')",
            (("notes and moves of the desk", 1),),
            (),
        ),
        (
            "UPDATE jobs_deskevent SET words = '{}'",
            (("notes and moves of the desk", 1),),
            (),
        ),
        (
            "UPDATE packs_packdraft SET version = 2",
            (("drafts of pack definitions", 1),),
            (),
        ),
        (
            "INSERT INTO packs_packrevision VALUES ('r', 'ab')",
            (("revisions of pack definitions", 1),),
            (),
        ),
        ("INSERT INTO packs_spareevent VALUES ('s', 'fitted')", (("events of spares", 1),), ()),
        (
            "INSERT INTO packs_spare VALUES ('s', 'A-1', 'quarantined')",
            (),
            ("spare A-1 was quarantined",),
        ),
        (
            "UPDATE workshop_device SET revoked_at = '2026'",
            (("devices enrolled or turned away", 1),),
            ("device Bay 2 was turned away",),
        ),
        ("UPDATE workshop_shop SET name = 'Quay'", (("changes of the shop's settings", 1),), ()),
    ],
    ids=["desk", "desk erased", "draft", "revision", "spare event", "spare", "device", "shop"],
)
def test_without_a_lost_entry_the_rest_is_said_all_the_same(
    here: Places, statement: str, counts: tuple[tuple[str, int], ...], barred: tuple[str, ...]
) -> None:
    path = make(here, DAILY, NOW).path
    alter(here, statement)
    lost, said = found(here, path)
    assert (lost.counts, lost.barred) == (counts, barred)
    assert NOTHING_LOST not in said


def test_a_backup_older_than_a_table_loses_all_of_it(here: Places) -> None:
    alter(here, "DROP TABLE packs_packdraft")
    path = make(here, DAILY, NOW).path
    alter(here, "CREATE TABLE packs_packdraft (id text PRIMARY KEY, version integer)")
    alter(here, "INSERT INTO packs_packdraft VALUES ('d', 1)")
    assert found(here, path)[0].counts == (("drafts of pack definitions", 1),)
