"""What a restore would lose beside the entries of jobs: checks, registers, spares, packs.

Rows are compared whole, by the columns that both databases have: what was added since the backup
is lost, and so is what was changed. What was taken out of use since is named, because after the
restore it would count as usable again.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from sqlite3 import Connection
from typing import Any, Final

from workshop.backups import database

Rows = Mapping[object, Mapping[str, Any]]


@dataclass(frozen=True, slots=True)
class Asked:
    """A question to a database and the tables that it needs."""

    question: str
    tables: tuple[str, ...]


EVENTS: Final = "workshop_registerevent"
COUNTED: Final = {
    "quarantine checks": Asked("SELECT * FROM jobs_quarantinecheck", ("jobs_quarantinecheck",)),
    "quarantine watches": Asked("SELECT * FROM jobs_quarantinewatch", ("jobs_quarantinewatch",)),
    "entries of tablets set aside": Asked("SELECT * FROM jobs_setaside", ("jobs_setaside",)),
    "records of disposal": Asked("SELECT * FROM jobs_disposal", ("jobs_disposal",)),
    "texts about people, entered or erased": Asked(
        "SELECT * FROM jobs_personaldatum", ("jobs_personaldatum",)
    ),
    "notes and moves of the desk": Asked("SELECT * FROM jobs_deskevent", ("jobs_deskevent",)),
    "pictures": Asked("SELECT * FROM jobs_attachment", ("jobs_attachment",)),
    "changes of equipment": Asked(
        "SELECT * FROM workshop_registerevent WHERE subject IN (SELECT id FROM workshop_equipment)",
        (EVENTS, "workshop_equipment"),
    ),
    "changes of people": Asked(
        "SELECT * FROM workshop_registerevent WHERE subject IN (SELECT id FROM workshop_person)",
        (EVENTS, "workshop_person"),
    ),
    "changes of customers": Asked(
        "SELECT * FROM workshop_registerevent WHERE subject IN (SELECT id FROM workshop_customer)",
        (EVENTS, "workshop_customer"),
    ),
    "changes of vehicles": Asked(
        "SELECT * FROM workshop_registerevent WHERE subject IN (SELECT id FROM workshop_vehicle)",
        (EVENTS, "workshop_vehicle"),
    ),
    "changes of the shop's settings": Asked("SELECT * FROM workshop_shop", ("workshop_shop",)),
    "changes of limits": Asked("SELECT * FROM workshop_shoplimit", ("workshop_shoplimit",)),
    "lines of the log of sign-ins": Asked("SELECT * FROM workshop_signin", ("workshop_signin",)),
    "devices enrolled or turned away": Asked(
        "SELECT id, name, token_digest, revoked_at FROM workshop_device", ("workshop_device",)
    ),
    "certificates": Asked("SELECT * FROM workshop_certificate", ("workshop_certificate",)),
    "events of spares": Asked("SELECT * FROM packs_spareevent", ("packs_spareevent",)),
    "events of packs": Asked("SELECT * FROM packs_physicalpackevent", ("packs_physicalpackevent",)),
    "revisions of pack definitions": Asked(
        "SELECT * FROM packs_packrevision", ("packs_packrevision",)
    ),
    "drafts of pack definitions": Asked("SELECT * FROM packs_packdraft", ("packs_packdraft",)),
}
"""What is counted, in words."""

OUT_OF_USE: Final = (
    Asked(
        "SELECT id, 'equipment ' || label || ' was withdrawn (' || withdrawn_reason || ')' "
        "FROM workshop_equipment WHERE withdrawn_at IS NOT NULL ORDER BY label",
        ("workshop_equipment",),
    ),
    Asked(
        "SELECT id, display_name || ' left the shop' "
        "FROM workshop_person WHERE NOT active ORDER BY display_name",
        ("workshop_person",),
    ),
    Asked(
        "SELECT id, 'device ' || name || ' was turned away' "
        "FROM workshop_device WHERE revoked_at IS NOT NULL ORDER BY name",
        ("workshop_device",),
    ),
    Asked(
        "SELECT id, 'spare ' || serial || ' was ' || state "
        "FROM packs_spare WHERE state IN ('quarantined', 'scrapped') ORDER BY serial",
        ("packs_spare",),
    ),
    Asked(
        "SELECT id, 'pack definition ' || name || ' was withdrawn' "
        "FROM packs_pack WHERE withdrawn_at IS NOT NULL ORDER BY name",
        ("packs_pack",),
    ),
    Asked(
        "SELECT c.\"key\", 'quarantine check of ' || w.module || ' in job ' || j.number || "
        "' said ' || json_extract(c.\"values\", '$.word') FROM jobs_quarantinecheck c "
        "JOIN jobs_quarantinewatch w ON w.id = c.watch_id JOIN jobs_job j ON j.id = w.job_id "
        "WHERE json_extract(c.\"values\", '$.word') <> 'calm' ORDER BY j.number, w.module, c.seq",
        ("jobs_quarantinecheck", "jobs_quarantinewatch", "jobs_job"),
    ),
)
"""What bars something from use, or raised the alarm: a key and what happened, in words."""


@dataclass(frozen=True, slots=True)
class Besides:
    """What would be lost beside entries.

    Attributes
    ----------
    counts : tuple[tuple[str, int], ...]
        What, in words, and how many rows.
    barred : tuple[str, ...]
        What was taken out of use since, or raised the alarm: a sentence each.
    """

    counts: tuple[tuple[str, int], ...] = ()
    barred: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        """Tell whether anything would be lost."""
        return bool(self.counts or self.barred)


def besides(now: Connection, then: Connection) -> Besides:
    """Compare the present database with that of a backup.

    Parameters
    ----------
    now, then : Connection
        Both open for reading.

    Returns
    -------
    Besides
        What is in the present one only, or is otherwise there.
    """
    counts = []
    for what, asked in COUNTED.items():
        held, kept = _rows(now, asked), _rows(then, asked)
        lost = sum(not _same(row, kept.get(key)) for key, row in held.items())
        if lost:
            counts.append((what, lost))
    barred: list[str] = []
    for asked in OUT_OF_USE:
        before = {key for key, _said in database.rows(then, asked.question, *asked.tables)}
        found = database.rows(now, asked.question, *asked.tables)
        barred += [str(said) for key, said in found if key not in before]
    return Besides(tuple(counts), tuple(barred))


def _rows(connection: Connection, asked: Asked) -> Rows:
    """Give the rows by their first column, each by the names of its columns."""
    if not database.has_tables(connection, *asked.tables):
        return {}
    cursor = connection.execute(asked.question)
    names = [column[0] for column in cursor.description]
    return {row[0]: dict(zip(names, row, strict=True)) for row in cursor}


def _same(row: Mapping[str, Any], other: Mapping[str, Any] | None) -> bool:
    """Tell whether a row is in the backup as it is now."""
    return other is not None and all(row[name] == other[name] for name in row if name in other)
