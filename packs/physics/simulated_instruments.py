"""What the other instruments of the simulated workshop show, each inside its own allowance.

Here: insulation tester, pressure gauge, millivoltmeter across joints, discharge of the link
capacitors. Not here: the voltmeter (simulated_meter.py) and the pack (simulate.py, which offers all
of this too).
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from packs.physics.circuit import load_resistance
from packs.physics.instrument import Meter
from packs.physics.simulated_meter import (
    Chance,
    exponential_series,
    rounded,
    shown_v,
    within,
)

KELVIN = 273.15
"""Zero degrees Celsius, [K]."""
BAROMETER_PA = 101_325.0  # assumed in simulated seal tests


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownInsulation:
    """What an insulation tester shows.

    Parameters
    ----------
    ohm : float or None
        The figure, None when over range, [ohm]
    above_ohm : float or None
        "More than" this when over range, else None, [ohm]
    """

    ohm: float | None
    above_ohm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Enclosure:
    """A sealed enclosure during a pressure-decay test.

    Parameters
    ----------
    volume_l : float
        Free volume, [L]
    leak_pa_m3_per_s : float
        Leak at the starting pressure, referred to 20 degrees Celsius, [Pa m3/s]
    start_pa : float
        Gauge pressure at the start, [Pa]
    start_c : float
        Temperature of the air inside at the start, [degC]
    drift_c_per_h : float
        How fast it changes, [degC/h]
    """

    volume_l: float
    leak_pa_m3_per_s: float
    start_pa: float = 3000.0
    start_c: float = 20.0
    drift_c_per_h: float = 0.0


def discharge_series(
    *,
    start_v: float,
    capacitance_uf: float,
    bleed_ohm: float,
    times_s: Iterable[float],
    meter: Meter,
    chance: Chance,
) -> list[tuple[float, float]]:
    """Return how the link capacitors between the two conductors discharge.

    Parameters
    ----------
    start_v : float
        Voltage when the source is disconnected, [V]
    capacitance_uf : float
        Capacitance of the link, [uF]
    bleed_ohm : float
        Discharge resistor, [ohm]
    times_s : iterable of float
        When to look, [s]
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
    ``v(t) = v_0 exp(-t/RC)`` with the bleed resistor and the meter in parallel.

    Examples
    --------
    >>> from random import Random
    >>> series = discharge_series(
    ...     start_v=400.0,
    ...     capacitance_uf=1000.0,
    ...     bleed_ohm=40.0e3,
    ...     times_s=[0, 40],
    ...     meter=Meter(input_ohm=1.0e7),
    ...     chance=Random(1),
    ... )
    >>> 140.0 < series[1][1] < 154.0
    True
    """
    tau_s = load_resistance(meter.input_ohm, bleed_ohm) * capacitance_uf * 1.0e-6
    return exponential_series(times_s, start_v, 0.0, tau_s, meter, chance)


def shown_insulation(
    parts_ohm: Sequence[float], *, accuracy_percent: float, ceiling_ohm: float, chance: Chance
) -> ShownInsulation:
    """Return what an insulation tester shows with several parts connected.

    Parameters
    ----------
    parts_ohm : sequence of float
        Insulation of every part still connected, [ohm]
    accuracy_percent : float
        The tester's accuracy, [%]
    ceiling_ohm : float
        Where it shows "more than", [ohm]
    chance : Chance
        Where the reading error comes from.

    Returns
    -------
    reading : ShownInsulation
        The parts in parallel, three digits, or "more than" the ceiling, [ohm]

    Notes
    -----
    ``1/R = sum 1/R_i``, times an error equally likely inside the accuracy. Source: Kirchhoff's
    laws.

    Examples
    --------
    >>> from random import Random
    >>> reading = shown_insulation(
    ...     [2.0e6, 3.0e5], accuracy_percent=5.0, ceiling_ohm=5.5e8, chance=Random(1)
    ... )
    >>> 2.4e5 < reading.ohm < 2.8e5
    True
    >>> shown_insulation([], accuracy_percent=5.0, ceiling_ohm=5.5e8, chance=Random(1)).above_ohm
    550000000.0
    """
    conductance = sum(1.0 / ohm for ohm in parts_ohm)
    if conductance * ceiling_ohm <= 1.0:
        return ShownInsulation(ohm=None, above_ohm=ceiling_ohm)
    ohm = within(1.0 / conductance, accuracy_percent, chance)
    if ohm >= ceiling_ohm:
        return ShownInsulation(ohm=None, above_ohm=ceiling_ohm)
    return ShownInsulation(ohm=float(f"{ohm:.3g}"), above_ohm=None)


def pressure_samples(
    enclosure: Enclosure,
    *,
    times_s: Iterable[float],
    resolution_pa: float,
    repeatability_pa: float,
    chance: Chance,
) -> list[tuple[float, float, float]]:
    """Return samples of a pressure-decay test.

    Parameters
    ----------
    enclosure : Enclosure
        The sealed enclosure.
    times_s : iterable of float
        When to look, [s]
    resolution_pa : float
        One step of the gauge, [Pa]
    repeatability_pa : float
        Standard deviation of the gauge, [Pa]
    chance : Chance
        Where the gauge's scatter comes from.

    Returns
    -------
    samples : list of tuple
        Time, gauge pressure and temperature, [s], [Pa], [degC]

    Notes
    -----
    The leak falls with the gauge pressure: ``p_20(t) = p_b + p_0 exp(-q t/(V p_0))`` at 20 degrees
    Celsius, times ``T/T_ref``. The thermometer shows tenths. Source: ideal gas law.

    Examples
    --------
    >>> from random import Random
    >>> box = Enclosure(volume_l=60.0, leak_pa_m3_per_s=0.05)
    >>> samples = pressure_samples(
    ...     box, times_s=[0, 300], resolution_pa=1.0, repeatability_pa=0.0, chance=Random(1)
    ... )
    >>> [round(gauge_pa) for _, gauge_pa, _ in samples]
    [3000, 2760]
    """
    volume_m3 = enclosure.volume_l / 1000.0
    tau_s = math.inf
    if enclosure.leak_pa_m3_per_s > 0.0:
        tau_s = volume_m3 * enclosure.start_pa / enclosure.leak_pa_m3_per_s
    samples = []
    for t_s in times_s:
        temp_c = enclosure.start_c + enclosure.drift_c_per_h * t_s / 3600.0
        warm = (temp_c + KELVIN) / (enclosure.start_c + KELVIN)
        absolute_pa = (BAROMETER_PA + enclosure.start_pa * math.exp(-t_s / tau_s)) * warm
        gauge_pa = absolute_pa - BAROMETER_PA + chance.gauss(0.0, repeatability_pa)
        samples.append((float(t_s), rounded(gauge_pa, resolution_pa), round(temp_c, 1)))
    return samples


def joint_drops_mv(
    joints_micro_ohm: Sequence[float], *, current_a: float, meter: Meter, chance: Chance
) -> list[float]:
    """Return the drops that a millivoltmeter shows across busbar joints.

    Parameters
    ----------
    joints_micro_ohm : sequence of float
        True resistance of each joint in millionths of an ohm, 1e-6 [ohm]
    current_a : float
        Test current, [A]
    meter : Meter
        The voltmeter; its resolution in volts counts here too.
    chance : Chance
        Where the reading errors come from.

    Returns
    -------
    drops_mv : list of float
        One a joint, [mV]

    Notes
    -----
    ``U = R I``, read with a rectangular error. Source: Ohm's law.

    Examples
    --------
    >>> from random import Random
    >>> fine = Meter(input_ohm=1.0e7, accuracy_percent=0.1, resolution_v=1.0e-6)
    >>> drops = joint_drops_mv([15.0, 60.0], current_a=100.0, meter=fine, chance=Random(1))
    >>> [round(drop, 1) for drop in drops]
    [1.5, 6.0]
    """
    true_v = [ohm * 1.0e-6 * current_a for ohm in joints_micro_ohm]
    return [round(1000.0 * shown_v(volts, meter, chance), 6) for volts in true_v]
