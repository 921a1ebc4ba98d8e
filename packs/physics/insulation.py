"""What is known of a leakage resistance: the figure, its interval, and how figures are combined.

Here: sections in parallel, a limit in ohm per volt, two estimates of one resistance.
Not here: how a reading becomes such a figure (circuit.py) and the regulation's pole resistances
(isolation.py).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from packs.physics.instrument import CalculationRefused, Message, Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Insulation:
    """Leakage resistance to the enclosure, with its 95 % interval.

    Parameters
    ----------
    total_ohm : float
        Best estimate; equals `total_ohm_low` when `is_lower_bound`, [ohm]
    total_ohm_low : float
        Lower end of the interval, zero when nothing can be excluded, [ohm]
    total_ohm_high : float or None
        Upper end, None when the readings set none, [ohm]
    is_lower_bound : bool
        The leak is smaller than the meter resolves, or hidden; only `total_ohm_low` is known.
    near_zero : bool
        The reading is within the allowance of zero: a leak at this very node is not excluded.
    contradictory : bool
        The readings disagree by more than the instrument's allowance.
    warnings : tuple of Message
        What a person should know before relying on the figures.
    open_v : float or None
        For one section: the read pole to the enclosure with nothing connected, signed, [V]
    open_v_low : float or None
        Lower end of its interval, None where unbounded, [V]
    open_v_high : float or None
        Upper end of its interval, None where unbounded, [V]
    """

    total_ohm: float
    total_ohm_low: float
    total_ohm_high: float | None
    is_lower_bound: bool = False
    near_zero: bool = False
    contradictory: bool = False
    warnings: tuple[Message, ...] = ()
    open_v: float | None = None
    open_v_low: float | None = None
    open_v_high: float | None = None


@dataclass(frozen=True, slots=True)
class Span:
    """A conductance and its interval, never negative.

    Parameters
    ----------
    low : float
        Lower end of the 95 % interval, [1/ohm]
    best : float
        Best estimate, [1/ohm]
    high : float
        Upper end, may be infinite, [1/ohm]
    """

    low: float
    best: float
    high: float


def combine_parallel(sections: Sequence[Insulation]) -> Insulation:
    """Return the insulation of a whole string from that of its sections.

    Parameters
    ----------
    sections : sequence of Insulation
        Every section of the string, each read while the links between them were open.

    Returns
    -------
    whole : Insulation
        The sections in parallel, [ohm]

    Raises
    ------
    CalculationRefused
        When there is no section.

    Notes
    -----
    Conductances add, and so do the ends of their intervals, because the meter's and the shunt's
    errors are shared. A section known only by a lower bound counts with that bound, so the whole is
    never rated better than shown. A section where a leak can hide makes the lower end zero and is
    left out of the best estimate. Adding the ends assumes the worst, that all errors are shared:
    the whole is known a little better than this says. Source: Kirchhoff's current law.

    Examples
    --------
    >>> a = Insulation(total_ohm=2.0e6, total_ohm_low=1.8e6, total_ohm_high=2.2e6)
    >>> b = Insulation(total_ohm=6e7, total_ohm_low=6e7, total_ohm_high=None, is_lower_bound=True)
    >>> whole = combine_parallel([a, b])
    >>> round(whole.total_ohm), round(whole.total_ohm_low), round(whole.total_ohm_high)
    (1935484, 1747573, 2200000)
    """
    if not sections:
        raise CalculationRefused("sections", "at least one section must be read")
    span = Span(
        low=sum(inverse(section.total_ohm_high) for section in sections),
        best=sum(inverse(section.total_ohm) for section in sections if not section.near_zero),
        high=sum(inverse(section.total_ohm_low) for section in sections),
    )
    return from_conductance(
        span,
        near_zero=any(section.near_zero for section in sections),
        contradictory=any(section.contradictory for section in sections),
    )


def against_limit(
    insulation: Insulation, limit_ohm_per_v: float, working_voltage_v: float
) -> Verdict:
    """Return whether a leakage resistance passes a limit given in ohm per volt.

    Parameters
    ----------
    insulation : Insulation
        A section or a whole string, [ohm]
    limit_ohm_per_v : float
        The limit, [ohm/V]
    working_voltage_v : float
        The string's highest working voltage, [V]

    Returns
    -------
    verdict : Verdict
        `PASS` when the whole interval reaches the limit, `FAIL` when all of it lies below,
        `UNDECIDED` otherwise and for readings that contradict each other.

    Raises
    ------
    CalculationRefused
        When the limit or the voltage is not above zero.

    Notes
    -----
    Limit in ohm: ``limit_ohm_per_v * working_voltage_v``. A lower bound passes only if the bound
    does. Judging the total instead of the smaller pole resistance is on the safe side (the
    regulation's value is up to twice the total). Source: UN R100, isolation resistance; JCGM
    106:2012 for the decision.

    Examples
    --------
    >>> leak = Insulation(total_ohm=1.5e5, total_ohm_low=1.4e5, total_ohm_high=1.6e5)
    >>> str(against_limit(leak, 500.0, 400.0)), str(against_limit(leak, 100.0, 400.0))
    ('fail', 'pass')
    """
    if not limit_ohm_per_v > 0.0:
        raise CalculationRefused("limit_ohm_per_v", "must be above zero")
    if not working_voltage_v > 0.0:
        raise CalculationRefused("working_voltage_v", "must be above zero")
    limit_ohm = limit_ohm_per_v * working_voltage_v
    if insulation.contradictory:
        return Verdict.UNDECIDED
    if insulation.total_ohm_low >= limit_ohm:
        return Verdict.PASS
    if insulation.total_ohm_high is not None and insulation.total_ohm_high < limit_ohm:
        return Verdict.FAIL
    return Verdict.UNDECIDED


def estimates_agree(first: Insulation, second: Insulation) -> bool:
    """Return whether two independent estimates of one resistance can both be right.

    Parameters
    ----------
    first : Insulation
        One estimate, [ohm]
    second : Insulation
        The other, [ohm]

    Returns
    -------
    agree : bool
        False when they differ by more than 20 % and their intervals do not meet.

    Notes
    -----
    The 20 % are a shop default, no source: below it, unequal settling is the likelier reason.

    Examples
    --------
    >>> a = Insulation(total_ohm=1.0e5, total_ohm_low=0.95e5, total_ohm_high=1.05e5)
    >>> b = Insulation(total_ohm=2.0e5, total_ohm_low=1.9e5, total_ohm_high=2.1e5)
    >>> estimates_agree(a, a), estimates_agree(a, b)
    (True, False)
    """
    first_high = math.inf if first.total_ohm_high is None else first.total_ohm_high
    second_high = math.inf if second.total_ohm_high is None else second.total_ohm_high
    meet = first.total_ohm_low <= second_high and second.total_ohm_low <= first_high
    smaller, larger = sorted((first.total_ohm, second.total_ohm))
    return meet or larger <= 1.2 * smaller


def from_conductance(span: Span, *, near_zero: bool, contradictory: bool) -> Insulation:
    """Return a resistance from a conductance with its interval.

    Parameters
    ----------
    span : Span
        The conductance, [1/ohm]
    near_zero : bool
        A leak may hide at the node that was read: nothing is excluded below.
    contradictory : bool
        The readings disagree: no figure is given.

    Returns
    -------
    insulation : Insulation
        The resistance, a lower bound when the conductance may be zero, [ohm]

    Notes
    -----
    ``R = 1/G``, the ends of the interval exchanged. Source: Ohm's law.

    Examples
    --------
    >>> span = Span(low=4.0e-6, best=5.0e-6, high=8.0e-6)
    >>> resistance = from_conductance(span, near_zero=False, contradictory=False)
    >>> round(resistance.total_ohm_low), round(resistance.total_ohm)
    (125000, 200000)
    """
    low_ohm = 0.0 if contradictory or near_zero else inverse(span.high)
    is_bound = contradictory or span.low <= 0.0
    return Insulation(
        total_ohm=low_ohm if is_bound else inverse(span.best),
        total_ohm_low=low_ohm,
        total_ohm_high=None if is_bound else inverse(span.low),
        is_lower_bound=is_bound,
        near_zero=near_zero,
        contradictory=contradictory,
        warnings=_warnings(near_zero=near_zero, contradictory=contradictory),
    )


def inverse(value: float | None) -> float:
    """Return one over a value that is zero or more.

    Parameters
    ----------
    value : float or None
        A resistance or a conductance; None stands for infinite, [ohm] or [1/ohm]

    Returns
    -------
    inverse : float
        The other of the two, infinite for zero, [1/ohm] or [ohm]

    Notes
    -----
    ``G = 1/R`` and ``R = 1/G``. Source: Ohm's law.

    Examples
    --------
    >>> inverse(4.0), inverse(None), inverse(0.0)
    (0.25, 0.0, inf)
    """
    if value is None or math.isinf(value):
        return 0.0
    return math.inf if value <= 0.0 else 1.0 / value


def _warnings(*, near_zero: bool, contradictory: bool) -> tuple[Message, ...]:
    """Say what the flags mean."""
    found = []
    if near_zero:
        found.append(
            Message(
                "leak_not_excluded",
                "The reading is too close to zero to tell sound insulation from a leak at this "
                "very pole. Read a second pole of this section.",
            )
        )
    if contradictory:
        found.append(
            Message(
                "contradictory_readings",
                "The readings disagree by more than the meter's allowance. Check the sign, the "
                "pole and the shunt, let the readings settle and take them again.",
            )
        )
    return tuple(found)
