"""A simulated voltmeter: what it is, beside what its data sheet says, and what it shows.

Here: errors drawn inside the allowance and rounded to the last digit. Pure: chance comes in as an
argument, so the same seed gives the same readings. Not here: what is read (simulate.py,
simulated_instruments.py).
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from packs.physics.instrument import Meter


class Chance(Protocol):
    """Where errors come from; ``random.Random`` is one."""

    def uniform(self, a: float, b: float) -> float:
        """Return a number equally likely between a and b."""

    def gauss(self, mu: float, sigma: float) -> float:
        """Return a normally distributed number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterInHand:
    """One particular voltmeter: what its data sheet says and what it is.

    Parameters
    ----------
    meter : Meter
        The data sheet.
    input_ohm : float
        Its true input resistance, [ohm]
    """

    meter: Meter
    input_ohm: float


def meter_in_hand(meter: Meter, chance: Chance) -> MeterInHand:
    """Return one particular voltmeter of a type.

    Parameters
    ----------
    meter : Meter
        The data sheet.
    chance : Chance
        Where its deviation comes from.

    Returns
    -------
    in_hand : MeterInHand
        With a true input resistance inside the tolerance, the same for all its readings, [ohm]

    Notes
    -----
    Equally likely inside the tolerance; one draw for all readings of this meter. Source: JCGM
    100:2008, clause 4.3.7.

    Examples
    --------
    >>> from random import Random
    >>> in_hand = meter_in_hand(Meter(input_ohm=1.0e7), Random(1))
    >>> 9.9e6 <= in_hand.input_ohm <= 10.1e6
    True
    """
    return MeterInHand(
        meter=meter,
        input_ohm=within(meter.input_ohm, meter.input_tolerance_percent, chance),
    )


def shunt_in_hand(shunt_ohm: float, tolerance_percent: float, chance: Chance) -> float:
    """Return the true resistance of one particular shunt.

    Parameters
    ----------
    shunt_ohm : float
        What is printed on it, [ohm]
    tolerance_percent : float
        Rectangular half-width, [%]
    chance : Chance
        Where its deviation comes from.

    Returns
    -------
    true_ohm : float
        Inside the tolerance, [ohm]

    Notes
    -----
    Equally likely inside the tolerance; one draw for all readings with this shunt. Source: JCGM
    100:2008, clause 4.3.7.

    Examples
    --------
    >>> from random import Random
    >>> 0.99e6 <= shunt_in_hand(1.0e6, 1.0, Random(1)) <= 1.01e6
    True
    """
    return within(shunt_ohm, tolerance_percent, chance)


def shown_v(true_v: float, meter: Meter, chance: Chance) -> float:
    """Return what a voltmeter shows of a true voltage.

    Parameters
    ----------
    true_v : float
        The voltage at its leads, [V]
    meter : Meter
        The voltmeter.
    chance : Chance
        Where the error comes from.

    Returns
    -------
    shown_v : float
        With an error equally likely within accuracy and counts, then rounded, [V]

    Notes
    -----
    The two rectangles of `Meter.errors_v`: that of the meter is drawn, that of the last digit comes
    of rounding. Source: JCGM 100:2008, clause 4.3.7.

    Examples
    --------
    >>> from random import Random
    >>> 99.4 < shown_v(100.0, Meter(input_ohm=1.0e7), Random(1)) < 100.6
    True
    """
    half_v = meter.half_width_v(true_v) - 0.5 * meter.resolution_v
    return rounded(true_v + chance.uniform(-half_v, half_v), meter.resolution_v)


def within(value: float, tolerance_percent: float, chance: Chance) -> float:
    """Return a value with an error equally likely inside a tolerance.

    Parameters
    ----------
    value : float
        The nominal value, [any unit]
    tolerance_percent : float
        Rectangular half-width, [%]
    chance : Chance
        Where the error comes from.

    Returns
    -------
    drawn : float
        Inside the tolerance, [same unit]

    Notes
    -----
    ``value * (1 + e)`` with e equally likely within the tolerance. Source: JCGM 100:2008, clause
    4.3.7.

    Examples
    --------
    >>> from random import Random
    >>> 98.0 <= within(100.0, 2.0, Random(1)) <= 102.0
    True
    """
    return value * (1.0 + chance.uniform(-1.0, 1.0) * tolerance_percent / 100.0)


def rounded(value: float, step: float) -> float:
    """Return a value rounded to the last digit shown.

    Parameters
    ----------
    value : float
        What would be shown with more digits, [any unit]
    step : float
        One step of the last digit, [same unit]

    Returns
    -------
    shown : float
        A whole number of steps, [same unit]

    Notes
    -----
    ``round(value/step) step``, free of binary residue. Source: how a display with digits works.

    Examples
    --------
    >>> rounded(3.14159, 0.01), rounded(2987.0, 10.0)
    (3.14, 2990.0)
    """
    return round(round(value / step) * step, 9)


def exponential_series(
    times_s: Iterable[float],
    start_v: float,
    end_v: float,
    tau_s: float,
    meter: Meter,
    chance: Chance,
) -> list[tuple[float, float]]:
    """Return what a voltmeter shows of an exponential.

    Parameters
    ----------
    times_s : iterable of float
        When to look, [s]
    start_v : float
        Voltage at time zero, [V]
    end_v : float
        Voltage it settles to, [V]
    tau_s : float
        Time constant, [s]
    meter : Meter
        The voltmeter.
    chance : Chance
        Where the reading errors come from.

    Returns
    -------
    series : list of tuple
        Time and shown voltage, [s], [V]

    Notes
    -----
    ``v(t) = v_end + (v_0 - v_end) exp(-t/tau)``. Assumes one capacitance and one resistance.
    Source: first-order response.

    Examples
    --------
    >>> from random import Random
    >>> meter = Meter(input_ohm=1.0e7)
    >>> [round(v) for _, v in exponential_series([0, 20], 100.0, 0.0, 20.0, meter, Random(1))]
    [100, 37]
    """
    return [
        (float(t), shown_v(end_v + (start_v - end_v) * math.exp(-t / tau_s), meter, chance))
        for t in times_s
    ]
