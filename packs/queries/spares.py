"""Reading of spares and their history; frozen records, never rows."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final
from uuid import UUID

from django.db.models import Q

from packs.errors import InputRefused
from packs.models import Spare, SpareEvent
from packs.spare_tests import SpareTest, read_test
from packs.spares import STATES, SpareEventInfo, SpareInfo, bars

SORTS: Final = ("part", "state", "tested")
"""What the register can be sorted by; a leading minus turns the order round."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareFilter:
    """What the register is narrowed down to; empty asks for everything."""

    search: str = ""
    state: str = ""
    part: str = ""
    chemistry: str = ""
    usable: bool = False
    sort: str = "part"


def spares(wanted: SpareFilter | None = None) -> tuple[SpareInfo, ...]:
    """Return the spares in the register.

    Parameters
    ----------
    wanted : SpareFilter or None
        What to narrow it down to. Each word of the search has to stand in serial, part, place,
        provenance or the number of the job that holds the spare.

    Returns
    -------
    tuple of SpareInfo
        By part and serial, or as the filter sorts.
    """
    wanted = wanted or SpareFilter()
    rows = Spare.objects.all()
    for word in wanted.search.replace("\0", " ").split()[:8]:
        rows = rows.filter(
            Q(serial__icontains=word)
            | Q(part__icontains=word)
            | Q(place__icontains=word)
            | Q(provenance__icontains=word)
            | Q(reserved_for__icontains=word)
        )
    exact = {"state": wanted.state, "part": wanted.part, "chemistry": wanted.chemistry}
    rows = rows.filter(**{name: value for name, value in exact.items() if value})
    found = [_spare_info(row) for row in rows.order_by("part", "serial")]
    if wanted.usable:
        found = [info for info in found if not bars(info)]
    return tuple(_sorted(found, wanted.sort))


def _sorted(found: list[SpareInfo], sort: str) -> list[SpareInfo]:
    """Sort stably, so that spares that are alike stay by part and serial."""
    name, reverse = sort.removeprefix("-"), sort.startswith("-")
    order = list(STATES)
    if name == "state":
        return sorted(found, key=lambda info: order.index(info.state), reverse=reverse)
    if name == "tested":
        never = date.max if not reverse else date.min
        return sorted(found, key=lambda info: info.test.tested_on or never, reverse=reverse)
    return sorted(found, key=lambda info: (info.part, info.serial), reverse=reverse)


def spare_parts() -> tuple[str, ...]:
    """Return every part that the register knows, by name."""
    rows = Spare.objects.order_by("part").values_list("part", flat=True).distinct()
    return tuple(rows)


def spare_with_serial(serial: str) -> SpareInfo | None:
    """Return the spare of a serial; None where there is none."""
    row = Spare.objects.filter(serial=serial.strip()).first()
    return None if row is None else _spare_info(row)


def spares_with_serials(serials: Collection[str]) -> Mapping[str, SpareInfo]:
    """Return the spares of some serials by serial, in one query; those that there are."""
    rows = Spare.objects.filter(serial__in=serials)
    return {row.serial: _spare_info(row) for row in rows}


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
        SpareEventInfo(
            at=row.at,
            kind=row.kind,
            state=row.state,
            place=row.place,
            note=row.note,
            person_id=row.person_id,
            values=row.values,
            job=row.job,
            module=row.module,
            test=read_test(row.values),
        )
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
            rest_h=row.rest_h,
        ),
        provenance=row.provenance,
        place=row.place,
        state=row.state,
        reserved_for=row.reserved_for,
        module=row.module,
    )
