"""What is seen in the open pack of a practice job, in words."""

from typing import Final

from django.utils.translation import gettext

from jobs.core.reason import InputRefused, Reason
from jobs.practice.room.running import Running
from jobs.steps.fault_localisation.items import SEEN

__all__ = ["REASONS", "what_is_seen"]

LID_ON = Reason("practice_lid_on", "The lid is on: nothing can be seen.")
REASONS = (LID_ON,)

_SEEN: Final = {
    "coolant": "A film of coolant stands under module {module}; its lower edge is wet.",
    "water": "Drops of clear water stand on and under module {module}.",
    "corrosion": "Green and white crusts at the side of module {module}.",
    "nothing": "Dry and clean everywhere; nothing stands out.",
}


def what_is_seen(run: Running) -> tuple[str, ...]:
    """Say what is seen in the pack with its lid off.

    Raises
    ------
    InputRefused
        While the lid is on.
    """
    if not run.scene.record().pack_open:
        raise InputRefused(LID_ON(SEEN.key))
    module = ", ".join(run.hidden.modules)
    return (gettext(_SEEN[run.hidden.recipe.seen]).format(module=module),)
