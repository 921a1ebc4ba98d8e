"""The pressure decay of an enclosure, step by step.

Here: the steps to the leak and the verdict. Not here: the calculation (physics/leak.py), the line
through the samples and its errors (leak_slope.py).
"""

from packs.explanation import Line, figure
from packs.explanations.budget import Component, budget_lines, grouped
from packs.explanations.leak_slope import Samples, bend_lines, samples_of, slope_lines
from packs.explanations.readings import against, interval_text
from packs.physics.instrument import COVERAGE_95
from packs.physics.leak import (
    PA_M3_PER_S_PER_MBAR_L_PER_S,
    PA_M3_PER_S_PER_ML_PER_MIN,
    REFERENCE_K,
    LeakCase,
    LeakResult,
)
from packs.words import joined, told

UNIT = "Pa m3/s"
WORDS = {
    "pass": "the whole interval is at or below the limit",
    "fail": "the whole interval is above the limit",
    "undecided": "the limit lies inside the interval",
}


def explained(case: LeakCase, result: LeakResult) -> tuple[Line, ...]:
    """Return the steps from the samples to the verdict.

    Parameters
    ----------
    case : LeakCase
        What was given.
    result : LeakResult
        What came of it.

    Returns
    -------
    lines : tuple[Line, ...]
        In the order in which a person would work.
    """
    samples = samples_of(case)
    volume_m3 = case.volume_l / 1000.0
    leak = -volume_m3 * samples.per_s
    return (
        Line(
            what="Pressure decay of a sealed, rigid enclosure with one gas temperature (ideal gas;"
            " EN 1779 for the method, JCGM 100 for the errors); throughput at 20 degC"
        ),
        *slope_lines(case, samples),
        Line(
            what="Leak: volume times the fall of pressure",
            formula="q = -V dp/dt",
            numbers=f"-{figure(volume_m3, 'm3')} x {figure(samples.per_s, 'Pa/s')}",
            value=figure(leak, UNIT),
        ),
        Line(
            what="In the units of the trade; ml/min at 101325 Pa",
            formula=joined(["q/0.1", "q/0.00168875"]),
            value=told(
                "{value}, that is {value_2}",
                value=figure(leak / PA_M3_PER_S_PER_MBAR_L_PER_S, "mbar l/s"),
                value_2=figure(leak / PA_M3_PER_S_PER_ML_PER_MIN, "ml/min"),
            ),
        ),
        *_drops(samples, result),
        *_interval(case, samples, leak, result),
        *bend_lines(case, samples),
        _limit(case, samples),
        *_comparison(case, samples, result),
        _duration(samples, volume_m3, result),
    )


def _drops(samples: Samples, result: LeakResult) -> tuple[Line, ...]:
    """Say how much of the drop is temperature."""
    first, last = samples.absolute_pa[0], samples.absolute_pa[-1]
    start_k, end_k = samples.kelvin[0], samples.kelvin[-1]
    cooled_pa = last * start_k / end_k
    return (
        Line(
            what="Drop as read, in absolute pressure",
            formula="p_1 - p_2",
            numbers=f"{figure(first, 'Pa', 7)} - {figure(last, 'Pa', 7)}",
            value=figure(first - last, "Pa"),
        ),
        Line(
            what="Drop with the last pressure brought to the first temperature",
            formula="p_1 - p_2 T_1/T_2",
            numbers=f"{figure(first, 'Pa', 7)} - {figure(last, 'Pa', 7)} x"
            f" {figure(start_k, 'K', 6)}/{figure(end_k, 'K', 6)}",
            value=told(
                "{value}; temperature made {temperature_drop_pa} of the drop as read",
                value=figure(first - cooled_pa, "Pa"),
                temperature_drop_pa=figure(result.temperature_drop_pa, "Pa"),
            ),
        ),
    )


def _interval(
    case: LeakCase, samples: Samples, leak: float, result: LeakResult
) -> tuple[Line, ...]:
    """Work out the interval: noise of the slope, and the volume."""
    noise = case.volume_l / 1000.0 * samples.half_per_s
    components = (
        grouped(told("slope: U/1.96"), noise / COVERAGE_95, UNIT, [noise / COVERAGE_95], bell=True),
        Component(
            source="volume",
            half_width=case.volume_u_percent,
            unit="%",
            sensitivity=leak / 100.0,
        ),
    )
    return (
        *budget_lines("the leak", components, UNIT),
        Line(
            what="95 % interval of the leak",
            formula=told("{low} to {high}", low="q - U", high="q + U"),
            numbers=told("widened on one side because the fall changes during the test (below)")
            if any(message.code == "not_settled" for message in result.warnings)
            else "",
            value=interval_text(result.leak_pa_m3_per_s_low, result.leak_pa_m3_per_s_high, UNIT),
        ),
    )


def _limit(case: LeakCase, samples: Samples) -> Line:
    """Turn the limit into a throughput."""
    limit, what = case.limit, told("Limit as a throughput")
    if limit.mbar_l_per_s is not None:
        given, factor = f"{limit.mbar_l_per_s:g} mbar l/s", PA_M3_PER_S_PER_MBAR_L_PER_S
        value = limit.mbar_l_per_s * factor
    elif limit.ml_per_min is not None:
        given, factor = f"{limit.ml_per_min:g} ml/min", PA_M3_PER_S_PER_ML_PER_MIN
        value = limit.ml_per_min * factor
    elif limit.drop_pa is not None:
        scale = REFERENCE_K / samples.kelvin[0]
        return Line(
            what=told(
                "{what}: the drop allowed over the test, at the first temperature", what=what
            ),
            formula=told("q_limit = V drop (T_ref/T_1)/t"),
            numbers=f"{figure(case.volume_l / 1000.0, 'm3')} x {limit.drop_pa:g} Pa x"
            f" {figure(scale, '', 5)} / {figure(samples.duration_s, 's')}",
            value=figure(case.volume_l / 1000.0 * limit.drop_pa * scale / samples.duration_s, UNIT),
        )
    else:
        return Line(what=told("{what}, as given", what=what), value=figure(limit.pa_m3_per_s, UNIT))
    return Line(what=what, numbers=f"{given} x {factor:.6g}", value=figure(value, UNIT))


def _comparison(case: LeakCase, samples: Samples, result: LeakResult) -> tuple[Line, ...]:
    """Compare the interval with the limit."""
    low, high = result.leak_pa_m3_per_s_low, result.leak_pa_m3_per_s_high
    limit = result.limit_pa_m3_per_s
    what = told("Comparison of the interval with the limit")
    if case.limit.drop_pa is not None:
        volume_m3 = case.volume_l / 1000.0
        low = volume_m3 * (-samples.per_s - samples.half_per_s)
        high = volume_m3 * (-samples.per_s + samples.half_per_s)
        what = told(
            "{comparison}; a limit given as a drop does not depend on the volume: without its "
            "error",
            comparison=what,
        )
    compared = "pass" if high <= limit else "fail" if low > limit else "undecided"
    value: str = told("{words}: {verdict}", words=WORDS[compared], verdict=compared)
    if compared != result.verdict:
        value = told(
            "{said}; but {reason}: {verdict}",
            said=value,
            reason="the test itself is doubtful (see the warnings)",
            verdict=str(result.verdict),
        )
    return (
        Line(
            what=what,
            numbers=against(interval_text(low, high, UNIT), figure(limit, UNIT)),
            value=value,
        ),
    )


def _duration(samples: Samples, volume_m3: float, result: LeakResult) -> Line:
    """Say how long the test has to last to see this limit."""
    noise = volume_m3 * samples.half_per_s
    return Line(
        what="Shortest test that can decide at this limit: the slope's noise shrinks with time",
        formula=told("t_needed = t V U_slope/q_limit"),
        numbers=f"{figure(samples.duration_s, 's')} x {figure(noise, UNIT)}"
        f" / {figure(result.limit_pa_m3_per_s, UNIT)}",
        value=figure(noise * samples.duration_s / result.limit_pa_m3_per_s, "s"),
    )
