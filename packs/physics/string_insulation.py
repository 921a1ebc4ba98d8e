"""Insulation of one section of the string from whatever poles of it were read.

Here: which method the readings of a section allow, the figure that counts, and whether two
independent figures contradict each other. Not here: the methods themselves (circuit.py,
isolation.py), or how sections add up (insulation.py).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from packs.physics.circuit import Insulation, section_from_shunt, section_from_two_poles
from packs.physics.instrument import CalculationRefused, Meter
from packs.physics.isolation import VoltmeterCase, isolation_by_voltmeter

CELL_U_V = 0.01
"""Half-width of a cell's voltage about the mean of the string [V]: shop default, no source."""

UNKNOWN = Insulation(total_ohm=0.0, total_ohm_low=0.0, total_ohm_high=None, near_zero=True)
"""A section of which nothing is known: nothing is excluded in it."""

_CONTRADICTORY = Insulation(
    total_ohm=0.0, total_ohm_low=0.0, total_ohm_high=None, contradictory=True
)

Method = Literal["none", "near_zero", "shunt", "two_poles", "voltmeter"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PoleVolts:
    """One pole against the enclosure, settled and signed.

    Parameters
    ----------
    cells : int
        Cells between pack negative and the pole, [-]
    volts : float
        Without the shunt, [V]
    shunted_v : float or None
        With the shunt from the pole to the enclosure, None where not read, [V]
    """

    cells: int
    volts: float
    shunted_v: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionReadings:
    """All readings of one section, with what they were taken with.

    Parameters
    ----------
    poles : tuple of PoleVolts
        Poles of this section in any order.
    meter : Meter
        The voltmeter.
    shunt_ohm : float or None
        The shunt, None when there is none, [ohm]
    shunt_tolerance_percent : float
        Rectangular half-width of the shunt, [%]
    cell_v : float or None
        Mean voltage of a cell, None where not known, [V]
    whole_cells : int or None
        Cells of the string where the section is the whole of it, else None, [-]
    working_voltage_v : float
        Highest voltage between the poles of the string, [V]
    limit_ohm_per_v : float
        Limit for which the shunt is chosen, [ohm/V]
    """

    poles: tuple[PoleVolts, ...]
    meter: Meter
    shunt_ohm: float | None = None
    shunt_tolerance_percent: float = 1.0
    cell_v: float | None = None
    whole_cells: int | None = None
    working_voltage_v: float = 400.0
    limit_ohm_per_v: float = 500.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionInsulation:
    """What the readings of a section say.

    Parameters
    ----------
    method : str
        Where the figure comes from; ``"none"`` when the readings allow none.
    insulation : Insulation or None
        The figure that counts, [ohm]
    standard_ohm : float or None
        What the regulation limits, for a whole string with both ends read, [ohm]
    differ : bool
        Two independent figures are further apart than percentage and intervals explain.
    """

    method: Method
    insulation: Insulation | None
    standard_ohm: float | None = None
    differ: bool = False


def section_insulation(
    readings: SectionReadings, *, differ_percent: float = 20.0
) -> SectionInsulation:
    """Return the insulation of a section by the best method its readings allow.

    Parameters
    ----------
    readings : SectionReadings
        Settled readings at the section's poles.
    differ_percent : float
        Two figures further apart than this, and than their intervals, contradict each other, [%]

    Returns
    -------
    section : SectionInsulation
        The figure with its interval, [ohm]; never raises.

    Notes
    -----
    With and without a shunt at one pole: `section_from_shunt`; a whole string with both ends read:
    the voltmeter method of UN R100. At two poles whose potential difference the cells give:
    `section_from_two_poles`, the meter's own loading. The shunt's figure counts unless it is only
    a bound. A section whose every reading is within the meter's allowance of zero at one pole is
    not excluded. Readings that no circuit allows are contradictory, not an error. Assumes settled
    readings. Source: UN R100, measurement of isolation resistance; the order of the methods is our
    own.

    Examples
    --------
    >>> meter = Meter(input_ohm=1.0e7, accuracy_percent=0.1)
    >>> pole = PoleVolts(cells=42, volts=79.21, shunted_v=72.07)
    >>> found = section_insulation(SectionReadings(poles=(pole,), meter=meter, shunt_ohm=1.0e6))
    >>> found.method, found.insulation and round(found.insulation.total_ohm, -3)
    ('shunt', 100000.0)
    """
    poles = sorted(readings.poles, key=lambda pole: pole.cells)
    try:
        whole = _by_voltmeter(readings)
        by_shunt = whole.insulation if whole else _by_shunt(readings, poles)
        by_poles = _by_poles(readings, poles)
    except CalculationRefused:
        return SectionInsulation(method="none", insulation=_CONTRADICTORY)
    method, insulation = _chosen(by_shunt, by_poles, whole=whole is not None)
    if insulation is None and poles and all(_near_zero(readings.meter, pole) for pole in poles):
        method, insulation = "near_zero", UNKNOWN
    return SectionInsulation(
        method=method,
        insulation=insulation,
        standard_ohm=whole.standard_ohm if whole else None,
        differ=_disagree(by_shunt, by_poles, differ_percent),
    )


def _near_zero(meter: Meter, pole: PoleVolts) -> bool:
    """Tell whether a reading may be nothing at all."""
    return abs(pole.volts) <= meter.half_width_v(pole.volts)


def _shunted(poles: Sequence[PoleVolts]) -> PoleVolts | None:
    """Return the pole with the larger reading among those read with the shunt too."""
    pairs = [pole for pole in poles if pole.shunted_v is not None]
    return max(pairs, key=lambda pole: abs(pole.volts), default=None)


def _by_shunt(readings: SectionReadings, poles: Sequence[PoleVolts]) -> Insulation | None:
    pole = _shunted(poles)
    if pole is None or pole.shunted_v is None or readings.shunt_ohm is None:
        return None
    return section_from_shunt(
        reading_v=pole.volts,
        shunted_v=pole.shunted_v,
        shunt_ohm=readings.shunt_ohm,
        shunt_tolerance_percent=readings.shunt_tolerance_percent,
        meter=readings.meter,
    )


def _by_poles(readings: SectionReadings, poles: Sequence[PoleVolts]) -> Insulation | None:
    if not poles or readings.cell_v is None:
        return None
    cells = poles[-1].cells - poles[0].cells
    difference_v = readings.cell_v * cells
    if difference_v <= 0.0:
        return None
    return section_from_two_poles(
        upper_v=poles[-1].volts,
        lower_v=poles[0].volts,
        difference_v=difference_v,
        difference_u_v=readings.meter.half_width_v(difference_v) + CELL_U_V * cells,
        meter=readings.meter,
    )


def voltmeter_case(readings: SectionReadings) -> VoltmeterCase | None:
    """Return the case of the voltmeter method for a whole string.

    Parameters
    ----------
    readings : SectionReadings
        Settled readings at the section's poles.

    Returns
    -------
    case : VoltmeterCase or None
        None unless both ends were read, and one of them with the shunt too, [V] and [ohm]

    Notes
    -----
    The pole shunted is the end with the larger reading. Source: UN R100, measurement of
    isolation resistance.

    Examples
    --------
    >>> pole = PoleVolts(cells=42, volts=79.21, shunted_v=72.07)
    >>> voltmeter_case(SectionReadings(poles=(pole,), meter=Meter(input_ohm=1.0e7))) is None
    True
    """
    poles = sorted(readings.poles, key=lambda pole: pole.cells)
    if readings.whole_cells is None or readings.shunt_ohm is None or len(poles) < 2:  # noqa: PLR2004
        return None
    ends = (poles[0], poles[-1])
    shunted = _shunted(ends)
    if shunted is None or shunted.shunted_v is None:
        return None
    if (ends[0].cells, ends[1].cells) != (0, readings.whole_cells):
        return None
    at_top = shunted is ends[1]
    return VoltmeterCase(
        pos_to_chassis_v=ends[1].volts,
        neg_to_chassis_v=-ends[0].volts,
        shunt_ohm=readings.shunt_ohm,
        shunt_tolerance_percent=readings.shunt_tolerance_percent,
        shunt_across="pos" if at_top else "neg",
        shunted_v=shunted.shunted_v if at_top else -shunted.shunted_v,
        meter=readings.meter,
        working_voltage_v=readings.working_voltage_v,
        limit_ohm_per_v=readings.limit_ohm_per_v,
    )


def _by_voltmeter(readings: SectionReadings) -> SectionInsulation | None:
    """Judge a whole string with both ends read and one of them read with the shunt."""
    case = voltmeter_case(readings)
    if case is None:
        return None
    result = isolation_by_voltmeter(case)
    insulation = Insulation(
        total_ohm=result.total_ohm,
        total_ohm_low=result.total_ohm_low,
        total_ohm_high=result.total_ohm_high,
        is_lower_bound=result.total_ohm_high is None,
        contradictory=any(advice.code == "take_again" for advice in result.advice),
        warnings=result.warnings,
    )
    return SectionInsulation(
        method="voltmeter", insulation=insulation, standard_ohm=result.standard_ohm
    )


def _chosen(
    by_shunt: Insulation | None, by_poles: Insulation | None, *, whole: bool
) -> tuple[Method, Insulation | None]:
    """Return the figure that counts: a contradiction first, then the shunt's, then the poles'."""
    shunt: Method = "voltmeter" if whole else "shunt"
    if by_shunt is not None and by_shunt.contradictory:
        return shunt, by_shunt
    if by_poles is not None and by_poles.contradictory:
        return "two_poles", by_poles
    if by_poles is not None and (by_shunt is None or by_shunt.is_lower_bound):
        return "two_poles", by_poles
    return ("none", None) if by_shunt is None else (shunt, by_shunt)


def _disagree(first: Insulation | None, second: Insulation | None, percent: float) -> bool:
    """Tell whether two figures are further apart than percentage and intervals explain."""
    if first is None or second is None or first.contradictory or second.contradictory:
        return False
    first_high = math.inf if first.total_ohm_high is None else first.total_ohm_high
    second_high = math.inf if second.total_ohm_high is None else second.total_ohm_high
    apart = first.total_ohm_low > second_high or second.total_ohm_low > first_high
    smaller, larger = sorted((first.total_ohm, second.total_ohm))
    return apart and larger > smaller * (1.0 + percent / 100.0)
