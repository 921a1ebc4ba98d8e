"""Capacity of the cells from the charge counted between two known states of charge.

Here: the places where a state of charge is known, the best window between two of them, its
interval; a window that is visibly full without a curve. Not here: the counting (cycle_phases.py).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from statistics import NormalDist

import numpy as np

from packs.physics.cycle_case import Floats
from packs.physics.cycle_channels import Channels
from packs.physics.cycle_phases import GAIN_SHARE, Counted, Phases, trimmed_mean
from packs.physics.cycle_resistance import Resistances
from packs.physics.instrument import SQRT_3
from packs.physics.ocv import Curve, slope_v_per_percent

LEAST_WINDOW_PERCENT = 15.0
"""A smaller part of the capacity says too little about the whole: shop default, no source."""
WIDEST_SHARE = 0.2
"""A capacity less sure than a fifth is not named: shop default, no source."""
END_V = 0.005
"""A median cell so far beyond the curve's end counts as at its end: shop default, no source."""
POLARISED = 0.75
POLARISED_HALF = 0.75
"""Slow polarisation under a steady current, in resistances R, and its half-width: shop default."""
MOST_PLACES = 14
CANDIDATES = 2
SHIFTS, FIRST_GRID, SECOND_GRID, BELL_GRID = 41, 30, 8, 13
LOADED_ROWS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A moment at which the cells' rested voltages are known.

    Parameters
    ----------
    row : int
        Row at which charge is counted.
    cell_v : ndarray
        Of each cell, [V]
    half_v : float
        Half-width of an error all cells share, [V]
    noise_v : float
        Standard deviation of each cell's own error, [V]
    rested : bool
        Whether it was read at rest.
    """

    row: int
    cell_v: Floats
    half_v: float
    noise_v: float
    rested: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Capacity:
    """Capacity of the cells from one window.

    Parameters
    ----------
    cells_ah : ndarray | None
        Of each cell, None where only the string's is known, [Ah]
    own_u_share : ndarray | None
        Standard deviation of each cell's own error as a share of its capacity.
    ah, low_ah, high_ah : float
        Of the median cell, with its 95 % interval, [Ah]
    from_percent, to_percent : float
        Its state of charge at the ends, [%]
    from_v, to_v : float | None
        Its rested voltage there, [V]
    first, last : int
        Rows between which charge was counted.
    counted : Counted
        That charge.
    rested : bool
        Whether both ends were read at rest.
    by_curve : bool
        Whether it was scaled through a curve.
    contradicted : bool
        Whether another window of the log gives a capacity outside this one's own interval.
    """

    cells_ah: Floats | None
    own_u_share: Floats | None
    ah: float
    low_ah: float
    high_ah: float
    from_percent: float
    to_percent: float
    from_v: float | None
    to_v: float | None
    first: int
    last: int
    counted: Counted
    rested: bool
    by_curve: bool
    contradicted: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Window:
    """Two places and what lies between them."""

    start: Place
    end: Place
    counted: Counted


def places_of(
    channels: Channels, phases: Phases, resistances: Resistances | None
) -> tuple[Place, ...]:
    """Return the moments at which the cells' rested voltages are known.

    Parameters
    ----------
    channels : Channels
        Without holes.
    phases : Phases
        Rests and current.
    resistances : Resistances | None
        To take the drop of a steady current out, where the log begins or ends under one.

    Returns
    -------
    places : tuple of Place
        In time order.

    Notes
    -----
    At a rest the voltages as read. Under a steady current ``U = V - 1.75 R I`` within
    ``0.75 R |I|``: the drop at once and a slow polarisation between none and one and a half times
    as much (shop default).
    """
    found = [
        Place(
            row=rest.row,
            cell_v=rest.cell_v,
            half_v=rest.unfinished_v,
            noise_v=rest.noise_v,
            rested=True,
        )
        for rest in phases.rests
    ]
    if resistances is not None:
        last = channels.time_s.size - 1
        if not phases.resting[0]:
            found.insert(0, _loaded(channels, phases, resistances, 0))
        if not phases.resting[last]:
            found.append(_loaded(channels, phases, resistances, last))
    return tuple(found)


def _loaded(channels: Channels, phases: Phases, resistances: Resistances, row: int) -> Place:
    """Take the drop of the current out of the first or last rows."""
    rows = slice(0, LOADED_ROWS) if row == 0 else slice(-LOADED_ROWS, None)
    current_a = float(np.median(phases.current_a[rows]))
    typical_ohm = max(float(np.median(resistances.ohm[channels.trusted])), 0.0)
    drop_v = resistances.ohm * current_a + POLARISED * typical_ohm * current_a
    scatter_a = float(np.std(phases.current_a[rows]))
    return Place(
        row=row,
        cell_v=trimmed_mean(channels.cell_v[rows]) - drop_v,
        half_v=POLARISED_HALF * typical_ohm * abs(current_a) + 2.0 * typical_ohm * scatter_a,
        noise_v=channels.noise_v,
        rested=False,
    )


def capacity_by_curve(
    channels: Channels, phases: Phases, places: Sequence[Place], curve: Curve
) -> Capacity | None:
    """Return the capacity from the window between two places that decides it best.

    Parameters
    ----------
    channels : Channels
        Without holes.
    phases : Phases
        Charge counted.
    places : Sequence of Place
        Where rested voltages are known.
    curve : Curve
        Of the cells.

    Returns
    -------
    capacity : Capacity | None
        None without a window of 15 % that gives the capacity within a fifth.

    Notes
    -----
    ``C = |Q|/(s(U_1) - s(U_2))`` for each cell, the median of them for the string. The curve may
    be shifted by its trust, alike for all cells and both ends: the states of charge are read again
    at each shift, and shifts that put the median cell outside the curve are left out. On top: the
    current's gain, what a rest leaves unfinished, gaps, offset and sampling. The interval holds the
    central 95 % of all of them together, taken on a grid of equally likely values. Of the two
    surest windows and the surest one of the other direction the best counts; one that contradicts
    it widens the interval. Source: JCGM 101:2008, propagation of distributions.
    """
    voltages = np.array([np.median(place.cell_v[channels.trusted]) for place in places])
    chosen = places
    if len(places) > MOST_PLACES:
        order = np.argsort(voltages)
        ends = {*order[: MOST_PLACES // 2], *order[-MOST_PLACES // 2 :]}
        chosen = [place for index, place in enumerate(places) if index in ends]
    rough: list[tuple[float, _Window]] = []
    for start, end in combinations(chosen, 2):
        window = _Window(start=start, end=end, counted=phases.between(start.row, end.row))
        width = _width(window, channels, curve)
        if width is not None and width <= WIDEST_SHARE:
            rough.append((width, window))
    rough.sort(key=lambda pair: pair[0])
    windows = [window for _, window in rough]
    signs = [window.counted.charge_ah > 0.0 for window in windows]
    other_way = [window for window, sign in zip(windows, signs, strict=True) if sign != signs[0]]
    tried = [*windows[:CANDIDATES], *other_way[:1]]
    exact = [_capacity(window, channels, curve) for window in tried]
    return _agreed([one for one in exact if _share(one) <= WIDEST_SHARE])


def _agreed(found: Sequence[Capacity]) -> Capacity | None:
    """Return the surest; where another one contradicts it, the interval holds both."""
    best = min(found, key=_share, default=None)
    if best is None:
        return None
    apart = [one for one in found if one.low_ah > best.high_ah or one.high_ah < best.low_ah]
    if not apart:
        return best
    return replace(
        best,
        low_ah=min(best.low_ah, *(one.low_ah for one in apart)),
        high_ah=max(best.high_ah, *(one.high_ah for one in apart)),
        contradicted=True,
    )


def _share(capacity: Capacity) -> float:
    """Return half the interval as a share of the capacity."""
    return (capacity.high_ah - capacity.low_ah) / 2.0 / capacity.ah


def _soc(curve: Curve, volts: Floats) -> Floats:
    """Return states of charge; what lies beyond an end counts as at it."""
    return np.asarray(np.interp(volts, curve.ocv_v, curve.soc_percent))


def _moved(window: _Window, channels: Channels, curve: Curve, shifts_v: Floats) -> Floats:
    """Return how far each trusted cell moved, for the shifts that are possible, [%]."""
    ends = (window.start, window.end)
    possible = np.ones(shifts_v.size, dtype=np.bool_)
    for place in ends:
        at_v = float(np.median(place.cell_v[channels.trusted])) - shifts_v
        beyond_v = END_V + place.half_v
        possible &= (at_v > curve.lowest_v - beyond_v) & (at_v < curve.highest_v + beyond_v)
    before, after = (
        _soc(curve, place.cell_v[None, channels.trusted] - shifts_v[possible][:, None])
        for place in ends
    )
    return after - before


def _terms(window: _Window, channels: Channels, curve: Curve) -> tuple[list[float], float]:
    """Return rectangular and bell-shaped errors as shares of the capacity."""
    charge_ah = abs(window.counted.charge_ah)
    moved, slopes = 0.0, []
    for place, sign in ((window.start, -1.0), (window.end, 1.0)):
        soc = float(np.median(_soc(curve, place.cell_v[channels.trusted])))
        moved += sign * soc
        slopes.append(float(slope_v_per_percent(curve, soc)))
    reach = max(abs(moved), 1e-6)
    ends = list(zip((window.start, window.end), slopes, strict=True))
    shared = [(place.half_v + curve.hysteresis_v) / slope / reach for place, slope in ends]
    own = math.hypot(*(_own_v(place, channels) / slope / reach for place, slope in ends))
    spread = 1.25 * own / math.sqrt(np.count_nonzero(channels.trusted))
    normal = math.hypot(window.counted.normal_ah / charge_ah, spread)
    return [GAIN_SHARE, window.counted.gap_ah / charge_ah, *shared], normal


def _own_v(place: Place, channels: Channels) -> float:
    """Return the standard deviation of one cell's own error."""
    return math.hypot(place.noise_v, channels.resolution_v / 2.0 / SQRT_3)


def _width(window: _Window, channels: Channels, curve: Curve) -> float | None:
    """Return roughly how sure a window makes the capacity, or nothing when it cannot be used."""
    charge_ah = window.counted.charge_ah
    if window.counted.lost or charge_ah == 0.0:
        return None
    shifts_v = np.linspace(-curve.trust_v, curve.trust_v, 5)
    moved = _moved(window, channels, curve, shifts_v) * math.copysign(1.0, charge_ah)
    if moved.shape[0] == 0:
        return None
    middle = np.median(moved, axis=1)
    if middle.min() < LEAST_WINDOW_PERCENT:
        return None
    rectangles, normal = _terms(window, channels, curve)
    shift = (float(middle.max()) - float(middle.min())) / 2.0 / float(middle.mean())
    return 1.96 * math.hypot(normal, *(a / SQRT_3 for a in (*rectangles, shift)))


def _capacity(window: _Window, channels: Channels, curve: Curve) -> Capacity:
    """Return the capacity of a window with its interval."""
    charge_ah = abs(window.counted.charge_ah)
    edges = np.linspace(-curve.trust_v, curve.trust_v, SHIFTS + 1)
    moved = np.abs(_moved(window, channels, curve, (edges[1:] + edges[:-1]) / 2.0))
    shifted_ah = np.median(charge_ah / (np.maximum(moved, 1e-6) / 100.0), axis=1)
    low_ah, high_ah = interval_95(shifted_ah, *_terms(window, channels, curve))
    soc = [_soc(curve, place.cell_v) for place in (window.start, window.end)]
    percent = np.maximum(np.abs(soc[1] - soc[0]), 1e-6)
    cells_ah = charge_ah / (percent / 100.0)
    own = [
        _own_v(place, channels) / np.asarray(slope_v_per_percent(curve, at)) / percent
        for place, at in zip((window.start, window.end), soc, strict=True)
    ]
    middle_ah = float(np.median(cells_ah[channels.trusted]))
    return Capacity(
        cells_ah=cells_ah,
        own_u_share=np.hypot(*own),
        ah=middle_ah,
        low_ah=min(low_ah, middle_ah),
        high_ah=max(high_ah, middle_ah),
        from_percent=float(np.median(soc[0][channels.trusted])),
        to_percent=float(np.median(soc[1][channels.trusted])),
        from_v=float(np.median(window.start.cell_v[channels.trusted])),
        to_v=float(np.median(window.end.cell_v[channels.trusted])),
        first=window.start.row,
        last=window.end.row,
        counted=window.counted,
        rested=window.start.rested and window.end.rested,
        by_curve=True,
    )


def interval_95(
    values_ah: Floats, rectangles: Sequence[float], normal: float
) -> tuple[float, float]:
    """Return the interval that holds 95 % of a capacity with several errors.

    Parameters
    ----------
    values_ah : ndarray
        Equally likely values before the other errors, [Ah]
    rectangles : Sequence of float
        Half-widths as shares of the capacity, [-]
    normal : float
        Standard deviation of the bell-shaped errors as a share, [-]

    Returns
    -------
    interval_ah : tuple of float
        Its two ends, [Ah]

    Notes
    -----
    The two widest rectangles are kept as they are, the others join the bell. Each is a grid of
    equally likely values; the ends are the 2.5 % and 97.5 % quantiles of all products. Source:
    JCGM 101:2008, propagation of distributions, without chance.

    Examples
    --------
    >>> low_ah, high_ah = interval_95(np.array([50.0]), [0.01], 0.0)
    >>> round(low_ah, 2), round(high_ah, 2)
    (49.54, 50.46)
    """
    widest = sorted([*rectangles, 0.0, 0.0], reverse=True)
    bell = math.hypot(normal, *(width / SQRT_3 for width in widest[2:]))
    standard = NormalDist()
    grids = [
        width * (2.0 * (np.arange(count) + 0.5) / count - 1.0)
        for width, count in zip(widest[:2], (FIRST_GRID, SECOND_GRID), strict=True)
        if width > 0.0
    ]
    if bell > 0.0:
        places = ((place + 0.5) / BELL_GRID for place in range(BELL_GRID))
        grids.append(bell * np.array([standard.inv_cdf(place) for place in places]))
    factors = np.ones(1)
    for grid in grids:
        factors = np.outer(factors, 1.0 + grid).ravel()
    low_ah, high_ah = np.quantile(np.outer(values_ah, factors), [0.025, 0.975])
    return float(low_ah), float(high_ah)
