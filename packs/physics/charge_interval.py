"""How well two rested voltages fix two states of charge, and the difference between them.

Here: intervals through the curve itself, with the curve's shift shared by both modules. Not here:
the curve (ocv.py), and what the difference means for the work (charge.py).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from packs.physics.ocv import Curve, Floats

SHIFTS = 301
"""Shifts of the curve tried: steps of 0.2 mV over a trust of 30 mV."""
TABLE_ROUNDING_V = 0.5e-4
"""The tables are rounded to 0.1 mV."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """The middle 95 % of a figure."""

    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """States of charge that two readings allow; the difference is target less spare, in percent."""

    spare: Interval
    target: Interval
    difference: Interval


def allowance_v(curve: Curve, voltage_u_v: float) -> float:
    """Return how far a rested reading may be off the curve, apart from what both modules share.

    Parameters
    ----------
    curve : Curve
        The curve.
    voltage_u_v : float
        Rectangular half-width of the reading, [V]

    Returns
    -------
    half_width_v : float
        Largest difference in either direction, [V]

    Notes
    -----
    ``a = u + hysteresis + 0.05 mV``: the reading, the branch the cell came to rest on, and the
    rounding of the table, taken together as one rectangle. Source: JCGM 100:2008, clause 4.3.7;
    the hysteresis is a shop default.

    Examples
    --------
    >>> from packs.physics.ocv import curve_named
    >>> round(allowance_v(curve_named("lfp_graphite"), 0.002), 5)
    0.01205
    """
    return voltage_u_v + curve.hysteresis_v + TABLE_ROUNDING_V


def soc_half_width_percent(curve: Curve, cell_v: float, allowance_v: float) -> float:
    """Return how well a reading fixes the state of charge on the curve as it is printed.

    Parameters
    ----------
    curve : Curve
        The curve.
    cell_v : float
        Rested voltage, [V]
    allowance_v : float
        How far it may be off, [V]

    Returns
    -------
    half_width_percent : float
        Half the width of the 95 % interval, [%]

    Notes
    -----
    ``0.95 (s(v + a) - s(v - a))/2`` with ``s`` the inverse of the curve, never past its ends. The
    shift of the whole curve is left out on purpose: it moves both modules alike and says nothing
    of how flat the curve is. Source: JCGM 100:2008, annex G, one rectangle.

    Examples
    --------
    >>> from packs.physics.ocv import curve_named
    >>> soc_half_width_percent(curve_named("lfp_graphite"), 3.295, 0.002) > 3.0
    True
    """
    ends = _soc_within(curve, np.array([cell_v - allowance_v, cell_v + allowance_v]))
    return 0.95 * float(ends[1] - ends[0]) / 2.0


def spread(curve: Curve, spare_cell_v: float, target_cell_v: float, allowance_v: float) -> Spread:
    """Return the states of charge, and their difference, that two readings allow.

    Parameters
    ----------
    curve : Curve
        The curve.
    spare_cell_v, target_cell_v : float
        Rested voltages, [V]
    allowance_v : float
        How far each may be off, independently, [V]

    Returns
    -------
    spread : Spread
        95 % intervals of both states of charge and of target less spare, [%]

    Notes
    -----
    With the curve shifted by ``d`` (rectangular within its trust, shared by both modules) a reading
    ``v`` allows every state of charge in ``[s(v - d - a), s(v - d + a)]`` alike: states of charge
    are equally likely beforehand, reading errors are boxes. The difference of two such rectangles
    is a trapezoid; the shifts are weighted by how many states of charge agree with both readings,
    the product of the two lengths. The interval is cut from the sum of the trapezoids, so that
    bends of the curve are followed. Between 0 and 100 % only. Where no shift agrees with both
    readings (one above full, one nearly empty) everything either allows is told. Source:
    JCGM 101:2008 (propagation of distributions) and Bayes' theorem; no factor is tuned.

    Examples
    --------
    >>> from packs.physics.ocv import curve_named
    >>> found = spread(curve_named("nca_graphite"), 3.66, 3.70, 0.002)
    >>> 3.0 < found.difference.low < 4.85 < found.difference.high < 6.0
    True
    """
    shift_v = curve.trust_v * np.linspace(-1.0, 1.0, SHIFTS)
    ends = [
        _soc_within(curve, cell_v - shift_v + side * allowance_v)
        for cell_v in (spare_cell_v, target_cell_v)
        for side in (-1.0, 1.0)
    ]
    agree = (ends[1] - ends[0]) * (ends[3] - ends[2]) > 0.0
    if not agree.any():
        spare, target = _whole(*ends[:2]), _whole(*ends[2:])
        apart = Interval(low=target.low - spare.high, high=target.high - spare.low)
        return Spread(spare=spare, target=target, difference=apart)
    spare_low, spare_high, target_low, target_high = (end[agree] for end in ends)
    return Spread(
        spare=_middle(_of_one(spare_low, spare_high, target_high - target_low), 0.0, 100.0),
        target=_middle(_of_one(target_low, target_high, spare_high - spare_low), 0.0, 100.0),
        difference=_middle(
            _of_difference(spare_low, spare_high, target_low, target_high), -100.0, 100.0
        ),
    )


def _soc_within(curve: Curve, cell_v: Floats) -> Floats:
    """Return states of charge, held at the ends of the curve."""
    return np.asarray(np.interp(cell_v, curve.ocv_v, curve.soc_percent), dtype=float)


def _whole(low: Floats, high: Floats) -> Interval:
    """Return everything a reading allows by itself, held at the ends of the curve."""
    return Interval(low=float(low.min()), high=float(high.max()))


def _of_one(low: Floats, high: Floats, other: Floats) -> Callable[[float], float]:
    """Return how likely a state of charge is at most so high: rectangles, weighted."""
    total = float(np.sum((high - low) * other))

    def share(soc: float) -> float:
        return float(np.sum((np.clip(soc, low, high) - low) * other)) / total

    return share


def _of_difference(
    spare_low: Floats, spare_high: Floats, target_low: Floats, target_high: Floats
) -> Callable[[float], float]:
    """Return how likely the difference is at most so large: trapezoids, weighted."""
    total = float(np.sum((spare_high - spare_low) * (target_high - target_low)))
    corners = np.stack(
        (
            target_low - spare_high,
            target_low - spare_low,
            target_high - spare_high,
            target_high - spare_low,
        )
    )
    signs = np.array([0.5, -0.5, -0.5, 0.5])

    def share(difference: float) -> float:
        above = np.maximum(difference - corners, 0.0)
        return float(signs @ np.sum(above * above, axis=1)) / total

    return share


def _middle(share: Callable[[float], float], low: float, high: float) -> Interval:
    """Return between which two figures the middle 95 % lies."""
    ends = [
        float(brentq(lambda figure, part=part: share(figure) - part, low, high, xtol=1e-9))
        for part in (0.025, 0.975)
    ]
    return Interval(low=ends[0], high=ends[1])
