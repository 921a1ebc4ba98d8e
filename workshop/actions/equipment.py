"""Equipment: adding, correcting, testing, wearing, withdrawing; each leaves its event.

What a withdrawal or a corrected rating means for open jobs is not here: the jobs write that.
"""

from dataclasses import asdict
from datetime import date
from typing import Any, Final

from django.db.models import F

from workshop import clock, equipment, figures_text, queries
from workshop.actions.certificates import keep_certificate
from workshop.actions.events import changes, write_event
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
    """Give the due date to store: the interval's end, or an earlier day from the paper."""
    if test.tested_on is not None and test.tested_on > today:
        raise InputRefused("in_future", field="tested_on")
    if test.due_on is not None and test.tested_on is not None and test.due_on < test.tested_on:
        raise InputRefused("before_test", field="due_on")
    interval = equipment.interval_of(kind, issued=test.issued)
    if interval is None:
        return test.due_on
    if test.tested_on is None:
        raise InputRefused("no_date", field="tested_on")
    last = equipment.add_months(test.tested_on, interval.months)
    if test.due_on is not None and test.due_on > last:
        day = figures_text.day(last)
        raise InputRefused("due_too_late", field="due_on", day=day, source=interval.source)
    # The interval of gloves changes when they are handed out, so only the paper's day is kept.
    return test.due_on if kind == "gloves" else test.due_on or last


def _check_label(label: str, *, other_than: Id = "") -> None:
    """Refuse an empty label and one that another piece in use has."""
    if not label.strip():
        raise InputRefused("required", field="label")
    rows = Equipment.objects.filter(label=label, withdrawn_at__isnull=True)
    if rows.exclude(pk=uuid_of(other_than)).exists():
        raise InputRefused("label_taken", field="label", label=label)


def _as_said(test: EquipmentTest, due_on: date | None) -> dict[str, Any]:
    """Give a test as its event keeps it."""
    return {
        "tested_on": test.tested_on.isoformat() if test.tested_on else None,
        "due_on": due_on.isoformat() if due_on else None,
        "certificate": test.certificate,
        "issued": test.issued,
    }


def add_equipment(*, details: EquipmentDetails, by: Id, file: bytes | None = None) -> str:
    """Add a piece of equipment and give the identifier.

    Raises
    ------
    InputRefused
        Where the label is taken, a rating cannot stand, a date is missing or impossible, or the
        certificate's file is none.
    """
    with one_writer():
        person = require(by, MANAGER)
        ratings = _ratings_of(details.kind, details.ratings)
        _check_label(details.label)
        now = clock.now()
        due_on = _due_day(details.kind, details.test, queries.local_day(now))
        row = Equipment.objects.create(
            kind=details.kind,
            label=details.label,
            serial=details.serial,
            ratings=ratings,
            created_at=now,
            **(asdict(details.test) | {"due_on": due_on}),
        )
        kept = keep_certificate(file, by=person)
        values = _as_said(details.test, due_on)
        write_event(row.id, "added", by=person, values=values, file=kept)
    return str(row.id)


def correct_equipment(*, equipment_id: Id, details: EquipmentDetails, why: str, by: Id) -> bool:
    """Correct label, serial or ratings of a piece in use; what it said before stays readable.

    Returns
    -------
    bool
        Whether a rating changed: open jobs picked the piece with the one from before.

    Raises
    ------
    InputRefused
        Where the label is taken, a rating cannot stand, or no reason is given.
    Conflict
        Where it was withdrawn.
    """
    with one_writer():
        person = require(by, MANAGER)
        row = _in_use(equipment_id)
        ratings = _ratings_of(row.kind, details.ratings)
        _check_label(details.label, other_than=equipment_id)
        if not why.strip():
            raise InputRefused("required", field="why")
        after = {"label": details.label, "serial": details.serial}
        changed = changes({"label": row.label, "serial": row.serial}, after)
        rated_anew = changes(row.ratings, ratings)
        changed |= rated_anew
        if not changed:
            return False
        Equipment.objects.filter(pk=row.pk).update(**after, ratings=ratings)
        write_event(row.id, "corrected", by=person, values={"changes": changed, "why": why})
        return bool(rated_anew)


def record_test(
    *, equipment_id: Id, test: EquipmentTest, by: Id, file: bytes | None = None
) -> None:
    """Enter a new test or calibration; a torque tool's cycles begin again.

    Raises
    ------
    InputRefused
        Where a date is missing or impossible, or the certificate's file is none.
    Conflict
        Where it was withdrawn.
    """
    with one_writer():
        person = require(by, MANAGER)
        row = _in_use(equipment_id)
        due_on = _due_day(row.kind, test, queries.local_day(clock.now()))
        tested = asdict(test) | {"due_on": due_on}
        Equipment.objects.filter(pk=row.pk).update(**tested, cycles=0)
        kept = keep_certificate(file, by=person)
        write_event(row.id, "tested", by=person, values=_as_said(test, due_on), file=kept)


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
        person = require(by, TECHNICIAN, MANAGER)
        row = _in_use(equipment_id)
        if not reason.strip():
            raise InputRefused("required", field="reason")
        Equipment.objects.filter(pk=row.pk).update(
            withdrawn_at=clock.now(), withdrawn_reason=reason
        )
        write_event(row.id, "withdrawn", by=person, values={"why": reason})


def count_torque_cycles(*, equipment_id: Id, cycles: int) -> None:
    """Count tightenings made with a torque tool; called where torques are recorded."""
    if not 0 < cycles <= CYCLES_AT_ONCE:
        raise InputRefused("outside_limit", field="cycles", allowed=f"1 to {CYCLES_AT_ONCE}",
                           why="")  # fmt: skip
    with one_writer():
        rows = Equipment.objects.filter(pk=uuid_of(equipment_id), kind="torque_tool")
        if not rows.update(cycles=F("cycles") + cycles):
            raise InputRefused("unknown", field="equipment")
