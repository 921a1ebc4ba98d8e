"""Reading of pack definitions, packs as things, and spares; the one reader of packs/models.py.

Answers are frozen records, never rows. Changes go through packs/actions.py.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from uuid import UUID

from django.db.models import QuerySet

from packs.definition import PackDefinition, from_toml
from packs.errors import InputRefused
from packs.models import Pack, PackRevision, PhysicalPack, Spare, SpareEvent
from packs.spares import SpareEventInfo, SpareInfo, SpareTest

REVISIONS_KEPT = 64
"""Read definitions kept in memory; a shop knows a few dozen kinds of pack."""


@dataclass(frozen=True, slots=True)
class RevisionInfo:
    """One revision of a definition, read."""

    id: UUID
    slug: str
    number: int
    definition: PackDefinition
    toml: str
    sha256: str
    created_at: datetime
    created_by: UUID | None
    note: str


@dataclass(frozen=True, slots=True)
class PackInfo:
    """A kind of pack as the list shows it."""

    id: UUID
    slug: str
    name: str
    withdrawn_at: datetime | None
    revisions: int
    changed_at: datetime


@dataclass(frozen=True, slots=True)
class PhysicalPackInfo:
    """One pack that can be touched."""

    id: UUID
    serial: str
    slug: str | None
    note: str


def packs_list(*, withdrawn: bool = False) -> tuple[PackInfo, ...]:
    """Return the kinds of pack the shop has a definition for.

    Parameters
    ----------
    withdrawn : bool
        Whether to include those withdrawn from use.

    Returns
    -------
    tuple of PackInfo
        By name.
    """
    rows = Pack.objects.all() if withdrawn else Pack.objects.filter(withdrawn_at=None)
    latest = {
        row.pack_id: row
        for row in PackRevision.objects.order_by("number").only("pack_id", "number", "created_at")
    }
    return tuple(
        PackInfo(
            id=row.id,
            slug=row.slug,
            name=row.name,
            withdrawn_at=row.withdrawn_at,
            revisions=latest[row.id].number,
            changed_at=latest[row.id].created_at,
        )
        for row in rows
        if row.id in latest
    )


def is_withdrawn(slug: str) -> bool:
    """Say whether a kind of pack was taken out of use for new jobs."""
    return Pack.objects.filter(slug=slug, withdrawn_at__isnull=False).exists()


@lru_cache(maxsize=REVISIONS_KEPT)
def revision(revision_id: UUID) -> RevisionInfo:
    """Return one revision; it never changes, so it is read once.

    Parameters
    ----------
    revision_id : UUID
        The revision's key.

    Returns
    -------
    RevisionInfo
        With the definition read.

    Raises
    ------
    InputRefused
        ``unknown_revision`` if there is none.
    """
    row = PackRevision.objects.select_related("pack").filter(id=revision_id).first()
    if row is None:
        raise InputRefused("unknown_revision")
    return RevisionInfo(
        id=row.id,
        slug=row.pack.slug,
        number=row.number,
        definition=from_toml(row.toml),
        toml=row.toml,
        sha256=row.sha256,
        created_at=row.created_at,
        created_by=row.created_by,
        note=row.note,
    )


def latest_revision(slug: str) -> RevisionInfo:
    """Return the newest revision of a kind of pack, withdrawn or not.

    Parameters
    ----------
    slug : str
        As in the definition.

    Returns
    -------
    RevisionInfo
        The one with the highest number.

    Raises
    ------
    InputRefused
        ``unknown_revision`` if there is no such definition.
    """
    return _first_revision(PackRevision.objects.filter(pack__slug=slug).order_by("-number"))


def numbered_revision(slug: str, number: int) -> RevisionInfo:
    """Return one revision of a kind of pack by its number.

    Parameters
    ----------
    slug : str
        As in the definition.
    number : int
        Counted from 1.

    Returns
    -------
    RevisionInfo
        That revision.

    Raises
    ------
    InputRefused
        ``unknown_revision`` if there is none.
    """
    return _first_revision(PackRevision.objects.filter(pack__slug=slug, number=number))


def revision_numbers(slug: str) -> tuple[int, ...]:
    """Return the numbers of a kind of pack's revisions, newest first."""
    rows = PackRevision.objects.filter(pack__slug=slug).order_by("-number")
    return tuple(rows.values_list("number", flat=True))


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


def physical_packs() -> tuple[PhysicalPackInfo, ...]:
    """Return the packs the shop has met, by serial."""
    return tuple(
        PhysicalPackInfo(row.id, row.serial, row.pack.slug if row.pack else None, row.note)
        for row in PhysicalPack.objects.select_related("pack")
    )


def _first_revision(rows: QuerySet[PackRevision]) -> RevisionInfo:
    """Return the first of some revisions."""
    found = rows.values_list("id", flat=True).first()
    if found is None:
        raise InputRefused("unknown_revision")
    return revision(found)


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
