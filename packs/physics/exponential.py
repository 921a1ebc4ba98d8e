"""Least-squares fit of one exponential to readings with known errors.

Here: the fit at a time constant, and which end values and time constants explain the readings.
Not here: what they mean (decay.py).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from packs.physics.instrument import COVERAGE_95, SQRT_3, half_width_95

CHI2_95 = COVERAGE_95**2


@dataclass(frozen=True, slots=True)
class Series:
    """Readings with the standard uncertainty each has on its own."""

    times_s: tuple[float, ...]
    volts: tuple[float, ...]
    us_v: tuple[float, ...]
    shared_share: float

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
    >>> series = Series((0.0, 10.0, 20.0), (90.0, 62.0, 46.7), (0.3, 0.2, 0.2), 0.0)
    >>> round(fit_at(series, 16.5).end_v, 1)
    28.4
    """
    whole = -math.expm1(-series.span_s / tau_s)
    shape = [-math.expm1(-t / tau_s) / whole for t in series.times_s]
    weights = [1.0 / u**2 for u in series.us_v]
    total = sum(weights)
    mean_x = sum(w * x for w, x in zip(weights, shape, strict=True)) / total
    mean_v = sum(w * v for w, v in zip(weights, series.volts, strict=True)) / total
    sxx = sum(w * (x - mean_x) ** 2 for w, x in zip(weights, shape, strict=True))
    sxv = sum(
        w * (x - mean_x) * (v - mean_v)
        for w, x, v in zip(weights, shape, series.volts, strict=True)
    )
    slope = sxv / sxx
    # The shape reaches 1 at the last sample and 1/whole once everything has settled.
    reach = 1.0 / whole - mean_x
    chi2 = sum(
        w * (v - mean_v - slope * (x - mean_x)) ** 2
        for w, x, v in zip(weights, shape, series.volts, strict=True)
    )
    return Fit(
        tau_s=tau_s,
        end_v=mean_v + slope * reach,
        step_v=-slope / whole,
        end_u_v=math.sqrt(1.0 / total + reach**2 / sxx),
        chi2=chi2,
    )


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
    >>> series = Series((0.0, 10.0, 20.0), (90.0, 62.0, 46.7), (0.3, 0.2, 0.2), 0.0)
    >>> round(fit_constant(series).end_v, 1)
    60.8
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
    >>> series = Series((0.0, 10.0, 20.0), (90.0, 62.0, 46.7), (0.3, 0.2, 0.2), 0.0)
    >>> [round(fit.tau_s) for fit in scan(series, 1.0, 100.0, 3)]
    [1, 10, 100]
    """
    ratio = (high_s / low_s) ** (1.0 / (count - 1))
    return [fit_at(series, low_s * ratio**index) for index in range(count)]


def best_of(series: Series, coarse: list[Fit]) -> Fit:
    """Refine the best of a scan by golden section.

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
    Golden section in the logarithm of the time constant. Source: textbook.

    Examples
    --------
    >>> series = Series((0.0, 10.0, 20.0), (90.0, 62.0, 46.7), (0.3, 0.2, 0.2), 0.0)
    >>> round(best_of(series, scan(series, 1.0, 1000.0, 50)).tau_s, 1)
    16.5
    """
    at = min(range(len(coarse)), key=lambda index: coarse[index].chi2)
    low = math.log(coarse[max(at - 1, 0)].tau_s)
    high = math.log(coarse[min(at + 1, len(coarse) - 1)].tau_s)
    golden = (math.sqrt(5.0) - 1.0) / 2.0
    for _ in range(40):
        left, right = high - golden * (high - low), low + golden * (high - low)
        if fit_at(series, math.exp(left)).chi2 < fit_at(series, math.exp(right)).chi2:
            high = right
        else:
            low = left
    return min(fit_at(series, math.exp((low + high) / 2.0)), coarse[at], key=lambda fit: fit.chi2)


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
    Bisection in the logarithm of the time constant, assuming that the sum of squares rises
    towards the bound. Source: textbook.

    Examples
    --------
    >>> series = Series((0.0, 10.0, 20.0), (90.0, 62.0, 46.7), (0.3, 0.2, 0.2), 0.0)
    >>> edge(series, fit_at(series, 16.5), 3.84, 1e4) > 16.5
    True
    """
    if fit_at(series, bound_s).chi2 <= limit:
        return None
    inside, outside = math.log(best.tau_s), math.log(bound_s)
    for _ in range(45):
        middle = (inside + outside) / 2.0
        if fit_at(series, math.exp(middle)).chi2 <= limit:
            inside = middle
        else:
            outside = middle
    return math.exp(outside)


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
    >>> series = Series((0.0, 10.0, 20.0), (90.0, 62.0, 46.7), (0.3, 0.2, 0.2), 0.0)
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
    >>> series = Series((0.0, 10.0, 20.0), (90.0, 62.0, 46.7), (0.3, 0.2, 0.2), 0.0)
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
    reach = [w * x * u for w, x, u in zip(weights, left, series.us_v, strict=True)]
    combined = math.hypot(*reach)
    if combined <= 0.0:
        return CHI2_95
    return (half_width_95([SQRT_3 * share / combined for share in reach])) ** 2


def _without(
    weights: Sequence[float], column: Sequence[float], other: Sequence[float]
) -> list[float]:
    """Return a column with its weighted projection on another taken out."""
    square = sum(w * y * y for w, y in zip(weights, other, strict=True))
    if square <= 0.0:
        return list(column)
    along = sum(w * x * y for w, x, y in zip(weights, column, other, strict=True)) / square
    return [x - along * y for x, y in zip(column, other, strict=True)]
