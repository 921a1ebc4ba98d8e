"""Pressure decay of the sealed enclosure, corrected for temperature and barometer.

Here: the leak with its interval, the verdict, and how long a test would have to last. Not here:
the conversion to a protection class, which a pressure decay cannot show.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from packs.physics.instrument import (
    COVERAGE_95,
    SHORTEST_S,
    CalculationRefused,
    Message,
    Verdict,
    at_most,
    half_width_95,
)
from packs.physics.leak_case import (
    PA_M3_PER_S_PER_MBAR_L_PER_S,
    PA_M3_PER_S_PER_ML_PER_MIN,
    STANDARD_PA,
    Gauge,
    LeakCase,
    LeakLimit,
    PressureSample,
    suspicions_of_leak,
)
from packs.physics.slope import Series, Slope, fit_slope
from packs.words import told

__all__ = [
    "PA_M3_PER_S_PER_MBAR_L_PER_S",
    "PA_M3_PER_S_PER_ML_PER_MIN",
    "STANDARD_PA",
    "Gauge",
    "LeakCase",
    "LeakLimit",
    "LeakResult",
    "PressureSample",
    "leak",
]

KELVIN = 273.15
REFERENCE_K = 293.15
"""Throughput is stated at 20 degrees Celsius."""
CURVED = 2.5
"""So many standard uncertainties of curvature are not chance."""
EMPTIED_SHARE = 0.1
"""With less than this left, the leak was larger than its mean: shop default, no source."""
LONGEST_TEST_S = 4.0 * 3600.0
"""Beyond this a longer test is no advice: shop default, no source."""

REMEDIES = {
    "start_pressure": "Fill to the test pressure, let it settle, and start again.",
    "not_settled": "Wait until filling and temperature have settled, and start again.",
    "negative_leak": "Shut the valve, keep sun and hands off, wait, and start again.",
    "barometer_mixed": "Read the barometer with every sample, or once for the whole test.",
    "emptied": "Look for an open vent, a missing bolt or a pinched seal, and test again.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakResult:
    """The leak with its interval, what the drop is made of, and the verdict."""

    leak_pa_m3_per_s: float
    leak_pa_m3_per_s_low: float
    leak_pa_m3_per_s_high: float
    leak_mbar_l_per_s: float
    leak_mbar_l_per_s_low: float
    leak_mbar_l_per_s_high: float
    leak_ml_per_min: float
    leak_ml_per_min_low: float
    leak_ml_per_min_high: float
    limit_pa_m3_per_s: float
    raw_drop_pa: float
    temperature_drop_pa: float
    corrected_drop_pa: float
    verdict: Verdict
    shortest_duration_s: float
    advice: tuple[Message, ...]
    warnings: tuple[Message, ...]


@dataclass(frozen=True, slots=True)
class _Need:
    """What a longer test would gain: noise shrinks with time, the distance to the limit stays."""

    duration_s: float
    noise: float
    distance: float

    @property
    def longer_s(self) -> float:
        if self.noise <= self.distance:
            return self.duration_s
        return min(self.duration_s * self.noise / max(self.distance, 1e-30), 1e9)


def leak(case: LeakCase) -> LeakResult:
    """Judge a pressure decay test.

    Parameters
    ----------
    case : LeakCase
        Volume, samples, gauge and limit, [l], [s], [Pa] and [degC]

    Returns
    -------
    result : LeakResult
        Throughput at 20 degC with its 95 % interval and the verdict, [Pa m3/s]

    Raises
    ------
    CalculationRefused
        With fewer than two samples, times that do not rise, a start without overpressure, a test
        pressure whose ends are exchanged, or not exactly one limit.

    Notes
    -----
    ``q = V (p1 T_ref/T1 - p2 T_ref/T2)/dt`` with absolute pressures; with more than two samples
    the slope of ``p T_ref/T`` is fitted. Errors: repeatability (bell), rounding and temperature
    (boxes, one a reading), the drift of a barometer that was not read along (one box over the
    test), the volume (one box). ``ml_per_min`` is at 101325 Pa. A slope that bends by more than the
    falling pressure explains has not settled and is undecided. Assumes a rigid enclosure and one
    gas temperature. Source: ideal gas law; EN 1779 for the method; JCGM 100:2008 for the errors.

    Examples
    --------
    >>> case = LeakCase(
    ...     volume_l=60.0,
    ...     samples=[
    ...         PressureSample(t_s=0, gauge_pa=3000.0, temp_c=20.0),
    ...         PressureSample(t_s=300, gauge_pa=2860.0, temp_c=20.2),
    ...     ],
    ...     gauge=Gauge(resolution_pa=1.0, repeatability_pa=1.0),
    ...     limit=LeakLimit(ml_per_min=10.0),
    ...     barometer_pa=101_325.0,
    ...     temp_u_c=0.02,
    ... )
    >>> result = leak(case)
    >>> round(result.leak_mbar_l_per_s, 3), round(result.leak_ml_per_min), result.verdict.value
    (0.422, 25, 'fail')
    """
    series = _series(case)
    slope = fit_slope(series)
    volume_m3 = case.volume_l / 1000.0
    q, noise = -volume_m3 * slope.per_s, volume_m3 * slope.half_per_s
    low, high = _interval(q, noise, case.volume_u_percent / 100.0)
    bends = abs(slope.bend) > CURVED and not _explained(case, slope)
    if bends:
        low = min(low, -volume_m3 * slope.last_per_s - noise)
        high = max(high, -volume_m3 * slope.last_per_s + noise)
    limit = _limit(case, series)
    verdict = _judge(case, slope, (low, high), limit)
    doubts = _doubts(case, high, verdict, bends=bends)
    if doubts:
        verdict = Verdict.UNDECIDED
    raw_pa, corrected_pa = _drops(case)
    return LeakResult(
        leak_pa_m3_per_s=q,
        leak_pa_m3_per_s_low=low,
        leak_pa_m3_per_s_high=high,
        **_other_units(q, low, high),
        limit_pa_m3_per_s=limit,
        raw_drop_pa=raw_pa,
        temperature_drop_pa=raw_pa - corrected_pa,
        corrected_drop_pa=corrected_pa,
        verdict=verdict,
        shortest_duration_s=noise * series.duration_s / limit,
        advice=_advice(verdict, doubts, _Need(series.duration_s, noise, abs(limit - q))),
        warnings=(
            *doubts,
            *_remarks(slope, raw_pa, corrected_pa),
            *suspicions_of_leak(case),
        ),
    )


def _series(case: LeakCase) -> Series:
    """Check the samples and bring them to one temperature."""
    samples, window_pa = case.samples, case.test_pressure_pa
    if window_pa is not None and window_pa[0] > window_pa[1]:
        raise CalculationRefused("test_pressure_pa", "give the lower end first, then the upper")
    if len(samples) < 2:  # noqa: PLR2004
        raise CalculationRefused("samples", "needs at least 2 readings: start and end")
    for index in range(1, len(samples)):
        if not samples[index].t_s - samples[index - 1].t_s >= SHORTEST_S:
            raise CalculationRefused(f"samples.{index}.t_s", "must be later than the one before")
    if not samples[0].gauge_pa > 0.0:
        raise CalculationRefused(
            "samples.0.gauge_pa", "must be above zero: the test is at overpressure"
        )
    reduced, boxes, bells = [], [], []
    for index, sample in enumerate(samples):
        absolute_pa, kelvin = _absolute_pa(case, sample), sample.temp_c + KELVIN
        if not (absolute_pa > 0.0 and kelvin > 0.0):
            raise CalculationRefused(f"samples.{index}", "pressure or temperature is below zero")
        scale = REFERENCE_K / kelvin
        reduced.append(absolute_pa * scale)
        boxes.append(
            (scale * case.gauge.resolution_pa / 2.0, absolute_pa * scale / kelvin * case.temp_u_c)
        )
        bells.append(scale * case.gauge.repeatability_pa)
    read_along = all(sample.barometer_pa is not None for sample in samples)
    return Series(
        times_s=tuple(sample.t_s for sample in samples),
        values=tuple(reduced),
        boxes=tuple(boxes),
        bells=tuple(bells),
        drift=0.0 if read_along else case.barometer_u_pa,
    )


def _absolute_pa(case: LeakCase, sample: PressureSample) -> float:
    """Return the absolute pressure of a sample."""
    air_pa = case.barometer_pa if sample.barometer_pa is None else sample.barometer_pa
    if air_pa is None:
        raise CalculationRefused("barometer_pa", "is missing, and a sample has none of its own")
    return sample.gauge_pa + air_pa


def _explained(case: LeakCase, slope: Slope) -> bool:
    """Tell whether the fall bends no more than that of a leak whose pressure falls."""
    start_pa, end_pa = case.samples[0].gauge_pa, max(case.samples[-1].gauge_pa, 0.0)
    slowing = 1.0 - end_pa / start_pa if end_pa < start_pa else 0.0
    # From start to end a leak slows by the ratio of the pressures, from its mean by half of that.
    return 0.0 <= slope.last_per_s - slope.per_s <= 0.75 * slowing * max(-slope.per_s, 0.0)


def _interval(q: float, noise: float, volume_share: float) -> tuple[float, float]:
    """Add the error of the volume, which scales with the leak itself."""
    half = half_width_95([q * volume_share], noise / COVERAGE_95)
    return q - half, q + half


def _limit(case: LeakCase, series: Series) -> float:
    """Return the limit as a throughput."""
    limit = case.limit
    given = [
        value
        for value in (limit.pa_m3_per_s, limit.mbar_l_per_s, limit.ml_per_min, limit.drop_pa)
        if value is not None
    ]
    if len(given) != 1 or not given[0] > 0.0:
        raise CalculationRefused("limit", "give exactly one limit, above zero")
    if limit.mbar_l_per_s is not None:
        return limit.mbar_l_per_s * PA_M3_PER_S_PER_MBAR_L_PER_S
    if limit.ml_per_min is not None:
        return limit.ml_per_min * PA_M3_PER_S_PER_ML_PER_MIN
    if limit.drop_pa is not None:
        scale = REFERENCE_K / (case.samples[0].temp_c + KELVIN)
        return case.volume_l / 1000.0 * limit.drop_pa * scale / series.duration_s
    return given[0]


def _judge(case: LeakCase, slope: Slope, ends: tuple[float, float], limit: float) -> Verdict:
    """Judge the leak; a limit given as a drop does not depend on the volume."""
    if case.limit.drop_pa is None:
        return at_most(*ends, limit)
    volume_m3 = case.volume_l / 1000.0
    low, high = -slope.per_s - slope.half_per_s, -slope.per_s + slope.half_per_s
    return at_most(volume_m3 * low, volume_m3 * high, limit)


def _drops(case: LeakCase) -> tuple[float, float]:
    """Return the drop of absolute pressure, as read and at the starting temperature."""
    first, last = case.samples[0], case.samples[-1]
    start_pa, end_pa = _absolute_pa(case, first), _absolute_pa(case, last)
    ratio = (first.temp_c + KELVIN) / (last.temp_c + KELVIN)
    return start_pa - end_pa, start_pa - end_pa * ratio


def _other_units(q: float, low: float, high: float) -> dict[str, float]:
    """Return the leak in the two units the trade reads."""
    found = {}
    for name, unit in (
        ("leak_mbar_l_per_s", PA_M3_PER_S_PER_MBAR_L_PER_S),
        ("leak_ml_per_min", PA_M3_PER_S_PER_ML_PER_MIN),
    ):
        for end, value in (("", q), ("_low", low), ("_high", high)):
            found[name + end] = value / unit
    return found


def _doubts(case: LeakCase, high: float, verdict: Verdict, *, bends: bool) -> list[Message]:
    """Say why nothing can be decided whatever the figure says."""
    found = []
    start_pa, end_pa = case.samples[0].gauge_pa, case.samples[-1].gauge_pa
    window = case.test_pressure_pa
    if window is not None and not window[0] <= start_pa <= window[1]:
        text = told(
            "The test began at {start_pa:g} Pa, outside {low_pa:g} to {high_pa:g} Pa.",
            start_pa=start_pa,
            low_pa=window[0],
            high_pa=window[1],
        )
        found.append(Message("start_pressure", text))
    if _barometers_differ(case):
        text = "Some samples have a barometer of their own that differs from the one of the test."
        found.append(Message("barometer_mixed", text))
    if bends:
        text = "The pressure has not settled: its fall changes during the test."
        found.append(Message("not_settled", text))
    if high < 0.0:
        text = "The enclosure seems to gain gas: it is warming, or a valve is not shut."
        found.append(Message("negative_leak", text))
    if end_pa < EMPTIED_SHARE * start_pa and verdict is not Verdict.FAIL:
        text = "Hardly any pressure is left: the leak was larger at the start than its mean."
        found.append(Message("emptied", text))
    return found


def _barometers_differ(case: LeakCase) -> bool:
    """Tell whether samples with and without a barometer of their own do not go together."""
    own_pa = [each.barometer_pa for each in case.samples if each.barometer_pa is not None]
    if case.barometer_pa is None or len(own_pa) in {0, len(case.samples)}:
        return False
    return max(abs(pa - case.barometer_pa) for pa in own_pa) > case.barometer_u_pa


def _remarks(slope: Slope, raw_pa: float, corrected_pa: float) -> tuple[Message, ...]:
    """Say what a reader of the result must know."""
    found = []
    if abs(raw_pa - corrected_pa) > abs(corrected_pa):
        text = "Most of the drop is temperature, not leak."
        found.append(Message("mostly_temperature", text))
    if slope.scatter > 1.0:
        text = (
            "The readings scatter more than gauge and thermometer explain; the interval is wider."
        )
        found.append(Message("scatter", text))
    return tuple(found)


def _advice(verdict: Verdict, doubts: Sequence[Message], need: _Need) -> tuple[Message, ...]:
    """Say how to take the test so that it decides."""
    if verdict is not Verdict.UNDECIDED:
        return ()
    if doubts:
        return tuple(Message(doubt.code, REMEDIES[doubt.code]) for doubt in doubts)
    if need.longer_s > LONGEST_TEST_S:
        text = "Measure the gas temperature more finely, and keep sun, hands and draughts away."
        return (Message("finer_thermometer", text),)
    if need.longer_s > need.duration_s:
        text = told(
            "Measure for about {longer_s:.0f} s in all, at an even temperature.",
            longer_s=need.longer_s,
        )
        return (Message("longer_test", text),)
    text = "Determine the volume more closely: its error alone spans the limit."
    return (Message("measure_volume", text),)
