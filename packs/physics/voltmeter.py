"""What is read with a voltmeter and a shunt: the case as entered, and the readings made of it.

Here: magnitudes checked, and figures whose unit was probably mistaken. Not here: the estimates
(shunt.py) and the verdict (isolation.py).
"""

from dataclasses import dataclass

from packs.physics.instrument import CalculationRefused, Message, Meter
from packs.physics.shunt import Pole, ShuntReadings
from packs.physics.unit_suspicion import (
    HIGHEST_CLASS_B_V,
    suspect,
    suspicions,
    suspicious_instrument,
)

LEAST_INPUT_OHM = 1e5
"""A meter below this would load the string like a leak; two-pole testers have 200 kohm and more."""
SHUNTS_OHM = 2e3, 1e8
"""A limit of 100 ohm/V on 60 V wants 6 kohm; above ten megohm meters a shunt shows nothing."""
LIMITS_OHM_PER_V = 10.0, 1e4
"""Rules ask for 100 or 500, makers for a megohm or two on the whole string."""
LEAST_WORKING_V = 12.0
"""A supply battery has as much."""
TIMES_WORKING = 100.0
"""No reading is this many times the working voltage, and no string this far below it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VoltmeterCase:
    """Each pole against the enclosure, settled, and one of them again with a shunt."""

    pos_to_chassis_v: float
    neg_to_chassis_v: float
    shunt_ohm: float
    shunt_across: Pole
    shunted_v: float
    meter: Meter
    working_voltage_v: float
    limit_ohm_per_v: float = 100.0
    shunt_tolerance_percent: float = 1.0
    bus_v: float | None = None
    gain_shared: bool = False


def readings_of(case: VoltmeterCase) -> ShuntReadings:
    """Check the readings and count those just below zero as zero.

    Parameters
    ----------
    case : VoltmeterCase
        As entered, [V] and [ohm]

    Returns
    -------
    readings : ShuntReadings
        Magnitudes, none below zero, [V] and [ohm]

    Raises
    ------
    CalculationRefused
        When a reading is below zero by more than the meter's allowance.

    Notes
    -----
    The poles of a floating string lie on either side of the enclosure, so their magnitudes say it
    all; a reading within the allowance below zero is zero. Source: UN R100, measurement of
    isolation resistance.

    Examples
    --------
    >>> case = VoltmeterCase(
    ...     pos_to_chassis_v=-0.01,
    ...     neg_to_chassis_v=261.68,
    ...     shunt_ohm=185_000.0,
    ...     shunt_across="neg",
    ...     shunted_v=197.55,
    ...     meter=Meter(input_ohm=1.0e7),
    ...     working_voltage_v=370.0,
    ... )
    >>> readings_of(case).pos_v
    0.0
    """
    magnitudes = {}
    for name in ("pos_to_chassis_v", "neg_to_chassis_v", "shunted_v"):
        reading_v: float = getattr(case, name)
        if reading_v < -case.meter.half_width_v(reading_v):
            raise CalculationRefused(name, "must not be below zero: enter the magnitude")
        magnitudes[name] = max(0.0, reading_v)
    return ShuntReadings(
        pos_v=magnitudes["pos_to_chassis_v"],
        neg_v=magnitudes["neg_to_chassis_v"],
        shunted_v=magnitudes["shunted_v"],
        shunt_across=case.shunt_across,
        shunt_ohm=case.shunt_ohm,
        shunt_tolerance_percent=case.shunt_tolerance_percent,
        meter=case.meter,
        bus_v=case.bus_v,
        gain_shared=case.gain_shared,
    )


def suspicions_of_voltmeter(case: VoltmeterCase) -> tuple[Message, ...]:
    """Warn of figures that were probably entered in another unit.

    Parameters
    ----------
    case : VoltmeterCase
        As entered, [V] and [ohm]

    Returns
    -------
    warnings : tuple[Message, ...]
        With the code ``unit_suspect``, [-]

    Notes
    -----
    Usual are an input resistance from 100 kohm, shunts of 2 kohm to 100 Mohm, limits of 10 to
    10 000 ohm/V, a working voltage of 12 to 1500 V, readings and a bus voltage less than a hundred
    times off the working voltage. Source: voltage class B of ISO 6469-3; the rest shop defaults.

    Examples
    --------
    >>> case = VoltmeterCase(
    ...     pos_to_chassis_v=106.11,
    ...     neg_to_chassis_v=261.68,
    ...     shunt_ohm=185.0,
    ...     shunt_across="neg",
    ...     shunted_v=197.55,
    ...     meter=Meter(input_ohm=1.0e7),
    ...     working_voltage_v=370.0,
    ... )
    >>> [warning.text for warning in suspicions_of_voltmeter(case)]
    ['shunt_ohm is 185, which is unusual: were kilohms meant?']
    """
    working_v, most_v = case.working_voltage_v, TIMES_WORKING * case.working_voltage_v
    shunt = "were kilohms meant?" if case.shunt_ohm < SHUNTS_OHM[0] else "was it in ohms already?"
    readings = (
        suspect(name, getattr(case, name), 0.0, most_v, "were millivolts meant?")
        for name in ("pos_to_chassis_v", "neg_to_chassis_v", "shunted_v")
    )
    return (
        *suspicious_instrument("meter", case.meter, LEAST_INPUT_OHM),
        *suspicions(
            suspect("shunt_ohm", case.shunt_ohm, *SHUNTS_OHM, shunt),
            *suspicious_limit(working_v, case.limit_ohm_per_v),
            *readings,
            suspect(
                "bus_v",
                case.bus_v,
                working_v / TIMES_WORKING,
                most_v,
                "does it have the unit of the working voltage?",
            ),
        ),
    )


def suspicious_limit(working_voltage_v: float, limit_ohm_per_v: float) -> tuple[Message, ...]:
    """Warn of a working voltage or a limit that was probably entered in another unit.

    Parameters
    ----------
    working_voltage_v : float
        Highest voltage between the poles, [V]
    limit_ohm_per_v : float
        The limit, [ohm/V]

    Returns
    -------
    warnings : tuple[Message, ...]
        With the code ``unit_suspect``, [-]

    Notes
    -----
    A working voltage below 12 V was probably given in kilovolts, one above 1500 V in tenths or
    thousandths of a volt; a limit above 10 000 ohm/V in ohms for the whole string, one below
    10 ohm/V in kilohms per volt. Source: voltage class B of ISO 6469-3; the rest shop defaults.

    Examples
    --------
    >>> [warning.text for warning in suspicious_limit(0.4, 500.0)]
    ['working_voltage_v is 0.4, which is unusual: were kilovolts meant?']
    """
    too_low, limit_low = working_voltage_v < LEAST_WORKING_V, limit_ohm_per_v < LIMITS_OHM_PER_V[0]
    working_words = "were kilovolts meant?" if too_low else "was a decimal point left out?"
    limit_words = "were kilohms per volt meant?" if limit_low else "was it meant for the string?"
    return suspicions(
        suspect(
            "working_voltage_v",
            working_voltage_v,
            LEAST_WORKING_V,
            HIGHEST_CLASS_B_V,
            working_words,
        ),
        suspect("limit_ohm_per_v", limit_ohm_per_v, *LIMITS_OHM_PER_V, limit_words),
    )
