"""The circuit everything rests on: one section of the string, its leaks, a meter to the enclosure.

Here: what a meter reads, and what readings at one or two poles of a section say about its leakage
resistance; how such figures are combined and judged is in insulation.py and offered here too. Not
here: which module leaks (localise.py), the regulation's pole resistances (isolation.py). A section
is a part of the string between open links; sections do not influence each other's readings.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from packs.physics.instrument import CalculationRefused, Meter, half_width_95
from packs.physics.insulation import (
    Insulation,
    Span,
    against_limit,
    combine_parallel,
    estimates_agree,
    from_conductance,
    inverse,
)
from packs.physics.interval import Interval
from packs.physics.loading import resistance_by_loading
from packs.physics.shunt import ShuntReadings, total_by_shunt

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
    ``1/R = 1/R_m + 1/R_s``. Source: Kirchhoff's laws.

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
    ``v_a = sum G_i (V_a - V_i) / (sum G_i + 1/R_load)``. Assumes that the battery is stiff against
    the leaks and that the reading is settled. Source: Kirchhoff's current law at the enclosure.

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
    With ``w = v'/v``: ``G + G_m = G_s w/(1 - w)``, so ``G = G_s w/(1 - w) - G_m``, with the
    interval of `total_by_shunt`. The open voltage is ``E = v (G + G_m)/G``, or ``1/E = 1/v -
    (G_m/G_s)(1/v' - 1/v)``, in which the errors add. A resistance known by a lower bound only has
    no best open voltage. Sources: the shunt step is that of UN R100, component-based method;
    JCGM 100:2008, clause 4.3.7.

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
    open_v, sign = abs(reading_v), math.copysign(1.0, reading_v)
    allowed_v = meter.half_width_v(reading_v), meter.half_width_v(shunted_v)
    if open_v <= allowed_v[0]:
        return _near_zero_section(contradictory=abs(shunted_v) > sum(allowed_v))
    readings = ShuntReadings(
        pos_v=open_v,
        neg_v=0.0,
        shunted_v=max(0.0, sign * shunted_v),
        shunt_across="pos",
        shunt_ohm=shunt_ohm,
        shunt_tolerance_percent=shunt_tolerance_percent,
        meter=meter,
        bus_v=None,
        gain_shared=False,
    )
    total = total_by_shunt(readings)
    drop_v = open_v - sign * shunted_v
    nothing_fits = total.high is None and total.low <= 0.0 and drop_v > sum(allowed_v)
    contradictory = -drop_v > sum(allowed_v) or sign * shunted_v < -allowed_v[1] or nothing_fits
    inverse_open = Interval(1.0, 0.0, None) if contradictory else _inverse_open(readings)
    return _section(total, inverse_open, sign, contradictory=contradictory)


def _inverse_open(readings: ShuntReadings) -> Interval:
    """Return one over the open voltage; without an upper end where the shunt leaves nothing."""
    meter, open_v, shunted_v = readings.meter, readings.open_v, readings.shunted_v
    if shunted_v <= meter.half_width_v(shunted_v):
        return Interval(0.0, 0.0, 1.0 / (open_v - meter.half_width_v(open_v)))
    ratio = readings.shunt_ohm / meter.input_ohm
    loading = ratio * (1.0 / shunted_v - 1.0 / open_v)
    value = 1.0 / open_v - loading
    half = half_width_95(
        [
            *((1.0 + ratio) * error_v / open_v**2 for error_v in meter.errors_v(open_v)),
            *(ratio * error_v / shunted_v**2 for error_v in meter.errors_v(shunted_v)),
            loading * readings.shunt_tolerance_percent / 100.0,
            loading * meter.input_tolerance_percent / 100.0,
        ]
    )
    return Interval(value, value - half, value + half)


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
    ``G = G_m k/(1 - k)``, with the interval of `resistance_by_loading`; the open voltage is ``D
    v_u/(v_u - v_l)``. Unlike one reading near zero, two near zero do show that the section is
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
    if not difference_v > difference_u_v:
        raise CalculationRefused("difference_v", "must be above zero and above its uncertainty")
    sum_v = upper_v - lower_v
    errors_v = (*meter.errors_v(upper_v), *meter.errors_v(lower_v))
    total = resistance_by_loading((sum_v, errors_v), (difference_v, (difference_u_v,)), meter)
    contradictory = sum_v - difference_v > sum(errors_v) + difference_u_v or -sum_v > sum(errors_v)
    whole = _resistance(total, contradictory=contradictory)
    if contradictory or sum_v <= sum(errors_v):
        return whole
    at = upper_v / sum_v
    half_v = half_width_95(
        [
            *((1.0 - at) * difference_v / sum_v * error_v for error_v in meter.errors_v(upper_v)),
            *(at * difference_v / sum_v * error_v for error_v in meter.errors_v(lower_v)),
            at * difference_u_v,
        ]
    )
    open_v = at * difference_v
    return replace(
        whole,
        open_v=None if whole.is_lower_bound else open_v,
        open_v_low=open_v - half_v,
        open_v_high=open_v + half_v,
    )


def _resistance(total: Interval, *, contradictory: bool) -> Insulation:
    """Return a resistance with its interval, or none where the readings contradict each other."""
    span = Span(low=inverse(total.high), best=inverse(total.value), high=inverse(total.low))
    return from_conductance(span, near_zero=False, contradictory=contradictory)


def _section(
    total: Interval, inverse_open: Interval, sign: float, *, contradictory: bool
) -> Insulation:
    """Add the open-circuit voltage, known by its inverse, to a section's resistance."""
    whole = _resistance(total, contradictory=contradictory)
    if contradictory:
        return whole
    nearest_v = 1.0 / inverse_open.high if inverse_open.high else None
    farthest_v = 1.0 / inverse_open.low if inverse_open.low > 0.0 else None
    ends_v = [None if end_v is None else sign * end_v for end_v in (nearest_v, farthest_v)]
    known = inverse_open.value > 0.0 and not whole.is_lower_bound
    return replace(
        whole,
        open_v=sign / inverse_open.value if known else None,
        open_v_low=ends_v[0] if sign > 0.0 else ends_v[1],
        open_v_high=ends_v[1] if sign > 0.0 else ends_v[0],
    )


def _near_zero_section(*, contradictory: bool) -> Insulation:
    """Answer a reading of zero: sound, or a leak at this node."""
    nothing = Span(low=0.0, best=0.0, high=math.inf)
    return from_conductance(nothing, near_zero=True, contradictory=contradictory)
