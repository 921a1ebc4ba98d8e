"""What match is asked and what it answers, field by field as the interface names them.

Here: the string, the limits, the spares and the result. Not here: who is ruled out
(match_exclusion.py), what costs how much (match_score.py) and the order (match.py).
"""

from collections.abc import Sequence
from dataclasses import dataclass

from packs.physics.instrument import Message


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """The string a spare is wanted for; the lists are of the modules that stay.

    Parameters
    ----------
    chemistry, part : str
        As a pack definition calls them.
    cells : int
        Cells of a module in series, [-]
    capacity_ah : Sequence[float]
        Of each module, [Ah]
    resistance_mohm : Sequence[float]
        Of each module, [mohm]
    cell_v : float or None
        Rested voltage of a cell, [V]
    temperature_c : float or None
        Of the modules when they were measured, [°C]
    """

    chemistry: str
    part: str
    cells: int
    capacity_ah: Sequence[float] = ()
    resistance_mohm: Sequence[float] = ()
    cell_v: float | None = None
    temperature_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchLimits:
    """How far a spare may be from the string, shop defaults.

    Parameters
    ----------
    capacity_percent : float
        Below the weakest module that stays, [%]
    resistance_percent : float
        Off the median, either way, [%]
    tested_within_days : float
        Oldest test that counts, in days, [-]
    """

    capacity_percent: float = 5.0
    resistance_percent: float = 20.0
    tested_within_days: float = 180.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareModule:
    """One spare as it was tested; None where nothing was measured.

    Parameters
    ----------
    serial, chemistry, part : str
        As on its plate.
    cells : int
        Cells in series, [-]
    capacity_ah : float or None
        Measured, [Ah]
    resistance_mohm : float or None
        Measured, [mohm]
    cell_v : float or None
        Rested voltage of a cell, [V]
    temperature_c : float or None
        When it was tested, [°C]
    days_since_test : float or None
        Age of the test, in days, [-]
    quarantined : bool
        Whether it stands in quarantine.
    """

    serial: str
    chemistry: str
    part: str
    cells: int
    capacity_ah: float | None = None
    resistance_mohm: float | None = None
    cell_v: float | None = None
    temperature_c: float | None = None
    days_since_test: float | None = None
    quarantined: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchCase:
    """A string, limits and the spares there are."""

    wanted: Wanted
    spares: Sequence[SpareModule]
    limits: MatchLimits = MatchLimits()


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedSpare:
    """A spare that may be used; the reasons say what takes it below 100 points."""

    serial: str
    score: float
    reasons: tuple[Message, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ExcludedSpare:
    """A spare that may not be used, with every reason there is."""

    serial: str
    reasons: tuple[Message, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchResult:
    """Best first; excluded ones in the order in which they were given."""

    ranked: tuple[RankedSpare, ...]
    excluded: tuple[ExcludedSpare, ...]
    advice: tuple[Message, ...]
    warnings: tuple[Message, ...]
