"""The triggers that make entries, checks, disposals, and the logs of desk and sign-ins append-only.

And those that count the changes of the registers that are kept in memory. Here: what they are
called, how they are made, and which are missing. A change of the table's columns drops them on
SQLite without a word, so they are made again after every migration and looked for at start and by
`verify`.
"""

from django.db import connection

__all__ = ["create_triggers", "missing_triggers"]

_COUNTED = ("workshop_shop", "workshop_shoplimit", "workshop_person", "workshop_qualification")
"""Registers whose changes are counted; `workshop/once_a_request.py` keeps what was read of them."""
_COUNT = "UPDATE workshop_registerversion SET number = number + 1"

_SQLITE = {
    **{
        f"{table}_changed_{act}": f"""
        CREATE TRIGGER IF NOT EXISTS {table}_changed_{act} AFTER {act.upper()} ON {table}
        BEGIN {_COUNT}; END
    """
        for table in _COUNTED
        for act in ("insert", "update", "delete")
    },
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
    "jobs_deskevent_no_update": """
        CREATE TRIGGER IF NOT EXISTS jobs_deskevent_no_update BEFORE UPDATE ON jobs_deskevent
        WHEN NEW.words <> '{}' OR NEW.erased_at IS NULL OR OLD.erased_at IS NOT NULL
            OR NEW.id <> OLD.id OR NEW."key" <> OLD."key" OR NEW.job_id IS NOT OLD.job_id
            OR NEW.kind <> OLD.kind OR NEW.at <> OLD.at OR NEW.person <> OLD.person
            OR NEW."values" <> OLD."values" OR NEW.due_on IS NOT OLD.due_on
            OR NEW.about IS NOT OLD.about
        BEGIN SELECT RAISE(ABORT, 'what the desk wrote is only ever erased'); END
    """,
    "jobs_deskevent_no_delete": """
        CREATE TRIGGER IF NOT EXISTS jobs_deskevent_no_delete BEFORE DELETE ON jobs_deskevent
        BEGIN SELECT RAISE(ABORT, 'what the desk wrote is never deleted'); END
    """,
    "jobs_deskevent_no_replace": """
        CREATE TRIGGER IF NOT EXISTS jobs_deskevent_no_replace BEFORE INSERT ON jobs_deskevent
        WHEN EXISTS (
            SELECT 1 FROM jobs_deskevent WHERE id = NEW.id OR "key" = NEW."key"
        )
        BEGIN SELECT RAISE(ABORT, 'what the desk wrote is never replaced'); END
    """,
    "jobs_setaside_no_update": """
        CREATE TRIGGER IF NOT EXISTS jobs_setaside_no_update BEFORE UPDATE ON jobs_setaside
        BEGIN SELECT RAISE(ABORT, 'what was set aside stays written'); END
    """,
    "jobs_setaside_no_delete": """
        CREATE TRIGGER IF NOT EXISTS jobs_setaside_no_delete BEFORE DELETE ON jobs_setaside
        BEGIN SELECT RAISE(ABORT, 'what was set aside stays written'); END
    """,
    "jobs_setaside_no_replace": """
        CREATE TRIGGER IF NOT EXISTS jobs_setaside_no_replace BEFORE INSERT ON jobs_setaside
        WHEN EXISTS (SELECT 1 FROM jobs_setaside WHERE "key" = NEW."key")
        BEGIN SELECT RAISE(ABORT, 'what was set aside stays written'); END
    """,
    "jobs_disposal_no_update": """
        CREATE TRIGGER IF NOT EXISTS jobs_disposal_no_update BEFORE UPDATE ON jobs_disposal
        BEGIN SELECT RAISE(ABORT, 'disposals are never changed'); END
    """,
    "jobs_disposal_no_delete": """
        CREATE TRIGGER IF NOT EXISTS jobs_disposal_no_delete BEFORE DELETE ON jobs_disposal
        BEGIN SELECT RAISE(ABORT, 'disposals are never deleted'); END
    """,
    "jobs_disposal_no_replace": """
        CREATE TRIGGER IF NOT EXISTS jobs_disposal_no_replace BEFORE INSERT ON jobs_disposal
        WHEN EXISTS (
            SELECT 1 FROM jobs_disposal
            WHERE "key" = NEW."key" OR (subject = NEW.subject AND seq = NEW.seq)
                OR digest = NEW.digest
        )
        BEGIN SELECT RAISE(ABORT, 'disposals are never replaced'); END
    """,
    "workshop_signin_no_update": """
        CREATE TRIGGER IF NOT EXISTS workshop_signin_no_update BEFORE UPDATE ON workshop_signin
        BEGIN SELECT RAISE(ABORT, 'the log of sign-ins is only added to'); END
    """,
    "workshop_signin_no_delete": """
        CREATE TRIGGER IF NOT EXISTS workshop_signin_no_delete BEFORE DELETE ON workshop_signin
        BEGIN SELECT RAISE(ABORT, 'the log of sign-ins is only added to'); END
    """,
    "workshop_signin_no_replace": """
        CREATE TRIGGER IF NOT EXISTS workshop_signin_no_replace BEFORE INSERT ON workshop_signin
        WHEN EXISTS (SELECT 1 FROM workshop_signin WHERE id = NEW.id)
        BEGIN SELECT RAISE(ABORT, 'the log of sign-ins is only added to'); END
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
    """
    CREATE OR REPLACE FUNCTION jobs_deskevent_refuse() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN
        IF TG_OP = 'UPDATE' AND NEW.words = '{}'::jsonb AND NEW.erased_at IS NOT NULL
            AND OLD.erased_at IS NULL
            AND to_jsonb(NEW) - 'words' - 'erased_at' = to_jsonb(OLD) - 'words' - 'erased_at'
        THEN RETURN NEW; END IF;
        RAISE EXCEPTION 'what the desk wrote is only ever erased'
            USING ERRCODE = 'integrity_constraint_violation';
    END $$
    """,
    """
    CREATE OR REPLACE FUNCTION jobs_setaside_refuse() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN RAISE EXCEPTION 'what was set aside stays written'
        USING ERRCODE = 'integrity_constraint_violation'; END $$
    """,
    """
    CREATE OR REPLACE FUNCTION jobs_disposal_refuse() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN RAISE EXCEPTION 'disposals are never changed or deleted'
        USING ERRCODE = 'integrity_constraint_violation'; END $$
    """,
    """
    CREATE OR REPLACE FUNCTION workshop_signin_refuse() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN RAISE EXCEPTION 'the log of sign-ins is only added to'
        USING ERRCODE = 'integrity_constraint_violation'; END $$
    """,
    f"""
    CREATE OR REPLACE FUNCTION workshop_register_changed() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN {_COUNT}; RETURN NULL; END $$
    """,
)
_POSTGRESQL = {
    **{
        f"{table}_changed": f"""
        CREATE OR REPLACE TRIGGER {table}_changed
        AFTER INSERT OR DELETE OR UPDATE OR TRUNCATE ON {table}
        FOR EACH STATEMENT EXECUTE FUNCTION workshop_register_changed()
    """
        for table in _COUNTED
    },
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
    "jobs_deskevent_no_update": """
        CREATE OR REPLACE TRIGGER jobs_deskevent_no_update BEFORE UPDATE ON jobs_deskevent
        FOR EACH ROW EXECUTE FUNCTION jobs_deskevent_refuse()
    """,
    "jobs_deskevent_no_delete": """
        CREATE OR REPLACE TRIGGER jobs_deskevent_no_delete BEFORE DELETE ON jobs_deskevent
        FOR EACH ROW EXECUTE FUNCTION jobs_deskevent_refuse()
    """,
    "jobs_deskevent_no_truncate": """
        CREATE OR REPLACE TRIGGER jobs_deskevent_no_truncate BEFORE TRUNCATE ON jobs_deskevent
        FOR EACH STATEMENT EXECUTE FUNCTION jobs_deskevent_refuse()
    """,
    "jobs_setaside_no_update": """
        CREATE OR REPLACE TRIGGER jobs_setaside_no_update BEFORE UPDATE ON jobs_setaside
        FOR EACH ROW EXECUTE FUNCTION jobs_setaside_refuse()
    """,
    "jobs_setaside_no_delete": """
        CREATE OR REPLACE TRIGGER jobs_setaside_no_delete BEFORE DELETE ON jobs_setaside
        FOR EACH ROW EXECUTE FUNCTION jobs_setaside_refuse()
    """,
    "jobs_setaside_no_truncate": """
        CREATE OR REPLACE TRIGGER jobs_setaside_no_truncate BEFORE TRUNCATE ON jobs_setaside
        FOR EACH STATEMENT EXECUTE FUNCTION jobs_setaside_refuse()
    """,
    "jobs_disposal_no_update": """
        CREATE OR REPLACE TRIGGER jobs_disposal_no_update BEFORE UPDATE ON jobs_disposal
        FOR EACH ROW EXECUTE FUNCTION jobs_disposal_refuse()
    """,
    "jobs_disposal_no_delete": """
        CREATE OR REPLACE TRIGGER jobs_disposal_no_delete BEFORE DELETE ON jobs_disposal
        FOR EACH ROW EXECUTE FUNCTION jobs_disposal_refuse()
    """,
    "jobs_disposal_no_truncate": """
        CREATE OR REPLACE TRIGGER jobs_disposal_no_truncate BEFORE TRUNCATE ON jobs_disposal
        FOR EACH STATEMENT EXECUTE FUNCTION jobs_disposal_refuse()
    """,
    "workshop_signin_no_update": """
        CREATE OR REPLACE TRIGGER workshop_signin_no_update BEFORE UPDATE ON workshop_signin
        FOR EACH ROW EXECUTE FUNCTION workshop_signin_refuse()
    """,
    "workshop_signin_no_delete": """
        CREATE OR REPLACE TRIGGER workshop_signin_no_delete BEFORE DELETE ON workshop_signin
        FOR EACH ROW EXECUTE FUNCTION workshop_signin_refuse()
    """,
    "workshop_signin_no_truncate": """
        CREATE OR REPLACE TRIGGER workshop_signin_no_truncate BEFORE TRUNCATE ON workshop_signin
        FOR EACH STATEMENT EXECUTE FUNCTION workshop_signin_refuse()
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
    found = _on_sqlite() if connection.vendor == "sqlite" else _on_postgresql()
    return tuple(
        name for name, statement in _wanted().items() if _plain(statement) != found.get(name)
    )


def _plain(statement: str) -> str:
    """Write a statement as the database gives it back: on one line, without what makes it safe."""
    words = " ".join(statement.split())
    return words.replace("IF NOT EXISTS ", "").replace("CREATE OR REPLACE", "CREATE")


def _on_sqlite() -> dict[str, str]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        return {name: " ".join((sql or "").split()) for name, sql in cursor.fetchall()}


def _on_postgresql() -> dict[str, str]:
    """Give the triggers that are on and whose functions do what they should."""
    bodies = {_function_of(each): _body_of(each) for each in _POSTGRESQL_FUNCTIONS}
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT t.tgname, pg_get_triggerdef(t.oid), p.proname, p.prosrc"
            " FROM pg_trigger t JOIN pg_proc p ON p.oid = t.tgfoid"
            " JOIN pg_class c ON c.oid = t.tgrelid"
            " WHERE NOT t.tgisinternal AND t.tgenabled IN ('O', 'A')"
            " AND c.relnamespace = current_schema()::regnamespace"
        )
        rows = cursor.fetchall()
    return {
        name: definition.replace(" ON public.", " ON ")
        for name, definition, function, body in rows
        if " ".join(body.split()) == bodies.get(function)
    }


def _function_of(statement: str) -> str:
    return statement.split("FUNCTION", 1)[1].split("(", 1)[0].strip()


def _body_of(statement: str) -> str:
    return " ".join(statement.split("$$")[1].split())
