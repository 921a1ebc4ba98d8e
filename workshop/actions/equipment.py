"""Equipment: adding, testing, wearing, withdrawing.

What a withdrawal means for open jobs is not here: the jobs write that.
"""

from dataclasses import asdict
from datetime import date
from typing import Any, Final

from django.db.models import F

from workshop import clock, equipment, queries
from workshop.actions.permission import require
from workshop.details import EquipmentDetails, EquipmentTest
from workshop.errors import Conflict, InputRefused
from workshop.models import Equipment
from workshop.people import MANAGER, TECHNICIAN
from workshop.queries import Id, uuid_of
from workshop.writing import one_writer

CYCLES_AT_ONCE: Final = 1000


def _ratings_of(kind: str, given: Any) -> dict[str, Any]:
    """Give ratings as stored, or refuse the first that cannot stand."""
    if kind not in equipment.KINDS:
        raise InputRefused("not_one_of", field="kind")
    read = equipment.parse_ratings(kind, given)
    if isinstance(read, tuple):
        raise InputRefused("not_valid", field=read[0].field, why=read[0].why)
    return read.model_dump(mode="json")


def _due_day(kind: str, test: EquipmentTest, today: date) -> date | None:
    """Give the due date to store; twelve months from the test where the paper states none."""
    if test.tested_on is not None and test.tested_on > today:
        raise InputRefused("in_future", field="tested_on")
    if test.due_on is not None and test.tested_on is not None and test.due_on < test.tested_on:
        raise InputRefused("before_test", field="due_on")
    if kind == "gloves" and test.tested_on is None:
        raise InputRefused("no_date", field="tested_on")
    if test.due_on is not None or kind == "gloves" or not equipment.KINDS[kind].dated:
        return test.due_on
    if test.tested_on is None:
        raise InputRefused("no_date", field="tested_on")
    return equipment.add_months(test.tested_on, equipment.CALIBRATION_MONTHS)


def add_equipment(*, details: EquipmentDetails, by: Id) -> str:
    """Add a piece of equipment and give the identifier.

    Raises
    ------
    InputRefused
        Where the label is taken, a rating cannot stand, or a date is missing or impossible.
    """
    with one_writer():
        require(by, MANAGER)
        ratings = _ratings_of(details.kind, details.ratings)
        if not details.label.strip():
            raise InputRefused("required", field="label")
        if Equipment.objects.filter(label=details.label, withdrawn_at__isnull=True).exists():
            raise InputRefused("label_taken", field="label", label=details.label)
        now = clock.now()
        tested = asdict(details.test)
        tested["due_on"] = _due_day(details.kind, details.test, queries.local_day(now))
        row = Equipment.objects.create(
            kind=details.kind,
            label=details.label,
            serial=details.serial,
            ratings=ratings,
            created_at=now,
            **tested,
        )
    return str(row.id)


def record_test(*, equipment_id: Id, test: EquipmentTest, by: Id) -> None:
    """Enter a new test or calibration; a torque tool's cycles begin again."""
    with one_writer():
        require(by, MANAGER)
        row = _in_use(equipment_id)
        tested = asdict(test)
        tested["due_on"] = _due_day(row.kind, test, queries.local_day(clock.now()))
        Equipment.objects.filter(pk=row.pk).update(**tested, cycles=0)


def _in_use(equipment_id: Id) -> Equipment:
    """Fetch a piece that is not withdrawn."""
    row = Equipment.objects.select_for_update().filter(pk=uuid_of(equipment_id)).first()
    if row is None:
        raise InputRefused("unknown", field="equipment")
    if row.withdrawn_at is not None:
        raise Conflict("already_withdrawn")
    return row


def withdraw_equipment(*, equipment_id: Id, reason: str, by: Id) -> None:
    """Withdraw a piece for good; mended, it is added anew with its new test."""
    with one_writer():
        require(by, TECHNICIAN, MANAGER)
        row = _in_use(equipment_id)
        if not reason.strip():
            raise InputRefused("required", field="reason")
        Equipment.objects.filter(pk=row.pk).update(
            withdrawn_at=clock.now(), withdrawn_reason=reason
        )


def count_torque_cycles(*, equipment_id: Id, cycles: int) -> None:
    """Count tightenings made with a torque tool; called where torques are recorded."""
    if not 0 < cycles <= CYCLES_AT_ONCE:
        raise InputRefused("outside_limit", field="cycles", allowed=f"1 to {CYCLES_AT_ONCE}",
                           why="")  # fmt: skip
    with one_writer():
        rows = Equipment.objects.filter(pk=uuid_of(equipment_id), kind="torque_tool")
        if not rows.update(cycles=F("cycles") + cycles):
            raise InputRefused("unknown", field="equipment")
