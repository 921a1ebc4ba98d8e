"""Whether a repaired string behaved in a charge, a discharge or a drive.

Here: the calculation as a whole, from the log to the result. Not here: its parts (the other
modules of that name), nor how a file becomes a log (packs/logs).
"""

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

import numpy as np

from packs.physics.cycle_capacity import Capacity, capacity_by_curve, places_of
from packs.physics.cycle_case import CycleCase, CycleCell, CycleResult, CycleWindow, ReplacedModule
from packs.physics.cycle_channels import Channels, channels_of
from packs.physics.cycle_findings import Findings
from packs.physics.cycle_flags import Figures, cells_of, module_of_each_cell, replaced_modules
from packs.physics.cycle_full_window import capacity_of_full_window
from packs.physics.cycle_phases import Phases, phases_of
from packs.physics.cycle_resistance import Resistances, resistances_of
from packs.physics.cycle_spread import Spread, spreads_of
from packs.physics.cycle_verdict import Judged, nothing_decided, verdict_of
from packs.physics.instrument import COVERAGE_95, Verdict
from packs.physics.ocv import Curve, curve_named

Fields = dict[str, Any]
SHARES = ("", "_low", "_high")
JUDGED = {"cells", "replaced", "verdict", "gaps_s", "advice", "warnings"}


def cycle(case: CycleCase) -> CycleResult:
    """Judge the log of a charge, a discharge or a drive.

    Parameters
    ----------
    case : CycleCase
        The log, the modules, what is new in the string, the curve and the limits, [V], [A] and [mV]

    Returns
    -------
    result : CycleResult
        Capacity, spreads, cells and the verdict, [Ah], [Wh], [mV] and [mohm]

    Raises
    ------
    CalculationRefused
        When the modules' cells are not those of the log, a replaced module is none of them, or
        there is no curve of that name.

    Notes
    -----
    ``C = |Q|/(s_2 - s_1)`` with the charge Q between two rests and the states of charge s of the
    rested cells on the curve, median over the cells; ``R = dV/dI`` from the steps of the current;
    ``spread = max(U_k) - min(U_k)``. Assumes one current through all cells, cells of one type and a
    current sensor whose gain is within 1 %. What each part assumes stands with it. Source: charge
    counting and Ohm's law; IEC 62660-1 for the resistance from a step; JCGM 100:2008 for the
    errors; thresholds and limits are shop defaults.

    Examples
    --------
    >>> from packs.physics.cycle_case import CycleLog, CycleModule
    >>> time_s = np.arange(0.0, 7200.0, 20.0)
    >>> current_a = np.where((time_s > 1800.0) & (time_s < 5400.0), 10.0, 0.0)
    >>> charge_ah = np.cumsum(current_a) * 20.0 / 3600.0
    >>> soc = 40.0 + charge_ah / 25.0 * 100.0
    >>> curve = curve_named("nmc532_graphite")
    >>> volts = np.interp(soc, curve.soc_percent, curve.ocv_v) + 0.001 * current_a
    >>> log = CycleLog(
    ...     time_s=time_s,
    ...     current_a=current_a,
    ...     cell_v=np.column_stack([volts] * 6),
    ...     temperature_c=np.zeros((360, 0)),
    ... )
    >>> modules = [CycleModule(name="M1", cells=6)]
    >>> result = cycle(CycleCase(log=log, modules=modules, curve="nmc532_graphite"))
    >>> round(result.capacity_ah, 1), result.verdict.value
    (25.0, 'undecided')
    """
    names = module_of_each_cell(case.modules, case.log.cell_v.shape[1])
    curve = curve_named(case.curve) if case.curve is not None else None
    channels = channels_of(case.log)
    if channels is None:
        return _nothing(case, names)
    phases = phases_of(channels)
    resistances = resistances_of(channels, phases)
    capacity = _capacity(channels, phases, resistances, curve)
    figures = Figures(
        channels=channels,
        resistances=resistances,
        capacity=capacity,
        spreads=spreads_of(channels, phases, curve),
    )
    cells = cells_of(figures, names)
    replaced = replaced_modules(figures, names, case.replaced)
    judged = verdict_of(
        Findings(
            case=case,
            curve=curve,
            figures=figures,
            phases=phases,
            cells=cells,
            replaced=replaced,
        )
    )
    return CycleResult(
        **_capacity_fields(case, capacity, cells),
        **_energy_fields(channels, phases, capacity),
        **_spread_fields(figures),
        window=_window(capacity),
        cells=cells,
        replaced=replaced,
        verdict=judged.verdict,
        gaps_s=tuple(case.log.gaps_s),
        advice=judged.advice,
        warnings=judged.warnings,
    )


def _capacity(
    channels: Channels, phases: Phases, resistances: Resistances | None, curve: Curve | None
) -> Capacity | None:
    """Return the capacity through the curve, or else from a window that is visibly full."""
    found = None
    if curve is not None:
        places = places_of(channels, phases, resistances)
        found = capacity_by_curve(channels, phases, places, curve)
    return found or capacity_of_full_window(channels, phases, resistances)


def _window(capacity: Capacity | None) -> CycleWindow | None:
    """Return the ends of the window."""
    if capacity is None:
        return None
    return CycleWindow(
        from_soc_percent=capacity.from_percent,
        to_soc_percent=capacity.to_percent,
        from_cell_v=capacity.from_v,
        to_cell_v=capacity.to_v,
    )


def _capacity_fields(
    case: CycleCase, capacity: Capacity | None, cells: Sequence[CycleCell]
) -> Fields:
    """Return capacity, state of health and the weakest cell."""
    found: Fields = {"capacity_from": None}
    three: tuple[float | None, ...] = (None, None, None)
    if capacity is not None:
        three = (capacity.ah, capacity.low_ah, capacity.high_ah)
        found["capacity_from"] = "rests" if capacity.by_curve else "full_window"
    for share, value in zip(SHARES, three, strict=True):
        found[f"capacity_ah{share}"] = value
        known = value is not None and case.rated_ah is not None
        found[f"state_of_health_percent{share}"] = (
            value / case.rated_ah * 100.0 if known and value and case.rated_ah else None
        )
    return found | _weakest_fields(capacity, cells)


def _weakest_fields(capacity: Capacity | None, cells: Sequence[CycleCell]) -> Fields:
    """Return the cell of the smallest capacity; its own error comes on top of the shared ones."""
    known = [(cell.capacity_ah, cell) for cell in cells if cell.capacity_ah is not None]
    names = ["weakest_cell", "weakest_module", *(f"weakest_capacity_ah{s}" for s in SHARES)]
    if not known or capacity is None or capacity.own_u_share is None:
        return dict.fromkeys(names)
    weakest_ah, cell = min(known, key=lambda pair: pair[0])
    own = COVERAGE_95 * float(capacity.own_u_share[cell.index - 1])
    below = np.hypot(own, 1.0 - capacity.low_ah / capacity.ah)
    above = np.hypot(own, capacity.high_ah / capacity.ah - 1.0)
    values = (weakest_ah, weakest_ah * float(1.0 - below), weakest_ah * float(1.0 + above))
    return dict(zip(names, (cell.index, cell.module, *values), strict=True))


def _energy_fields(channels: Channels, phases: Phases, capacity: Capacity | None) -> Fields:
    """Return charge and energy of the window, or between the extremes of the count without one."""
    if capacity is not None:
        first, last = capacity.first, capacity.last
    else:
        ends = (int(phases.count_ah.argmin()), int(phases.count_ah.argmax()))
        first, last = min(ends), max(ends)
    counted = phases.between(first, last)
    moved_ah = counted.charge_ah
    if moved_ah == 0.0:
        names = ("counted_ah", "counted_u_ah", "counted_gap_ah", "energy_wh", "energy_of")
        return dict.fromkeys(names)
    trusted = channels.trusted
    rows = slice(first, last + 1)
    # A cell that cannot be trusted carries the mean of the others.
    share = trusted * (trusted.size / np.count_nonzero(trusted))
    string_v = channels.cell_v[rows] @ share
    steps_ah = np.diff(phases.count_ah[rows])
    energy_wh = float(np.sum(steps_ah * (string_v[1:] + string_v[:-1]) / 2.0))
    return {
        "counted_ah": abs(moved_ah),
        "counted_u_ah": counted.normal_ah,
        "counted_gap_ah": counted.gap_ah,
        "energy_wh": abs(energy_wh),
        "energy_of": "charge" if moved_ah > 0.0 else "discharge",
    }


def _spread_fields(figures: Figures) -> Fields:
    """Return the spreads with their intervals and the cell that makes each."""
    spreads = figures.spreads
    found: Fields = {}
    for name in ("rest", "top", "bottom", "load"):
        spread: Spread | None = getattr(spreads, name)
        found[f"spread_{name}_mv"] = spread.mv if spread else None
        found[f"spread_{name}_mv_low"] = spread.low_mv if spread else None
        found[f"spread_{name}_mv_high"] = spread.high_mv if spread else None
        found[f"spread_{name}_cell"] = spread.cell + 1 if spread else None
    found["temperature_spread_c"] = spreads.temperature_c
    found["temperature_spread_c_low"] = spreads.temperature_low_c
    found["temperature_spread_c_high"] = spreads.temperature_high_c
    return found


def _nothing(case: CycleCase, names: Sequence[str]) -> CycleResult:
    """Return the result of a log that carries no figures."""
    judged: Judged = nothing_decided(case)
    empty: Fields = dict.fromkeys(
        field.name for field in fields(CycleResult) if field.name not in JUDGED
    )
    return CycleResult(
        **empty,
        cells=tuple(_unknown_cell(place, name) for place, name in enumerate(names)),
        replaced=tuple(_unknown_module(name) for name in case.replaced),
        verdict=judged.verdict,
        gaps_s=tuple(case.log.gaps_s),
        advice=judged.advice,
        warnings=judged.warnings,
    )


def _unknown_cell(place: int, name: str) -> CycleCell:
    """Return a cell about which nothing is known."""
    return CycleCell(
        index=place + 1,
        module=name,
        offset_mv=None,
        resistance_mohm=None,
        resistance_mohm_low=None,
        resistance_mohm_high=None,
        capacity_ah=None,
        flag="",
        flags=(),
    )


def _unknown_module(name: str) -> ReplacedModule:
    """Return a new module about which nothing is known."""
    return ReplacedModule(
        name=name,
        offset_top_mv=None,
        offset_bottom_mv=None,
        offset_load_mv=None,
        verdict=Verdict.UNDECIDED,
        why="The log does not show it.",
    )
