"""Resistances from how far a meter of known input resistance pulls the poles down.

Here: what both poles read beside the voltage between them. Not here: the estimate by shunt
(shunt.py), and any limit or verdict (isolation.py).
"""

from packs.physics.instrument import Meter
from packs.physics.interval import Interval, WithErrors, explained
from packs.physics.shunt import ShuntReadings


def total_by_loading(readings: ShuntReadings) -> Interval | None:
    """Return the resistance of all leaks from how far the meter pulls the poles down.

    Parameters
    ----------
    readings : ShuntReadings
        Poles, the voltage between them, and the meter, [V] and [ohm]

    Returns
    -------
    total_ohm : Interval | None
        None when the voltage between the poles was not measured, [ohm]

    Notes
    -----
    ``R = R_m (V_b/(v_pos + v_neg) - 1)``, with the meter's input resistance as one error.
    Source: the circuit of a floating string.

    Examples
    --------
    >>> readings = ShuntReadings(
    ...     pos_v=106.11,
    ...     neg_v=261.68,
    ...     shunted_v=197.55,
    ...     shunt_across="neg",
    ...     shunt_ohm=185_000.0,
    ...     shunt_tolerance_percent=1.0,
    ...     meter=Meter(input_ohm=1.0e7),
    ...     bus_v=370.0,
    ...     gain_shared=False,
    ... )
    >>> round(total_by_loading(readings).value)
    60089
    """
    bus_v = readings.bus_v
    if bus_v is None:
        return None
    errors_v = (*readings.own_errors_v(readings.pos_v), *readings.own_errors_v(readings.neg_v))
    return resistance_by_loading(
        (readings.sum_v, errors_v), (bus_v, readings.own_errors_v(bus_v)), readings.meter
    )


def resistance_by_loading(sum_v: WithErrors, between_v: WithErrors, meter: Meter) -> Interval:
    """Return the resistance behind which a meter reads less between two poles than there is.

    Parameters
    ----------
    sum_v : WithErrors
        Both readings against the enclosure, the lower one reversed, added; its errors, [V]
    between_v : WithErrors
        The voltage between the poles; its errors, [V]
    meter : Meter
        The voltmeter, the same for both readings, [-]

    Returns
    -------
    total_ohm : Interval
        With its 95 % interval; without an upper end when the readings set none, [ohm]

    Notes
    -----
    ``R = R_m (V_b/S - 1)``. The interval holds every resistance at which ``S - V_b R_m/(R_m + R)``
    is zero within the combined errors (Fieller, 1954). Source: the circuit of a floating string.

    Examples
    --------
    >>> meter = Meter(input_ohm=1.0e7)
    >>> found = resistance_by_loading((98.0, (0.1,)), (100.0, (0.1,)), meter)
    >>> round(found.low), round(found.value), round(found.high)
    (187824, 204082, 220417)
    """

    def mismatch(total_ohm: float) -> tuple[float, list[float]]:
        loaded = meter.input_ohm / (meter.input_ohm + total_ohm)
        return sum_v[0] - between_v[0] * loaded, [
            *sum_v[1],
            *(loaded * error_v for error_v in between_v[1]),
            between_v[0] * loaded * (1.0 - loaded) * meter.input_tolerance_percent / 100.0,
        ]

    value = meter.input_ohm * (between_v[0] / sum_v[0] - 1.0) if sum_v[0] > 0.0 else None
    return explained(mismatch, None if value is None else max(0.0, value))


def standard_by_loading(readings: ShuntReadings) -> Interval | None:
    """Return the smaller pole resistance, from how far the meter pulls the poles down.

    Parameters
    ----------
    readings : ShuntReadings
        Both poles, the voltage between them, and the meter, [V]

    Returns
    -------
    standard_ohm : Interval | None
        None when the voltage between the poles was not measured, [ohm]

    Notes
    -----
    ``R_m (V_b - v_pos - v_neg)/v_larger``: the total over the place of the leak. The interval
    holds every resistance at which ``v_larger (1 + R/R_m) + v_smaller - V_b`` is zero within the
    combined errors (Fieller, 1954). Source: the circuit of a floating string.

    Examples
    --------
    >>> readings = ShuntReadings(
    ...     pos_v=106.11,
    ...     neg_v=261.68,
    ...     shunted_v=197.55,
    ...     shunt_across="neg",
    ...     shunt_ohm=185_000.0,
    ...     shunt_tolerance_percent=1.0,
    ...     meter=Meter(input_ohm=1.0e7),
    ...     bus_v=370.0,
    ...     gain_shared=False,
    ... )
    >>> round(standard_by_loading(readings).value)
    84454
    """
    bus_v, meter = readings.bus_v, readings.meter
    if bus_v is None:
        return None
    smaller_v, larger_v = sorted((readings.pos_v, readings.neg_v))

    def mismatch(ohm: float) -> tuple[float, list[float]]:
        times = ohm / meter.input_ohm
        return larger_v * (1.0 + times) + smaller_v - bus_v, [
            *((1.0 + times) * error_v for error_v in readings.own_errors_v(larger_v)),
            *readings.own_errors_v(smaller_v),
            *readings.own_errors_v(bus_v),
            larger_v * times * meter.input_tolerance_percent / 100.0,
        ]

    left_v = bus_v - readings.sum_v
    return explained(
        mismatch, meter.input_ohm * max(0.0, left_v) / larger_v if larger_v > 0.0 else None
    )
