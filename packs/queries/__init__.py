"""The one reader of packs/models.py: pack definitions, packs as things, spares.

Answers are frozen records, never rows. Changes go through packs/actions.
"""

from packs.queries.definitions import (
    PackInfo,
    RevisionInfo,
    is_withdrawn,
    latest_revision,
    numbered_revision,
    packs_list,
    revision,
    revision_numbers,
)
from packs.queries.physical import PhysicalPackInfo, physical_packs
from packs.queries.spares import spare, spare_events, spare_snapshot, spares

__all__ = [
    "PackInfo",
    "PhysicalPackInfo",
    "RevisionInfo",
    "is_withdrawn",
    "latest_revision",
    "numbered_revision",
    "packs_list",
    "physical_packs",
    "revision",
    "revision_numbers",
    "spare",
    "spare_events",
    "spare_snapshot",
    "spares",
]
