"""The line through the samples of a pressure decay, its errors, and whether it bends.

Here: the steps to the slope. Not here: what is made of it (leak.py).
"""

import math
from dataclasses import dataclass

from packs.explanation import Line, figure, table_text
from packs.explanations.budget import Component, budget_lines, expanded, grouped
from packs.explanations.readings import below
from packs.physics.instrument import SQRT_3, scatter
from packs.physics.leak import CURVED, KELVIN, REFERENCE_K, LeakCase
from packs.words import told

MOST_ROWS = 12
FEWEST_FOR_BEND = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Samples:
    """Pressures at 20 degC, the line through them and what it may be off."""

    times_s: tuple[float, ...]
    absolute_pa: tuple[float, ...]
    kelvin: tuple[float, ...]
    reduced_pa: tuple[float, ...]
    weights: tuple[float, ...]
    us_pa: tuple[float, ...]
    errors: tuple[Component, ...]
    per_s: float
    spread: float

    @property
    def duration_s(self) -> float:
        """From the first sample to the last."""
        return self.times_s[-1] - self.times_s[0]

    @property
    def half_per_s(self) -> float:
        """Half-width of the slope, widened where the samples scatter."""
        return expanded(self.errors) * math.sqrt(self.spread)


def samples_of(case: LeakCase) -> Samples:
    """Return the samples brought to 20 degC, with the line through them.

    Parameters
    ----------
    case : LeakCase
        What was given.

    Returns
    -------
    samples : Samples
        In the order in which they were taken.
    """
    times_s = tuple(each.t_s for each in case.samples)
    airs_pa = [
        case.barometer_pa if each.barometer_pa is None else each.barometer_pa
        for each in case.samples
    ]
    absolute_pa = tuple(
        each.gauge_pa + (air_pa or 0.0) for each, air_pa in zip(case.samples, airs_pa, strict=True)
    )
    kelvin = tuple(each.temp_c + KELVIN for each in case.samples)
    scales = [REFERENCE_K / k for k in kelvin]
    reduced_pa = tuple(p * scale for p, scale in zip(absolute_pa, scales, strict=True))
    mean_s = sum(times_s) / len(times_s)
    square = sum((t - mean_s) ** 2 for t in times_s)
    weights = tuple((t - mean_s) / square for t in times_s)
    per_s = sum(w * p for w, p in zip(weights, reduced_pa, strict=True))
    us_pa = _own_us(case, scales, [p / k for p, k in zip(reduced_pa, kelvin, strict=True)])
    mean_pa = sum(reduced_pa) / len(reduced_pa)
    misfit = sum(
        ((p - mean_pa - per_s * (t - mean_s)) / u) ** 2
        for p, t, u in zip(reduced_pa, times_s, us_pa, strict=True)
    )
    return Samples(
        times_s=times_s,
        absolute_pa=absolute_pa,
        kelvin=kelvin,
        reduced_pa=reduced_pa,
        weights=weights,
        us_pa=us_pa,
        errors=_errors(case, scales, weights, reduced_pa, kelvin),
        per_s=per_s,
        spread=scatter(misfit, len(times_s) - 2),
    )


def slope_lines(case: LeakCase, samples: Samples) -> tuple[Line, ...]:
    """Return the steps to the slope and its half-width.

    Parameters
    ----------
    case : LeakCase
        What was given.
    samples : Samples
        Brought to 20 degC.

    Returns
    -------
    lines : tuple[Line, ...]
        The table, the slope, its budget.
    """
    widened: tuple[Line, ...] = ()
    if samples.spread > 1.0:
        widened = (
            Line(
                what="The samples scatter more than gauge and thermometer explain: U is multiplied"
                " by the root of the mean squared misfit",
                formula=told("U x sqrt(misfit/(n - 2))"),
                numbers=f"{figure(expanded(samples.errors), 'Pa/s')} x"
                f" {figure(math.sqrt(samples.spread), '')}",
                value=figure(samples.half_per_s, "Pa/s"),
            ),
        )
    return (
        Line(
            what="Absolute pressure (gauge plus barometer), brought to 20 degC: p (293.15 K)/T;"
            " weight of each sample in the slope: w = (t - mean)/sum of (t - mean)^2",
            numbers=_table(case, samples),
        ),
        _slope(samples),
        *budget_lines("the slope", samples.errors, "Pa/s"),
        *widened,
    )


def bend_of(samples: Samples) -> tuple[float, float]:
    """Return by how many standard uncertainties the line bends, and what that adds at the end.

    Parameters
    ----------
    samples : Samples
        At least three.

    Returns
    -------
    bend, turn_per_s : tuple[float, float]
        Of the parabola that has nothing in common with a line, [-] and [Pa/s]
    """
    count = len(samples.times_s)
    mean_s = sum(samples.times_s) / count
    mean_pa = sum(samples.reduced_pa) / count
    offsets = [t - mean_s for t in samples.times_s]
    left = [
        p - mean_pa - samples.per_s * d for p, d in zip(samples.reduced_pa, offsets, strict=True)
    ]
    squares = [d * d for d in offsets]
    mean = sum(squares) / count
    along = sum(q * d for q, d in zip(squares, offsets, strict=True)) / sum(squares)
    shape = [q - mean - along * d for q, d in zip(squares, offsets, strict=True)]
    norm = sum(x * x for x in shape)
    curvature = sum(x * r for x, r in zip(shape, left, strict=True)) / norm
    u = math.hypot(*(x * each for x, each in zip(shape, samples.us_pa, strict=True))) / norm
    return curvature / u, curvature * (2.0 * offsets[-1] - along)


def bend_lines(case: LeakCase, samples: Samples) -> tuple[Line, ...]:
    """Return the step that sees whether the pressure has settled.

    Parameters
    ----------
    case : LeakCase
        What was given.
    samples : Samples
        Brought to 20 degC.

    Returns
    -------
    lines : tuple[Line, ...]
        None with two samples, which cannot show it.
    """
    if len(case.samples) < FEWEST_FOR_BEND:
        return ()
    bend, turn = bend_of(samples)
    return (
        Line(
            what=told(
                "Has it settled? A parabola through what the line leaves, over its "
                "standard uncertainty: more than {curved:g} is not chance, unless the "
                "falling pressure itself explains that the leak slows down",
                curved=CURVED,
            ),
            formula=told("bend = c/u(c)"),
            value=told(
                "{bend}; the slope at the last sample would be {value}",
                bend=figure(bend, "", 3),
                value=figure(samples.per_s + turn, "Pa/s"),
            ),
        ),
    )


def _own_us(case: LeakCase, scales: list[float], per_kelvin: list[float]) -> tuple[float, ...]:
    """Return the standard uncertainty of each pressure on its own."""
    step_pa = case.gauge.resolution_pa / 2.0
    return tuple(
        max(
            math.hypot(
                scale * case.gauge.repeatability_pa,
                scale * step_pa / SQRT_3,
                pa_per_k * case.temp_u_c / SQRT_3,
            ),
            1e-9,
        )
        for scale, pa_per_k in zip(scales, per_kelvin, strict=True)
    )


def _errors(
    case: LeakCase,
    scales: list[float],
    weights: tuple[float, ...],
    reduced_pa: tuple[float, ...],
    kelvin: tuple[float, ...],
) -> tuple[Component, ...]:
    """Return what may be off in the slope."""
    gauge, step_pa = case.gauge, case.gauge.resolution_pa / 2.0
    scaled = [w * scale for w, scale in zip(weights, scales, strict=True)]
    warmed = [w * p / k for w, p, k in zip(weights, reduced_pa, kelvin, strict=True)]
    duration_s = case.samples[-1].t_s - case.samples[0].t_s
    read_along = all(each.barometer_pa is not None for each in case.samples)
    drift_pa = 0.0 if read_along else case.barometer_u_pa
    return (
        grouped(told("gauge, last digit"), step_pa, "Pa", [w * step_pa for w in scaled]),
        grouped(
            told("gauge, repeatability"),
            gauge.repeatability_pa,
            "Pa",
            [w * gauge.repeatability_pa for w in scaled],
            bell=True,
        ),
        grouped(told("gas temperature"), case.temp_u_c, "K", [w * case.temp_u_c for w in warmed]),
        Component(
            source="drift of the barometer",
            half_width=drift_pa,
            unit="Pa",
            sensitivity=1.0 / duration_s,
        ),
    )


def _slope(samples: Samples) -> Line:
    """Work out the slope."""
    if len(samples.times_s) == FEWEST_FOR_BEND - 1:
        return Line(
            what="Slope: the fall between both samples",
            formula="dp/dt = (p_2 - p_1)/(t_2 - t_1)",
            numbers=f"({figure(samples.reduced_pa[1], 'Pa', 8)} -"
            f" {figure(samples.reduced_pa[0], 'Pa', 8)}) / {figure(samples.duration_s, 's', 6)}",
            value=figure(samples.per_s, "Pa/s"),
        )
    return Line(
        what="Slope of the straight line with the least sum of squares",
        formula=told("dp/dt = sum of w p"),
        numbers=told("over all {count} samples", count=len(samples.times_s)),
        value=figure(samples.per_s, "Pa/s"),
    )


def _table(case: LeakCase, samples: Samples) -> str:
    """Write the samples, or some of them spread over the test."""
    count = len(samples.times_s)
    shown = list(range(count))
    if count > MOST_ROWS:
        step = (count - 1) / (MOST_ROWS - 1)
        shown = sorted({round(index * step) for index in range(MOST_ROWS)})
    headings = ("t", "gauge", "absolute", "T", "p at 20 degC", "w")
    rows = [
        (
            figure(samples.times_s[index], "s", 7),
            figure(case.samples[index].gauge_pa, "Pa", 7),
            figure(samples.absolute_pa[index], "Pa", 8),
            figure(samples.kelvin[index], "K", 6),
            figure(samples.reduced_pa[index], "Pa", 8),
            figure(samples.weights[index], "1/s"),
        )
        for index in shown
    ]
    text = table_text(headings, rows)
    if count <= MOST_ROWS:
        return text
    return below(text, told("({shown} of {count} samples shown)", shown=len(shown), count=count))
