"""A resistance with its interval, found from how far readings miss each supposed one.

Here: the search for the ends of the interval. Not here: which readings, and what they should be
(shunt.py, loading.py).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from packs.physics.instrument import half_width_95

LEAST_OHM, MOST_OHM = 1e-3, 1e14

HALVINGS, CHORDS = 12, 9

Mismatch = Callable[[float], tuple[float, list[float]]]
"""For a supposed resistance: what the readings miss it by, and how far each error may move that."""

WithErrors = tuple[float, Sequence[float]]
"""A voltage, and the rectangular half-widths of its errors."""


@dataclass(frozen=True, slots=True)
class Interval:
    """A best value with both ends; without an upper end it is a lower bound."""

    value: float
    low: float
    high: float | None

    def times(self, factor: float) -> "Interval":
        """Return the interval scaled.

        Parameters
        ----------
        factor : float
            A number above zero, [-]

        Returns
        -------
        scaled : Interval
            Every end times the factor, [same unit]

        Notes
        -----
        ``(k x, k x_low, k x_high)``. Source: arithmetic.

        Examples
        --------
        >>> Interval(2.0, 1.0, None).times(3.0)
        Interval(value=6.0, low=3.0, high=None)
        """
        high = None if self.high is None else self.high * factor
        return Interval(self.value * factor, self.low * factor, high)


def explained(mismatch: Mismatch, value: float | None) -> Interval:
    """Return every resistance that explains the readings within their errors.

    Parameters
    ----------
    mismatch : Mismatch
        For a supposed resistance what the readings miss it by, rising with it, and by how much
        each rectangular error may move that, [V]
    value : float or None
        The resistance the readings say, None where they say less than no leak, [ohm]

    Returns
    -------
    resistance : Interval
        The value with the ends of its 95 % interval; without an upper end where any resistance,
        however large, would explain the readings, [ohm]

    Notes
    -----
    The ends are where what is missed equals the 95 % half-width of all errors together:
    Fieller's construction (1954). Where even sound insulation leaves the readings outside the
    95 %, the lower end is where all errors at their worst just reach. Source: JCGM 100:2008.

    Examples
    --------
    >>> found = explained(lambda ohm: (ohm - 1000.0, [10.0]), 1000.0)
    >>> round(found.low, 1), found.value, round(found.high, 1)
    (990.5, 1000.0, 1009.5)
    """

    def low_end(ohm: float) -> float:
        missed, errors = mismatch(ohm)
        return missed + half_width_95(errors)

    def low_end_at_worst(ohm: float) -> float:
        missed, errors = mismatch(ohm)
        return missed + sum(map(abs, errors))

    def high_end(ohm: float) -> float:
        missed, errors = mismatch(ohm)
        return missed - half_width_95(errors)

    # Readings just below those of a perfect string leave the 95 % empty; all of the errors do not.
    low = _crossing(low_end)
    if low is None:
        low = _crossing(low_end_at_worst) or 0.0
    high = _crossing(high_end)
    if high is None or value is None:
        return Interval(low, low, None)
    return Interval(min(max(value, low), high), low, high)


def _crossing(rising: Callable[[float], float]) -> float | None:
    """Return where a rising function passes zero, 0 if it starts above, None if it never does."""
    if rising(LEAST_OHM) >= 0.0:
        return 0.0
    if rising(MOST_OHM) < 0.0:
        return None
    below, above = math.log(LEAST_OHM), math.log(MOST_OHM)
    ends = [rising(LEAST_OHM), rising(MOST_OHM)]
    middle, was_below = below, None
    for turn in range(HALVINGS + CHORDS):
        # Halves first, because resistances span decades; then chords (the Illinois rule).
        halving = turn < HALVINGS
        share = 0.5 if halving else ends[0] / (ends[0] - ends[1])
        middle = below + share * (above - below)
        at_middle = rising(math.exp(middle))
        is_below = at_middle < 0.0
        kept = ends[is_below] * (0.5 if is_below is was_below and not halving else 1.0)
        if is_below:
            below, ends = middle, [at_middle, kept]
        else:
            above, ends = middle, [kept, at_middle]
        was_below = is_below
    return math.exp(middle)
