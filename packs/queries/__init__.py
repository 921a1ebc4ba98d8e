"""The one reader of packs/models.py: pack definitions, packs as things, spares.

Answers are frozen records, never rows. Changes go through packs/actions.
"""

from packs.queries.definitions import (
    PackInfo,
    PackRow,
    RevisionInfo,
    RevisionLine,
    is_withdrawn,
    latest_revision,
    numbered_revision,
    pack_rows,
    packs_list,
    revision,
    revision_lines,
    revision_numbers,
)
from packs.queries.drafts import DraftInfo, draft, draft_of, drafts
from packs.queries.log_sources import LogSourceInfo, log_sources
from packs.queries.physical import (
    NO_KIND,
    PhysicalPackEventInfo,
    PhysicalPackInfo,
    physical_pack,
    physical_pack_events,
    physical_packs,
    same_serial,
)
from packs.queries.spares import (
    SORTS,
    SpareFilter,
    spare,
    spare_events,
    spare_parts,
    spare_snapshot,
    spare_with_serial,
    spares,
    spares_with_serials,
)

__all__ = [
    "NO_KIND",
    "SORTS",
    "DraftInfo",
    "LogSourceInfo",
    "PackInfo",
    "PackRow",
    "PhysicalPackEventInfo",
    "PhysicalPackInfo",
    "RevisionInfo",
    "RevisionLine",
    "SpareFilter",
    "draft",
    "draft_of",
    "drafts",
    "is_withdrawn",
    "latest_revision",
    "log_sources",
    "numbered_revision",
    "pack_rows",
    "packs_list",
    "physical_pack",
    "physical_pack_events",
    "physical_packs",
    "revision",
    "revision_lines",
    "revision_numbers",
    "same_serial",
    "spare",
    "spare_events",
    "spare_parts",
    "spare_snapshot",
    "spare_with_serial",
    "spares",
    "spares_with_serials",
]
