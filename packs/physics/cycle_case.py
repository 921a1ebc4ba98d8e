"""What cycle is asked and what it answers, field by field as the interface names them.

Here: the log as it was understood, the case and the result. Not here: how a file becomes a log
(packs/logs), nor how the answer is found (cycle.py).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from packs.physics.instrument import Message, Verdict

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleLog:
    """A log as it was understood: time rises, charging current is positive, volts are volts.

    Parameters
    ----------
    time_s : ndarray
        Rows: seconds since the first row, strictly rising, [s]
    current_a : ndarray
        Rows: current of the string, positive while charging, NaN where missing, [A]
    cell_v : ndarray
        Rows by cells, in series order from pack negative, NaN where missing, [V]
    temperature_c : ndarray
        Rows by sensors, NaN where missing; no columns when none were named, [°C]
    gaps_s : tuple of float
        Lengths of the pauses in the log that are far longer than its usual step, [s]
    repairs : tuple of Message
        What was repaired because only one reading was possible; becomes warnings.
    doubts : tuple of Message
        What could be read in more than one way; any of them makes the verdict undecided.
    """

    time_s: Floats
    current_a: Floats
    cell_v: Floats
    temperature_c: Floats
    gaps_s: tuple[float, ...] = ()
    repairs: tuple[Message, ...] = ()
    doubts: tuple[Message, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleModule:
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
class CycleLimits:
    """What the spreads may come to, shop defaults.

    Parameters
    ----------
    spread_rest_mv : float
        Highest less lowest cell at rest, [mV]
    spread_top_mv : float
        The same at the end of the charge, [mV]
    spread_load_mv : float
        The same under load, [mV]
    temperature_spread_c : float
        Warmest less coldest sensor, [°C]
    """

    spread_rest_mv: float = 20.0
    spread_top_mv: float = 30.0
    spread_load_mv: float = 100.0
    temperature_spread_c: float = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleCase:
    """A log as it was understood, and the string it was taken from.

    Parameters
    ----------
    log : CycleLog
        The log.
    modules : Sequence of CycleModule
        In series order from pack negative; their cells add up to the columns of the log.
    replaced : Sequence of str
        Names of the modules that are new in this string.
    rated_ah : float | None
        Capacity of a new string, [Ah]
    curve : str | None
        Name of the open-circuit-voltage curve of the cells.
    limits : CycleLimits
        What the spreads may come to.
    """

    log: CycleLog
    modules: Sequence[CycleModule]
    replaced: Sequence[str] = ()
    rated_ah: float | None = None
    curve: str | None = None
    limits: CycleLimits = CycleLimits()


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleWindow:
    """The median cell's state of charge at the two ends of the counted charge, in time order.

    Parameters
    ----------
    from_soc_percent : float
        At its start, [%]
    to_soc_percent : float
        At its end, [%]
    from_cell_v, to_cell_v : float | None
        Rested voltage of the median cell there, None without a curve, [V]
    """

    from_soc_percent: float
    to_soc_percent: float
    from_cell_v: float | None = None
    to_cell_v: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleCell:
    """What the log says about one cell.

    Parameters
    ----------
    index : int
        Counted from 1, in series order from pack negative.
    module : str
        Name of its module.
    offset_mv : float | None
        Against the median cell at the best rest, [mV]
    resistance_mohm : float | None
        From the steps of the current, with its 95 % interval, [mohm]
    capacity_ah : float | None
        From the counted window, [Ah]
    flag : str
        Empty, high_resistance, low_capacity, offset or sensor.
    flags : tuple of str
        All that hold, the most telling first.
    """

    index: int
    module: str
    offset_mv: float | None
    resistance_mohm: float | None
    resistance_mohm_low: float | None
    resistance_mohm_high: float | None
    capacity_ah: float | None
    flag: str
    flags: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplacedModule:
    """How a new module sits in the string: mean of its cells against the median of the others.

    Parameters
    ----------
    name : str
        Of the module.
    offset_top_mv : float | None
        At the end of the charge, [mV]
    offset_bottom_mv : float | None
        At the lowest point, [mV]
    offset_load_mv : float | None
        Under the strongest load, [mV]
    verdict : Verdict
        Whether it stays within what it may differ by.
    why : str
        The same in words.
    """

    name: str
    offset_top_mv: float | None
    offset_bottom_mv: float | None
    offset_load_mv: float | None
    verdict: Verdict
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleResult:
    """How the string behaved; every figure is None where the log does not carry it.

    Parameters
    ----------
    capacity_ah : float | None
        Of the median cell, with its 95 % interval, [Ah]
    capacity_from : str | None
        ``rests`` when scaled through the curve, ``full_window`` without a curve.
    weakest_cell : int | None
        The cell of the smallest capacity, counted from 1.
    counted_ah : float | None
        Charge counted between the ends of the window, a magnitude, [Ah]
    counted_u_ah : float | None
        Its standard deviation from offset, noise and sampling, [Ah]
    counted_gap_ah : float | None
        Half-width of what gaps inside the window lost, [Ah]
    energy_wh : float | None
        Of the window, or of the larger of charge and discharge without one, [Wh]
    energy_of : str | None
        ``charge`` or ``discharge``.
    spread_rest_mv, spread_top_mv, spread_bottom_mv, spread_load_mv : float | None
        Highest less lowest cell, with its 95 % interval, and the cell that makes it, [mV]
    temperature_spread_c : float | None
        Warmest less coldest sensor, with its 95 % interval, [°C]
    """

    capacity_ah: float | None
    capacity_ah_low: float | None
    capacity_ah_high: float | None
    capacity_from: str | None
    weakest_cell: int | None
    weakest_module: str | None
    weakest_capacity_ah: float | None
    weakest_capacity_ah_low: float | None
    weakest_capacity_ah_high: float | None
    counted_ah: float | None
    counted_u_ah: float | None
    counted_gap_ah: float | None
    energy_wh: float | None
    energy_of: str | None
    state_of_health_percent: float | None
    state_of_health_percent_low: float | None
    state_of_health_percent_high: float | None
    window: CycleWindow | None
    spread_rest_mv: float | None
    spread_rest_mv_low: float | None
    spread_rest_mv_high: float | None
    spread_rest_cell: int | None
    spread_top_mv: float | None
    spread_top_mv_low: float | None
    spread_top_mv_high: float | None
    spread_top_cell: int | None
    spread_bottom_mv: float | None
    spread_bottom_mv_low: float | None
    spread_bottom_mv_high: float | None
    spread_bottom_cell: int | None
    spread_load_mv: float | None
    spread_load_mv_low: float | None
    spread_load_mv_high: float | None
    spread_load_cell: int | None
    temperature_spread_c: float | None
    temperature_spread_c_low: float | None
    temperature_spread_c_high: float | None
    cells: tuple[CycleCell, ...]
    replaced: tuple[ReplacedModule, ...]
    verdict: Verdict
    gaps_s: tuple[float, ...]
    advice: tuple[Message, ...]
    warnings: tuple[Message, ...]
