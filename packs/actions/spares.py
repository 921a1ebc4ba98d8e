"""Changes to spares made by hand: check, then write, in one transaction.

What the entries of a job do with a spare is packs/actions/spares_of_jobs.py.
"""

from dataclasses import asdict, replace
from datetime import date, datetime
from math import isfinite
from uuid import UUID, uuid4

from django.db import transaction

from packs.actions.spare_rows import Done, add_event, locked
from packs.definition import CURVES
from packs.errors import Conflict, InputRefused
from packs.models import Spare
from packs.queries.spares import spare
from packs.spare_tests import COMPARATORS, SpareTest
from packs.spares import (
    ADDED,
    FITTED,
    IN_STOCK,
    MOVED,
    MOVES,
    QUARANTINED,
    RESERVED,
    STATES,
    TESTED,
    NewSpare,
    SpareInfo,
    moves_by_hand,
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
        state=new.state,
        **asdict(new.test),
    )
    add_event(row, Done(by, now), kind=ADDED, values=new.test.as_json())
    return spare(key)


@transaction.atomic
def move_spare(
    *, spare_id: UUID, state: str, place: str, by: UUID | None, now: datetime, note: str = ""
) -> SpareInfo:
    """Bring a spare to another place or state by hand; the history keeps the old one.

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
        ``no_such_move`` if that state cannot follow the present one, ``held_by_job`` if a job
        holds the spare; into quarantine it may always go.
    """
    row, info = locked(spare_id), spare(spare_id)
    holder = info.reserved_for if state == RESERVED and row.state in {RESERVED, FITTED} else ""
    return _moved(row, state, (place.strip(), holder), Done(by, now, note))


@transaction.atomic
def set_spare_aside(
    *, spare_id: UUID, job: str, place: str, by: UUID | None, now: datetime, note: str = ""
) -> SpareInfo:
    """Set a spare aside by hand for a job, so that no other one can pick it.

    Parameters
    ----------
    spare_id : UUID
        The spare's key.
    job : str
        Number of the job.
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
        The spare; the same again writes nothing.

    Raises
    ------
    InputRefused
        If the spare is unknown.
    Conflict
        As ``move_spare``.
    """
    row, info = locked(spare_id), spare(spare_id)
    if info.held and info.reserved_for != job.strip():
        raise Conflict("held_by_job", "job", job=info.reserved_for)
    return _moved(row, RESERVED, (place.strip(), job.strip()), Done(by, now, note))


def _moved(row: Spare, state: str, where: tuple[str, str], done: Done) -> SpareInfo:
    """Check and write a move by hand to a place, for a job or none."""
    info = spare(row.id)
    if state not in STATES:
        raise InputRefused("unknown_state", "state", state=state)
    if (row.state, row.place, row.reserved_for) == (state, *where):
        return info
    _check_move(info, state, done.note)
    row.state, (row.place, row.reserved_for) = state, where
    if state != RESERVED:
        row.module = ""
    row.save(update_fields=["state", "place", "reserved_for", "module"])
    add_event(row, done, kind=MOVED, job=info.reserved_for, module=info.module)
    return spare(row.id)


def _check_move(info: SpareInfo, state: str, note: str) -> None:
    """Refuse a move that cannot follow, breaks what a job holds, or gives no reason."""
    if state not in MOVES[info.state]:
        raise Conflict("no_such_move", "state", before=STATES[info.state], after=STATES[state])
    if info.held and state not in moves_by_hand(info):
        raise Conflict("held_by_job", "state", job=info.reserved_for)
    if (info.state, state) == (QUARANTINED, IN_STOCK) and not note.strip():
        raise InputRefused("reason_needed", "note")


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
        What was measured; None leaves the earlier figure standing. Without a day it was today.
    by : UUID or None
        Key of the person.
    now : datetime
        The moment.
    note : str
        How it was measured.

    Returns
    -------
    SpareInfo
        The spare. A test that is in its history already writes nothing; one older than the
        latest is written into the history and replaces no figure.

    Raises
    ------
    InputRefused
        If the spare is unknown, nothing was measured, or a figure is out of range.
    """
    _check_test(test, now)
    if not test.measured:
        raise InputRefused("nothing_measured")
    day = test.tested_on or now.date()
    test = replace(test, tested_on=day)
    row = locked(spare_id)
    values = test.as_json()
    if any(values == event.values for event in row.events.filter(kind__in=(ADDED, TESTED))):
        return spare(spare_id)
    if day >= (row.tested_on or date.min):
        measured = {key: value for key, value in asdict(test).items() if key in values}
        if test.insulation_ohm is not None:
            measured["insulation_test_v"] = test.insulation_test_v
        if test.cell_v is not None:
            measured["rest_h"] = test.rest_h
        for key, value in measured.items():
            setattr(row, key, value)
        row.save(update_fields=list(measured))
    add_event(row, Done(by, now, note), kind=TESTED, values=values)
    return spare(spare_id)


def _check_new(new: NewSpare) -> None:
    """Refuse a spare whose plate or origin is not entered."""
    for field in ("serial", "part", "chemistry", "provenance"):
        if not getattr(new, field).strip():
            raise InputRefused("required", field)
    if new.chemistry not in CURVES:
        raise InputRefused("unknown_chemistry", "chemistry", known=", ".join(CURVES))
    if new.cells < 1:
        raise InputRefused("not_positive", "cells")
    if new.state not in {IN_STOCK, QUARANTINED}:
        raise InputRefused("unknown_state", "state", state=new.state)


def _check_test(test: SpareTest, now: datetime) -> None:
    """Refuse figures that no instrument shows."""
    figures = ("capacity_ah", "resistance_mohm", "cell_v", "insulation_ohm", "insulation_test_v")
    for field in figures:
        value = getattr(test, field)
        if value is not None and not (isfinite(value) and value > 0):
            raise InputRefused("not_positive", field)
    if test.rest_h is not None and not (isfinite(test.rest_h) and test.rest_h >= 0):
        raise InputRefused("negative", "rest_h")
    if test.rest_h is not None and test.cell_v is None:
        raise InputRefused("rest_without_voltage", "cell_v")
    if test.insulation_comparator not in COMPARATORS:
        raise InputRefused("bound_without_value", "insulation_comparator")
    if test.insulation_ohm is None and test.insulation_test_v is not None:
        raise InputRefused("bound_without_value", "insulation_ohm")
    if test.tested_on is not None and test.tested_on > now.date():
        raise InputRefused("in_future", "tested_on")
