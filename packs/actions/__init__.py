"""The one writer of packs/models.py: pack definitions, packs as things, spares.

Each action checks, then writes, in one transaction; the time is handed in. Reading is
packs/queries. Who may call an action is decided where the person is known.
"""

from packs.actions.definitions import add_pack_revision, withdraw_pack
from packs.actions.drafts import (
    change_draft,
    discard_draft,
    draft_from_revision,
    draft_from_table,
    publish_draft,
    start_draft,
)
from packs.actions.log_sources import remember_log_source
from packs.actions.physical import (
    PackDetails,
    add_physical_pack,
    correct_physical_pack,
    set_pack_kind,
)
from packs.actions.spares import add_spare, add_spare_test, move_spare, set_spare_aside
from packs.actions.spares_of_jobs import fit_spare, hold_spare, release_spares

__all__ = [
    "PackDetails",
    "add_pack_revision",
    "add_physical_pack",
    "add_spare",
    "add_spare_test",
    "change_draft",
    "correct_physical_pack",
    "discard_draft",
    "draft_from_revision",
    "draft_from_table",
    "fit_spare",
    "hold_spare",
    "move_spare",
    "publish_draft",
    "release_spares",
    "remember_log_source",
    "set_pack_kind",
    "set_spare_aside",
    "start_draft",
    "withdraw_pack",
]
