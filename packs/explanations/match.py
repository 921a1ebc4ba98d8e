"""Which spare suits the string, step by step.

Here: the limits, each spare's points and the order. Not here: the calculation (physics/match.py).
"""

import statistics
from collections import Counter
from collections.abc import Mapping

import numpy as np

from packs.explanation import Line, figure, table_text
from packs.explanations.readings import below, interval_text
from packs.physics.match_case import (
    ExcludedSpare,
    MatchCase,
    MatchResult,
    RankedSpare,
    SpareModule,
)
from packs.physics.match_yardstick import curves_of
from packs.words import joined, told

SHOWN = 20
"""So many spares of either kind are worked out; a list longer than this nobody checks by hand."""
WEAKER, STRONGER, STRONGER_PER_PERCENT, OFF, AGE = 40.0, 5.0, 0.2, 25.0, 10.0
CHARGE, ACCEPT_V = 0.2, 0.010
FULL = 100.0
LIST = "{first}, {second}"
CALLED: Mapping[str, str] = {
    "capacity_low": "capacity too low",
    "capacity_not_credible": "capacity not credible",
    "capacity_unmeasured": "capacity not measured",
    "cell_above_maximum": "cell above its maximum",
    "cell_below_minimum": "cell below its minimum",
    "nearly_empty": "nearly empty",
    "other_cells": "other number of cells",
    "other_chemistry": "other chemistry",
    "other_part": "other part",
    "quarantined": "in quarantine",
    "resistance": "resistance",
    "resistance_not_compared": "resistance not compared",
    "resistance_off": "resistance outside the range",
    "resistance_unmeasured": "resistance not measured",
    "stronger": "stronger",
    "temperature_unknown": "temperature not known",
    "test_age": "age of the test",
    "test_age_unknown": "age of the test not known",
    "test_too_old": "test too old",
    "voltage": "voltage",
    "voltage_flat": "voltage on a flat curve",
    "voltage_unknown": "voltage not known",
    "weaker": "weaker",
    "weaker_than_spares": "weaker than the spares",
}
"""What each price and each hard rule is called."""
STRING = (
    'A spare for a string of part "{part}", chemistry "{chemistry}", {cells} cells a module. '
    "A string in series delivers what its weakest module holds: a weaker spare limits the "
    "whole string, a stronger one is only worth the string's weakest. Limits and points are "
    "shop defaults"
)


def explained(case: MatchCase, result: MatchResult) -> tuple[Line, ...]:
    """Return the steps from the string's figures to the order of the spares.

    Parameters
    ----------
    case : MatchCase
        What was given.
    result : MatchResult
        What came of it.

    Returns
    -------
    lines : tuple[Line, ...]
        In the order in which a person would work.
    """
    wanted = case.wanted
    once = {serial for serial, n in Counter(s.serial for s in case.spares).items() if n == 1}
    spares = {spare.serial: spare for spare in case.spares if spare.serial in once}
    lines = [
        Line(
            what=told(
                STRING,
                part=wanted.part,
                chemistry=wanted.chemistry,
                cells=wanted.cells,
            )
        ),
        *_capacity_limit(case),
        *_resistance_limit(case),
        Line(
            what="Oldest test that counts",
            value=told("{days:g} days", days=case.limits.tested_within_days),
        ),
    ]
    for place, entry in enumerate(result.ranked[:SHOWN], 1):
        lines += _ranked(case, place, entry, spares.get(entry.serial))
    lines += map(_excluded, result.excluded[:SHOWN])
    more = max(0, len(result.ranked) - SHOWN) + max(0, len(result.excluded) - SHOWN)
    if more:
        lines.append(
            Line(
                what=told("{more} more spares are in the result", more=more), value="not shown here"
            )
        )
    lines.append(_comparison(result))
    return tuple(lines)


def _excluded(spare: ExcludedSpare) -> Line:
    """Say which hard rules a spare breaks."""
    return Line(
        what=told("Spare {serial} against the hard rules", serial=spare.serial),
        numbers=below(*(reason.text for reason in spare.reasons)),
        value=told(
            "excluded: {why}",
            why=joined([told(CALLED[each.code]) for each in spare.reasons], LIST),
        ),
    )


def _capacity_limit(case: MatchCase) -> tuple[Line, ...]:
    """Work out the least capacity."""
    capacities_ah, percent = case.wanted.capacity_ah, case.limits.capacity_percent
    if not capacities_ah:
        return (Line(what="Capacity of the modules that stay", value="not known"),)
    weakest_ah = min(capacities_ah)
    return (
        Line(
            what=told(
                "Weakest of the {capacities_ah} modules that stay", capacities_ah=len(capacities_ah)
            ),
            formula=told("smallest of Q"),
            value=figure(weakest_ah, "Ah"),
        ),
        Line(
            what="Least capacity of a spare",
            formula=told("Q_least = Q_weakest (1 - limit/100)"),
            numbers=f"{figure(weakest_ah, 'Ah')} x (1 - {percent:g}/100)",
            value=figure(weakest_ah * (1.0 - percent / 100.0), "Ah"),
        ),
    )


def _resistance_limit(case: MatchCase) -> tuple[Line, ...]:
    """Work out the range of resistances."""
    resistances_mohm, percent = case.wanted.resistance_mohm, case.limits.resistance_percent
    if not resistances_mohm:
        return (Line(what="Resistance of the modules that stay", value="not known"),)
    median = statistics.median(resistances_mohm)
    low, high = median * (1.0 - percent / 100.0), median * (1.0 + percent / 100.0)
    return (
        Line(
            what="Range of resistances, compared only within 3 °C: they change by 4 % a degree",
            formula=told("median (1 - limit/100) to median (1 + limit/100)"),
            numbers=f"{figure(median, 'mohm')} x (1 -+ {percent:g}/100)",
            value=interval_text(max(0.0, low), high, "mohm"),
        ),
    )


def _ranked(
    case: MatchCase, place: int, entry: RankedSpare, spare: SpareModule | None
) -> tuple[Line, ...]:
    """Work out what a spare loses, and what is left."""
    lost = [_points(reason.text) for reason in entry.reasons]
    rows = [
        (told(CALLED[reason.code]), _by_hand(case, spare, reason.code), f"{points:g}")
        for reason, points in zip(entry.reasons, lost, strict=True)
    ]
    total = " - ".join(f"{each:g}" for each in (FULL, *lost))
    return (
        Line(
            what=told("Spare {serial}: what it loses", serial=entry.serial),
            numbers=table_text(("what", "by hand", "points"), rows),
        ),
        Line(
            what=told("Spare {serial}: place {place}", serial=entry.serial, place=place),
            formula=told("points = 100 - sum, not below 0"),
            numbers=total,
            value=told("{round:g} points", round=round(max(0.0, FULL - sum(lost)), 1)),
        ),
    )


def _points(text: str) -> float:
    """Return the price at the end of a reason."""
    words = text.rsplit("Costs ", 1)[-1].split()
    return 0.0 if words[0] == "nothing." else float(words[0])


def _by_hand(case: MatchCase, spare: SpareModule | None, code: str) -> str:
    """Return the arithmetic behind a price, where there is any."""
    if spare is None:
        return ""
    wanted, limits = case.wanted, case.limits
    words = told("a fixed number")
    if code in {"weaker", "stronger"} and spare.capacity_ah is not None and wanted.capacity_ah:
        off = 100.0 * (spare.capacity_ah / min(wanted.capacity_ah) - 1.0)
        weaker = f"{WEAKER:g} x {-off:.5g} % / {limits.capacity_percent:g} %"
        stronger = told(
            "{price:g} x {off:.5g} %, {most:g} at most",
            price=STRONGER_PER_PERCENT,
            off=off,
            most=STRONGER,
        )
        words = weaker if code == "weaker" else stronger
    elif code == "resistance" and spare.resistance_mohm is not None and wanted.resistance_mohm:
        off = 100.0 * abs(spare.resistance_mohm / statistics.median(wanted.resistance_mohm) - 1.0)
        words = f"{OFF:g} x {off:.5g} % / {limits.resistance_percent:g} %"
    elif code == "test_age" and spare.days_since_test is not None:
        words = told(
            "{price:g} x {age:g} / {limit:g} days",
            price=AGE,
            age=spare.days_since_test,
            limit=limits.tested_within_days,
        )
    elif code == "voltage" and spare.cell_v is not None and wanted.cell_v is not None:
        words = _charge(wanted.chemistry, spare.cell_v, wanted.cell_v)
    return words


def _charge(chemistry: str, spare_v: float, string_v: float) -> str:
    """Return what a difference of charge costs: the largest by the curves of the chemistry."""
    if abs(spare_v - string_v) <= ACCEPT_V:
        return told("within {volts}", volts=figure(ACCEPT_V, "V"))
    percent = max(
        abs(
            float(np.interp(string_v, curve.ocv_v, curve.soc_percent))
            - float(np.interp(spare_v, curve.ocv_v, curve.soc_percent))
        )
        for curve in curves_of(chemistry)
    )
    return told(
        "{price:g} x {percent:.5g} % of charge, {most:g} at most",
        price=CHARGE,
        percent=percent,
        most=AGE,
    )


def _comparison(result: MatchResult) -> Line:
    """Compare the points."""
    order = " > ".join(f"{each.serial} ({each.score:g})" for each in result.ranked[:SHOWN])
    return Line(
        what="Comparison: most points first; ties go to the larger capacity, the newer test, the "
        "serial",
        numbers=order or told("no spare is left"),
        value=told("best: {serial}", serial=result.ranked[0].serial)
        if result.ranked
        else "none suits",
    )
