"""How far the cells are apart: at rest, at the end of the charge, at the lowest point, under load.

Here: which rows are looked at and the spread with its interval, the temperatures too. Not here:
what a spread may come to (cycle_verdict.py).
"""

import math
from dataclasses import dataclass

import numpy as np

from packs.physics.cycle_case import Floats
from packs.physics.cycle_channels import Channels, Rows
from packs.physics.cycle_phases import END_ROWS, Phases, Rest, charge_run, trimmed_mean
from packs.physics.instrument import half_width_95
from packs.physics.ocv import Curve, slope_v_per_percent, soc_percent

END_S = 60.0
STRONG_SHARE = 0.9
FINISHED_V = 0.002
"""A rest that may still be less than 2 mV off is as good as any: shop default, no source."""
KNEE_V_PER_PERCENT = 0.020
"""Where a curve is steeper, a spread in millivolts says little at rest: shop default, no source."""
GROUP_ROWS, FEWEST_ROWS, MOST_GROUPS = 5, 3, 400
BOTTOM_SHARE = 0.01
MV_PER_V = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Highest less lowest cell at one moment.

    Parameters
    ----------
    mv, low_mv, high_mv : float
        With its 95 % interval, [mV]
    cell : int
        The cell furthest from the median, counted from 0.
    cell_v : ndarray
        Of each cell, [V]
    noise_v : float
        Standard deviation of each cell's mean, [V]
    row : int
        The last row that was looked at.
    """

    mv: float
    low_mv: float
    high_mv: float
    cell: int
    cell_v: Floats
    noise_v: float
    row: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Spreads:
    """The spreads that the log shows.

    Parameters
    ----------
    rest, top, bottom, load : Spread | None
        None where the log has no such moment.
    rest_in_knee : bool
        Whether the rest lies in a steep end of the curve.
    load_a : float
        Strongest discharge, a magnitude, [A]
    temperature_c, temperature_low_c, temperature_high_c : float | None
        Warmest less coldest sensor with its 95 % interval, [°C]
    """

    rest: Spread | None
    rest_in_knee: bool
    top: Spread | None
    bottom: Spread | None
    load: Spread | None
    load_a: float
    temperature_c: float | None
    temperature_low_c: float | None
    temperature_high_c: float | None


def spreads_of(channels: Channels, phases: Phases, curve: Curve | None) -> Spreads:
    """Return the spreads of a log.

    Parameters
    ----------
    channels : Channels
        Without holes.
    phases : Phases
        Rests and charge.
    curve : Curve | None
        To know a rest in a steep end, where millivolts say little.

    Returns
    -------
    spreads : Spreads
        Each with its interval.

    Notes
    -----
    ``spread = max(U_k) - min(U_k)`` over the cells that can be trusted, each ``U_k`` a mean over
    several rows without its lowest and highest fifth. Rest: the last
    rest with less than 2 mV left unfinished, else the one with least; one right after the charge,
    or where the curve is steeper than 20 mV for each percent, only where there is no other. Top:
    the last minute of the charge. Bottom: the smallest charge counted, at rest where it rested
    there. Load: the worst of the groups of five rows at the strongest discharge. Errors: half a
    step of the resolution for each of the two cells, rectangular, and the noise. Source: JCGM
    100:2008.
    """
    charge = charge_run(channels, phases)
    load, load_a = _load(channels, phases)
    rest = _best_rest(phases, charge, curve)
    middle_c, half_c = _temperature_spread(channels.temperature_c)
    return Spreads(
        rest=_at_rest(channels, rest),
        rest_in_knee=rest is not None and _in_knee(rest, curve),
        top=_top(channels, charge),
        bottom=_bottom(channels, phases),
        load=load,
        load_a=load_a,
        temperature_c=middle_c,
        temperature_low_c=None if middle_c is None else max(0.0, middle_c - half_c),
        temperature_high_c=None if middle_c is None else middle_c + half_c,
    )


def _spread(channels: Channels, cell_v: Floats, noise_v: float, row: int) -> Spread | None:
    """Return the spread of some voltages; one cell alone has none."""
    trusted = np.flatnonzero(channels.trusted)
    if trusted.size < 2:  # noqa: PLR2004  (two make a spread)
        return None
    volts = cell_v[trusted]
    apart_v = float(volts.max() - volts.min())
    rounding_v = channels.resolution_v / 2.0
    half_v = half_width_95([rounding_v, rounding_v], math.sqrt(2.0) * noise_v)
    furthest = int(np.argmax(np.abs(volts - np.median(volts))))
    return Spread(
        mv=apart_v * MV_PER_V,
        low_mv=max(0.0, apart_v - half_v) * MV_PER_V,
        high_mv=(apart_v + half_v) * MV_PER_V,
        cell=int(trusted[furthest]),
        cell_v=cell_v,
        noise_v=noise_v,
        row=row,
    )


def _over_rows(channels: Channels, rows: Rows) -> Spread | None:
    """Return the spread over some rows."""
    noise_v = channels.noise_v / math.sqrt(rows.size)
    return _spread(channels, trimmed_mean(channels.cell_v[rows]), noise_v, int(rows[-1]))


def _top(channels: Channels, charge: Rows | None) -> Spread | None:
    """Return the spread over the last minute of the charge."""
    if charge is None or charge.size < FEWEST_ROWS:
        return None
    late = charge[channels.time_s[charge] >= channels.time_s[charge[-1]] - END_S]
    return _over_rows(channels, late if late.size >= END_ROWS else charge[-END_ROWS:])


def _in_knee(rest: Rest, curve: Curve | None) -> bool:
    """Tell whether a rest lies where the curve is steep."""
    if curve is None:
        return False
    at_v = min(max(rest.median_v, curve.lowest_v), curve.highest_v)
    slope_v = slope_v_per_percent(curve, soc_percent(curve, at_v))
    return float(slope_v) > KNEE_V_PER_PERCENT


def _best_rest(phases: Phases, charge: Rows | None, curve: Curve | None) -> Rest | None:
    """Return the rest that is read: not in a knee, not right after the charge, if it can be."""
    rests = list(phases.rests)
    if charge is not None:
        elsewhere = [rest for rest in rests if not 0 <= rest.start - int(charge[-1]) <= END_ROWS]
        rests = elsewhere or rests
    rests = [rest for rest in rests if not _in_knee(rest, curve)] or rests
    finished = [rest for rest in rests if rest.unfinished_v <= FINISHED_V]
    if finished:
        return finished[-1]
    return min(rests, key=lambda rest: rest.unfinished_v, default=None)


def _at_rest(channels: Channels, rest: Rest | None) -> Spread | None:
    """Return the spread of a rest."""
    if rest is None:
        return None
    return _spread(channels, rest.cell_v, rest.noise_v, rest.row)


def _bottom(channels: Channels, phases: Phases) -> Spread | None:
    """Return the spread where the counted charge is smallest."""
    span_ah = float(np.ptp(phases.count_ah))
    if phases.resting.all() or span_ah <= 0.0:
        return None
    low = phases.count_ah <= float(phases.count_ah.min()) + BOTTOM_SHARE * span_ah
    for rest in reversed(phases.rests):
        if low[rest.row]:
            return _at_rest(channels, rest)
    rows = np.flatnonzero(low & phases.resting)
    if rows.size < FEWEST_ROWS:
        rows = np.flatnonzero(low)
        calm = np.argsort(np.abs(phases.current_a[rows]), kind="stable")
        rows = np.sort(rows[calm[:GROUP_ROWS]])
    return _over_rows(channels, rows) if rows.size >= FEWEST_ROWS else None


def _load(channels: Channels, phases: Phases) -> tuple[Spread | None, float]:
    """Return the worst spread under the strongest discharge, and how strong that is."""
    drawn_a = -phases.current_a[(phases.current_a < 0.0) & ~phases.resting]
    if drawn_a.size < FEWEST_ROWS:
        return None, 0.0
    ordered_a = np.sort(drawn_a)
    strongest_a = float(ordered_a[-max(FEWEST_ROWS, round(0.005 * drawn_a.size))])
    rows = np.flatnonzero(-phases.current_a >= STRONG_SHARE * strongest_a)
    size = max(GROUP_ROWS, rows.size // MOST_GROUPS)
    worst: Spread | None = None
    for start in range(0, rows.size, size):
        group = rows[start : start + size]
        if group.size < FEWEST_ROWS:
            continue
        spread = _over_rows(channels, group)
        if spread is not None and (worst is None or spread.mv > worst.mv):
            worst = spread
    return worst, strongest_a


def _temperature_spread(temperature_c: Floats) -> tuple[float | None, float]:
    """Return the largest spread of the sensors over groups of rows, and its half-width."""
    rows, sensors = temperature_c.shape
    size = min(GROUP_ROWS, rows)
    if sensors < 2:  # noqa: PLR2004  (two make a spread)
        return None, 0.0
    whole = temperature_c[: rows // size * size].reshape(rows // size, size, sensors)
    middle_c = np.median(whole, axis=1)
    apart_c = float(np.ptp(middle_c, axis=1).max())
    values = np.unique(np.round(temperature_c[:: max(1, rows // 500)], 4))
    step_c = float(np.diff(values).min()) if values.size > 1 else 0.0
    return apart_c, half_width_95([step_c / 2.0, step_c / 2.0])
