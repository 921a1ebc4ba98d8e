"""Classes of a removed module for its transport, and the guidance for each: guidance, not law.

Not here: where a module went (`jobs.actions.disposal`).
"""

from dataclasses import dataclass
from typing import Final

__all__ = ["CLASSES", "CRITICAL", "DAMAGED", "HEALTHY", "SOURCE", "VERSION", "Guidance"]

HEALTHY, DAMAGED, CRITICAL = "healthy", "damaged", "critical"
VERSION: Final = 1
"""Of the guidance; kept in each record."""
SOURCE: Final = (
    "ADR: special provisions 376 and 377; packing instructions P908, P909, P911, LP904, LP906; "
    "training of the consignor 1.3"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Guidance:
    """What is usual for one class.

    Attributes
    ----------
    title, when : str
        The class, and how it is told.
    number, provision, packing : str
        UN number, special provision, packing instruction.
    more : tuple[str, ...]
        What else belongs to it.
    """

    title: str
    when: str
    number: str
    provision: str
    packing: str
    more: tuple[str, ...]


CLASSES: Final = {
    HEALTHY: Guidance(
        title="End of life, not damaged",
        when="Dry, whole, quiet, and known to be what its type was tested as.",
        number="UN 3480",
        provision="SP 377",
        packing="P909",
        more=("Poles insulated against short circuit.",),
    ),
    DAMAGED: Guidance(
        title="Damaged or defective",
        when="Leaks or has leaked, wet, swollen, dented, a fault that bears on safety, or a "
        "condition that cannot be diagnosed. Lost isolation with an unknown cause belongs here.",
        number="UN 3480",
        provision="SP 376",
        packing="P908 or LP904",
        more=(
            "Each in its own leak-tight inner packaging, poles insulated.",
            "Marked DAMAGED/DEFECTIVE LITHIUM-ION BATTERIES.",
            "Never by air.",
        ),
    ),
    CRITICAL: Guidance(
        title="Critical: may react dangerously on the way",
        when="Gets warm, smokes, hisses, smells, or may come apart, burn or vent under usual "
        "carriage.",
        number="UN 3480",
        provision="SP 376",
        packing="P911 or LP906, or as the authority approves",
        more=(
            "It stays where it is until maker, authority or fire brigade have said how it goes.",
            "Never by air.",
        ),
    ),
}
"""Class to guidance. A UN number for a battery in a vehicle is another: 3171 or 3556."""
