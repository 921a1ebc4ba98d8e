"""The straight line a person can draw for one time constant: readings against exp(-t/tau).

Here: the readings with their uncertainties, that line, and its neighbours. Not here: which time
constant is best, which is found by trial (physics/exponential.py), and the verdict (decay.py).
"""

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from packs.explanation import Line, figure, table_text
from packs.explanations.readings import (
    HALF_A_STEP,
    below,
    interval_text,
    reading_components,
)
from packs.physics.decay import DecayResult, Sample
from packs.physics.instrument import Meter
from packs.words import told

MOST_ROWS = 12
PARAMETERS = 3
SHORTER = told("a twentieth less")
SHORTEST_SHARE = 5.0
"""A time constant below this part of the shortest step leaves nothing to see."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """A series counted from its first sample, with the standard uncertainty of each reading."""

    times_s: tuple[float, ...]
    volts: tuple[float, ...]
    us_v: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedLine:
    """The line v = end + step x, with the sums a person needs, and its sum of squares."""

    mean_x: float
    mean_v: float
    sxx: float
    sxv: float
    end_v: float
    step_v: float
    misfit: float


def readings_of(samples: Sequence[Sample], meter: Meter, *, gain_shared: bool) -> Readings:
    """Return a series with its uncertainties.

    Parameters
    ----------
    samples : Sequence[Sample]
        As given.
    meter : Meter
        The voltmeter.
    gain_shared : bool
        Whether the share of the reading is one error for all.

    Returns
    -------
    readings : Readings
        Two boxes a reading: the meter's, and that of the last digit.
    """
    return Readings(
        times_s=tuple(each.t_s - samples[0].t_s for each in samples),
        volts=tuple(each.v for each in samples),
        us_v=tuple(
            math.hypot(
                *(
                    part.contribution
                    for part in reading_components("v", meter, each.v, 1.0, gain_shared=gain_shared)
                )
            )
            for each in samples
        ),
    )


def line_at(readings: Readings, tau_s: float) -> FittedLine:
    """Return the weighted straight line through the readings against exp(-t/tau).

    Parameters
    ----------
    readings : Readings
        The series.
    tau_s : float
        The time constant, [s]

    Returns
    -------
    line : FittedLine
        By the plain formulas of weighted regression.
    """
    # The decay counted from its end at the last sample keeps long time constants accurate.
    span_s = readings.times_s[-1]
    whole = -math.expm1(-span_s / tau_s)
    shape = [-math.expm1(-t / tau_s) / whole for t in readings.times_s]
    weights = [1.0 / u**2 for u in readings.us_v]
    total = sum(weights)
    mean_y = sum(w * y for w, y in zip(weights, shape, strict=True)) / total
    mean_v = sum(w * v for w, v in zip(weights, readings.volts, strict=True)) / total
    syy = sum(w * (y - mean_y) ** 2 for w, y in zip(weights, shape, strict=True))
    syv = sum(
        w * (y - mean_y) * (v - mean_v)
        for w, y, v in zip(weights, shape, readings.volts, strict=True)
    )
    slope = syv / syy
    misfit = sum(
        w * (v - mean_v - slope * (y - mean_y)) ** 2
        for w, y, v in zip(weights, shape, readings.volts, strict=True)
    )
    return FittedLine(
        mean_x=1.0 - whole * mean_y,
        mean_v=mean_v,
        sxx=syy * whole**2,
        sxv=-syv * whole,
        end_v=mean_v + slope * (1.0 / whole - mean_y),
        step_v=-slope / whole,
        misfit=misfit,
    )


def reading_lines(
    readings: Readings, fields: Mapping[str, Any], tau_s: float | None
) -> tuple[Line, ...]:
    """Return the readings with their uncertainties as a table.

    Parameters
    ----------
    readings : Readings
        The series.
    fields : Mapping[str, Any]
        What was given: the meter, and whether its gain is shared.
    tau_s : float | None
        The time constant found, None where nothing moves, [s]

    Returns
    -------
    lines : tuple[Line, ...]
        The formula and the table.
    """
    meter = fields["meter"]
    own = f"{meter.accuracy_counts:g} x {figure(meter.resolution_v, 'V')}"
    if not fields["gain_shared"]:
        own = f"{meter.accuracy_percent:g}/100 x |v| + {own}"
    half = f"{HALF_A_STEP:g} x {figure(meter.resolution_v, 'V')}"
    return (
        Line(
            what="Each reading has two rectangular errors, that of the meter and that of its last"
            " digit (JCGM 100, 4.3.7)",
            formula="u = sqrt(a_meter^2 + a_digit^2)/sqrt(3)",
            numbers=f"sqrt(({own})^2 + ({half})^2)/sqrt(3)",
            value="in the table below",
        ),
        Line(what="The readings", numbers=_table(readings, tau_s)),
    )


def _table(readings: Readings, tau_s: float | None) -> str:
    """Write the readings, or some of them spread over the series."""
    line = line_at(readings, tau_s) if tau_s is not None else None
    headings = ("t", "v", "u", "x = exp(-t/tau)", "fit", "(v - fit)/u") if line else ("t", "v", "u")
    rows = list[tuple[str, ...]]()
    count = len(readings.volts)
    step = max(1.0, (count - 1) / (MOST_ROWS - 1))
    shown = sorted({min(count - 1, round(index * step)) for index in range(MOST_ROWS)})
    for index in shown:
        t_s, v, u_v = readings.times_s[index], readings.volts[index], readings.us_v[index]
        row: tuple[str, ...] = (figure(t_s, "s", 6), figure(v, "V", 6), figure(u_v, "V", 3))
        if line and tau_s is not None:
            x = math.exp(-t_s / tau_s)
            fit_v = line.end_v + line.step_v * x
            row = (*row, figure(x, "", 5), figure(fit_v, "V", 6), figure((v - fit_v) / u_v, "", 3))
        rows.append(row)
    table = table_text(headings, rows)
    if len(shown) == count:
        return table
    return below(table, told("({shown} of {count} readings shown)", shown=len(shown), count=count))


def regression_lines(readings: Readings, tau_s: float) -> tuple[Line, ...]:
    """Return the steps of the weighted straight line at one time constant.

    Parameters
    ----------
    readings : Readings
        The series.
    tau_s : float
        The time constant found, [s]

    Returns
    -------
    lines : tuple[Line, ...]
        Means, slope, end value.
    """
    line = line_at(readings, tau_s)
    return (
        Line(
            what="With x = exp(-t/tau) the decay is a straight line, v = v_end + step x; weighted"
            " means with w = 1/u^2",
            numbers=told(
                "tau = {tau}: mean of x = {mean_x}, mean of v = {mean_v}",
                tau=figure(tau_s, "s", 5),
                mean_x=figure(line.mean_x, "", 5),
                mean_v=figure(line.mean_v, "V", 6),
            ),
        ),
        Line(
            what="Slope of that line",
            formula=told("step = (sum of w (x - mean)(v - mean))/(sum of w (x - mean)^2)"),
            numbers=f"{figure(line.sxv, '', 5)} / {figure(line.sxx, '', 5)}",
            value=figure(line.step_v, "V", 5),
        ),
        Line(
            what="End value: where the line meets x = 0",
            formula=told("v_end = mean of v - step x mean of x"),
            numbers=f"{figure(line.mean_v, 'V', 6)} - {figure(line.step_v, 'V', 5)} x"
            f" {figure(line.mean_x, '', 5)}",
            value=figure(line.end_v, "V"),
        ),
        Line(
            what=told(
                "Sum of squares of the last column, for {volts} readings and "
                "{parameters} things fitted",
                volts=len(readings.volts),
                parameters=PARAMETERS,
            ),
            formula=told("sum of (v - fit)^2/u^2"),
            value=figure(line.misfit, "", 3),
        ),
    )


def time_constant_lines(readings: Readings, result: DecayResult) -> tuple[Line, ...]:
    """Return the same line at other time constants: why this one, and how far it may be off.

    Parameters
    ----------
    readings : Readings
        The series.
    result : DecayResult
        With the interval of the time constant.

    Returns
    -------
    lines : tuple[Line, ...]
        A table a person can extend.
    """
    best_s = result.tau_s or 0.0
    shortest_s = min(b - a for a, b in itertools.pairwise(readings.times_s)) / SHORTEST_SHARE
    named = [
        (told("lower end"), result.tau_s_low),
        (SHORTER, best_s / 1.05),
        (told("found"), best_s),
        (told("a twentieth more"), best_s * 1.05),
        (told("upper end"), result.tau_s_high),
    ]
    headings = ("time constant", "tau", "v_end", "sum of squares")
    rows = list[tuple[str, ...]]()
    for name, tau_s in named:
        if name is SHORTER and tau_s is not None and tau_s < shortest_s:
            rows.append((name, told("not looked for"), "-", "-"))
            continue
        if tau_s is None or not tau_s > 0.0:
            rows.append((name, told("none: all fit"), "-", "-"))
            continue
        line = line_at(readings, tau_s)
        rows.append((name, figure(tau_s, "s"), figure(line.end_v, "V"), figure(line.misfit, "", 5)))
    return (
        Line(
            what=told(
                "The time constant has the least sum of squares, found by trial between "
                "{shortest_s} (a fifth of the shortest step) and a thousand times the "
                "length of the series. The ends of its interval are where the sum of "
                "squares has risen by the square of the 95 % factor (at most 3.84; times "
                "the scatter where the readings scatter more than the meter allows)",
                shortest_s=figure(shortest_s, "s"),
            ),
            numbers=table_text(headings, rows),
        ),
        Line(
            what="The interval of the end value holds every one that some time constant between"
            " these makes fit that well (profile likelihood), found by trial, not by hand. The"
            " check: it holds the end values of the table",
            numbers=interval_text(result.end_v_low, result.end_v_high, "V"),
        ),
    )
