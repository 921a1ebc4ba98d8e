"""What localise is asked and what it answers, field by field as the interface names them.

Here: the input and result records of the calculation. Not here: how the answer is found
(localise.py, posterior.py) and how JSON becomes these records (packs/calculations.py).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from packs.physics.instrument import Message, Meter

Pole = Literal["pos", "neg"]
POLES: tuple[Pole, Pole] = ("pos", "neg")
LocaliseVerdict = Literal["named", "narrowed", "undecided", "no_leak"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Module:
    """One module of the string.

    Parameters
    ----------
    name : str
        Its name on the pack map.
    cells : int
        Cells in series, [-]
    """

    name: str
    cells: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A pole that a test lead can be put on.

    Parameters
    ----------
    module : str
        Name of the module.
    pole : str
        ``"pos"`` or ``"neg"``.
    """

    module: str
    pole: Pole


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One settled voltage from a pole to the enclosure.

    Parameters
    ----------
    module : str
        Module whose pole was read.
    pole : str
        ``"pos"`` or ``"neg"``.
    open_after : tuple of str
        Modules after whose positive pole the series link was open.
    shunt_ohm : float or None
        Resistor across the meter, None without, [ohm]
    volts : float
        Pole relative to enclosure, signed, [V]
    """

    module: str
    pole: Pole
    open_after: tuple[str, ...] = ()
    shunt_ohm: float | None = None
    volts: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LocaliseCase:
    """Everything known before asking which module leaks.

    Parameters
    ----------
    modules : tuple of Module
        In series order from pack negative.
    cell_v : float or sequence of float
        Voltage of every cell, or one for each, [V]
    cell_v_spread_v : float
        Standard deviation of the cells about `cell_v`, [V]
    meter : Meter
        The voltmeter used for all readings.
    shunt_tolerance_percent : float
        Rectangular half-width of the shunt, [%]
    readings : tuple of Reading
        In the order they were taken; the last one tells which links are open now.
    prior : mapping of str to float
        How much likelier a module is to leak than one not mentioned, [-]
    several_prior : float
        Probability of two leaks before any reading, [-]
    none_prior : float
        Probability of no leak before any reading, [-]
    propose : bool
        Whether next readings are wanted.
    reachable : tuple of Place or None
        Where a lead can be put now; None for everywhere.
    openable : tuple of str or None
        Modules after which the link may be opened; None for every link.
    """

    modules: tuple[Module, ...]
    cell_v: float | Sequence[float]
    meter: Meter
    readings: tuple[Reading, ...]
    cell_v_spread_v: float = 0.01
    shunt_tolerance_percent: float = 1.0
    prior: Mapping[str, float] = field(default_factory=dict)
    several_prior: float = 0.05
    none_prior: float = 0.02
    propose: bool = True
    reachable: tuple[Place, ...] | None = None
    openable: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ModuleProbability:
    """A module and the probability that it leaks, given that at least one does.

    Parameters
    ----------
    name : str
        The module.
    probability : float
        Between 0 and 1, [-]
    """

    name: str
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak:
    """One leak of the likeliest explanation, with 95 % intervals.

    Parameters
    ----------
    module : str
        The module it is in.
    leak_ohm : float
        Its resistance, [ohm]
    leak_ohm_low : float
        Lower end, [ohm]
    leak_ohm_high : float
        Upper end, [ohm]
    position_cells : float
        Cells from pack negative, with fraction, [-]
    position_cells_low : float
        Lower end, [-]
    position_cells_high : float
        Upper end, [-]
    """

    module: str
    leak_ohm: float
    leak_ohm_low: float
    leak_ohm_high: float
    position_cells: float
    position_cells_low: float
    position_cells_high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A reading that may be wrong.

    Parameters
    ----------
    reading : int
        Its index, [-]
    probability : float
        That it is wrong, [-]
    because : Message
        The likeliest slip: ``sign``, ``pole``, ``decimal``, ``digits``, ``shunt``, ``unexplained``.
    """

    reading: int
    probability: float
    because: Message


@dataclass(frozen=True, slots=True, kw_only=True)
class NextReading:
    """A reading worth taking next.

    Parameters
    ----------
    module : str
        Module whose pole to read.
    pole : str
        ``"pos"`` or ``"neg"``.
    open_after : tuple of str
        Links to have open, named by the module before them.
    shunt_ohm : float or None
        Resistor across the meter, None without, [ohm]
    gain_bits : float
        Expected drop in the uncertainty about which modules leak, [bit]
    why : str
        The reason in words.
    """

    module: str
    pole: Pole
    open_after: tuple[str, ...]
    shunt_ohm: float | None
    gain_bits: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LocaliseResult:
    """Which module leaks, and how sure that is.

    Parameters
    ----------
    verdict : str
        ``"named"``, ``"narrowed"``, ``"undecided"`` or ``"no_leak"``.
    confirmed : bool
        Readings with the links on both sides open leave no other explanation.
    modules : tuple of ModuleProbability
        All modules, likeliest first.
    likely : tuple of str
        Smallest set that holds every leaking module with 95 %.
    leak_ohm : float or None
        Resistance of the most conductive leak, None when no leak explains the readings, [ohm]
    leak_ohm_low : float or None
        Lower end of its 95 % interval, [ohm]
    leak_ohm_high : float or None
        Upper end, [ohm]
    position_cells : float or None
        Where it is, cells from pack negative, [-]
    position_cells_low : float or None
        Lower end of its 95 % interval, [-]
    position_cells_high : float or None
        Upper end, [-]
    leaks : tuple of Leak
        Each leak of the likeliest explanation.
    several_leaks_probability : float
        Probability of two leaks, given at least one, [-]
    hand_rule_module : str or None
        What dividing the largest reading by the cell voltage would name.
    next_readings : tuple of NextReading
        Most telling first.
    inconsistent : bool
        No explanation fits all readings.
    suspect_reading : int or None
        Index of the reading that disagrees most, when inconsistent, [-]
    suspect_because : Message or None
        What probably went wrong with it, when inconsistent.
    suspects : tuple of Suspect
        All readings that may be wrong, likeliest first, also while none is accused.
    warnings : tuple of Message
        What to keep in mind.
    """

    verdict: LocaliseVerdict
    confirmed: bool
    modules: tuple[ModuleProbability, ...]
    likely: tuple[str, ...]
    leak_ohm: float | None = None
    leak_ohm_low: float | None = None
    leak_ohm_high: float | None = None
    position_cells: float | None = None
    position_cells_low: float | None = None
    position_cells_high: float | None = None
    leaks: tuple[Leak, ...]
    several_leaks_probability: float
    hand_rule_module: str | None
    next_readings: tuple[NextReading, ...]
    inconsistent: bool
    suspect_reading: int | None
    suspect_because: Message | None = None
    suspects: tuple[Suspect, ...] = ()
    warnings: tuple[Message, ...]
