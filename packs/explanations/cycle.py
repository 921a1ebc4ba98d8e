"""The judgement of a log, step by step, from what the result says of it.

Here: the steps; capacity and health are worked out again from the charge and the two rested
voltages. Not here: the counting and reading of the log itself (physics/cycle.py).
"""

import statistics
from collections.abc import Sequence
from typing import Protocol

import numpy as np

from packs.explanation import Line, figure
from packs.explanations.readings import against, interval_text
from packs.physics.cycle_case import CycleLimits, CycleResult, CycleWindow
from packs.physics.cycle_flags import CAPACITY_RATIO, NEW_MODULE_MV, OFFSET_MV, RESISTANCE_RATIO
from packs.physics.cycle_full_window import UNSEEN_SHARE
from packs.physics.cycle_phases import GAIN_SHARE
from packs.physics.ocv import Curve, curve_named
from packs.words import joined, told

MOST_CELLS = 8
SPREADS = (
    ("rest", "at rest"),
    ("top", "at the end of the charge"),
    ("load", "under the strongest load"),
)
WORDS = {
    "pass": "Every limit and every new module holds",
    "fail": "At least one limit or new module does not hold",
    "undecided": "The log does not decide every limit; see the advice",
}


class Asked(Protocol):
    """What the steps need of the case; the log itself is not among it."""

    @property
    def rated_ah(self) -> float | None:
        """Return the capacity of a new string."""

    @property
    def curve(self) -> str | None:
        """Return the name of the curve."""

    @property
    def limits(self) -> CycleLimits:
        """Return the limits."""


def explained(case: Asked, result: CycleResult) -> tuple[Line, ...]:
    """Return the steps from the counted charge to the verdict.

    Parameters
    ----------
    case : Asked
        Rated capacity, curve and limits.
    result : CycleResult
        What came of the log.

    Returns
    -------
    lines : tuple[Line, ...]
        In the order in which a person would work.
    """
    return (
        Line(what="Log of a string: charge counted, rested cells read off the curve"),
        *_capacity(case, result),
        *_health(case, result),
        *_cells(result),
        *_spreads(case.limits, result),
        *_temperature(case.limits, result),
        *_modules(result),
        Line(
            what="Verdict",
            numbers=told("every interval against its limit, every new module, the log itself"),
            value=told(
                "{words}: {verdict}", words=WORDS[result.verdict], verdict=str(result.verdict)
            ),
        ),
    )


def _capacity(case: Asked, result: CycleResult) -> tuple[Line, ...]:
    """Return the capacity worked out again."""
    window = result.window
    if result.capacity_ah is None or window is None or result.counted_ah is None:
        why = next(
            (m.text for m in result.warnings if m.code == "no_window"),
            told("Nothing was counted."),
        )
        return (Line(what="Capacity", numbers=why, value="-"),)
    counted = Line(
        what=told(
            "Charge counted in the window, a {energy_of}; trapezoids, offset taken out",
            energy_of=result.energy_of,
        ),
        formula=told("Q = sum of (I_1 + I_2)/2 dt"),
        value=told(
            "{counted_ah}, energy {energy_wh}",
            counted_ah=figure(result.counted_ah, "Ah", 5),
            energy_wh=figure(result.energy_wh, "Wh", 5),
        ),
    )
    if case.curve is not None and window.from_cell_v is not None and window.to_cell_v is not None:
        steps = _by_curve(curve_named(case.curve), window, result)
    else:
        half = UNSEEN_SHARE / 2.0
        steps = (
            Line(
                what="Capacity of a window that looks full; what lies beyond its ends is unseen",
                formula=told("C = Q (1 + a), a within 0 and 2 a"),
                numbers=f"{figure(result.counted_ah, 'Ah', 5)} x {1.0 + half:g}",
                value=figure(result.counted_ah * (1.0 + half), "Ah", 5),
            ),
        )
    interval = Line(
        what="95 % interval of the capacity, all of these together (JCGM 101)",
        value=interval_text(result.capacity_ah_low, result.capacity_ah_high, "Ah"),
    )
    return (counted, *steps, _errors(result), interval)


def _by_curve(curve: Curve, window: CycleWindow, result: CycleResult) -> tuple[Line, ...]:
    """Return states of charge and the capacity between them, and what a shifted curve makes."""
    ends_v = (window.from_cell_v or 0.0, window.to_cell_v or 0.0)
    charge_ah = result.counted_ah or 0.0
    socs = [_soc(curve, volts) for volts in ends_v]
    lines = [
        Line(
            what=told(
                "State of charge of the median cell {where} the window, on {name}",
                where=where,
                name=curve.name,
            ),
            numbers=figure(volts, "V", 5),
            value=figure(soc, "%"),
        )
        for where, volts, soc in zip(("before", "after"), ends_v, socs, strict=True)
    ]
    lines.append(
        Line(
            what="Capacity of the median cell",
            formula="C = |Q|/|s_2 - s_1|",
            numbers=f"{figure(charge_ah, 'Ah', 5)} /"
            f" ({figure(socs[1], '%')} - {figure(socs[0], '%')})",
            value=figure(_ah(charge_ah, socs), "Ah"),
        )
    )
    lines += _each_cell(result)
    shifted = [
        _ah(charge_ah, [_soc(curve, volts - shift_v) for volts in ends_v])
        for shift_v in (-curve.trust_v, curve.trust_v)
    ]
    lines.append(
        Line(
            what="The same with the curve shifted down and up by its trust, alike at both ends",
            numbers=told(
                "trust {volts}; {source}", volts=figure(curve.trust_v, "V"), source=curve.source
            ),
            value=joined([figure(value, "Ah") for value in shifted]),
        )
    )
    return tuple(lines)


def _each_cell(result: CycleResult) -> tuple[Line, ...]:
    """Return the median of the cells' own capacities."""
    own = [cell.capacity_ah for cell in result.cells if cell.capacity_ah is not None]
    if not own:
        return ()
    return (
        Line(
            what="The same for each cell by its own voltages; the median of them counts",
            numbers=told(
                "{count} cells, {low} to {high}",
                count=len(own),
                low=figure(min(own), "Ah"),
                high=figure(max(own), "Ah"),
            ),
            value=figure(statistics.median(own), "Ah"),
        ),
    )


def _soc(curve: Curve, volts: float) -> float:
    """Return a state of charge; beyond an end it counts as at it."""
    return float(np.interp(volts, curve.ocv_v, curve.soc_percent))


def _ah(charge_ah: float, socs: Sequence[float]) -> float | None:
    """Return a capacity, None when nothing lies between the ends."""
    moved = abs(socs[1] - socs[0])
    return charge_ah / (moved / 100.0) if moved > 0.0 else None


def _errors(result: CycleResult) -> Line:
    """Return what makes the counted charge uncertain."""
    gain_ah = GAIN_SHARE * (result.counted_ah or 0.0)
    return Line(
        what="Errors of the count: gain (rectangular), gaps (rectangular), offset and sampling (u)",
        numbers=told(
            "{percent:g} % of {counted}",
            percent=GAIN_SHARE * 100.0,
            counted=figure(result.counted_ah, "Ah", 5),
        ),
        value=f"{figure(gain_ah, 'Ah')}, {figure(result.counted_gap_ah, 'Ah')},"
        f" {figure(result.counted_u_ah, 'Ah')}",
    )


def _health(case: Asked, result: CycleResult) -> tuple[Line, ...]:
    """Return the state of health and the weakest cell."""
    lines = []
    if result.capacity_ah is not None and case.rated_ah is not None:
        lines.append(
            Line(
                what="State of health",
                formula="SOH = C/C_rated",
                numbers=f"{figure(result.capacity_ah, 'Ah')} / {figure(case.rated_ah, 'Ah')}",
                value=figure(result.capacity_ah / case.rated_ah * 100.0, "%"),
            )
        )
    if result.weakest_cell is not None and result.capacity_ah and result.weakest_capacity_ah:
        ratio = result.weakest_capacity_ah / result.capacity_ah
        lines.append(
            Line(
                what=told(
                    "Weakest cell: {weakest_cell} in {weakest_module}; below "
                    "{capacity_ratio:g} of the median it stands out (shop default)",
                    weakest_cell=result.weakest_cell,
                    weakest_module=result.weakest_module,
                    capacity_ratio=CAPACITY_RATIO,
                ),
                numbers=f"{figure(result.weakest_capacity_ah, 'Ah')} /"
                f" {figure(result.capacity_ah, 'Ah')}",
                value=figure(ratio, ""),
            )
        )
    return tuple(lines)


def _cells(result: CycleResult) -> tuple[Line, ...]:
    """Return the median resistance and the cells that stand out."""
    known = [cell.resistance_mohm for cell in result.cells if cell.resistance_mohm is not None]
    lines = []
    middle = statistics.median(known) if known else None
    if middle is not None:
        lines.append(
            Line(
                what="Median resistance of the cells, from the steps of the current",
                formula="R = dV/dI",
                value=figure(middle, "mohm"),
            )
        )
    odd = [cell for cell in result.cells if cell.flag]
    for cell in odd[:MOST_CELLS]:
        ratio = cell.resistance_mohm / middle if cell.resistance_mohm and middle else None
        lines.append(
            Line(
                what=told(
                    "Cell {index} in {module}: resistance against the median, capacity, "
                    "offset at rest",
                    index=cell.index,
                    module=cell.module,
                ),
                numbers=told(
                    "{ratio} (limit {ratio_limit:g}), {capacity}, {offset} (limit {offset_limit:g} "
                    "mV)",
                    ratio=figure(ratio, ""),
                    ratio_limit=RESISTANCE_RATIO,
                    capacity=figure(cell.capacity_ah, "Ah"),
                    offset=figure(cell.offset_mv, "mV"),
                    offset_limit=OFFSET_MV,
                ),
                value=", ".join(cell.flags),
            )
        )
    if len(odd) > MOST_CELLS:
        lines.append(Line(what="Further cells that stand out", value=str(len(odd) - MOST_CELLS)))
    return tuple(lines)


def _compared(low: float, high: float, limit: float) -> str:
    """Return how an interval lies to its limit."""
    if high <= limit:
        return told("within")
    return told("over") if low > limit else told("not decided")


def _held(found: float | None, interval: tuple[float, float], limit: float, unit: str) -> str:
    """Write a figure with its interval against its limit."""
    low, high = (figure(each, unit) for each in interval)
    shown = told("{value} ({low} to {high})", value=figure(found, unit), low=low, high=high)
    return against(shown, figure(limit, unit))


def _spreads(limits: CycleLimits, result: CycleResult) -> tuple[Line, ...]:
    """Hold each spread against its limit."""
    lines = []
    for name, where in SPREADS:
        mv, low, high, cell = (
            getattr(result, f"spread_{name}_{what}") for what in ("mv", "mv_low", "mv_high", "cell")
        )
        limit_mv: float = getattr(limits, f"spread_{name}_mv")
        what = told("Spread {where}, highest less lowest cell", where=where)
        if mv is None:
            lines.append(
                Line(what=what, numbers=told("the log has no such moment"), value="not decided")
            )
            continue
        lines.append(
            Line(
                what=told("{what}; cell {cell} is the furthest out", what=what, cell=cell),
                numbers=_held(mv, (low, high), limit_mv, "mV"),
                value=_compared(low, high, limit_mv),
            )
        )
    return tuple(lines)


def _temperature(limits: CycleLimits, result: CycleResult) -> tuple[Line, ...]:
    """Hold the spread of the temperatures against its limit."""
    low, high = result.temperature_spread_c_low, result.temperature_spread_c_high
    if low is None or high is None:
        return (
            Line(
                what="Spread of the temperatures", numbers=told("no sensors"), value="not decided"
            ),
        )
    limit_c = limits.temperature_spread_c
    return (
        Line(
            what="Spread of the temperatures, warmest less coldest sensor",
            numbers=_held(result.temperature_spread_c, (low, high), limit_c, "K"),
            value=_compared(low, high, limit_c),
        ),
    )


def _modules(result: CycleResult) -> tuple[Line, ...]:
    """Hold each new module against what it may differ by."""
    return tuple(
        Line(
            what=told(
                "New module {name}: mean of its cells less the median of the others, at "
                "the end of the charge, at the lowest point, under load",
                name=module.name,
            ),
            numbers=against(
                f"{figure(module.offset_top_mv, 'mV')},"
                f" {figure(module.offset_bottom_mv, 'mV')}, {figure(module.offset_load_mv, 'mV')}",
                f"{NEW_MODULE_MV:g} mV",
            ),
            value=str(module.verdict),
        )
        for module in result.replaced
    )
