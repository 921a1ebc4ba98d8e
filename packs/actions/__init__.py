"""The one writer of packs/models.py: pack definitions, packs as things, spares.

Each action checks, then writes, in one transaction; the time is handed in. Reading is
packs/queries. Who may call an action is decided where the person is known.
"""

from packs.actions.definitions import add_pack_revision, withdraw_pack
from packs.actions.physical import add_physical_pack
from packs.actions.spares import add_spare, add_spare_test, move_spare

__all__ = [
    "add_pack_revision",
    "add_physical_pack",
    "add_spare",
    "add_spare_test",
    "move_spare",
    "withdraw_pack",
]
