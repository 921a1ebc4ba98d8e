"""The circuit everything rests on: one section of the string, its leaks, a meter to the enclosure.

Here: what a meter reads, and what readings at one or two poles of a section say about its leakage
resistance; how such figures are combined and judged is in insulation.py and offered here too. Not
here: which module leaks (localise.py), the regulation's pole resistances (isolation.py). A section
is a part of the string between open links; sections do not influence each other's readings.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from packs.physics.instrument import (
    COVERAGE_95,
    CalculationRefused,
    Meter,
    standard_uncertainty,
)
from packs.physics.insulation import (
    Insulation,
    Span,
    against_limit,
    combine_parallel,
    estimates_agree,
    from_conductance,
    inverse,
)

__all__ = [
    "Insulation",
    "PathToEnclosure",
    "against_limit",
    "combine_parallel",
    "estimates_agree",
    "load_resistance",
    "section_from_shunt",
    "section_from_two_poles",
    "section_reading",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class PathToEnclosure:
    """One way for current from the string to the enclosure.

    Parameters
    ----------
    potential_v : float
        Where it starts, measured from the section's negative end, [V]
    resistance_ohm : float
        Its resistance, [ohm]
    """

    potential_v: float
    resistance_ohm: float


def load_resistance(input_ohm: float, shunt_ohm: float | None = None) -> float:
    """Return what a meter, alone or with a shunt across it, puts between a node and the enclosure.

    Parameters
    ----------
    input_ohm : float
        The meter's input resistance, [ohm]
    shunt_ohm : float or None
        Known resistor in parallel, None when there is none, [ohm]

    Returns
    -------
    load_ohm : float
        Both in parallel, [ohm]

    Raises
    ------
    CalculationRefused
        When a resistance is not above zero.

    Notes
    -----
    ``1/R = 1/R_m + 1/R_s``.

    Examples
    --------
    >>> round(load_resistance(10.0e6, 1.0e6))
    909091
    """
    if not input_ohm > 0.0:
        raise CalculationRefused("meter.input_ohm", "must be above zero ohm")
    if shunt_ohm is None:
        return input_ohm
    if not shunt_ohm > 0.0:
        raise CalculationRefused("shunt_ohm", "must be above zero ohm, or empty without a shunt")
    return 1.0 / (1.0 / input_ohm + 1.0 / shunt_ohm)


def section_reading(node_v: float, leaks: Sequence[PathToEnclosure], load_ohm: float) -> float:
    """Return the settled voltage that a meter shows from a node of a section to the enclosure.

    Parameters
    ----------
    node_v : float
        Potential of the node, from the same end as the leaks', [V]
    leaks : sequence of PathToEnclosure
        All ways from this section to the enclosure, sound insulation included.
    load_ohm : float
        Meter with shunt, see `load_resistance`, [ohm]

    Returns
    -------
    reading_v : float
        Node relative to enclosure, [V]

    Raises
    ------
    CalculationRefused
        When the load or a leak is not above zero ohm.

    Notes
    -----
    ``v_a = sum G_i (V_a - V_i) / (sum G_i + 1/R_load)`` by Kirchhoff's current law at the
    enclosure. The battery is stiff against the leaks and the reading is settled.

    Examples
    --------
    A leak of 100 kilohm 80 V below the node, read with 10 megohm:

    >>> leak = PathToEnclosure(potential_v=20.0, resistance_ohm=100.0e3)
    >>> round(section_reading(100.0, [leak], 10.0e6), 2)
    79.21
    """
    if not load_ohm > 0.0 or any(not leak.resistance_ohm > 0.0 for leak in leaks):
        raise CalculationRefused("leaks", "every resistance must be above zero ohm")
    current_a = sum((node_v - leak.potential_v) / leak.resistance_ohm for leak in leaks)
    return current_a / (sum(1.0 / leak.resistance_ohm for leak in leaks) + 1.0 / load_ohm)


def section_from_shunt(
    *,
    reading_v: float,
    shunted_v: float,
    shunt_ohm: float,
    shunt_tolerance_percent: float,
    meter: Meter,
) -> Insulation:
    """Return a section's insulation from one pole's reading without and with a known shunt.

    Parameters
    ----------
    reading_v : float
        Pole to enclosure, settled, without the shunt, either sign, [V]
    shunted_v : float
        The same with the shunt from the pole to the enclosure, [V]
    shunt_ohm : float
        The shunt, [ohm]
    shunt_tolerance_percent : float
        Rectangular half-width of the shunt, [%]
    meter : Meter
        The voltmeter, the same for both readings.

    Returns
    -------
    section : Insulation
        Total leakage resistance and open-circuit voltage with 95 % intervals, [ohm], [V]

    Raises
    ------
    CalculationRefused
        When the shunt or the meter's input resistance is not above zero.

    Notes
    -----
    With ``w = v'/v``: ``G + G_m = G_s w/(1 - w)``, so ``G = G_s w/(1 - w) - G_m``, and the open
    voltage is ``v (G + G_m)/G``. The interval of ``w`` is Fieller's for a ratio of two readings
    with rectangular errors; it is mapped, then the shunt's and the meter's tolerances are added in
    quadrature on each side. When its lower end reaches zero the result is a lower bound. Sources:
    the shunt step is that of UN R100, component-based method; JCGM 100:2008, clause 4.3.7.

    Examples
    --------
    79.21 V falls to 72.07 V with 1 megohm across the meter: 100 kilohm, 80 V from the pole.

    >>> section = section_from_shunt(
    ...     reading_v=79.21,
    ...     shunted_v=72.07,
    ...     shunt_ohm=1.0e6,
    ...     shunt_tolerance_percent=1.0,
    ...     meter=Meter(input_ohm=1.0e7, accuracy_percent=0.1),
    ... )
    >>> round(section.total_ohm, -3), round(section.open_v, 1)
    (100000.0, 80.0)
    >>> section.total_ohm_low < 100.0e3 < section.total_ohm_high
    True
    """
    load_resistance(meter.input_ohm, shunt_ohm)
    expanded_v = _expanded(meter.half_width_v(reading_v))
    expanded_shunted_v = _expanded(meter.half_width_v(shunted_v))
    if abs(reading_v) <= expanded_v:
        return _near_zero_section(contradictory=abs(shunted_v) > expanded_v + expanded_shunted_v)
    ratio = _ratio(
        math.copysign(shunted_v, shunted_v * reading_v),
        expanded_shunted_v,
        abs(reading_v),
        expanded_v,
    )
    contradictory = ratio.low >= 1.0 or ratio.high < 0.0
    conductance = _conductance_behind(
        _mapped(ratio, 1.0 / shunt_ohm),
        load_tolerance=shunt_tolerance_percent / 100.0,
        meter=meter,
    )
    return _section(conductance, reading_v, meter, contradictory=contradictory)


def section_from_two_poles(
    *,
    upper_v: float,
    lower_v: float,
    difference_v: float,
    difference_u_v: float,
    meter: Meter,
) -> Insulation:
    """Return a section's insulation from readings at two of its poles.

    Parameters
    ----------
    upper_v : float
        The more positive pole to enclosure, settled, signed, [V]
    lower_v : float
        The more negative pole to enclosure, settled, signed, [V]
    difference_v : float
        Voltage between the two poles, measured or from the cells, above zero, [V]
    difference_u_v : float
        Rectangular half-width of that voltage, [V]
    meter : Meter
        The voltmeter, the same for both readings, without a shunt.

    Returns
    -------
    section : Insulation
        Total leakage resistance; the open voltage is that of the upper pole, [ohm], [V]

    Raises
    ------
    CalculationRefused
        When the difference is not above its own uncertainty.

    Notes
    -----
    Both readings are the open voltages times ``k = G/(G + G_m)``, so ``k = (v_u - v_l)/D`` and
    ``G = G_m k/(1 - k)``. Unlike one reading near zero, two near zero do show that the section is
    sound, because one leak cannot sit at both poles. Source: Kirchhoff's laws; JCGM 100:2008.

    Examples
    --------
    60 V and -38 V at poles 100 V apart: about 490 kilohm behind 10 megohm.

    >>> section = section_from_two_poles(
    ...     upper_v=60.0,
    ...     lower_v=-38.0,
    ...     difference_v=100.0,
    ...     difference_u_v=0.1,
    ...     meter=Meter(input_ohm=1.0e7, accuracy_percent=0.1),
    ... )
    >>> round(section.total_ohm), round(section.open_v, 1)
    (204082, 61.2)
    """
    load_resistance(meter.input_ohm)
    if not difference_v > COVERAGE_95 * standard_uncertainty(difference_u_v):
        raise CalculationRefused("difference_v", "must be above zero and above its uncertainty")
    expanded_v = math.hypot(
        _expanded(meter.half_width_v(upper_v)), _expanded(meter.half_width_v(lower_v))
    )
    ratio = _ratio(upper_v - lower_v, expanded_v, difference_v, _expanded(difference_u_v))
    contradictory = ratio.low > 1.0 or ratio.high < 0.0
    load = _mapped(ratio, 1.0 / meter.input_ohm)
    tolerance = _expanded(meter.input_tolerance_percent / 100.0)
    conductance = Span(
        low=load.low * (1.0 - tolerance), best=load.best, high=load.high * (1.0 + tolerance)
    )
    return _section(conductance, upper_v, meter, contradictory=contradictory)


def _expanded(half_width: float) -> float:
    """Expand a rectangular half-width to 95 % as one of several independent errors."""
    return COVERAGE_95 * standard_uncertainty(half_width)


def _ratio(upper: float, upper_expanded: float, lower: float, lower_expanded: float) -> Span:
    """Fieller's interval of a ratio whose denominator is clear of zero."""
    denominator = lower**2 - lower_expanded**2
    middle = upper * lower
    root = math.sqrt(max(0.0, middle**2 - denominator * (upper**2 - upper_expanded**2)))
    return Span(
        low=(middle - root) / denominator,
        best=upper / lower,
        high=(middle + root) / denominator,
    )


def _mapped(ratio: Span, conductance: float) -> Span:
    """Map a ratio w to ``G w/(1 - w)``: zero below w = 0, infinite from w = 1."""

    def one(value: float) -> float:
        if value >= 1.0:
            return math.inf
        return conductance * max(0.0, value) / (1.0 - max(0.0, value))

    return Span(low=one(ratio.low), best=one(ratio.best), high=one(ratio.high))


def _conductance_behind(load: Span, *, load_tolerance: float, meter: Meter) -> Span:
    """Subtract the meter from a total conductance, tolerances in quadrature on each side."""
    own = 1.0 / meter.input_ohm
    own_expanded = own * _expanded(meter.input_tolerance_percent / 100.0)
    tolerance = _expanded(load_tolerance)
    if math.isinf(load.best):
        low = load.low * (1.0 - tolerance) - own - own_expanded
        return Span(low=max(0.0, low), best=math.inf, high=math.inf)
    shared = math.hypot(load.best * tolerance, own_expanded)
    best = load.best - own
    low = best - math.hypot(load.best - load.low, shared)
    high = best + math.hypot(load.high - load.best, shared)
    return Span(low=max(0.0, low), best=max(0.0, best), high=max(0.0, high))


def _section(
    conductance: Span, reading_v: float, meter: Meter, *, contradictory: bool
) -> Insulation:
    """Add the open-circuit voltage to a section's conductance."""
    contradictory = contradictory or conductance.high <= 0.0
    whole = from_conductance(conductance, near_zero=False, contradictory=contradictory)
    if contradictory:
        return whole
    tolerance = meter.input_tolerance_percent / 100.0
    own = 1.0 / meter.input_ohm
    least = 1.0 + own * (1.0 - tolerance) / conductance.high
    most = 1.0 + own * (1.0 + tolerance) * inverse(conductance.low)
    expanded_v = _expanded(meter.half_width_v(reading_v))
    low_v = min((reading_v - expanded_v) * least, (reading_v - expanded_v) * most)
    high_v = max((reading_v + expanded_v) * least, (reading_v + expanded_v) * most)
    best_v = None if whole.is_lower_bound else reading_v * (1.0 + own * whole.total_ohm)
    return replace(
        whole,
        open_v=best_v,
        open_v_low=low_v if math.isfinite(low_v) else None,
        open_v_high=high_v if math.isfinite(high_v) else None,
    )


def _near_zero_section(*, contradictory: bool) -> Insulation:
    """Answer a reading of zero: sound, or a leak at this node."""
    nothing = Span(low=0.0, best=0.0, high=math.inf)
    return from_conductance(nothing, near_zero=True, contradictory=contradictory)
