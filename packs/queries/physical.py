"""Reading of packs as things; frozen records, never rows."""

from dataclasses import dataclass
from uuid import UUID

from packs.models import PhysicalPack


@dataclass(frozen=True, slots=True)
class PhysicalPackInfo:
    """One pack that can be touched."""

    id: UUID
    serial: str
    slug: str | None
    note: str


def physical_packs() -> tuple[PhysicalPackInfo, ...]:
    """Return the packs the shop has met, by serial."""
    return tuple(
        PhysicalPackInfo(row.id, row.serial, row.pack.slug if row.pack else None, row.note)
        for row in PhysicalPack.objects.select_related("pack")
    )
