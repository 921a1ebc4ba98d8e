"""Changes to spares: check, then write, in one transaction."""

from dataclasses import asdict
from datetime import datetime
from math import isfinite
from uuid import UUID, uuid4

from django.db import transaction

from packs.definition import CURVES
from packs.errors import Conflict, InputRefused
from packs.models import Spare, SpareEvent
from packs.queries.spares import spare
from packs.spares import (
    ADDED,
    COMPARATORS,
    IN_STOCK,
    MOVED,
    MOVES,
    QUARANTINED,
    STATES,
    TESTED,
    NewSpare,
    SpareInfo,
    SpareTest,
)


@transaction.atomic
def add_spare(
    *, new: NewSpare, by: UUID | None, now: datetime, spare_id: UUID | None = None
) -> SpareInfo:
    """Take a spare into stock.

    Parameters
    ----------
    new : NewSpare
        What was entered.
    by : UUID or None
        Key of the person.
    now : datetime
        The moment.
    spare_id : UUID or None
        Key made where the spare was entered; the same key again changes nothing.

    Returns
    -------
    SpareInfo
        The spare.

    Raises
    ------
    InputRefused
        If a field is empty or out of range.
    Conflict
        ``serial_taken`` if another spare has this serial.
    """
    key = spare_id or uuid4()
    if Spare.objects.filter(id=key).exists():
        return spare(key)
    _check_new(new)
    _check_test(new.test, now)
    serial = new.serial.strip()
    if Spare.objects.filter(serial=serial).exists():
        raise Conflict("serial_taken", "serial", serial=serial)
    row = Spare.objects.create(
        id=key,
        serial=serial,
        part=new.part.strip(),
        chemistry=new.chemistry,
        cells=new.cells,
        provenance=new.provenance.strip(),
        place=new.place.strip(),
        state=IN_STOCK,
        **asdict(new.test),
    )
    _add_event(row, kind=ADDED, by=by, now=now, values=new.test.as_json())
    return spare(key)


@transaction.atomic
def move_spare(
    *, spare_id: UUID, state: str, place: str, by: UUID | None, now: datetime, note: str = ""
) -> SpareInfo:
    """Bring a spare to another place or state.

    Parameters
    ----------
    spare_id : UUID
        The spare's key.
    state : str
        One of ``packs.spares.STATES``.
    place : str
        Where it stands now.
    by : UUID or None
        Key of the person.
    now : datetime
        The moment.
    note : str
        Why.

    Returns
    -------
    SpareInfo
        The spare. A move to where it stands already writes nothing.

    Raises
    ------
    InputRefused
        If the spare or the state is unknown, or it leaves quarantine without a reason.
    Conflict
        ``no_such_move`` if that state cannot follow the present one.
    """
    if state not in STATES:
        raise InputRefused("unknown_state", "state", state=state)
    row = _locked(spare_id)
    if (row.state, row.place) == (state, place.strip()):
        return spare(spare_id)
    if state not in MOVES[row.state]:
        raise Conflict("no_such_move", "state", before=STATES[row.state], after=STATES[state])
    if (row.state, state) == (QUARANTINED, IN_STOCK) and not note.strip():
        raise InputRefused("reason_needed", "note")
    row.state, row.place = state, place.strip()
    row.save(update_fields=["state", "place"])
    _add_event(row, kind=MOVED, by=by, now=now, note=note)
    return spare(spare_id)


@transaction.atomic
def add_spare_test(
    *, spare_id: UUID, test: SpareTest, by: UUID | None, now: datetime, note: str = ""
) -> SpareInfo:
    """Add a test; what was measured replaces the latest figures, the history keeps the older.

    Parameters
    ----------
    spare_id : UUID
        The spare's key.
    test : SpareTest
        What was measured; None leaves the earlier figure standing.
    by : UUID or None
        Key of the person.
    now : datetime
        The moment.
    note : str
        How it was measured.

    Returns
    -------
    SpareInfo
        The spare. The figures it has already write nothing.

    Raises
    ------
    InputRefused
        If the spare is unknown or a figure is out of range.
    """
    _check_test(test, now)
    row = _locked(spare_id)
    measured = {key: value for key, value in asdict(test).items() if value is not None}
    if test.insulation_ohm is None:
        measured.pop("insulation_comparator")
    if all(getattr(row, key) == value for key, value in measured.items()):
        return spare(spare_id)
    for key, value in measured.items():
        setattr(row, key, value)
    row.save(update_fields=list(measured))
    _add_event(row, kind=TESTED, by=by, now=now, note=note, values=test.as_json())
    return spare(spare_id)


def _locked(spare_id: UUID) -> Spare:
    """Return a spare's row, locked where the database can."""
    row = Spare.objects.select_for_update().filter(id=spare_id).first()
    if row is None:
        raise InputRefused("unknown_spare")
    return row


def _add_event(
    row: Spare,
    *,
    kind: str,
    by: UUID | None,
    now: datetime,
    note: str = "",
    values: dict[str, object] | None = None,
) -> None:
    """Write the next line of a spare's history."""
    SpareEvent.objects.create(
        spare=row,
        number=row.events.count() + 1,
        at=now,
        kind=kind,
        state=row.state,
        place=row.place,
        values=values or {},
        note=note.strip(),
        person_id=by,
    )


def _check_new(new: NewSpare) -> None:
    """Refuse a spare whose plate or origin is not entered."""
    for field in ("serial", "part", "chemistry", "provenance"):
        if not getattr(new, field).strip():
            raise InputRefused("required", field)
    if new.chemistry not in CURVES:
        raise InputRefused("unknown_chemistry", "chemistry", known=", ".join(CURVES))
    if new.cells < 1:
        raise InputRefused("not_positive", "cells")


def _check_test(test: SpareTest, now: datetime) -> None:
    """Refuse figures that no instrument shows."""
    figures = ("capacity_ah", "resistance_mohm", "cell_v", "insulation_ohm", "insulation_test_v")
    for field in figures:
        value = getattr(test, field)
        if value is not None and not (isfinite(value) and value > 0):
            raise InputRefused("not_positive", field)
    if test.insulation_comparator not in COMPARATORS:
        raise InputRefused("bound_without_value", "insulation_comparator")
    if test.insulation_ohm is None and test.insulation_test_v is not None:
        raise InputRefused("bound_without_value", "insulation_ohm")
    if test.tested_on is not None and test.tested_on > now.date():
        raise InputRefused("in_future", "tested_on")
