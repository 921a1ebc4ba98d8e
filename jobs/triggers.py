"""The triggers that make entries, checks, disposals, and the logs of desk and sign-ins append-only.

And those that mark the changes of the registers that are kept in memory. Here: what they are
called, how they are made, and which are missing. A change of the table's columns drops them on
SQLite without a word, so they are made again after every migration and looked for at start and by
`verify`.
"""

from collections.abc import Iterator

from django.db import connection

__all__ = ["create_triggers", "missing_triggers"]

_MARKED = ("workshop_shop", "workshop_shoplimit", "workshop_person", "workshop_qualification")
"""Registers whose changes are marked; `workshop/once_a_request.py` keeps what was read of them."""
_MARK, _DRAWN = "UPDATE workshop_registermark SET mark", "floor(random() * 9e18)::bigint"

_ACTS = {"update": "changed", "delete": "deleted", "replace": "replaced"}
_GROWING = {
    "jobs_entry": ("entries are never {done}", ("key", "job_id seq", "hash")),
    "jobs_quarantinecheck": ("checks are never {done}", ("key", "watch_id seq", "digest")),
    "jobs_setaside": ("what was set aside stays written", ("key",)),
    "jobs_disposal": ("disposals are never {done}", ("key", "subject seq", "digest")),
    "workshop_signin": ("the log of sign-ins is only added to", ("id",)),
}
"""Tables that are only added to: what is said to whoever tries otherwise, and what is unique."""
_WATCH, _DESK = "jobs_quarantinewatch", "jobs_deskevent"
_ERASED_ALONE = "what the desk wrote is only ever erased"


def _refused(table: str, act: str, message: str, when: str = "") -> tuple[str, str]:
    """Give the name of a trigger of SQLite and the statement that makes it.

    INSERT OR REPLACE deletes without asking the trigger on deletion unless recursive_triggers is
    on, so what would replace a row is refused as an insertion.
    """
    name, before = f"{table}_no_{act}", "INSERT" if act == "replace" else act.upper()
    return name, (
        f"CREATE TRIGGER IF NOT EXISTS {name} BEFORE {before} ON {table}"
        f"{when} BEGIN SELECT RAISE(ABORT, '{message}'); END"
    )


def _replacing(table: str, same: str) -> str:
    return f" WHEN EXISTS (SELECT 1 FROM {table} WHERE {same})"  # noqa: S608 - our own words


def _same(*unique: str) -> str:
    """Write that a row which is there has the same key as the new one, any of them."""

    def column(name: str) -> str:
        quoted = f'"{name}"' if name == "key" else name
        return f"{quoted} = NEW.{quoted}"

    each = [" AND ".join(map(column, names.split())) for names in unique]
    return " OR ".join(f"({one})" if " AND " in one else one for one in each)


def _on_sqlite_made() -> Iterator[tuple[str, str]]:
    for table in _MARKED:
        for act in ("insert", "update", "delete"):
            name = f"{table}_changed_{act}"
            yield (
                name,
                (
                    f"CREATE TRIGGER IF NOT EXISTS {name} AFTER {act.upper()} ON {table}"
                    f" BEGIN {_MARK} = random(); END"
                ),
            )
    for table, (message, unique) in _GROWING.items():
        for act, done in _ACTS.items():
            when = _replacing(table, _same(*unique)) if act == "replace" else ""
            yield _refused(table, act, message.format(done=done), when)
    yield _refused(_WATCH, "delete", "watches are never deleted")
    open_twice = (
        " OR (job_id = NEW.job_id AND module = NEW.module"
        " AND ended_at IS NULL AND NEW.ended_at IS NULL)"
    )
    same = _replacing(_WATCH, _same("id", "source") + open_twice)
    yield _refused(_WATCH, "replace", "watches are never replaced", same)
    changed = (
        " WHEN NEW.words <> '{}' OR NEW.erased_at IS NULL OR OLD.erased_at IS NOT NULL"
        ' OR NEW.id <> OLD.id OR NEW."key" <> OLD."key" OR NEW.job_id IS NOT OLD.job_id'
        " OR NEW.kind <> OLD.kind OR NEW.at <> OLD.at OR NEW.person <> OLD.person"
        ' OR NEW."values" <> OLD."values" OR NEW.due_on IS NOT OLD.due_on'
        " OR NEW.about IS NOT OLD.about"
    )
    yield _refused(_DESK, "update", _ERASED_ALONE, changed)
    yield _refused(_DESK, "delete", "what the desk wrote is never deleted")
    same = _replacing(_DESK, _same("id", "key"))
    yield _refused(_DESK, "replace", "what the desk wrote is never replaced", same)


_SQLITE = dict(_on_sqlite_made())

_ON_POSTGRESQL = {
    "jobs_entry": "entries are never changed or deleted",
    "jobs_quarantinecheck": "checks are never changed or deleted",
    _WATCH: "watches are never deleted",
    _DESK: _ERASED_ALONE,
    "jobs_setaside": "what was set aside stays written",
    "jobs_disposal": "disposals are never changed or deleted",
    "workshop_signin": "the log of sign-ins is only added to",
}
_LET_ERASE = """
    IF TG_OP = 'UPDATE' AND NEW.words = '{}'::jsonb AND NEW.erased_at IS NOT NULL
        AND OLD.erased_at IS NULL
        AND to_jsonb(NEW) - 'words' - 'erased_at' = to_jsonb(OLD) - 'words' - 'erased_at'
    THEN RETURN NEW; END IF;
"""


def _function(name: str, body: str) -> str:
    return (
        f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS"
        f" $$ BEGIN {' '.join(body.split())} END $$"
    )


def _refusing(table: str, message: str) -> str:
    first = _LET_ERASE if table == _DESK else ""
    raised = f"RAISE EXCEPTION '{message}' USING ERRCODE = 'integrity_constraint_violation';"
    return _function(f"{table}_refuse", first + raised)


def _on_postgresql_made() -> Iterator[tuple[str, str]]:
    for table in _MARKED:
        name = f"{table}_changed"
        yield (
            name,
            (
                f"CREATE CONSTRAINT TRIGGER {name} AFTER INSERT OR DELETE OR UPDATE ON {table}"
                " DEFERRABLE INITIALLY DEFERRED"
                " FOR EACH ROW EXECUTE FUNCTION workshop_register_changed()"
            ),
        )
    for table in _ON_POSTGRESQL:
        for act in ("update", "delete", "truncate"):
            if (table, act) == (_WATCH, "update"):
                continue
            name, every = f"{table}_no_{act}", "STATEMENT" if act == "truncate" else "ROW"
            yield (
                name,
                (
                    f"CREATE OR REPLACE TRIGGER {name} BEFORE {act.upper()} ON {table}"
                    f" FOR EACH {every} EXECUTE FUNCTION {table}_refuse()"
                ),
            )


_POSTGRESQL_FUNCTIONS = (
    *(_refusing(table, message) for table, message in _ON_POSTGRESQL.items()),
    # At the end of a transaction, so that nothing is locked after the one row of the mark.
    _function("workshop_register_changed", f"{_MARK} = {_DRAWN}; RETURN NULL;"),
)
_POSTGRESQL = dict(_on_postgresql_made())


def _wanted() -> dict[str, str]:
    return _SQLITE if connection.vendor == "sqlite" else _POSTGRESQL


def create_triggers() -> None:
    """Make the triggers that are not there; harmless when all are."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            for statement in _POSTGRESQL_FUNCTIONS:
                cursor.execute(statement)
        gone = missing_triggers()
        for name, statement in _wanted().items():
            if "CREATE CONSTRAINT" not in statement:
                cursor.execute(statement)
            elif name in gone:
                # One of this kind cannot be replaced.
                cursor.execute(f"DROP TRIGGER IF EXISTS {name} ON {name.removesuffix('_changed')}")
                cursor.execute(statement)


def missing_triggers() -> tuple[str, ...]:
    """Name the triggers that are not there, or not as they should be."""
    found = _on_sqlite() if connection.vendor == "sqlite" else _on_postgresql()
    return tuple(
        name for name, statement in _wanted().items() if _plain(statement) != found.get(name)
    )


def _plain(statement: str) -> str:
    """Write a statement as the database gives it back: on one line, without what makes it safe."""
    words = _on_one_line(statement)
    return words.replace("IF NOT EXISTS ", "").replace("CREATE OR REPLACE", "CREATE")


def _on_one_line(statement: str) -> str:
    return " ".join(statement.split()).replace("( ", "(").replace(" )", ")")


def _on_sqlite() -> dict[str, str]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        return {name: _on_one_line(sql or "") for name, sql in cursor.fetchall()}


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
