"""What a spare is held against: the weakest module that stays, the median, the cell's voltages.

Here: the figures, and the rule of like temperatures. Not here: any judgement of a spare.
"""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from packs.physics.match_case import MatchCase, MatchLimits, SpareModule, Wanted
from packs.physics.ocv import CHEMISTRY_OF, Curve, curve_named

SAME_TEMPERATURE_C = 3.0
"""Resistances are compared within so many degrees: it falls by a third over ten."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Yardstick:
    """What spares are compared with; None where nothing is known.

    ``of_string`` tells whether capacity and resistance are those of the string; they are taken
    from the spares among themselves where the string's are not known.
    """

    wanted: Wanted
    limits: MatchLimits
    curves: tuple[Curve, ...]
    capacity_ah: float | None
    capacity_of_string: bool
    resistance_mohm: float | None
    resistance_of_string: bool

    @property
    def least_ah(self) -> float | None:
        """The least capacity that is accepted [Ah]; None when the string's is not known."""
        if self.capacity_ah is None or not self.capacity_of_string:
            return None
        return self.capacity_ah * (1.0 - self.limits.capacity_percent / 100.0)


def same_text(one: str, other: str) -> bool:
    """Tell whether two names from plates are the same.

    Parameters
    ----------
    one, other : str
        As they were typed.

    Returns
    -------
    same : bool
        Capitals and blanks do not count.

    Notes
    -----
    Hyphens and digits do count: they tell revisions apart. Source: shop default.

    Examples
    --------
    >>> same_text(" CB-12  rev a", "cb-12 rev A"), same_text("CB-12", "CB-121")
    (True, False)
    """
    return one.casefold().split() == other.casefold().split()


def curves_of(chemistry: str) -> tuple[Curve, ...]:
    """Return the curves of a chemistry.

    Parameters
    ----------
    chemistry : str
        As a pack definition calls it.

    Returns
    -------
    curves : tuple of Curve
        Empty when the chemistry has none.

    Notes
    -----
    Source: the table of curves.

    Examples
    --------
    >>> [curve.name for curve in curves_of("LFP")], curves_of("lead")
    (['lfp_graphite'], ())
    """
    return tuple(
        curve_named(name) for name, known in CHEMISTRY_OF.items() if same_text(known, chemistry)
    )


def comparable_temperatures(wanted: Wanted, spare: SpareModule) -> bool | None:
    """Tell whether string and spare were measured at like temperatures.

    Parameters
    ----------
    wanted : Wanted
        The string.
    spare : SpareModule
        The spare.

    Returns
    -------
    comparable : bool or None
        None when one of the two is not known.

    Notes
    -----
    Within 3 °C: the resistance at 15 °C is some 1.5 times that at 25 °C, 4 % a degree. Source: an
    activation energy of 30 kJ/mol, from memory of the literature; the 3 °C are a shop default.

    Examples
    --------
    >>> wanted = Wanted(chemistry="nmc", part="A", cells=6, temperature_c=25.0)
    >>> spare = SpareModule(serial="1", chemistry="nmc", part="A", cells=6, temperature_c=15.0)
    >>> comparable_temperatures(wanted, spare)
    False
    """
    if wanted.temperature_c is None or spare.temperature_c is None:
        return None
    return abs(wanted.temperature_c - spare.temperature_c) <= SAME_TEMPERATURE_C


def yardstick(case: MatchCase, alike: Sequence[SpareModule]) -> Yardstick:
    """Return what the spares are held against.

    Parameters
    ----------
    case : MatchCase
        The string, limits and spares.
    alike : Sequence[SpareModule]
        Spares of the same kind that could be used, for strings of which nothing is known.

    Returns
    -------
    yardstick : Yardstick
        Weakest capacity and median resistance, of the string where they are known, [Ah], [mohm]

    Notes
    -----
    A series string delivers what its weakest module holds, so capacity is held against the
    smallest; resistance is a matter of likeness and held against the median. With nothing known of
    the string the strongest spare and the spares' median take their place. Source: series circuit.

    Examples
    --------
    >>> wanted = Wanted(chemistry="nmc", part="A", cells=6, capacity_ah=(60.0, 58.0))
    >>> found = yardstick(MatchCase(wanted=wanted, spares=()), ())
    >>> found.capacity_ah, round(found.least_ah, 1), found.resistance_mohm
    (58.0, 55.1, None)
    """
    wanted = case.wanted
    spare_ah = [spare.capacity_ah for spare in alike if spare.capacity_ah is not None]
    spare_mohm = [spare.resistance_mohm for spare in alike if spare.resistance_mohm is not None]
    known_mohm = wanted.resistance_mohm or spare_mohm
    return Yardstick(
        wanted=wanted,
        limits=case.limits,
        curves=curves_of(wanted.chemistry),
        capacity_ah=min(wanted.capacity_ah) if wanted.capacity_ah else max(spare_ah, default=None),
        capacity_of_string=bool(wanted.capacity_ah),
        resistance_mohm=statistics.median(known_mohm) if known_mohm else None,
        resistance_of_string=bool(wanted.resistance_mohm),
    )
