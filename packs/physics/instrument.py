"""Instruments and the words every result is said in.

Here: how far a reading may be off, the verdicts, messages and the refusal of impossible input.
Not here: the circuit a voltmeter is put across (circuit.py), nor any calculation.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

SQRT_2, SQRT_3 = math.sqrt(2.0), math.sqrt(3.0)
COVERED = 0.95
"""Share of the outcomes that every interval is meant to hold."""
COVERAGE_95 = 1.959964
"""Standard normal quantile that leaves 2.5 % on either side."""

SHORTEST_S = 1e-6
"""Two samples of a series cannot be closer than this."""


class Verdict(StrEnum):
    """What a calculation says about a limit.

    Examples
    --------
    >>> Verdict.PASS == "pass"
    True
    """

    PASS = "pass"  # noqa: S105  (a verdict, not a password)
    FAIL = "fail"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Message:
    """One warning or one piece of advice: a stable code, and a sentence for people."""

    code: str
    text: str


class CalculationRefused(ValueError):
    """Raised when input contradicts itself or lies outside what a calculation covers.

    Parameters
    ----------
    path : str
        The field as the caller knows it, such as ``samples.1.t_s``.
    message : str
        What is wrong with it and how to mend it.

    Examples
    --------
    >>> str(CalculationRefused("meter.input_ohm", "must be above zero"))
    'meter.input_ohm: must be above zero'
    """

    def __init__(self, path: str, message: str) -> None:
        super().__init__(f"{path}: {message}")
        self.path = path
        self.message = message


def standard_uncertainty(half_width: float) -> float:
    """Return the standard uncertainty of an error that is equally likely within a half-width.

    Parameters
    ----------
    half_width : float
        Half the width of the interval, [any unit]

    Returns
    -------
    u : float
        Standard uncertainty, [same unit]

    Notes
    -----
    ``u = a/sqrt(3)``, the rectangular distribution of a type B evaluation. Source: JCGM 100:2008,
    Guide to the Expression of Uncertainty in Measurement, clause 4.3.7.

    Examples
    --------
    >>> round(standard_uncertainty(1.0), 4)
    0.5774
    """
    return half_width / SQRT_3


def half_width_95(half_widths: Sequence[float], normal_u: float = 0.0) -> float:
    """Return the half-width that holds 95 % of a sum of independent errors.

    Parameters
    ----------
    half_widths : Sequence[float]
        Rectangular half-widths, each already times its sensitivity, [any unit]
    normal_u : float
        Combined standard deviation of the bell-shaped errors, [same unit]

    Returns
    -------
    half_width : float
        Half the width of the central 95 % interval, [same unit]

    Notes
    -----
    The largest rectangle is kept as it is, all the rest is taken together as a bell; that sum has
    a closed distribution function. One rectangle alone gives 0.95 of its half-width, many small
    errors give 1.96 standard deviations. Source: JCGM 100:2008, annex G, where a coverage factor
    must suit the distribution; the split into one rectangle and a bell is our own.

    Examples
    --------
    >>> round(half_width_95([1.0]), 3), round(half_width_95([], 1.0), 3)
    (0.95, 1.96)
    >>> round(half_width_95([1.0, 1.0]), 2)
    1.57
    """
    widths = sorted((abs(width) for width in half_widths), reverse=True)
    widest = widths[0] if widths else 0.0
    bell = math.hypot(normal_u, *(standard_uncertainty(width) for width in widths[1:]))
    if widest <= 1e-6 * bell:
        return COVERAGE_95 * bell
    if bell <= 1e-9 * widest:
        return COVERED * widest
    # What lies within rises ever more slowly: tangents from below never pass the root.
    half = max(COVERED * widest, COVERAGE_95 * bell)
    # Six are enough for nine digits at any ratio of the two.
    for _ in range(7):
        step = (COVERED - _held(half, widest, bell)) / _gained(half, widest, bell)
        half += max(step, 0.0)
    return half


def _held(half_width: float, rectangle: float, bell: float) -> float:
    """Return how much of a rectangle plus a bell lies within a half-width of zero."""

    def area(z: float) -> float:
        phi = math.exp(-z * z / 2.0) / math.sqrt(2.0 * math.pi)
        return z * (1.0 + math.erf(z / SQRT_2)) / 2.0 + phi

    step = area((half_width + rectangle) / bell) - area((half_width - rectangle) / bell)
    return bell / rectangle * step - 1.0


def _gained(half_width: float, rectangle: float, bell: float) -> float:
    """Return how much more lies within for each unit of half-width."""
    outer = math.erf((half_width + rectangle) / bell / SQRT_2)
    inner = math.erf((half_width - rectangle) / bell / SQRT_2)
    return (outer - inner) / (2.0 * rectangle)


def scatter(misfit: float, freedom: int) -> float:
    """Return how many times more readings vary than their errors explain.

    Parameters
    ----------
    misfit : float
        Sum of squared residuals, each over its standard uncertainty, [-]
    freedom : int
        Readings less fitted parameters, [-]

    Returns
    -------
    ratio : float
        Of variances; 1 unless the misfit is beyond its 99.9 % quantile, [-]

    Notes
    -----
    ``chi^2/freedom`` where that is beyond chance. Sources: Birge (1932) for the ratio, whose square
    this is; Wilson and Hilferty (1931) for the quantile of chi-squared.

    Examples
    --------
    >>> scatter(12.0, 10), scatter(60.0, 10)
    (1.0, 6.0)
    """
    if freedom < 1:
        return 1.0
    spread = 2.0 / (9.0 * freedom)
    quantile = freedom * (1.0 - spread + 3.09 * math.sqrt(spread)) ** 3
    return misfit / freedom if misfit > quantile else 1.0


def at_least(low: float, high: float | None, limit: float) -> Verdict:
    """Judge a figure that must reach a limit.

    Parameters
    ----------
    low : float
        Lower end of its interval, [any unit]
    high : float | None
        Upper end, None when there is none, [same unit]
    limit : float
        The least that is acceptable, [same unit]

    Returns
    -------
    verdict : Verdict
        Undecided when the limit lies inside the interval, [-]

    Notes
    -----
    A bound from one side only (high is None) can pass but cannot fail. Source: JCGM 106:2012,
    decision rules with guard bands; the guard band is the whole 95 % interval.

    Examples
    --------
    >>> at_least(120.0, None, 100.0), at_least(90.0, 110.0, 100.0)
    (<Verdict.PASS: 'pass'>, <Verdict.UNDECIDED: 'undecided'>)
    """
    if low >= limit:
        return Verdict.PASS
    if high is not None and high < limit:
        return Verdict.FAIL
    return Verdict.UNDECIDED


def at_most(low: float, high: float, limit: float) -> Verdict:
    """Judge a figure that must not go over a limit.

    Parameters
    ----------
    low : float
        Lower end of its interval, [any unit]
    high : float
        Upper end, [same unit]
    limit : float
        The most that is acceptable, [same unit]

    Returns
    -------
    verdict : Verdict
        Undecided when the limit lies inside the interval, [-]

    Notes
    -----
    Source: JCGM 106:2012, decision rules with guard bands.

    Examples
    --------
    >>> at_most(1.0, 2.0, 2.0), at_most(1.0, 2.0, 0.5), at_most(1.0, 2.0, 1.5)
    (<Verdict.PASS: 'pass'>, <Verdict.FAIL: 'fail'>, <Verdict.UNDECIDED: 'undecided'>)
    """
    if high <= limit:
        return Verdict.PASS
    return Verdict.FAIL if low > limit else Verdict.UNDECIDED


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """How far an instrument with digits may be off.

    Parameters
    ----------
    accuracy_percent : float
        Share of the reading, [%]
    accuracy_counts : float
        Steps of the last digit, [-]
    resolution_v : float
        One step of the last digit, [V]

    Examples
    --------
    >>> Accuracy(accuracy_percent=0.5, accuracy_counts=2, resolution_v=0.1).half_width_v(400.0)
    2.25
    """

    accuracy_percent: float = 0.5
    accuracy_counts: float = 2
    resolution_v: float = 0.01

    def half_width_v(self, reading_v: float) -> float:
        """Return how far the true voltage may be from a reading.

        Parameters
        ----------
        reading_v : float
            What the display showed, [V]

        Returns
        -------
        half_width_v : float
            Largest error in either direction, [V]

        Notes
        -----
        ``a = accuracy_percent/100*|reading| + accuracy_counts*resolution + resolution/2``: the
        maker's two terms and the rounding of the last digit. Source: JCGM 100:2008, clause 4.3.7.

        Examples
        --------
        >>> round(Accuracy().half_width_v(-200.0), 3)
        1.025
        """
        share_v = self.accuracy_percent / 100.0 * abs(reading_v)
        return share_v + (self.accuracy_counts + 0.5) * self.resolution_v


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """A voltmeter and what it puts across the circuit.

    Parameters
    ----------
    input_ohm : float
        Input resistance, [ohm]
    input_tolerance_percent : float
        Rectangular half-width of the input resistance, one error for all readings, [%]
    accuracy_percent : float
        Share of the reading, [%]
    accuracy_counts : float
        Steps of the last digit, [-]
    resolution_v : float
        One step of the last digit, [V]

    Examples
    --------
    >>> Meter(input_ohm=1.0e7).half_width_v(100.0)
    0.525
    """

    input_ohm: float
    input_tolerance_percent: float = 1.0
    accuracy_percent: float = 0.5
    accuracy_counts: float = 2
    resolution_v: float = 0.01

    def half_width_v(self, reading_v: float) -> float:
        """Return how far the true voltage may be from a reading.

        Parameters
        ----------
        reading_v : float
            What the display showed, [V]

        Returns
        -------
        half_width_v : float
            Largest error in either direction, [V]

        Notes
        -----
        The same formula as `Accuracy.half_width_v`. Source: JCGM 100:2008, clause 4.3.7.

        Examples
        --------
        >>> round(Meter(input_ohm=1.0e7).half_width_v(0.0), 3)
        0.025
        """
        share_v = self.accuracy_percent / 100.0 * abs(reading_v)
        return share_v + (self.accuracy_counts + 0.5) * self.resolution_v

    def errors_v(self, reading_v: float) -> tuple[float, float]:
        """Return the two errors a reading has: that of the meter, and that of its last digit.

        Parameters
        ----------
        reading_v : float
            What the display showed, [V]

        Returns
        -------
        half_widths_v : tuple[float, float]
            Rectangular half-widths; together they are `half_width_v`, [V]

        Notes
        -----
        ``accuracy_percent/100*|reading| + accuracy_counts*resolution`` and ``resolution/2``. They
        are independent, so an interval takes them as two rectangles; their sum is what a reading
        can be off at worst. Source: JCGM 100:2008, clauses 4.3.7 and F.2.2.1 (resolution).

        Examples
        --------
        >>> own_v, rounding_v = Meter(input_ohm=1.0e7).errors_v(-100.0)
        >>> round(own_v, 3), round(rounding_v, 3)
        (0.52, 0.005)
        """
        share_v = self.accuracy_percent / 100.0 * abs(reading_v)
        return share_v + self.accuracy_counts * self.resolution_v, 0.5 * self.resolution_v
