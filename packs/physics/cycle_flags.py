"""Which cells stand out, and how the new modules sit among the others.

Here: the rules with their thresholds. Not here: the figures they judge, nor the verdict on the
string (cycle_verdict.py).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from packs.physics.cycle_capacity import Capacity
from packs.physics.cycle_case import CycleCell, CycleModule, Floats, ReplacedModule
from packs.physics.cycle_channels import Channels, Flags
from packs.physics.cycle_resistance import Resistances
from packs.physics.cycle_spread import MV_PER_V, Spread, Spreads
from packs.physics.instrument import SQRT_3, CalculationRefused, Verdict, half_width_95
from packs.words import joined, told

RESISTANCE_RATIO = 1.3
"""A cell of 1.3 times the median resistance stands out: shop default, no source."""
CAPACITY_RATIO = 0.95
"""A cell of less than 0.95 times the median capacity stands out: shop default, no source."""
OFFSET_MV = 15.0
"""A rested cell further from the median stands out: shop default, no source."""
SCATTERS = 4.0
"""And it must lie four times the scatter of the others away: shop default, no source."""
FEWEST_CELLS = 4
INNER_TO_ALL = 1.51
"""Standard deviation of a bell over that of its inner four fifths."""
NEW_MODULE_MV = 30.0
"""A new module may be the extreme of the string by so much: shop default, no source."""
FLAGS = ("sensor", "high_resistance", "low_capacity", "offset")
"""The most telling first."""
MOMENTS = ("top", "bottom", "load")
_AT = {
    "top": "at the end of the charge",
    "bottom": "at the lowest point",
    "load": "under the strongest load",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What is known of the cells.

    Parameters
    ----------
    channels : Channels
        With the cells that can be trusted.
    resistances : Resistances | None
        From the steps.
    capacity : Capacity | None
        From the window.
    spreads : Spreads
        With the rested voltages.
    """

    channels: Channels
    resistances: Resistances | None
    capacity: Capacity | None
    spreads: Spreads


def module_of_each_cell(modules: Sequence[CycleModule], cells: int) -> tuple[str, ...]:
    """Return the name of each cell's module.

    Parameters
    ----------
    modules : Sequence of CycleModule
        In series order.
    cells : int
        Columns of the log, [-]

    Returns
    -------
    names : tuple of str
        One for each cell.

    Raises
    ------
    CalculationRefused
        When the cells of the modules are not those of the log.

    Notes
    -----
    Cells stand in series order from pack negative, module by module.

    Examples
    --------
    >>> module_of_each_cell([CycleModule(name="M1", cells=2), CycleModule(name="M2", cells=1)], 3)
    ('M1', 'M1', 'M2')
    """
    names = tuple(module.name for module in modules for _ in range(module.cells))
    if len(names) != cells:
        text = told(
            "have {together} cells together, the log has {cells}: name every module once",
            together=len(names),
            cells=cells,
        )
        raise CalculationRefused("modules", text)
    return names


def cells_of(figures: Figures, names: Sequence[str]) -> tuple[CycleCell, ...]:
    """Return what the log says about each cell, with its flag.

    Parameters
    ----------
    figures : Figures
        Resistances, capacities and rested voltages.
    names : Sequence of str
        Module of each cell.

    Returns
    -------
    cells : tuple of CycleCell
        In series order, counted from 1.

    Notes
    -----
    A cell stands out when it passes a threshold and lies four times the others' scatter (from their
    median absolute deviation or their inner four fifths, whichever is smaller, or its own error
    where that is larger) from the median:
    resistance 1.3 times, capacity below 0.95 times, rested voltage 15 mV off. Shop defaults, no
    source. A rest in a steep end of the curve shows no offset. A cell that cannot be trusted has no
    figures.
    """
    flags = _flags(figures)
    resistances, capacity, rest = figures.resistances, figures.capacity, figures.spreads.rest
    trusted = figures.channels.trusted
    found = []
    for cell, name in enumerate(names):
        shown = bool(trusted[cell])
        own = tuple(flag for flag in FLAGS if flags[flag][cell])
        ohm = half = None
        if resistances is not None and shown:
            ohm, half = float(resistances.ohm[cell]) * 1e3, float(resistances.half_ohm[cell]) * 1e3
        by_cell = capacity.cells_ah if capacity is not None else None
        found.append(
            CycleCell(
                index=cell + 1,
                module=name,
                offset_mv=float(_offsets_mv(rest, trusted)[cell]) if rest and shown else None,
                resistance_mohm=ohm,
                resistance_mohm_low=None if ohm is None or half is None else ohm - half,
                resistance_mohm_high=None if ohm is None or half is None else ohm + half,
                capacity_ah=float(by_cell[cell]) if by_cell is not None and shown else None,
                flag=own[0] if own else "",
                flags=own,
            )
        )
    return tuple(found)


def _offsets_mv(rest: Spread, trusted: Flags) -> Floats:
    """Return each cell against the median of the trusted ones."""
    return (rest.cell_v - float(np.median(rest.cell_v[trusted]))) * MV_PER_V


def _flags(figures: Figures) -> dict[str, Flags]:
    """Return for each flag the cells that carry it."""
    trusted = figures.channels.trusted
    found = {flag: np.zeros(trusted.size, dtype=np.bool_) for flag in FLAGS}
    found["sensor"] = ~trusted
    if np.count_nonzero(trusted) < FEWEST_CELLS:
        return found
    resistances, capacity, rest = figures.resistances, figures.capacity, figures.spreads.rest
    if resistances is not None:
        ratio, middle = _ratios(resistances.ohm, trusted)
        if middle > 0.0:
            far = _far(ratio, resistances.own_u_ohm / middle, trusted)
            found["high_resistance"] = far & (ratio > RESISTANCE_RATIO)
    if capacity is not None and capacity.cells_ah is not None:
        ratio, _ = _ratios(capacity.cells_ah, trusted)
        far = _far(ratio, np.asarray(capacity.own_u_share) * ratio, trusted)
        found["low_capacity"] = far & (ratio < CAPACITY_RATIO)
    if rest is not None and not figures.spreads.rest_in_knee:
        offset_mv = _offsets_mv(rest, trusted)
        step_mv = figures.channels.resolution_v * MV_PER_V
        own_mv = math.hypot(rest.noise_v * MV_PER_V, step_mv / 2.0 / SQRT_3)
        far = _far(offset_mv, np.full(trusted.size, own_mv), trusted)
        found["offset"] = far & (np.abs(offset_mv) > OFFSET_MV + step_mv / 2.0)
    return found


def _ratios(values: Floats, trusted: Flags) -> tuple[Floats, float]:
    """Return values against their median, and the median."""
    middle = float(np.median(values[trusted]))
    return values / middle if middle else values, middle


def _far(values: Floats, own_u: Floats, trusted: Flags) -> Flags:
    """Tell which trusted cells lie outside the scatter of the others."""
    away = np.abs(values - np.median(values[trusted]))
    inner = np.sort(values[trusted])[int(0.1 * np.count_nonzero(trusted)) :]
    inner = inner[: inner.size - int(0.1 * np.count_nonzero(trusted))]
    scatter = min(1.4826 * float(np.median(away[trusted])), INNER_TO_ALL * float(inner.std()))
    return (away > SCATTERS * np.maximum(scatter, own_u)) & trusted


def replaced_modules(
    figures: Figures, names: Sequence[str], replaced: Sequence[str]
) -> tuple[ReplacedModule, ...]:
    """Return how each new module sits in the string.

    Parameters
    ----------
    figures : Figures
        With the voltages at the moments looked at.
    names : Sequence of str
        Module of each cell.
    replaced : Sequence of str
        Names of the new modules.

    Returns
    -------
    modules : tuple of ReplacedModule
        In the order asked.

    Raises
    ------
    CalculationRefused
        When a name is none of the modules.

    Notes
    -----
    ``offset = mean(U of the module) - median(U of all other cells)`` at the end of the charge, at
    the lowest point and under the strongest load. None may exceed 30 mV (shop default, no source).
    """
    found = []
    for place, name in enumerate(replaced):
        if name not in names:
            text = told(
                '"{name}" is none of the modules: {known}',
                name=name,
                known=", ".join(dict.fromkeys(names)),
            )
            raise CalculationRefused(f"replaced.{place}", text)
        inside = np.array([other == name for other in names])
        offsets = {
            moment: _module_offset(figures, getattr(figures.spreads, moment), inside)
            for moment in MOMENTS
        }
        found.append(_judged(name, offsets))
    return tuple(found)


def _module_offset(
    figures: Figures, spread: Spread | None, inside: Flags
) -> tuple[float, float] | None:
    """Return a module's offset and half-width in millivolts."""
    trusted = figures.channels.trusted
    own, others = inside & trusted, ~inside & trusted
    if spread is None or not own.any() or not others.any():
        return None
    offset_v = float(spread.cell_v[own].mean() - np.median(spread.cell_v[others]))
    noise_v = spread.noise_v / math.sqrt(np.count_nonzero(own))
    half_v = half_width_95([figures.channels.resolution_v / 2.0], noise_v)
    return offset_v * MV_PER_V, half_v * MV_PER_V


def _judged(name: str, offsets: dict[str, tuple[float, float] | None]) -> ReplacedModule:
    """Judge one new module by its offsets."""
    known = {moment: offset for moment, offset in offsets.items() if offset is not None}
    over = [m for m, (mv, half) in known.items() if abs(mv) - half > NEW_MODULE_MV]
    close = [m for m, (mv, half) in known.items() if abs(mv) + half > NEW_MODULE_MV]
    missing = [moment for moment in MOMENTS if moment not in known]
    if over:
        verdict, why = Verdict.FAIL, _apart({moment: known[moment][0] for moment in over})
    elif close or missing:
        verdict, where = Verdict.UNDECIDED, joined([_AT[m] for m in (close or missing)])
        why = (
            told("The readings do not decide it {where}.", where=where)
            if close
            else told("The log does not show it {where}.", where=where)
        )
    else:
        verdict, furthest = Verdict.PASS, max(known, key=lambda m: abs(known[m][0]))
        why = told(
            "It stays within {allowed_mv:g} mV of the other cells; furthest {where} "
            "with {apart_mv:+.1f} mV.",
            allowed_mv=NEW_MODULE_MV,
            where=_AT[furthest],
            apart_mv=known[furthest][0],
        )
    top, bottom, load = (offsets[moment] for moment in MOMENTS)
    return ReplacedModule(
        name=name,
        offset_top_mv=top[0] if top else None,
        offset_bottom_mv=bottom[0] if bottom else None,
        offset_load_mv=load[0] if load else None,
        verdict=verdict,
        why=why,
    )


def _apart(offsets_mv: dict[str, float]) -> str:
    """Say by how much a module stands apart, and when."""
    by = [
        told("{apart_mv:+.1f} mV {where}", apart_mv=apart_mv, where=_AT[moment])
        for moment, apart_mv in offsets_mv.items()
    ]
    return told(
        "It stands apart from the other cells by {by}; {allowed_mv:g} mV are allowed.",
        by=joined(by),
        allowed_mv=NEW_MODULE_MV,
    )
