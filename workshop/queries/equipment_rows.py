"""Equipment, whether it may be used, and its snapshots."""

from datetime import date, datetime
from typing import Any

from workshop import equipment
from workshop.errors import InputRefused
from workshop.models import Equipment
from workshop.queries.identifiers import Id, uuid_of
from workshop.queries.shop_row import local_day
from workshop.registers import EquipmentInfo


def _snapshot_of(row: Equipment, today: date) -> dict[str, Any]:
    """Give a row as an entry keeps it, the last usable day in place of the bare due date."""
    last_day = equipment.lapses_on(
        row.kind, tested_on=row.tested_on, due_on=row.due_on, issued=row.issued
    )
    snapshot: dict[str, Any] = {
        "id": str(row.id),
        "kind": row.kind,
        "label": row.label,
        "serial": row.serial,
        "ratings": row.ratings,
        "tested_on": row.tested_on.isoformat() if row.tested_on else None,
        "due_on": last_day.isoformat() if last_day else None,
        "issued": row.issued,
        "cycles": row.cycles,
        "withdrawn": row.withdrawn_at is not None,
    }
    reason = equipment.usable(snapshot, today)
    return snapshot | {"unusable": reason.code if reason else None}


def _equipment_info(row: Equipment, today: date) -> EquipmentInfo:
    """Turn a row into plain data with its reason."""
    snapshot = _snapshot_of(row, today)
    due_on = snapshot["due_on"]
    return EquipmentInfo(
        id=snapshot["id"],
        kind=row.kind,
        label=row.label,
        serial=row.serial,
        ratings=row.ratings,
        tested_on=row.tested_on,
        due_on=date.fromisoformat(due_on) if due_on else None,
        certificate=row.certificate,
        cycles=row.cycles,
        issued=row.issued,
        withdrawn_at=row.withdrawn_at,
        withdrawn_reason=row.withdrawn_reason,
        reason=equipment.usable(snapshot, today),
    )


def equipment_snapshot(equipment_id: Id, now: datetime) -> dict[str, Any]:
    """Give a piece as an entry keeps it: rating, last usable day, and what bars it today.

    Raises
    ------
    InputRefused
        Where there is no such piece.
    """
    row = Equipment.objects.filter(pk=uuid_of(equipment_id)).first()
    if row is None:
        raise InputRefused("unknown", field="equipment")
    return _snapshot_of(row, local_day(now))


def equipment_piece(equipment_id: Id, today: date) -> EquipmentInfo | None:
    """Give one piece, or None where there is no such piece."""
    row = Equipment.objects.filter(pk=uuid_of(equipment_id)).first()
    return _equipment_info(row, today) if row else None


def equipment_of_kind(kind: str, today: date) -> tuple[EquipmentInfo, ...]:
    """Give the pieces of a kind that are not withdrawn, each with whether it may be used."""
    rows = Equipment.objects.filter(kind=kind, withdrawn_at__isnull=True)
    return tuple(_equipment_info(row, today) for row in rows)


def all_equipment(today: date, *, with_withdrawn: bool = False) -> tuple[EquipmentInfo, ...]:
    """Give every piece by kind and label; withdrawn ones only on request."""
    rows = Equipment.objects.all()
    if not with_withdrawn:
        rows = rows.filter(withdrawn_at__isnull=True)
    return tuple(_equipment_info(row, today) for row in rows)
