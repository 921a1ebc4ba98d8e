"""Isolation resistance, by voltmeter and shunt or by insulation tester.

Here: the verdict against a limit in ohm per volt, doubts and advice. Not here: the voltmeter
estimate (shunt.py), the tester's readings (tester.py), which module leaks (localise.py).
"""

import math
from dataclasses import dataclass

from packs.physics.instrument import (
    CalculationRefused,
    Message,
    Verdict,
    at_least,
)
from packs.physics.interval import MOST_OHM, Interval
from packs.physics.loading import standard_by_loading, total_by_loading
from packs.physics.shunt import ShuntReadings, place, standard_by_shunt, total_by_shunt
from packs.physics.tester import (
    AboveOhm,
    TesterCase,
    absorption_ratio,
    advice_for_tester,
    bound_of,
    smaller_reading,
    suspicions_of_tester,
    warnings_for_tester,
)
from packs.physics.voltmeter import VoltmeterCase, readings_of, suspicions_of_voltmeter
from packs.words import told

__all__ = [
    "AboveOhm",
    "IsolationResult",
    "TesterCase",
    "VoltmeterCase",
    "isolation_by_tester",
    "isolation_by_voltmeter",
]

SHUNT_FACTOR = 10.0
"""A shunt further than this from leak and limit resolves poorly: shop default, no source."""
HARD_LEAK_FACTOR = 100.0
"""Above this many times the limit, a shunt that changes nothing proves nothing."""
VISIBLE_SHARE = 0.05
"""A meter that could not see a change of a twentieth cannot tell a hard leak from a small one."""
DISAGREEMENT = 0.2
"""Two estimates of one resistance may differ by a fifth: shop default, no source."""
CERTAINTY = 1.5
"""So many 95 % half-widths apart, two estimates do not differ by chance: about one in 300."""
UNBOUNDED_RATIO = 1e300
"""Stands for the ratio of an interval that begins at nothing."""
WORKING_MARGIN = 1.25
"""A string may stand this far above its working voltage before a reading is doubted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IsolationResult:
    """Resistances with the interval of the one that is limited, and the verdict."""

    total_ohm: float
    total_ohm_low: float
    total_ohm_high: float | None
    pos_ohm: float | None
    neg_ohm: float | None
    standard_ohm: float
    standard_ohm_low: float
    standard_ohm_high: float | None
    is_lower_bound: bool
    ohm_per_v: float
    ohm_per_v_low: float
    ohm_per_v_high: float | None
    limit_ohm_per_v: float
    verdict: Verdict
    position_percent: float | None
    position_percent_low: float | None
    position_percent_high: float | None
    loading_total_ohm: float | None
    absorption_ratio: float | None
    advice: tuple[Message, ...]
    warnings: tuple[Message, ...]


def isolation_by_voltmeter(case: VoltmeterCase) -> IsolationResult:
    """Return the isolation resistance from three voltmeter readings and a known shunt.

    Parameters
    ----------
    case : VoltmeterCase
        Readings, shunt, meter and limit, [V], [ohm] and [ohm/V]

    Returns
    -------
    result : IsolationResult
        Resistances with their 95 % intervals and the verdict, [ohm] and [ohm/V]

    Raises
    ------
    CalculationRefused
        When a reading is below zero by more than the meter's allowance.

    Notes
    -----
    ``G + G_m = (1/R_0)/(v/v' - 1)``; ``total = 1/G``; with ``x = v_neg/(v_pos + v_neg)`` the pole
    resistances are ``total/x`` and ``total/(1 - x)``, and ``standard`` is the smaller of them. A
    leak smaller than the meter resolves gives the lower bound of the interval. With ``bus_v``,
    ``R_m (V_b/(v_pos + v_neg) - 1)`` is a second estimate; whichever of the two has the narrower
    interval counts. Assumes settled readings and a leak that does not depend on voltage.
    Source: UN R100, measurement of isolation resistance; JCGM 100:2008 for the errors.

    Examples
    --------
    >>> from packs.physics.instrument import Meter
    >>> case = VoltmeterCase(
    ...     neg_to_chassis_v=261.68,
    ...     pos_to_chassis_v=106.11,
    ...     shunt_ohm=185_000.0,
    ...     shunt_across="neg",
    ...     shunted_v=197.55,
    ...     meter=Meter(input_ohm=1.0e7),
    ...     working_voltage_v=370.0,
    ... )
    >>> result = isolation_by_voltmeter(case)
    >>> round(result.total_ohm), round(result.standard_ohm), result.verdict.value
    (60419, 84918, 'pass')
    """
    readings = readings_of(case)
    total, standard, loading, doubts = _estimates(case, readings)
    verdict = _voltmeter_verdict(case, readings, standard)
    advice = _voltmeter_advice(case, readings, standard, verdict)
    if doubts:
        verdict = Verdict.UNDECIDED
        text = "Let the readings settle, check leads, shunt and poles, and take all of them again."
        advice = (Message("take_again", text), *advice)
    x = place(readings)
    return _result(
        total,
        standard,
        case,
        verdict=verdict,
        pos_ohm=_pole_ohm(total.value, x.value) if x else None,
        neg_ohm=_pole_ohm(total.value, 1.0 - x.value) if x else None,
        position=x,
        loading_total_ohm=loading.value if loading else None,
        advice=advice,
        warnings=(*doubts, *_remarks(readings), *suspicions_of_voltmeter(case)),
    )


def isolation_by_tester(case: TesterCase) -> IsolationResult:
    """Return the isolation resistance from the two readings of an insulation tester.

    Parameters
    ----------
    case : TesterCase
        Both poles against the enclosure, test voltage and limit, [ohm], [V] and [ohm/V]

    Returns
    -------
    result : IsolationResult
        The smaller reading with its 95 % interval and the verdict, [ohm] and [ohm/V]

    Raises
    ------
    CalculationRefused
        When the part's own voltage is not below the test voltage.

    Notes
    -----
    ``standard = total = min(R_pos, R_neg)``, each reading rectangular within its accuracy. An
    over-range reading is a lower bound and stays one. On a part with a voltage of its own,
    ``own_voltage_v``, the injected voltage adds to it: ``2/(1/R_pos + 1/R_neg)``, off by at most
    ``U/(2 U_test)`` for a leak at either end. Below ``minimum_fraction`` of the working voltage
    nothing is decided. ``absorption_ratio`` is R60/R30 and gates nothing. Source: ISO 6469-3,
    insulation resistance test; IEC 61557-2 for the instrument.

    Examples
    --------
    >>> case = TesterCase(
    ...     test_voltage_v=500.0,
    ...     pos_ohm=2.4e6,
    ...     neg_ohm=AboveOhm(above_ohm=5.5e8),
    ...     working_voltage_v=400.0,
    ... )
    >>> result = isolation_by_tester(case)
    >>> result.verdict.value, result.standard_ohm, round(result.standard_ohm_low)
    ('pass', 2400000.0, 2291169)
    """
    if not case.own_voltage_v < case.test_voltage_v:
        raise CalculationRefused(
            "own_voltage_v",
            "must be below test_voltage_v: use a higher test voltage or the voltmeter method",
        )
    standard = smaller_reading(case)
    verdict = at_least(standard.low, standard.high, case.limit_ohm_per_v * case.working_voltage_v)
    too_low = case.test_voltage_v < case.minimum_fraction * case.working_voltage_v
    if too_low:
        verdict = Verdict.UNDECIDED
    return _result(
        standard,
        standard,
        case,
        verdict=verdict,
        pos_ohm=bound_of(case.pos_ohm),
        neg_ohm=bound_of(case.neg_ohm),
        position=None,
        loading_total_ohm=None,
        absorption_ratio=absorption_ratio(case),
        advice=advice_for_tester(case, standard, verdict, too_low=too_low),
        warnings=(
            *warnings_for_tester(case, standard, too_low=too_low),
            *suspicions_of_tester(case),
        ),
    )


def _result(  # noqa: PLR0913  (the fields of one result)
    total: Interval,
    standard: Interval,
    case: VoltmeterCase | TesterCase,
    *,
    verdict: Verdict,
    pos_ohm: float | None,
    neg_ohm: float | None,
    position: Interval | None,
    loading_total_ohm: float | None,
    advice: tuple[Message, ...],
    warnings: tuple[Message, ...],
    absorption_ratio: float | None = None,
) -> IsolationResult:
    """Put the figures in the shape both methods share."""
    per_v = standard.times(1.0 / case.working_voltage_v)
    percent = position.times(100.0) if position else None
    return IsolationResult(
        total_ohm=total.value,
        total_ohm_low=total.low,
        total_ohm_high=total.high,
        pos_ohm=pos_ohm,
        neg_ohm=neg_ohm,
        standard_ohm=standard.value,
        standard_ohm_low=standard.low,
        standard_ohm_high=standard.high,
        is_lower_bound=standard.high is None,
        ohm_per_v=per_v.value,
        ohm_per_v_low=per_v.low,
        ohm_per_v_high=per_v.high,
        limit_ohm_per_v=case.limit_ohm_per_v,
        verdict=verdict,
        position_percent=percent.value if percent else None,
        position_percent_low=percent.low if percent else None,
        position_percent_high=percent.high if percent else None,
        loading_total_ohm=loading_total_ohm,
        absorption_ratio=absorption_ratio,
        advice=advice,
        warnings=warnings,
    )


def _estimates(
    case: VoltmeterCase, readings: ShuntReadings
) -> tuple[Interval, Interval, Interval | None, list[Message]]:
    """Return total, standard, the second estimate of the total, and what contradicts them."""
    total = total_by_shunt(readings)
    # Without a place the total itself is the safe side: the standard is never below it.
    standard = standard_by_shunt(readings) if readings.placed else total
    loading = total_by_loading(readings)
    doubts = _doubts(case, readings, total, loading)
    if loading and _looseness(loading) < _looseness(total) and not doubts:
        total, standard = loading, loading
        if readings.placed:
            standard = standard_by_loading(readings) or loading
    return total, standard, loading, doubts


def _pole_ohm(total_ohm: float, share: float) -> float | None:
    """Return the resistance at one pole, None where it is beyond anything that leaks."""
    return total_ohm / share if total_ohm < share * MOST_OHM else None


def _looseness(estimate: Interval) -> tuple[float, float]:
    """Order estimates: those with both ends by their ratio, then the bounds, highest first."""
    if estimate.high is None:
        return math.inf, -estimate.low
    return (estimate.high / estimate.low if estimate.low > 0.0 else UNBOUNDED_RATIO), 0.0


def _doubts(
    case: VoltmeterCase, readings: ShuntReadings, total: Interval, loading: Interval | None
) -> list[Message]:
    """Say which readings contradict one another."""
    half_v = case.meter.half_width_v
    change_v = readings.shunted_v - readings.open_v
    poles_v = half_v(readings.pos_v) + half_v(readings.neg_v)
    found = []
    if change_v > half_v(readings.shunted_v) + half_v(readings.open_v):
        text = "With the shunt the pole reads more than without it: poles or readings are swapped."
        found.append(Message("shunted_above_unshunted", text))
    if total.low <= 0.0 and change_v < -half_v(readings.open_v) - half_v(readings.shunted_v):
        text = "The shunt pulls the pole down further than even sound insulation would allow."
        found.append(Message("shunted_too_low", text))
    if case.bus_v is not None and readings.sum_v - case.bus_v > poles_v + half_v(case.bus_v):
        text = "The two poles together read more than the voltage between them."
        found.append(Message("sum_above_bus", text))
    if readings.sum_v - WORKING_MARGIN * case.working_voltage_v > poles_v:
        text = "The two poles together read far more than the working voltage entered."
        found.append(Message("sum_above_working_voltage", text))
    if loading and _disagree(total, loading):
        text = "The shunt and the meter's own loading give different resistances."
        found.append(Message("estimates_disagree", text))
    return found


def _disagree(one: Interval, two: Interval) -> bool:
    """Tell whether two estimates differ by more than errors and a fifth explain."""
    small, big = sorted((one, two), key=lambda estimate: estimate.value)
    if small.high is None or big.low <= 0.0:
        return False
    if small.value <= 0.0:
        return big.low > max(small.high, 0.0)
    gap = math.log(big.value / small.value)
    reach = math.hypot(math.log(big.value / big.low), math.log(small.high / small.value))
    return gap > max(CERTAINTY * reach, math.log(1.0 + DISAGREEMENT))


def _is_hard_leak(case: VoltmeterCase, readings: ShuntReadings) -> bool:
    """Tell whether a sensible shunt changes the reading by less than the meter can see."""
    half_v = case.meter.half_width_v
    allowed_v = half_v(readings.open_v) + half_v(readings.shunted_v)
    sensible = case.shunt_ohm <= HARD_LEAK_FACTOR * case.limit_ohm_per_v * case.working_voltage_v
    change_v = abs(readings.open_v - readings.shunted_v)
    return sensible and allowed_v < VISIBLE_SHARE * readings.open_v and change_v <= allowed_v


def _voltmeter_verdict(case: VoltmeterCase, readings: ShuntReadings, standard: Interval) -> Verdict:
    """Judge the standard resistance; a hard leak fails whatever the interval says."""
    verdict = at_least(standard.low, standard.high, case.limit_ohm_per_v * case.working_voltage_v)
    return Verdict.FAIL if _is_hard_leak(case, readings) else verdict


def _voltmeter_advice(
    case: VoltmeterCase, readings: ShuntReadings, standard: Interval, verdict: Verdict
) -> tuple[Message, ...]:
    """Say whether the shunt was well chosen, and what to measure next if nothing is decided."""
    limit_ohm = case.limit_ohm_per_v * case.working_voltage_v
    allowed_v = sum(case.meter.half_width_v(v) for v in (readings.open_v, readings.other_v))
    found = []
    if readings.other_v - readings.open_v > allowed_v:
        text = "Put the shunt across the pole with the larger reading."
        found.append(Message("shunt_pole", text))
    targets = [limit_ohm, *([standard.value] if standard.value > 0.0 else [])]
    if all(abs(math.log(case.shunt_ohm / ohm)) > math.log(SHUNT_FACTOR) for ohm in targets):
        text = told(
            "A shunt of about {limit_ohm:.3g} ohm (limit times working voltage) resolves more.",
            limit_ohm=limit_ohm,
        )
        found.append(Message("shunt_choice", text))
    if verdict is Verdict.UNDECIDED:
        found.append(_next_reading(case, standard))
    return tuple(found)


def _next_reading(case: VoltmeterCase, standard: Interval) -> Message:
    """Say what would decide."""
    if standard.high is None and case.bus_v is None:
        text = "Measure the voltage between the poles too (bus_v), or use an insulation tester."
        return Message("measure_bus", text)
    text = "Use a meter of better accuracy and a measured shunt, or an insulation tester."
    return Message("finer_meter", text)


def _remarks(readings: ShuntReadings) -> tuple[Message, ...]:
    """Say what a reader of the result must know."""
    if readings.placed:
        return ()
    text = (
        "Both poles read next to nothing. An open lead reads the same: prove the leads on a"
        " known voltage before and after."
    )
    return (Message("prove_leads", text),)
