"""Least-squares fit of one exponential to readings with known errors.

Here: the fit at a time constant, and which end values and time constants explain the readings.
Not here: what they mean (decay.py).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from packs.physics.instrument import COVERAGE_95, half_width_95, standard_uncertainty

CHI2_95 = COVERAGE_95**2


@dataclass(frozen=True, slots=True)
class Series:
    """Readings with the rectangular errors each has on its own, and the share all have alike."""

    times_s: tuple[float, ...]
    volts: tuple[float, ...]
    boxes_v: tuple[tuple[float, ...], ...]
    shared_share: float
    us_v: tuple[float, ...] = field(init=False)
    columns: NDArray[np.float64] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Work out standard uncertainties, and times, volts and weights for the many fits."""
        us_v = tuple(standard_uncertainty(math.hypot(*own)) for own in self.boxes_v)
        object.__setattr__(self, "us_v", us_v)
        columns = np.array([self.times_s, self.volts, np.array(us_v) ** -2.0])
        object.__setattr__(self, "columns", columns)

    @property
    def span_s(self) -> float:
        """From the first reading to the last."""
        return self.times_s[-1] - self.times_s[0]

    @property
    def shortest_s(self) -> float:
        """The shortest time between two readings."""
        return min(b - a for a, b in zip(self.times_s, self.times_s[1:], strict=False))


@dataclass(frozen=True, slots=True)
class Fit:
    """The best end value and step for one time constant."""

    tau_s: float
    end_v: float
    step_v: float
    end_u_v: float
    chi2: float


def fit_at(series: Series, tau_s: float) -> Fit:
    """Fit end value and step for a given time constant.

    Parameters
    ----------
    series : Series
        Readings and their uncertainties, [s] and [V]
    tau_s : float
        The time constant, [s]

    Returns
    -------
    fit : Fit
        End value, step and sum of squares, [V]

    Notes
    -----
    Weighted least squares of ``v_end + step exp(-t/tau)``, with the decay scaled to reach 1 at the
    last reading, so that very long time constants stay well conditioned. Source: textbook.

    Examples
    --------
    >>> series = Series((0.0, 10.0, 20.0), (90.0, 62.0, 46.7), ((0.5,), (0.3,), (0.3,)), 0.0)
    >>> round(fit_at(series, 16.5).end_v, 1)
    28.4
    """
    return _fits(series, np.array([tau_s]))[0]


def _fits(series: Series, taus_s: NDArray[np.float64]) -> list[Fit]:
    """Fit at several time constants at once."""
    times_s, volts, weights = series.columns
    total = weights.sum()
    whole = -np.expm1(-series.span_s / taus_s)
    shape = np.expm1(-times_s / taus_s[:, None]) / -whole[:, None]
    mean_x, mean_v = shape @ weights / total, float(volts @ weights / total)
    offsets_x, offsets_v = shape - mean_x[:, None], volts - mean_v
    sxx = (offsets_x * offsets_x) @ weights
    slope = offsets_x @ (weights * offsets_v) / sxx
    # The shape reaches 1 at the last sample and 1/whole once everything has settled.
    reach = 1.0 / whole - mean_x
    chi2 = (offsets_v - slope[:, None] * offsets_x) ** 2 @ weights
    end_u_v = np.sqrt(1.0 / total + reach * reach / sxx)
    columns = (taus_s, mean_v + slope * reach, -slope / whole, end_u_v, chi2)
    return [Fit(*row) for row in zip(*(column.tolist() for column in columns), strict=True)]


def fit_constant(series: Series) -> Fit:
    """Fit a value that does not move.

    Parameters
    ----------
    series : Series
        Readings and their uncertainties, [s] and [V]

    Returns
    -------
    fit : Fit
        The weighted mean, [V]

    Notes
    -----
    ``sum(v/u^2)/sum(1/u^2)``. Source: textbook.

    Examples
    --------
    >>> series = Series((0.0, 10.0, 20.0), (90.0, 62.0, 46.7), ((0.5,), (0.3,), (0.3,)), 0.0)
    >>> round(fit_constant(series).end_v, 1)
    59.8
    """
    weights = [1.0 / u**2 for u in series.us_v]
    mean_v = sum(w * v for w, v in zip(weights, series.volts, strict=True)) / sum(weights)
    chi2 = sum(w * (v - mean_v) ** 2 for w, v in zip(weights, series.volts, strict=True))
    return Fit(math.inf, mean_v, 0.0, math.sqrt(1.0 / sum(weights)), chi2)


def scan(series: Series, low_s: float, high_s: float, count: int) -> list[Fit]:
    """Fit at time constants spread evenly on a logarithmic scale.

    Parameters
    ----------
    series : Series
        Readings and their uncertainties, [s] and [V]
    low_s : float
        The shortest, [s]
    high_s : float
        The longest, [s]
    count : int
        How many, [-]

    Returns
    -------
    fits : list[Fit]
        In rising order of the time constant, [V]

    Notes
    -----
    ``tau_i = low (high/low)^(i/(count - 1))``. Source: our own; no standard.

    Examples
    --------
    >>> series = Series((0.0, 10.0, 20.0), (90.0, 62.0, 46.7), ((0.5,), (0.3,), (0.3,)), 0.0)
    >>> [round(fit.tau_s) for fit in scan(series, 1.0, 100.0, 3)]
    [1, 10, 100]
    """
    return _fits(series, np.exp(np.linspace(math.log(low_s), math.log(high_s), count)))


def best_of(series: Series, coarse: list[Fit]) -> Fit:
    """Refine the best of a scan.

    Parameters
    ----------
    series : Series
        Readings and their uncertainties, [s] and [V]
    coarse : list[Fit]
        A scan that brackets the least sum of squares, [V]

    Returns
    -------
    best : Fit
        The fit with the least sum of squares, [V]

    Notes
    -----
    Between the neighbours of the best, eleven finer ones, nine times. Source: textbook.

    Examples
    --------
    >>> series = Series((0.0, 10.0, 20.0), (90.0, 62.0, 46.7), ((0.5,), (0.3,), (0.3,)), 0.0)
    >>> round(best_of(series, scan(series, 1.0, 1000.0, 50)).tau_s, 1)
    16.5
    """
    fits, best = coarse, min(coarse, key=lambda fit: fit.chi2)
    for _ in range(9):
        at = min(range(len(fits)), key=lambda index: fits[index].chi2)
        left, right = fits[max(at - 1, 0)], fits[min(at + 1, len(fits) - 1)]
        fits = scan(series, left.tau_s, right.tau_s, 11)
        best = min(best, *fits, key=lambda fit: fit.chi2)
    return best


def edge(series: Series, best: Fit, limit: float, bound_s: float) -> float | None:
    """Return the time constant towards a bound at which the fit stops being acceptable.

    Parameters
    ----------
    series : Series
        Readings and their uncertainties, [s] and [V]
    best : Fit
        An acceptable fit, [V]
    limit : float
        The largest acceptable sum of squares, [-]
    bound_s : float
        How far to look, [s]

    Returns
    -------
    tau_s : float | None
        None when every one up to the bound is acceptable, [s]

    Notes
    -----
    The first of 17 steps in the logarithm of the time constant that is not acceptable, seven
    times finer each time. Source: textbook.

    Examples
    --------
    >>> series = Series((0.0, 10.0, 20.0), (90.0, 62.0, 46.7), ((0.5,), (0.3,), (0.3,)), 0.0)
    >>> edge(series, fit_at(series, 16.5), 3.84, 1e4) > 16.5
    True
    """
    inside_s, outside_s = best.tau_s, bound_s
    if fit_at(series, bound_s).chi2 <= limit:
        return None
    for _ in range(7):
        fits = scan(series, inside_s, outside_s, 17)
        at = next(
            index for index, fit in enumerate(fits) if fit.chi2 > limit or index + 1 == len(fits)
        )
        inside_s, outside_s = fits[max(at - 1, 0)].tau_s, fits[at].tau_s
    return outside_s


def extremes(fits: Sequence[Fit], limit: float) -> tuple[float, float]:
    """Return the lowest and highest end value that any of the fits allows.

    Parameters
    ----------
    fits : Sequence[Fit]
        Fits at several time constants, one acceptable at least, [V]
    limit : float
        The largest acceptable sum of squares, [-]

    Returns
    -------
    ends_v : tuple[float, float]
        Profile interval of the end value, [V]

    Notes
    -----
    An end value off the best by ``d`` raises the sum of squares by ``(d/u)^2``. Source: the
    profile-likelihood interval, textbook.

    Examples
    --------
    >>> series = Series((0.0, 10.0, 20.0), (90.0, 62.0, 46.7), ((0.5,), (0.3,), (0.3,)), 0.0)
    >>> low_v, high_v = extremes([fit_at(series, 16.5)], 3.84)
    >>> low_v < 28.3 < high_v
    True
    """
    lows, highs = [], []
    for fit in fits:
        slack = limit - fit.chi2
        if slack >= 0.0:
            reach_v = fit.end_u_v * math.sqrt(slack)
            lows.append(fit.end_v - reach_v)
            highs.append(fit.end_v + reach_v)
    return min(lows), max(highs)


def chi2_step(series: Series, fit: Fit) -> float:
    """Return how much worse than the best a fit may be and still belong to the 95 %.

    Parameters
    ----------
    series : Series
        Readings and their uncertainties, [s] and [V]
    fit : Fit
        The best fit, [V]

    Returns
    -------
    step : float
        3.84 for bell-shaped errors, less for a few boxes, [-]

    Notes
    -----
    The end value is a sum of reading errors with known weights; the square of its 95 % half-width
    over its standard deviation takes the place of the quantile of chi-squared. Source: our own.

    Examples
    --------
    >>> series = Series((0.0, 10.0, 20.0), (90.0, 62.0, 46.7), ((0.5,), (0.3,), (0.3,)), 0.0)
    >>> chi2_step(series, fit_at(series, 16.5)) < 3.85
    True
    """
    weights = [1.0 / u**2 for u in series.us_v]
    left = [1.0] * len(weights)
    # What of the end value neither the step nor the time constant can imitate.
    basis: list[list[float]] = []
    if fit.step_v:
        decayed = [math.exp(-t / fit.tau_s) for t in series.times_s]
        slower = [t * x for t, x in zip(series.times_s, decayed, strict=True)]
        basis = [decayed, _without(weights, slower, decayed)]
    for column in basis:
        left = _without(weights, left, column)
    reach = [w * x for w, x in zip(weights, left, strict=True)]
    combined = math.hypot(*(each * u for each, u in zip(reach, series.us_v, strict=True)))
    if combined <= 0.0:
        return CHI2_95
    shares = zip(reach, series.boxes_v, strict=True)
    return half_width_95([each * box / combined for each, own in shares for box in own]) ** 2


def _without(
    weights: Sequence[float], column: Sequence[float], other: Sequence[float]
) -> list[float]:
    """Return a column with its weighted projection on another taken out."""
    square = sum(w * y * y for w, y in zip(weights, other, strict=True))
    if square <= 0.0:
        return list(column)
    along = sum(w * x * y for w, x, y in zip(weights, column, other, strict=True)) / square
    return [x - along * y for x, y in zip(column, other, strict=True)]
