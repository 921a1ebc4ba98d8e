"""A vehicle is entered whose plate or VIN the register knows: who has it, and the ways on.

Not here: carrying a way out; that is ``workshop.actions``.
"""

from collections.abc import Sequence
from typing import Final

from django.utils.translation import gettext

from workshop.details import VehicleDetails
from workshop.registers import VehicleInfo

CHANGED_HANDS: Final = "changed_hands"
EXISTING: Final = "existing"
ANOTHER: Final = "another"


def may_be_another(details: VehicleDetails, alike: Sequence[VehicleInfo]) -> bool:
    """Say whether it can be another vehicle: a plate moves to another, a VIN never does."""
    return not any(details.vin and each.vin.upper() == details.vin for each in alike)


def said(alike: Sequence[VehicleInfo]) -> str:
    """Say who has the plate or VIN already."""
    holders = []
    for each in alike:
        words = f"{each.plate or each.vin} {each.make} {each.model}".strip()
        holder = each.customer_name or gettext("no customer")
        holders.append(f"{words} ({holder})")
    return gettext("In the register already: {vehicles}. Say below which it is.").format(
        vehicles=", ".join(holders)
    )
