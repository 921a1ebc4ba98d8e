"""Whether a reading settles to nothing, step by step.

Here: the steps to the verdict. Not here: the calculation (physics/decay.py), the straight line a
person can draw for one time constant (decay_line.py).
"""

import math
from collections.abc import Mapping
from typing import Any

from packs.explanation import Line, figure
from packs.explanations.decay_line import (
    Readings,
    line_at,
    reading_lines,
    readings_of,
    regression_lines,
    time_constant_lines,
)
from packs.explanations.readings import against, interval_text
from packs.physics.decay import FLAT_GAIN, SLOWEST_TAU_S, DecayResult
from packs.words import told

WORDS = {
    "floating": "the whole interval lies within the floor: the reading settles to nothing",
    "standing": "the whole interval lies outside the floor: the reading stands",
    "undecided": "the interval and the floor overlap",
}


def explained(fields: Mapping[str, Any], result: DecayResult) -> tuple[Line, ...]:
    """Return the steps from the readings to the verdict.

    Parameters
    ----------
    fields : Mapping[str, Any]
        What was given: samples, meter, floor and threshold.
    result : DecayResult
        What came of it.

    Returns
    -------
    lines : tuple[Line, ...]
        In the order in which a person would work.
    """
    readings = readings_of(fields["samples"], fields["meter"], gain_shared=fields["gain_shared"])
    moving = _moving(readings, result) if result.tau_s is not None else _flat(readings)
    return (
        Line(
            what="One capacitance discharging through one resistance:"
            " v(t) = v_end + (v_0 - v_end) exp(-t/tau), counted from the first sample; the end"
            " value is what the meter reads, its own loading included"
        ),
        *reading_lines(readings, fields, result.tau_s),
        *moving,
        *_shared_gain(readings, fields, result),
        Line(
            what="95 % interval of the end value",
            formula="v_end",
            value=interval_text(result.end_v_low, result.end_v_high, "V"),
        ),
        *_wait(readings, fields["threshold_v"], result),
        _verdict(fields["floor_v"], result),
    )


def _moving(readings: Readings, result: DecayResult) -> tuple[Line, ...]:
    """Show the line at the best time constant, and that its neighbours are worse."""
    return (
        *regression_lines(readings, result.tau_s or 0.0),
        *time_constant_lines(readings, result),
    )


def _flat(readings: Readings) -> tuple[Line, ...]:
    """Show the weighted mean of a series that does not move."""
    weights = [1.0 / u**2 for u in readings.us_v]
    total = sum(weights)
    mean_v = sum(w * v for w, v in zip(weights, readings.volts, strict=True)) / total
    misfit = sum(w * (v - mean_v) ** 2 for w, v in zip(weights, readings.volts, strict=True))
    return (
        Line(
            what=told(
                "The series does not move: no exponential makes the sum of squares "
                "smaller by {flat_gain:g} or more. The end value is the mean, weighted "
                "with w = 1/u^2",
                flat_gain=FLAT_GAIN,
            ),
            formula=told("v_end = (sum of w v)/(sum of w)"),
            numbers=f"{figure(mean_v * total, '')} V/V^2 / {figure(total, '')} 1/V^2",
            value=figure(mean_v, "V", 5),
        ),
        Line(
            what=told("Sum of squares about it, for {weights} readings", weights=len(weights)),
            formula=told("sum of (v - v_end)^2/u^2"),
            value=figure(misfit, "", 3),
        ),
        Line(
            what="Its interval holds every end value that some decay quick enough to have settled"
            " (time constant up to a fifth of the series) makes fit nearly as well: found by trial,"
            " not by hand. The check: it is never narrower than the mean's own half-width, about",
            formula=told("2 u(v_end) = 2/sqrt(sum of w)"),
            numbers=f"2/sqrt({figure(total, '')} 1/V^2)",
            value=figure(2.0 / math.sqrt(total), "V", 2),
        ),
    )


def _shared_gain(
    readings: Readings, fields: Mapping[str, Any], result: DecayResult
) -> tuple[Line, ...]:
    """Say what the error that all readings share is worth."""
    if not fields["gain_shared"]:
        return ()
    share_v = fields["meter"].accuracy_percent / 100.0 * abs(result.end_v)
    return (
        Line(
            what=told(
                "The share-of-reading error is one error for all {volts} readings: it is "
                "no part of u above and moves the end value as a whole, one box beside "
                "the bell of the fit",
                volts=len(readings.volts),
            ),
            formula=told("accuracy/100 |v_end|"),
            numbers=f"{fields['meter'].accuracy_percent:g}/100 x {figure(abs(result.end_v), 'V')}",
            value=figure(share_v, "V"),
        ),
    )


def _wait(readings: Readings, threshold_v: float, result: DecayResult) -> tuple[Line, ...]:
    """Work out how long to wait until the threshold."""
    last_v = readings.volts[-1]
    what = told("Wait from the last sample until the magnitude is below the threshold")
    seconds = result.seconds_to_threshold
    if abs(last_v) <= threshold_v or seconds is None or result.tau_s is None:
        return (
            Line(
                what=what,
                numbers=told(
                    "last reading {volts}, threshold {limit}",
                    volts=figure(last_v, "V"),
                    limit=figure(threshold_v, "V"),
                ),
                value="it never gets there"
                if seconds is None
                else told("{wait}: it already is", wait=figure(seconds, "s")),
            ),
        )
    side = math.copysign(1.0, last_v)
    line = line_at(readings, result.tau_s)
    left_v = side * line.step_v * math.exp(-readings.times_s[-1] / result.tau_s)
    gap_v = threshold_v - side * line.end_v
    wait_s = result.tau_s * math.log(max(1.0, left_v / gap_v))
    return (
        Line(
            what=told("{what}; not below zero", what=what),
            formula=told("tau ln((v_last - v_end)/(threshold - v_end)), with v_last from the fit"),
            numbers=f"{figure(result.tau_s, 's')} x ln({figure(left_v, 'V')}"
            f" / {figure(gap_v, 'V')})",
            value=figure(wait_s, "s"),
        ),
    )


def _verdict(floor_v: float, result: DecayResult) -> Line:
    """Compare the interval with the floor."""
    low, high = result.end_v_low, result.end_v_high
    compared = "undecided"
    if -floor_v <= low and high <= floor_v:
        compared = "floating"
    elif low > floor_v or high < -floor_v:
        compared = "standing"
    value: str = told("{words}: {verdict}", words=WORDS[compared], verdict=compared)
    codes = {message.code for message in result.warnings}
    if compared != result.kind:
        reason = told("the readings scatter more than the meter allows")
        if "too_short" in codes:
            reason = told(
                "a decay as slow as {slowest_s:g} s would look just as flat",
                slowest_s=SLOWEST_TAU_S,
            )
        value = told(
            "{said}; but {reason}: {verdict}", said=value, reason=reason, verdict=result.kind
        )
    return Line(
        what="Comparison of the interval with the floor",
        numbers=against(
            interval_text(low, high, "V"),
            told("-{floor} to {floor}", floor=figure(floor_v, "V")),
        ),
        value=value,
    )
