"""The string of modules as numbers: potentials, sections, and what each reading demands.

Here: checks of a localise case against itself, and its translation into arrays. A reading demands
that a sum over the leaks of its section lies in an interval, and everything in it is linear: see
`Constraints`. Not here: what the demands imply (posterior.py).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from packs.physics.circuit import load_resistance
from packs.physics.instrument import CalculationRefused
from packs.physics.localise_case import LocaliseCase, Place, Reading

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class StringFrame:
    """The modules in numbers.

    Parameters
    ----------
    names : tuple of str
        Modules from pack negative.
    ends_cells : ndarray
        Cells below each module border, from 0 to all, [-]
    ends_v : ndarray
        Potential of each module border above pack negative, [V]
    cells_v : ndarray
        Potential of each cell border above pack negative, [V]
    weights : ndarray
        Prior share of each module, summing to 1, [-]
    """

    names: tuple[str, ...]
    ends_cells: Ints
    ends_v: Floats
    cells_v: Floats
    weights: Floats

    def node(self, place: Place | Reading) -> int:
        """Return the module border that a pole is.

        Parameters
        ----------
        place : Place or Reading
            A module and a pole.

        Returns
        -------
        border : int
            0 is pack negative, the number of modules is pack positive, [-]
        """
        index = self.names.index(place.module)
        return index + 1 if place.pole == "pos" else index

    def section(self, place: Place | Reading, open_after: Sequence[str]) -> tuple[int, int]:
        """Return the modules that a pole is connected to.

        Parameters
        ----------
        place : Place or Reading
            A module and a pole.
        open_after : sequence of str
            Modules after which the link is open.

        Returns
        -------
        first, end : tuple of int
            The section holds modules ``first`` to ``end - 1``, [-]
        """
        index = self.names.index(place.module)
        borders = sorted(self.names.index(name) + 1 for name in set(open_after))
        first = max((border for border in borders if border <= index), default=0)
        end = min((border for border in borders if border > index), default=len(self.names))
        return first, end

    def position_cells(self, potential_v: Floats) -> Floats:
        """Return where a potential lies along the string.

        Parameters
        ----------
        potential_v : ndarray
            Above pack negative, [V]

        Returns
        -------
        position_cells : ndarray
            Cells from pack negative, with fraction, [-]
        """
        cells = np.arange(len(self.cells_v), dtype=float)
        return np.asarray(np.interp(potential_v, self.cells_v, cells), dtype=float)


@dataclass(frozen=True, slots=True, kw_only=True)
class Constraints:
    """What each reading demands of the leaks, one array element a reading.

    For the leaks in a reading's section, with total conductance G and conductance-weighted mean
    potential V, and with the string's sound conductance B::

        low_v + (low_b * B + low_0) / G <= V <= high_v + (high_b * B + high_0) / G

    Without a leak in the section the two numerators must be at most and at least zero.

    Parameters
    ----------
    inside : ndarray
        Reading by module: whether the module is in the reading's section.
    low_v : ndarray
        Lower end for a leak of no resistance, [V]
    high_v : ndarray
        Upper end for a leak of no resistance, [V]
    low_b : ndarray
        Lower numerator, factor of the sound conductance, [V]
    high_b : ndarray
        Upper numerator, factor of the sound conductance, [V]
    low_0 : ndarray
        Lower numerator, the meter's part, [A]
    high_0 : ndarray
        Upper numerator, the meter's part, [A]
    """

    inside: Bools
    low_v: Floats
    high_v: Floats
    low_b: Floats
    high_b: Floats
    low_0: Floats
    high_0: Floats

    def without(self, index: int) -> "Constraints":
        """Return the demands of all readings but one.

        Parameters
        ----------
        index : int
            The reading to leave out, [-]

        Returns
        -------
        rest : Constraints
            One reading fewer.
        """
        keep = np.arange(len(self.low_v)) != index
        return Constraints(
            inside=self.inside[keep],
            low_v=self.low_v[keep],
            high_v=self.high_v[keep],
            low_b=self.low_b[keep],
            high_b=self.high_b[keep],
            low_0=self.low_0[keep],
            high_0=self.high_0[keep],
        )


def frame_of(case: LocaliseCase) -> StringFrame:
    """Return the string in numbers, refusing a case that contradicts itself.

    Parameters
    ----------
    case : LocaliseCase
        The input.

    Returns
    -------
    frame : StringFrame
        Potentials and prior weights.

    Raises
    ------
    CalculationRefused
        With the path of the field: unknown or doubled modules, a link after the last module, a
        number of cell voltages that differs from the number of cells, impossible priors.

    Notes
    -----
    The prior weight of a module is its cells times the factor given for it.
    """
    names = tuple(module.name for module in case.modules)
    _check_modules(case, names)
    _check_prior(case, names)
    _check_readings(case, names)
    _check_bounds(case, names)
    cells = np.array([module.cells for module in case.modules], dtype=np.int64)
    ends_cells = np.concatenate([[0], np.cumsum(cells)])
    volts = np.broadcast_to(np.asarray(case.cell_v, dtype=float), (int(ends_cells[-1]),))
    cells_v = np.concatenate([[0.0], np.cumsum(volts)])
    weights = cells * np.array([case.prior.get(name, 1.0) for name in names])
    return StringFrame(
        names=names,
        ends_cells=ends_cells,
        ends_v=cells_v[ends_cells],
        cells_v=cells_v,
        weights=weights / weights.sum(),
    )


def constraints_of(
    case: LocaliseCase, frame: StringFrame, *, inflation: float = 1.0
) -> Constraints:
    """Return what each reading demands of the leaks.

    Parameters
    ----------
    case : LocaliseCase
        The input.
    frame : StringFrame
        Its string, see `frame_of`.
    inflation : float
        Factor on every reading's half-width, above 1 only to look for a suspect, [-]

    Returns
    -------
    constraints : Constraints
        One element a reading.

    Notes
    -----
    The section formula ``v (G + B f + L) = G (V_a - V) + B f (V_a - V_mid)``, with f the section's
    share of the cells and L the meter's conductance with shunt, is solved for V. Half-widths add:
    the reading's a on ``G + B f + L``, two standard deviations of the cell voltages on
    ``G + B f``, the tolerances of meter and shunt on ``v L``. Source: Kirchhoff's laws.
    """
    readings = case.readings
    sections = np.array([frame.section(reading, reading.open_after) for reading in readings])
    nodes_v = frame.ends_v[[frame.node(reading) for reading in readings]]
    volts = np.array([reading.volts for reading in readings])
    half_v = inflation * np.array([case.meter.half_width_v(reading.volts) for reading in readings])
    firsts, ends = frame.ends_cells[sections[:, 0]], frame.ends_cells[sections[:, 1]]
    share = (ends - firsts) / frame.ends_cells[-1]
    spread_v = 2.0 * inflation * case.cell_v_spread_v * np.sqrt(ends - firsts)
    middle_v = 0.5 * (frame.cells_v[ends] + frame.cells_v[firsts])
    load, load_half = _loads(case)
    modules = np.arange(len(frame.names))
    tolerance_v = half_v + spread_v
    meter_half_a = half_v * load + np.abs(volts) * load_half
    return Constraints(
        inside=(modules >= sections[:, :1]) & (modules < sections[:, 1:]),
        low_v=nodes_v - volts - tolerance_v,
        high_v=nodes_v - volts + tolerance_v,
        low_b=share * (nodes_v - middle_v - volts - tolerance_v),
        high_b=share * (nodes_v - middle_v - volts + tolerance_v),
        low_0=-volts * load - meter_half_a,
        high_0=-volts * load + meter_half_a,
    )


def _loads(case: LocaliseCase) -> tuple[Floats, Floats]:
    """Conductance of the meter with shunt in each reading, and its half-width."""
    meter = 1.0 / case.meter.input_ohm
    total = np.array(
        [1.0 / load_resistance(case.meter.input_ohm, each.shunt_ohm) for each in case.readings]
    )
    half = meter * case.meter.input_tolerance_percent / 100.0
    return total, half + (total - meter) * case.shunt_tolerance_percent / 100.0


def _check_modules(case: LocaliseCase, names: tuple[str, ...]) -> None:
    """Refuse strings that cannot be."""
    if not names:
        raise CalculationRefused("modules", "name at least one module")
    for index, module in enumerate(case.modules):
        if module.name in names[:index]:
            raise CalculationRefused(f"modules.{index}.name", "is named twice; rename one")
        if module.cells < 1:
            raise CalculationRefused(f"modules.{index}.cells", "must be at least 1")
    cells = sum(module.cells for module in case.modules)
    given = np.size(case.cell_v)
    if np.ndim(case.cell_v) and given != cells:
        raise CalculationRefused("cell_v", f"gives {given} cells, the modules have {cells}")
    if np.min(case.cell_v) <= 0.0:
        raise CalculationRefused("cell_v", "must be above zero for every cell")


def _check_prior(case: LocaliseCase, names: tuple[str, ...]) -> None:
    """Refuse priors that cannot be."""
    for name, factor in case.prior.items():
        if name not in names:
            raise CalculationRefused(f"prior.{name}", "is not one of the modules")
        if factor < 0.0:
            raise CalculationRefused(f"prior.{name}", "must be zero or more")
    if not any(case.prior.get(name, 1.0) > 0.0 for name in names):
        raise CalculationRefused("prior", "leaves no module that may leak")
    if case.none_prior + case.several_prior >= 1.0:
        raise CalculationRefused("several_prior", "must leave room for one leak beside none_prior")


def _check_readings(case: LocaliseCase, names: tuple[str, ...]) -> None:
    """Refuse readings that name what is not there."""
    if not case.readings:
        raise CalculationRefused("readings", "give at least one reading")
    for index, reading in enumerate(case.readings):
        path = f"readings.{index}"
        if reading.module not in names:
            raise CalculationRefused(f"{path}.module", "is not one of the modules")
        if reading.shunt_ohm is not None and not reading.shunt_ohm > 0.0:
            raise CalculationRefused(f"{path}.shunt_ohm", "must be above zero, or null without")
        for link, name in enumerate(reading.open_after):
            _check_link(f"{path}.open_after.{link}", name, names)


def _check_bounds(case: LocaliseCase, names: tuple[str, ...]) -> None:
    """Refuse bounds on the proposals that name what is not there."""
    for index, place in enumerate(case.reachable or ()):
        if place.module not in names:
            raise CalculationRefused(f"reachable.{index}.module", "is not one of the modules")
    for index, name in enumerate(case.openable or ()):
        _check_link(f"openable.{index}", name, names)


def _check_link(path: str, name: str, names: tuple[str, ...]) -> None:
    """Refuse a link that does not exist."""
    if name not in names:
        raise CalculationRefused(path, "is not one of the modules")
    if name == names[-1]:
        raise CalculationRefused(path, "is the last module; no series link follows it")
