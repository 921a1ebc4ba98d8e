"""The row of a spare and the next line of its history, for the actions that change it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from packs.errors import InputRefused
from packs.models import Spare, SpareEvent


@dataclass(frozen=True, slots=True)
class Done:
    """Who did something with a spare, when, and why."""

    by: UUID | None
    now: datetime
    note: str = ""


def locked(spare_id: UUID) -> Spare:
    """Return a spare's row, locked where the database can."""
    row = Spare.objects.select_for_update().filter(id=spare_id).first()
    if row is None:
        raise InputRefused("unknown_spare")
    return row


def add_event(
    row: Spare,
    done: Done,
    *,
    kind: str,
    values: Mapping[str, object] | None = None,
    job: str = "",
    module: str = "",
) -> None:
    """Write the next line of a spare's history; it names the job that holds it, or let it go."""
    SpareEvent.objects.create(
        spare=row,
        number=row.events.count() + 1,
        at=done.now,
        kind=kind,
        state=row.state,
        place=row.place,
        job=job or row.reserved_for,
        module=module or row.module,
        values=dict(values or {}),
        note=done.note.strip()[:500],
        person_id=done.by,
    )
