"""Reading of packs as things and their history; frozen records, never rows."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import Q

from packs.errors import InputRefused
from packs.models import PhysicalPack, PhysicalPackEvent

NO_KIND = "none"
"""Asks for packs whose kind is not known."""


@dataclass(frozen=True, slots=True)
class PhysicalPackInfo:
    """One pack that can be touched."""

    id: UUID
    serial: str
    slug: str | None
    note: str
    kind_name: str = ""


@dataclass(frozen=True, slots=True)
class PhysicalPackEventInfo:
    """One line of a pack's history: what it was before, and what it is since."""

    at: datetime
    kind: str
    values: Mapping[str, str]
    note: str
    person_id: UUID | None


def physical_packs(search: str = "", kind: str = "") -> tuple[PhysicalPackInfo, ...]:
    """Return the packs the shop has met, by serial.

    Parameters
    ----------
    search : str
        Each word has to stand in the serial, the note or the name of the kind.
    kind : str
        Name of a definition, or ``NO_KIND`` for those whose kind is not known.

    Returns
    -------
    tuple of PhysicalPackInfo
        By serial.
    """
    rows = PhysicalPack.objects.select_related("pack").order_by("serial", "id")
    for word in search.replace("\0", " ").split()[:8]:
        rows = rows.filter(
            Q(serial__icontains=word) | Q(note__icontains=word) | Q(pack__name__icontains=word)
        )
    if kind == NO_KIND:
        rows = rows.filter(pack__isnull=True)
    elif kind:
        rows = rows.filter(pack__slug=kind)
    return tuple(pack_info(row) for row in rows)


def physical_pack(pack_id: UUID) -> PhysicalPackInfo:
    """Return one pack.

    Parameters
    ----------
    pack_id : UUID
        The pack's key.

    Returns
    -------
    PhysicalPackInfo
        As it stands now.

    Raises
    ------
    InputRefused
        ``unknown_unit`` if there is none.
    """
    row = PhysicalPack.objects.select_related("pack").filter(id=pack_id).first()
    if row is None:
        raise InputRefused("unknown_unit")
    return pack_info(row)


def same_serial(pack: PhysicalPackInfo) -> tuple[PhysicalPackInfo, ...]:
    """Return the other packs of a pack's serial: another kind, or the same pack entered twice."""
    rows = PhysicalPack.objects.select_related("pack").filter(serial__iexact=pack.serial)
    return tuple(pack_info(row) for row in rows.exclude(id=pack.id).order_by("id"))


def physical_pack_events(pack_id: UUID) -> tuple[PhysicalPackEventInfo, ...]:
    """Return a pack's history, oldest first."""
    rows = PhysicalPackEvent.objects.filter(physical_pack_id=pack_id).order_by("number")
    return tuple(
        PhysicalPackEventInfo(row.at, row.kind, row.values, row.note, row.person_id) for row in rows
    )


def pack_info(row: PhysicalPack) -> PhysicalPackInfo:
    """Turn a row into a record."""
    slug, name = (row.pack.slug, row.pack.name) if row.pack else (None, "")
    return PhysicalPackInfo(row.id, row.serial, slug, row.note, name)
