"""The triggers that make entries and quarantine checks append-only, and keep every watch.

Here: what they are called, how they are made, and which are missing. A change of the table's
columns drops them on SQLite without a word, so they are made again after every migration and
looked for at start and by `verify`.
"""

from django.db import connection

__all__ = ["create_triggers", "missing_triggers"]

_SQLITE = {
    "jobs_entry_no_update": """
        CREATE TRIGGER IF NOT EXISTS jobs_entry_no_update BEFORE UPDATE ON jobs_entry
        BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END
    """,
    "jobs_entry_no_delete": """
        CREATE TRIGGER IF NOT EXISTS jobs_entry_no_delete BEFORE DELETE ON jobs_entry
        BEGIN SELECT RAISE(ABORT, 'entries are never deleted'); END
    """,
    # INSERT OR REPLACE deletes without asking the trigger above unless recursive_triggers is on.
    "jobs_entry_no_replace": """
        CREATE TRIGGER IF NOT EXISTS jobs_entry_no_replace BEFORE INSERT ON jobs_entry
        WHEN EXISTS (
            SELECT 1 FROM jobs_entry
            WHERE "key" = NEW."key" OR (job_id = NEW.job_id AND seq = NEW.seq)
                OR hash = NEW.hash
        )
        BEGIN SELECT RAISE(ABORT, 'entries are never replaced'); END
    """,
    "jobs_quarantinecheck_no_update": """
        CREATE TRIGGER IF NOT EXISTS jobs_quarantinecheck_no_update
        BEFORE UPDATE ON jobs_quarantinecheck
        BEGIN SELECT RAISE(ABORT, 'checks are never changed'); END
    """,
    "jobs_quarantinecheck_no_delete": """
        CREATE TRIGGER IF NOT EXISTS jobs_quarantinecheck_no_delete
        BEFORE DELETE ON jobs_quarantinecheck
        BEGIN SELECT RAISE(ABORT, 'checks are never deleted'); END
    """,
    "jobs_quarantinecheck_no_replace": """
        CREATE TRIGGER IF NOT EXISTS jobs_quarantinecheck_no_replace
        BEFORE INSERT ON jobs_quarantinecheck
        WHEN EXISTS (
            SELECT 1 FROM jobs_quarantinecheck
            WHERE "key" = NEW."key" OR (watch_id = NEW.watch_id AND seq = NEW.seq)
                OR digest = NEW.digest
        )
        BEGIN SELECT RAISE(ABORT, 'checks are never replaced'); END
    """,
    "jobs_quarantinewatch_no_delete": """
        CREATE TRIGGER IF NOT EXISTS jobs_quarantinewatch_no_delete
        BEFORE DELETE ON jobs_quarantinewatch
        BEGIN SELECT RAISE(ABORT, 'watches are never deleted'); END
    """,
    "jobs_quarantinewatch_no_replace": """
        CREATE TRIGGER IF NOT EXISTS jobs_quarantinewatch_no_replace
        BEFORE INSERT ON jobs_quarantinewatch
        WHEN EXISTS (
            SELECT 1 FROM jobs_quarantinewatch
            WHERE id = NEW.id OR source = NEW.source
                OR (job_id = NEW.job_id AND module = NEW.module
                    AND ended_at IS NULL AND NEW.ended_at IS NULL)
        )
        BEGIN SELECT RAISE(ABORT, 'watches are never replaced'); END
    """,
}

_POSTGRESQL_FUNCTIONS = (
    """
    CREATE OR REPLACE FUNCTION jobs_entry_refuse() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN RAISE EXCEPTION 'entries are never changed or deleted'
        USING ERRCODE = 'integrity_constraint_violation'; END $$
    """,
    """
    CREATE OR REPLACE FUNCTION jobs_quarantinecheck_refuse() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN RAISE EXCEPTION 'checks are never changed or deleted'
        USING ERRCODE = 'integrity_constraint_violation'; END $$
    """,
    """
    CREATE OR REPLACE FUNCTION jobs_quarantinewatch_refuse() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN RAISE EXCEPTION 'watches are never deleted'
        USING ERRCODE = 'integrity_constraint_violation'; END $$
    """,
)
_POSTGRESQL = {
    "jobs_entry_no_update": """
        CREATE OR REPLACE TRIGGER jobs_entry_no_update BEFORE UPDATE ON jobs_entry
        FOR EACH ROW EXECUTE FUNCTION jobs_entry_refuse()
    """,
    "jobs_entry_no_delete": """
        CREATE OR REPLACE TRIGGER jobs_entry_no_delete BEFORE DELETE ON jobs_entry
        FOR EACH ROW EXECUTE FUNCTION jobs_entry_refuse()
    """,
    "jobs_entry_no_truncate": """
        CREATE OR REPLACE TRIGGER jobs_entry_no_truncate BEFORE TRUNCATE ON jobs_entry
        FOR EACH STATEMENT EXECUTE FUNCTION jobs_entry_refuse()
    """,
    "jobs_quarantinecheck_no_update": """
        CREATE OR REPLACE TRIGGER jobs_quarantinecheck_no_update
        BEFORE UPDATE ON jobs_quarantinecheck
        FOR EACH ROW EXECUTE FUNCTION jobs_quarantinecheck_refuse()
    """,
    "jobs_quarantinecheck_no_delete": """
        CREATE OR REPLACE TRIGGER jobs_quarantinecheck_no_delete
        BEFORE DELETE ON jobs_quarantinecheck
        FOR EACH ROW EXECUTE FUNCTION jobs_quarantinecheck_refuse()
    """,
    "jobs_quarantinecheck_no_truncate": """
        CREATE OR REPLACE TRIGGER jobs_quarantinecheck_no_truncate
        BEFORE TRUNCATE ON jobs_quarantinecheck
        FOR EACH STATEMENT EXECUTE FUNCTION jobs_quarantinecheck_refuse()
    """,
    "jobs_quarantinewatch_no_delete": """
        CREATE OR REPLACE TRIGGER jobs_quarantinewatch_no_delete
        BEFORE DELETE ON jobs_quarantinewatch
        FOR EACH ROW EXECUTE FUNCTION jobs_quarantinewatch_refuse()
    """,
    "jobs_quarantinewatch_no_truncate": """
        CREATE OR REPLACE TRIGGER jobs_quarantinewatch_no_truncate
        BEFORE TRUNCATE ON jobs_quarantinewatch
        FOR EACH STATEMENT EXECUTE FUNCTION jobs_quarantinewatch_refuse()
    """,
}


def _wanted() -> dict[str, str]:
    return _SQLITE if connection.vendor == "sqlite" else _POSTGRESQL


def create_triggers() -> None:
    """Make the triggers that are not there; harmless when all are."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            for statement in _POSTGRESQL_FUNCTIONS:
                cursor.execute(statement)
        for statement in _wanted().values():
            cursor.execute(statement)


def missing_triggers() -> tuple[str, ...]:
    """Name the triggers that are not there, or not as they should be."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
            found = {name: " ".join((sql or "").split()) for name, sql in cursor.fetchall()}
            return tuple(
                name
                for name, statement in _SQLITE.items()
                if " ".join(statement.split()).replace("IF NOT EXISTS ", "") != found.get(name)
            )
        cursor.execute("SELECT tgname FROM pg_trigger WHERE tgenabled <> 'D'")
        there = {row[0] for row in cursor.fetchall()}
    return tuple(name for name in _POSTGRESQL if name not in there)
