"""What the server may do in a PostgreSQL database that somebody else owns.

Triggers refuse to change entries, but whoever owns a table may switch its triggers off. So the
server works under a role that owns nothing: it may add to what only grows and change only what is
erased on request; it may neither make, alter nor empty a table. Migrations run as the owner.
"""

from collections.abc import Iterator
from typing import Final

from django.apps import apps
from django.db import connection

__all__ = ["GROWING", "give_rights", "is_owner", "rights_too_wide"]

GROWING: Final[dict[str, tuple[str, ...]]] = {
    "jobs_entry": (),
    "jobs_quarantinecheck": (),
    "jobs_setaside": (),
    "jobs_disposal": (),
    "jobs_deskevent": ("words", "erased_at"),
    "workshop_registerevent": ("values", "file_id"),
    "workshop_signin": (),
}
"""Tables that only grow, and the columns in them that are blanked on request."""
_READ_ONLY: Final = "django_migrations"


def _quoted(name: str) -> str:
    return connection.ops.quote_name(name)


def _tables() -> list[str]:
    return sorted({model._meta.db_table for model in apps.get_models(include_auto_created=True)})


def _statements(role: str) -> Iterator[str]:
    to = _quoted(role)
    yield f"REVOKE ALL ON ALL TABLES IN SCHEMA public FROM {to}"
    yield f"REVOKE CREATE ON SCHEMA public FROM {to}"
    yield "REVOKE CREATE ON SCHEMA public FROM PUBLIC"
    yield f"GRANT USAGE ON SCHEMA public TO {to}"
    yield f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO {to}"
    yield f"GRANT SELECT ON {_quoted(_READ_ONLY)} TO {to}"
    for table in _tables():
        if table not in GROWING:
            yield f"GRANT SELECT, INSERT, UPDATE, DELETE ON {_quoted(table)} TO {to}"
            continue
        yield f"GRANT SELECT, INSERT ON {_quoted(table)} TO {to}"
        if GROWING[table]:
            columns = ", ".join(_quoted(name) for name in GROWING[table])
            yield f"GRANT UPDATE ({columns}) ON {_quoted(table)} TO {to}"


def give_rights(role: str) -> None:
    """Give a role, which exists, what the server needs and no more; run as the owner.

    Parameters
    ----------
    role : str
        Its name.

    Raises
    ------
    django.db.DatabaseError
        Where there is no such role, or whoever is connected does not own the tables.
    """
    with connection.cursor() as cursor:
        for statement in _statements(role):
            cursor.execute(statement)


def is_owner() -> bool:
    """Say whether whoever is connected owns the entries, or may act as their owner."""
    if connection.vendor != "postgresql":
        return True
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT pg_has_role(current_user, relowner, 'MEMBER') FROM pg_class"
            " WHERE oid = to_regclass('jobs_entry')"
        )
        row = cursor.fetchone()
    return row is None or bool(row[0])


def rights_too_wide() -> tuple[str, ...]:
    """Name what whoever is connected may do to tables that only grow, and should not.

    Returns
    -------
    tuple[str, ...]
        Such as "UPDATE jobs_entry"; empty on SQLite, where the file's owner can do everything.
    """
    if connection.vendor != "postgresql":
        return ()
    asked = [(table, act) for table in GROWING for act in ("UPDATE", "DELETE", "TRUNCATE")]
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT act || ' ' || tab FROM unnest(%s::text[], %s::text[]) AS asked(tab, act)"
            " WHERE has_table_privilege(current_user, tab, act)",
            [[table for table, _ in asked], [act for _, act in asked]],
        )
        return tuple(row[0] for row in cursor.fetchall())
