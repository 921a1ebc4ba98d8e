"""The string of modules as numbers: potentials and sections.

Here: checks of a localise case against itself, and its modules as arrays. Not here: the readings
(localise_spots.py) and what they imply (posterior.py).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from packs.physics.circuit import load_resistance
from packs.physics.instrument import CalculationRefused
from packs.physics.localise_case import LocaliseCase, Place, Reading
from packs.words import told

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
    load_resistance(case.meter.input_ohm)
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
        raise CalculationRefused(
            "cell_v",
            told("gives {given} cells, the modules have {cells}", given=given, cells=cells),
        )
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
