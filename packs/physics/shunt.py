"""Two-step voltmeter estimate: resistances from readings with and without a shunt.

Here: the estimate by shunt and the leak's place. Not here: the estimate by the meter's own loading
(loading.py), any limit or verdict (isolation.py), and which module leaks (localise.py).
"""

from dataclasses import dataclass
from typing import Literal

from packs.physics.instrument import Meter, half_width_95
from packs.physics.interval import MOST_OHM, Interval, explained

__all__ = [
    "Interval",
    "Pole",
    "ShuntReadings",
    "place",
    "standard_by_shunt",
    "total_by_shunt",
]

Pole = Literal["pos", "neg"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShuntReadings:
    """Both poles against the enclosure as magnitudes, and one of them again with the shunt."""

    pos_v: float
    neg_v: float
    shunted_v: float
    shunt_across: Pole
    shunt_ohm: float
    shunt_tolerance_percent: float
    meter: Meter
    bus_v: float | None
    gain_shared: bool

    @property
    def open_v(self) -> float:
        """The reading without the shunt at the pole the shunt was put across."""
        return self.pos_v if self.shunt_across == "pos" else self.neg_v

    @property
    def other_v(self) -> float:
        """The reading at the other pole."""
        return self.neg_v if self.shunt_across == "pos" else self.pos_v

    @property
    def sum_v(self) -> float:
        """Both poles together."""
        return self.pos_v + self.neg_v

    @property
    def placed(self) -> bool:
        """Whether the poles read enough to say where the leak sits."""
        meter = self.meter
        return self.sum_v > meter.half_width_v(self.pos_v) + meter.half_width_v(self.neg_v)

    def own_errors_v(self, reading_v: float) -> tuple[float, float]:
        """Return the half-widths of the errors a reading does not share with the others.

        Parameters
        ----------
        reading_v : float
            What the display showed, [V]

        Returns
        -------
        half_widths_v : tuple[float, float]
            Of meter and last digit; without the share of the reading when that is one error for
            all, [V]
        """
        return self.meter.errors_v(0.0 if self.gain_shared else reading_v)


def total_by_shunt(readings: ShuntReadings) -> Interval:
    """Return the resistance of all leaks together, from the shunt.

    Parameters
    ----------
    readings : ShuntReadings
        Poles, shunt and meter, [V] and [ohm]

    Returns
    -------
    total_ohm : Interval
        With its 95 % interval; without an upper end when the meter cannot resolve it, [ohm]

    Notes
    -----
    ``G + G_m = (1/R_0)/(v/v' - 1)``. The interval holds every resistance at which
    ``v' - v (G + G_m)/(G + G_m + G_0)`` is zero within the combined errors: Fieller's
    construction (1954), right even when the shunt hardly changes the reading or leaves next to
    nothing of it. Source: the circuit of a floating string; UN R100 for the two-step procedure.

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
    ...     bus_v=None,
    ...     gain_shared=False,
    ... )
    >>> round(total_by_shunt(readings).value)
    60419
    """

    def mismatch(total_ohm: float) -> tuple[float, list[float]]:
        return _missed(readings, total_ohm, 1.0, (0.0, 0.0))

    return explained(mismatch, _value(readings, 1.0))


def standard_by_shunt(readings: ShuntReadings) -> Interval:
    """Return the smaller pole resistance, the quantity the regulation limits.

    Parameters
    ----------
    readings : ShuntReadings
        Poles, shunt and meter; the poles must read something, [V] and [ohm]

    Returns
    -------
    standard_ohm : Interval
        With its 95 % interval, [ohm]

    Notes
    -----
    ``total/max(x, 1 - x)`` with ``x = v_neg/(v_pos + v_neg)``; the errors of the readings enter
    both factors and are counted once. Source: UN R100, isolation resistance by voltmeter.

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
    ...     bus_v=None,
    ...     gain_shared=False,
    ... )
    >>> round(standard_by_shunt(readings).value)
    84918
    """
    open_v, other_v = readings.open_v, readings.other_v
    if open_v >= other_v:
        factor, slopes = 1.0 + other_v / open_v, (-other_v / open_v**2, 1.0 / open_v)
    else:
        factor, slopes = 1.0 + open_v / other_v, (1.0 / other_v, -open_v / other_v**2)

    def mismatch(standard_ohm: float) -> tuple[float, list[float]]:
        return _missed(readings, standard_ohm, factor, slopes)

    return explained(mismatch, _value(readings, factor))


def place(readings: ShuntReadings) -> Interval | None:
    """Return where the leak sits between negative (0) and positive (1).

    Parameters
    ----------
    readings : ShuntReadings
        Both poles, [V]

    Returns
    -------
    x : Interval | None
        None when the poles read next to nothing, [-]

    Notes
    -----
    ``x = v_neg/(v_pos + v_neg)``: the centre of gravity of all leaks, the place only of a single
    one. An error of gain shared by both readings cancels. Source: the circuit of a floating string.

    Examples
    --------
    >>> readings = ShuntReadings(
    ...     pos_v=100.0,
    ...     neg_v=300.0,
    ...     shunted_v=200.0,
    ...     shunt_across="neg",
    ...     shunt_ohm=1e5,
    ...     shunt_tolerance_percent=1.0,
    ...     meter=Meter(input_ohm=1.0e7),
    ...     bus_v=None,
    ...     gain_shared=False,
    ... )
    >>> place(readings).value
    0.75
    """
    if not readings.placed:
        return None
    x = readings.neg_v / readings.sum_v
    of_pos_v, of_neg_v = map(readings.own_errors_v, (readings.pos_v, readings.neg_v))
    half = half_width_95(
        [
            *((1.0 - x) * error_v / readings.sum_v for error_v in of_neg_v),
            *(x * error_v / readings.sum_v for error_v in of_pos_v),
        ]
    )
    return Interval(x, max(0.0, x - half), min(1.0, x + half))


def _value(readings: ShuntReadings, factor: float) -> float | None:
    """Return the resistance the readings say, None when they say less than no leak."""
    drop_v = readings.open_v - readings.shunted_v
    if drop_v <= 0.0:
        return 0.0 if readings.open_v > 0.0 else None
    siemens = readings.shunted_v / drop_v / readings.shunt_ohm - 1.0 / readings.meter.input_ohm
    return factor / siemens if siemens * MOST_OHM > factor else None


def _missed(
    readings: ShuntReadings, ohm: float, factor: float, slopes: tuple[float, float]
) -> tuple[float, list[float]]:
    """Compare the shunted reading with what a supposed resistance would give."""
    shunt, loading = 1.0 / readings.shunt_ohm, 1.0 / readings.meter.input_ohm
    siemens = factor / ohm + loading
    kept = siemens / (siemens + shunt)
    per_siemens = readings.open_v * shunt / (siemens + shunt) ** 2
    moved = (
        (1.0, readings.shunted_v),
        (kept + per_siemens * slopes[0] / ohm, readings.open_v),
        (per_siemens * slopes[1] / ohm, readings.other_v),
    )
    return readings.shunted_v - readings.open_v * kept, [
        *(share * error_v for share, v in moved for error_v in readings.own_errors_v(v)),
        per_siemens * loading * readings.meter.input_tolerance_percent / 100.0,
        per_siemens * siemens * readings.shunt_tolerance_percent / 100.0,
    ]
