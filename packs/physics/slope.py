"""Straight line through a series whose errors are known.

Here: the slope, its 95 % half-width, whether it bends and whether the readings scatter. Not here:
what a slope means (leak.py).
"""

import math
from dataclasses import dataclass

from packs.physics.instrument import half_width_95, scatter, standard_uncertainty

FEWEST_FOR_BEND = 3
LEAST_U = 1e-9
"""No reading is better than this; it keeps a gauge entered without any error from dividing by 0."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Values in time; a reading has boxes and a bell of its own, a drift runs over the whole."""

    times_s: tuple[float, ...]
    values: tuple[float, ...]
    boxes: tuple[tuple[float, ...], ...]
    bells: tuple[float, ...]
    drift: float = 0.0

    @property
    def duration_s(self) -> float:
        """From the first value to the last."""
        return self.times_s[-1] - self.times_s[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Slope:
    """A slope with its half-width; the bend is in standard uncertainties."""

    per_s: float
    half_per_s: float
    bend: float
    last_per_s: float
    scatter: float


def fit_slope(series: Series) -> Slope:
    """Fit a straight line, and see whether a parabola would fit better.

    Parameters
    ----------
    series : Series
        At least two values at rising times, [s] and [any unit]

    Returns
    -------
    slope : Slope
        Per second, with its 95 % half-width, [same unit/s]

    Notes
    -----
    Least squares with equal weights: the slope is ``sum(w_i y_i)`` with ``w_i = (t_i - mean)/S``,
    so every error enters times its weight, and a drift ``D`` over the duration enters as ``D/T``.
    ``bend`` is the coefficient of the orthogonal parabola over its standard uncertainty and
    ``last_per_s`` the slope at the last value with that parabola added. Source: JCGM 100:2008 for
    the errors; the line itself is textbook.

    Examples
    --------
    >>> series = Series(
    ...     times_s=(0.0, 10.0, 20.0),
    ...     values=(30.0, 20.0, 10.0),
    ...     boxes=((1.0,), (1.0,), (1.0,)),
    ...     bells=(0.0, 0.0, 0.0),
    ... )
    >>> slope = fit_slope(series)
    >>> slope.per_s, round(slope.half_per_s, 3), slope.bend
    (-1.0, 0.078, 0.0)
    """
    count = len(series.times_s)
    mean_s = sum(series.times_s) / count
    offsets = [t - mean_s for t in series.times_s]
    square = sum(d * d for d in offsets)
    weights = [d / square for d in offsets]
    per_s = sum(w * y for w, y in zip(weights, series.values, strict=True))
    mean = sum(series.values) / count
    left = [y - mean - per_s * d for y, d in zip(series.values, offsets, strict=True)]
    us = _own_us(series)
    spread = scatter(sum((r / u) ** 2 for r, u in zip(left, us, strict=True)), count - 2)
    bend, turn = _bend(offsets, left, us)
    boxes = [w * box for w, own in zip(weights, series.boxes, strict=True) for box in own]
    bell = math.hypot(*(w * own for w, own in zip(weights, series.bells, strict=True)))
    half = half_width_95([series.drift / series.duration_s, *boxes], bell)
    return Slope(
        per_s=per_s,
        half_per_s=half * math.sqrt(spread),
        bend=bend,
        last_per_s=per_s + turn,
        scatter=spread,
    )


def _own_us(series: Series) -> list[float]:
    """Return the standard uncertainty of each value on its own."""
    return [
        max(math.hypot(bell, *map(standard_uncertainty, own)), LEAST_U)
        for own, bell in zip(series.boxes, series.bells, strict=True)
    ]


def _bend(offsets: list[float], left: list[float], us: list[float]) -> tuple[float, float]:
    """Return the bend in standard uncertainties, and what it adds to the last slope."""
    if len(offsets) < FEWEST_FOR_BEND:
        return 0.0, 0.0
    squares = [d * d for d in offsets]
    mean = sum(squares) / len(squares)
    along = sum(q * d for q, d in zip(squares, offsets, strict=True)) / sum(squares)
    shape = [q - mean - along * d for q, d in zip(squares, offsets, strict=True)]
    norm = sum(x * x for x in shape)
    curvature = sum(x * r for x, r in zip(shape, left, strict=True)) / norm
    u = math.hypot(*(x * each for x, each in zip(shape, us, strict=True))) / norm
    return curvature / u, curvature * (2.0 * offsets[-1] - along)
