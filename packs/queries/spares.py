"""Reading of spares and their history; frozen records, never rows."""

from collections.abc import Mapping
from datetime import datetime
from uuid import UUID

from packs.errors import InputRefused
from packs.models import Spare, SpareEvent
from packs.spares import SpareEventInfo, SpareInfo, SpareTest


def spares() -> tuple[SpareInfo, ...]:
    """Return every spare in the register, by part and serial."""
    return tuple(_spare_info(row) for row in Spare.objects.all())


def spare(spare_id: UUID) -> SpareInfo:
    """Return one spare.

    Parameters
    ----------
    spare_id : UUID
        The spare's key.

    Returns
    -------
    SpareInfo
        As it stands now.

    Raises
    ------
    InputRefused
        ``unknown_spare`` if there is none.
    """
    row = Spare.objects.filter(id=spare_id).first()
    if row is None:
        raise InputRefused("unknown_spare")
    return _spare_info(row)


def spare_events(spare_id: UUID) -> tuple[SpareEventInfo, ...]:
    """Return a spare's history, oldest first."""
    return tuple(
        SpareEventInfo(row.at, row.kind, row.state, row.place, row.note, row.person_id, row.values)
        for row in SpareEvent.objects.filter(spare_id=spare_id).order_by("number")
    )


def spare_snapshot(spare_id: UUID, now: datetime) -> dict[str, object]:
    """Return what an entry keeps of a spare at the moment it is picked.

    Parameters
    ----------
    spare_id : UUID
        The spare's key.
    now : datetime
        The moment, in the workshop's zone so that days count as people count them.

    Returns
    -------
    dict
        Plain JSON; None where something was not measured. ``insulation`` is None or holds
        ``comparator``, ``ohm`` and ``test_v``.

    Raises
    ------
    InputRefused
        ``unknown_spare`` if there is none.
    """
    info = spare(spare_id)
    test = info.test
    return {
        "id": str(info.id),
        "serial": info.serial,
        "part": info.part,
        "chemistry": info.chemistry,
        "cells": info.cells,
        "capacity_ah": test.capacity_ah,
        "resistance_mohm": test.resistance_mohm,
        "cell_v": test.cell_v,
        "tested_on": test.tested_on.isoformat() if test.tested_on else None,
        "days_since_test": (now.date() - test.tested_on).days if test.tested_on else None,
        "insulation": _insulation(test),
        "state": info.state,
        "quarantined": info.quarantined,
        "provenance": info.provenance,
        "place": info.place,
        "at": now.isoformat(),
    }


def _insulation(test: SpareTest) -> Mapping[str, object] | None:
    """Return an insulation reading as plain JSON."""
    if test.insulation_ohm is None:
        return None
    return {
        "comparator": test.insulation_comparator,
        "ohm": test.insulation_ohm,
        "test_v": test.insulation_test_v,
    }


def _spare_info(row: Spare) -> SpareInfo:
    """Turn a row into a record."""
    return SpareInfo(
        id=row.id,
        serial=row.serial,
        part=row.part,
        chemistry=row.chemistry,
        cells=row.cells,
        test=SpareTest(
            capacity_ah=row.capacity_ah,
            resistance_mohm=row.resistance_mohm,
            cell_v=row.cell_v,
            tested_on=row.tested_on,
            insulation_ohm=row.insulation_ohm,
            insulation_comparator=row.insulation_comparator,
            insulation_test_v=row.insulation_test_v,
        ),
        provenance=row.provenance,
        place=row.place,
        state=row.state,
    )
