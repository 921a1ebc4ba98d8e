"""Decay of a reading: whether it settles to nothing, or stands.

Here: the verdict on the value a series settles to. Not here: the fit itself (exponential.py), or
what a standing value says about insulation (isolation.py) or about a place (localise.py).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from packs.physics.exponential import (
    CHI2_95,
    Fit,
    Series,
    best_of,
    chi2_step,
    edge,
    extremes,
    fit_constant,
    scan,
)
from packs.physics.instrument import (
    COVERAGE_95,
    SHORTEST_S,
    CalculationRefused,
    Message,
    Meter,
    half_width_95,
    scatter,
)
from packs.physics.unit_suspicion import (
    HIGHEST_CLASS_B_V,
    suspect,
    suspicions,
    suspicious_instrument,
)
from packs.words import told

FLAT_GAIN = 6.0
"""An exponential must explain this much more than a constant: 95 % quantile for two parameters."""
SLOWEST_TAU_S = 600.0
"""Shop default, no source: slower than 10 megohm with 10 microfarad, six times over."""
FEWEST_SAMPLES = 3

FLOORS_V, THRESHOLDS_V = (0.01, 100.0), (0.5, HIGHEST_CLASS_B_V)
"""What counts as nothing is a volt or two; waits end at 5 to 60 V."""
LONGEST_SPAN_S = 20_000.0
"""Five and a half hours: nothing in a vehicle discharges so slowly under a meter."""

Kind = Literal["floating", "standing", "undecided"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One reading of a series: seconds since its start, and what the meter showed."""

    t_s: float
    v: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DecayResult:
    """What a series settles to, how fast, and when it is below the threshold."""

    kind: Kind
    end_v: float
    end_v_low: float
    end_v_high: float
    tau_s: float | None
    tau_s_low: float | None
    tau_s_high: float | None
    seconds_to_threshold: float | None
    advice: tuple[Message, ...]
    warnings: tuple[Message, ...]


@dataclass(frozen=True, slots=True)
class _Outcome:
    """An end value with its interval, before it is judged."""

    end_v: float
    low_v: float
    high_v: float
    best: Fit | None
    tau_low_s: float | None
    tau_high_s: float | None
    scatter: float
    too_short: bool


def decay(
    samples: Sequence[Sample],
    meter: Meter,
    *,
    floor_v: float = 2.0,
    threshold_v: float = 60.0,
    gain_shared: bool = False,
) -> DecayResult:
    """Tell whether a series of readings settles to nothing or stands.

    Parameters
    ----------
    samples : Sequence[Sample]
        At least three readings, times strictly rising, [s] and [V]
    meter : Meter
        The voltmeter the series was taken with, [-]
    floor_v : float
        An end value within plus or minus this counts as nothing, [V]
    threshold_v : float
        The voltage to wait for, [V]
    gain_shared : bool
        Whether the share-of-reading error is one error for the whole series, [-]

    Returns
    -------
    result : DecayResult
        End value and time constant with their 95 % intervals, and the kind, [V] and [s]

    Raises
    ------
    CalculationRefused
        With fewer than three samples, or times that do not rise.

    Notes
    -----
    ``v(t) = v_end + (v_0 - v_end) exp(-t/tau)``, weighted least squares with two rectangular
    errors a reading, the meter's and that of its last digit. The interval holds every end value
    that some time constant makes fit within 3.84 of the least sum of squares, less where a few
    rectangles decide (`chi2_step`); a gain shared by all readings is added as one rectangle. The
    end value is what the meter reads, its own loading included. Assumes one capacitance and one
    resistance; a series that scatters more than its meter allows, or has a second time constant,
    is undecided. A series that does not move is called standing only if a decay with a time
    constant of 600 s would have shown (shop default, no source). Source: the circuit of a floating
    string, first-order response; JCGM 100:2008 for the reading errors.

    Examples
    --------
    >>> series = [Sample(t_s=0, v=90.0), Sample(t_s=10, v=62.0), Sample(t_s=20, v=46.7)]
    >>> result = decay(series, Meter(input_ohm=1.0e7))
    >>> result.kind, round(result.end_v, 1), round(result.tau_s, 1)
    ('standing', 28.3, 16.5)
    """
    series = _series(samples, meter, gain_shared=gain_shared)
    outcome = _outcome(series, floor_v)
    kind = _kind(outcome, floor_v)
    best = outcome.best
    return DecayResult(
        kind=kind,
        end_v=outcome.end_v,
        end_v_low=outcome.low_v,
        end_v_high=outcome.high_v,
        tau_s=best.tau_s if best else None,
        tau_s_low=outcome.tau_low_s,
        tau_s_high=outcome.tau_high_s,
        seconds_to_threshold=_seconds_to(series, best, threshold_v),
        advice=_advice(kind, outcome),
        warnings=(
            *_warnings(kind, outcome),
            *suspicious_instrument("meter", meter),
            *_suspicions(series, floor_v, threshold_v),
        ),
    )


def _series(samples: Sequence[Sample], meter: Meter, *, gain_shared: bool) -> Series:
    """Check the samples and give each its uncertainty."""
    if len(samples) < FEWEST_SAMPLES:
        raise CalculationRefused("samples", "needs at least 3 readings to see a decay")
    for index in range(1, len(samples)):
        if not samples[index].t_s - samples[index - 1].t_s >= SHORTEST_S:
            raise CalculationRefused(
                f"samples.{index}.t_s", "must be later than the sample before it"
            )
    boxes_v = tuple(meter.errors_v(0.0 if gain_shared else sample.v) for sample in samples)
    if min(max(own) for own in boxes_v) <= 0.0:
        raise CalculationRefused("meter", "an accuracy and a resolution of zero cannot be right")
    start_s = samples[0].t_s
    return Series(
        times_s=tuple(sample.t_s - start_s for sample in samples),
        volts=tuple(sample.v for sample in samples),
        boxes_v=boxes_v,
        shared_share=meter.accuracy_percent / 100.0 if gain_shared else 0.0,
    )


def _outcome(series: Series, floor_v: float) -> _Outcome:
    """Find the end value and its interval, as a moving or as a flat series."""
    shortest_s, longest_s = series.shortest_s / 5.0, 1000.0 * series.span_s
    count = min(400, math.ceil(math.log(longest_s / shortest_s) / 0.1) + 2)
    coarse = scan(series, shortest_s, longest_s, count)
    best = best_of(series, coarse)
    flat = fit_constant(series)
    spread = scatter(best.chi2, len(series.volts) - 3)
    if flat.chi2 - best.chi2 < FLAT_GAIN * spread:
        return _flat(series, flat, coarse, floor_v)
    limit = best.chi2 + chi2_step(series, best) * spread
    low_s = edge(series, best, limit, shortest_s)
    high_s = edge(series, best, limit, longest_s)
    fine = scan(series, low_s or shortest_s, high_s or longest_s, 81)
    low_v, high_v = extremes([*fine, best], limit)
    low_v, high_v = _with_gain(series, best.end_v, low_v, high_v)
    return _Outcome(best.end_v, low_v, high_v, best, low_s or 0.0, high_s, spread, too_short=False)


def _flat(series: Series, flat: Fit, coarse: list[Fit], floor_v: float) -> _Outcome:
    """Take a series that does not move as it stands, if it was watched long enough."""
    spread = scatter(flat.chi2, len(series.volts) - 1)
    settled = [flat, *(fit for fit in coarse if fit.tau_s <= series.span_s / 5.0)]
    limit = min(fit.chi2 for fit in settled) + chi2_step(series, flat) * spread
    low_v, high_v = extremes(settled, limit)
    low_v, high_v = _with_gain(series, flat.end_v, low_v, high_v)
    too_short = False
    if low_v > floor_v or high_v < -floor_v:
        slow = scan(series, series.span_s / 3.0, max(SLOWEST_TAU_S, series.span_s), 60)
        slow_low_v, slow_high_v = extremes([flat, *slow], flat.chi2 + CHI2_95 * spread)
        too_short = slow_low_v <= floor_v and slow_high_v >= -floor_v
    return _Outcome(flat.end_v, low_v, high_v, None, None, None, spread, too_short)


def _with_gain(series: Series, end_v: float, low_v: float, high_v: float) -> tuple[float, float]:
    """Widen an interval by the error all readings share."""
    shared_v = series.shared_share * abs(end_v)
    below_v, above_v = (
        half_width_95([shared_v], own_v / COVERAGE_95) for own_v in (end_v - low_v, high_v - end_v)
    )
    return end_v - below_v, end_v + above_v


def _suspicions(series: Series, floor_v: float, threshold_v: float) -> tuple[Message, ...]:
    """Warn of figures that were probably entered in another unit."""
    largest = max(range(len(series.volts)), key=lambda index: abs(series.volts[index]))
    floor = "were millivolts meant?" if floor_v > FLOORS_V[1] else "were kilovolts meant?"
    threshold = (
        "were kilovolts meant?" if threshold_v < THRESHOLDS_V[0] else "were millivolts meant?"
    )
    return suspicions(
        suspect(
            f"samples.{largest}.v",
            series.volts[largest],
            0.0,
            HIGHEST_CLASS_B_V,
            "were millivolts meant?",
        ),
        suspect(
            f"samples.{len(series.volts) - 1}.t_s",
            series.span_s,
            0.0,
            LONGEST_SPAN_S,
            "were milliseconds meant? It counts from the first sample.",
        ),
        suspect("floor_v", floor_v, *FLOORS_V, floor),
        suspect("threshold_v", threshold_v, *THRESHOLDS_V, threshold),
    )


def _kind(outcome: _Outcome, floor_v: float) -> Kind:
    """Judge the interval of the end value against the floor."""
    if outcome.too_short or (outcome.best and outcome.scatter > 1.0):
        return "undecided"
    if -floor_v <= outcome.low_v and outcome.high_v <= floor_v:
        return "floating"
    if outcome.low_v > floor_v or outcome.high_v < -floor_v:
        return "standing"
    return "undecided"


def _seconds_to(series: Series, best: Fit | None, threshold_v: float) -> float | None:
    """Return the wait from the last sample until the magnitude is below the threshold."""
    last_v = series.volts[-1]
    if abs(last_v) <= threshold_v:
        return 0.0
    if best is None:
        return None
    side = math.copysign(1.0, last_v)
    to_threshold_v = threshold_v - side * best.end_v
    to_end_v = side * best.step_v * math.exp(-series.span_s / best.tau_s)
    if to_threshold_v <= 0.0:
        return None
    # The fit may already be below what the last reading still showed.
    return best.tau_s * math.log(max(1.0, to_end_v / to_threshold_v))


def _advice(kind: Kind, outcome: _Outcome) -> tuple[Message, ...]:
    """Say what to measure next."""
    if kind != "undecided":
        return ()
    if outcome.best and outcome.scatter > 1.0:
        text = "Check leads and contact, keep everything still, and take the series again."
        return (Message("take_again", text),)
    if outcome.best and outcome.tau_high_s is not None:
        more_s = 5.0 * outcome.tau_high_s
        text = told(
            "Leave the meter connected and keep recording for about {more_s:.0f} s more.",
            more_s=more_s,
        )
        return (Message("keep_recording", text),)
    text = "Leave the meter connected and record for several minutes, until nothing moves."
    return (Message("keep_recording", text),)


def _warnings(kind: Kind, outcome: _Outcome) -> tuple[Message, ...]:
    """Say what a reader of the result must know."""
    found = []
    if outcome.scatter > 1.0:
        text = "The readings do not follow one exponential within the accuracy of the meter."
        found.append(Message("does_not_fit", text))
    if outcome.too_short:
        text = "The series is too short: a slow decay would look just as flat."
        found.append(Message("too_short", text))
    if kind == "floating":
        text = (
            "Floating at one point is not soundness: a leak at this point's own potential"
            " reads nothing here. Read the other pole too."
        )
        found.append(Message("one_point_only", text))
    return tuple(found)
