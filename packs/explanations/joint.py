"""The resistance of one joint, step by step.

Here: the steps. Not here: the calculation (physics/joint.py).
"""

import statistics

from packs.explanation import Line, figure
from packs.explanations.budget import Component, budget_lines, expanded
from packs.explanations.readings import (
    against,
    allowance_line,
    interval_text,
    reading_components,
)
from packs.physics.joint import SIBLING_SHARE, JointCase, JointResult
from packs.words import told

MICRO = 1e6
WORDS = {
    "pass": "The whole interval is at or below the limit",
    "fail": "The whole interval is above the limit",
    "undecided": "The limit lies inside the interval",
}


def explained(case: JointCase, result: JointResult) -> tuple[Line, ...]:
    """Return the steps from drop and current to the verdict.

    Parameters
    ----------
    case : JointCase
        What was given.
    result : JointResult
        What came of it.

    Returns
    -------
    lines : tuple[Line, ...]
        In the order in which a person would work.
    """
    drop_v, current_a = abs(case.drop_mv) / 1000.0, abs(case.current_a)
    micro_ohm = drop_v / current_a * MICRO
    components = (
        *reading_components(told("drop"), case.meter, drop_v, MICRO / current_a),
        Component(
            source="current",
            half_width=current_a * case.current_u_percent / 100.0,
            unit="A",
            sensitivity=micro_ohm / current_a,
        ),
    )
    half = expanded(components)
    return (
        Line(what="Resistance of a bolted joint: Ohm's law; errors as JCGM 100 counts them"),
        Line(
            what="Resistance; the signs of drop and current do not matter",
            formula="R = U/I",
            numbers=f"{figure(drop_v, 'V', 6)} / {figure(current_a, 'A', 6)}",
            value=figure(micro_ohm, "uohm", 5),
        ),
        allowance_line("the drop", case.meter, drop_v),
        *budget_lines("the resistance", components, "uohm"),
        Line(
            what="95 % interval, not below zero",
            formula=told("{low} to {high}", low="R - U", high="R + U"),
            value=interval_text(max(0.0, micro_ohm - half), micro_ohm + half, "uohm"),
        ),
        *_siblings(case, micro_ohm),
        *_heat(case, micro_ohm),
        _limit(case),
        Line(
            what="Comparison",
            numbers=against(
                interval_text(result.micro_ohm_low, result.micro_ohm_high, "uohm"),
                figure(_limit_of(case), "uohm"),
            ),
            value=told("{words}: {got}", words=WORDS[result.verdict], got=str(result.verdict)),
        ),
    )


def _limit_of(case: JointCase) -> float:
    """Return the limit, as given or from like joints."""
    if case.limit_micro_ohm is not None:
        return case.limit_micro_ohm
    return SIBLING_SHARE * statistics.median(case.siblings_micro_ohm)


def _limit(case: JointCase) -> Line:
    """Say where the limit comes from."""
    if case.limit_micro_ohm is not None:
        return Line(what="Limit, as given", value=figure(case.limit_micro_ohm, "uohm"))
    median = statistics.median(case.siblings_micro_ohm)
    return Line(
        what="Limit, from like joints: a fifth above their median (shop default, no source)",
        formula=told("1.2 x median"),
        numbers=f"{SIBLING_SHARE:g} x {figure(median, 'uohm')}",
        value=figure(SIBLING_SHARE * median, "uohm"),
    )


def _siblings(case: JointCase, micro_ohm: float) -> tuple[Line, ...]:
    """Compare with the median of like joints."""
    if not case.siblings_micro_ohm:
        return ()
    median = statistics.median(case.siblings_micro_ohm)
    return (
        Line(
            what=told(
                "Ratio to the median of {siblings_micro_ohm} like joints",
                siblings_micro_ohm=len(case.siblings_micro_ohm),
            ),
            formula=told("R / median"),
            numbers=f"{figure(micro_ohm, 'uohm')} / {figure(median, 'uohm')}",
            value=figure(micro_ohm / median, ""),
        ),
    )


def _heat(case: JointCase, micro_ohm: float) -> tuple[Line, ...]:
    """Work out the heat at the rated current."""
    if case.rated_current_a is None:
        return ()
    return (
        Line(
            what="Heat at the rated current",
            formula="P = R I^2",
            numbers=f"{figure(micro_ohm, 'uohm')} x ({figure(case.rated_current_a, 'A')})^2",
            value=figure(micro_ohm / MICRO * case.rated_current_a**2, "W"),
        ),
    )
