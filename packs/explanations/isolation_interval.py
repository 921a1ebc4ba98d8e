"""The interval of the isolation resistance by voltmeter, and how a person can check it.

Here: the budget at an end of the interval. Not here: the steps to the resistance (isolation.py).
"""

from dataclasses import dataclass

from packs.explanation import Line, figure
from packs.explanations.budget import Component, budget_lines, expanded
from packs.explanations.readings import allowance_v, interval_text, reading_components
from packs.physics.isolation import IsolationResult, VoltmeterCase
from packs.words import joined, told

METHOD = (
    "95 % interval of the smaller pole resistance, by Fieller's construction: it holds every"
    " resistance R whose reading with the shunt differs from v' by no more than the errors allow."
    " The ends are found by trial; each can be checked like this"
)
SECOND = (
    "95 % interval: the second estimate says more than the shunt. It holds every resistance R_s at"
    " which both poles differ from V_b by no more than the errors allow"
)
METER = told("meter's input resistance")
UNCHECKED = 1e-3, 1e14
"""Ends at or outside these are the ends of the search, not found ones."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """The readings as magnitudes, named by the pole that had the shunt."""

    pos_v: float
    neg_v: float
    open_v: float
    other_v: float
    shunted_v: float
    placed: bool


ENDS = {"lower": "lower end", "upper": "upper end"}


def bench_of(case: VoltmeterCase) -> Bench:
    """Return the readings as magnitudes.

    Parameters
    ----------
    case : VoltmeterCase
        What was given.

    Returns
    -------
    bench : Bench
        Below zero counts as zero.
    """
    pos_v, neg_v = max(0.0, case.pos_to_chassis_v), max(0.0, case.neg_to_chassis_v)
    open_v, other_v = (pos_v, neg_v) if case.shunt_across == "pos" else (neg_v, pos_v)
    allowed_v = allowance_v(case.meter, pos_v) + allowance_v(case.meter, neg_v)
    return Bench(
        pos_v=pos_v,
        neg_v=neg_v,
        open_v=open_v,
        other_v=other_v,
        shunted_v=max(0.0, case.shunted_v),
        placed=pos_v + neg_v > allowed_v,
    )


def interval_lines(case: VoltmeterCase, bench: Bench, result: IsolationResult) -> tuple[Line, ...]:
    """Return the interval and the check of its ends.

    Parameters
    ----------
    case : VoltmeterCase
        What was given.
    bench : Bench
        Its readings as magnitudes.
    result : IsolationResult
        With the interval.

    Returns
    -------
    lines : tuple[Line, ...]
        The lower end with its budget, the upper end in one step, the interval.
    """
    checks: list[Line] = []
    by_loading = _from_loading(case, bench, result)
    for name, ohm in (("lower", result.standard_ohm_low), ("upper", result.standard_ohm_high)):
        if ohm is None or not UNCHECKED[0] < ohm < UNCHECKED[1]:
            continue
        if by_loading and bench.placed:
            checks += _loading_check(case, bench, name, ohm)
        elif not by_loading:
            checks += _check(case, bench, name, ohm)
    ends = interval_text(result.standard_ohm_low, result.standard_ohm_high, "ohm")
    low, high = result.position_percent_low, result.position_percent_high
    place = () if low is None else (Line(what="Place", value=interval_text(low, high, "%")),)
    return (
        *checks,
        Line(what="95 % interval of the smaller pole resistance", formula="R_s", value=ends),
        *place,
    )


def missed_v(case: VoltmeterCase, bench: Bench, ohm: float) -> tuple[float, list[Component]]:
    """Return by how much the shunted reading misses that of a supposed resistance.

    Parameters
    ----------
    case : VoltmeterCase
        What was given.
    bench : Bench
        Its readings as magnitudes.
    ohm : float
        The supposed smaller pole resistance, [ohm]

    Returns
    -------
    missed_v, errors : tuple[float, list[Component]]
        The difference and every error that may explain it, [V]
    """
    factor, by_open, by_other = 1.0, 0.0, 0.0
    if bench.placed and bench.open_v >= bench.other_v:
        factor = 1.0 + bench.other_v / bench.open_v
        by_open, by_other = -bench.other_v / bench.open_v**2, 1.0 / bench.open_v
    elif bench.placed:
        factor = 1.0 + bench.open_v / bench.other_v
        by_open, by_other = 1.0 / bench.other_v, -bench.open_v / bench.other_v**2
    shunt, meter = 1.0 / case.shunt_ohm, 1.0 / case.meter.input_ohm
    whole = factor / ohm + meter
    kept = whole / (whole + shunt)
    slope = bench.open_v * shunt / (whole + shunt) ** 2
    readings = (
        ("v'", bench.shunted_v, 1.0),
        ("v", bench.open_v, kept + slope * by_open / ohm),
        ("v_other", bench.other_v, slope * by_other / ohm),
    )
    errors = [
        each
        for name, v, moved in readings
        for each in reading_components(name, case.meter, v, moved, gain_shared=case.gain_shared)
    ]
    for source, percent, siemens in (
        (METER, case.meter.input_tolerance_percent, meter),
        (told("shunt"), case.shunt_tolerance_percent, whole),
    ):
        errors.append(
            Component(
                source=source, half_width=percent, unit="%", sensitivity=slope * siemens / 100.0
            )
        )
    return bench.shunted_v - bench.open_v * kept, errors


def _from_loading(case: VoltmeterCase, bench: Bench, result: IsolationResult) -> bool:
    """Tell whether the interval is that of the meter's loading and not that of the shunt."""
    if case.bus_v is None or result.loading_total_ohm is None:
        return False
    ohm = result.standard_ohm_low
    if not ohm > 0.0:
        return False
    missed, errors = missed_v(case, bench, ohm)
    worst = sum(abs(share) for each in errors for share in each.shares)
    return all(abs(abs(missed) - end) > 0.01 * end for end in (expanded(errors), worst))


def _loading_check(case: VoltmeterCase, bench: Bench, name: str, ohm: float) -> list[Line]:
    """Show at one end of the second estimate that the difference is just what the errors allow."""
    bus_v, times = case.bus_v or 0.0, ohm / case.meter.input_ohm
    smaller_v, larger_v = sorted((bench.pos_v, bench.neg_v))
    errors = [
        part
        for source, v, moved in (
            (told("larger v"), larger_v, 1.0 + times),
            (told("smaller v"), smaller_v, 1.0),
            ("V_b", bus_v, 1.0),
        )
        for part in reading_components(source, case.meter, v, moved, gain_shared=case.gain_shared)
    ]
    errors.append(
        Component(
            source=METER,
            half_width=case.meter.input_tolerance_percent,
            unit="%",
            sensitivity=larger_v * times / 100.0,
        )
    )
    missed = larger_v * (1.0 + times) + smaller_v - bus_v
    return [
        Line(
            what=told(
                "{value}. By how much both poles miss V_b at the {end}, with the "
                "larger one as a meter that draws nothing would read it",
                value=SECOND if name == "lower" else "The same at the upper end",
                end=ENDS[name],
            ),
            formula=told("v_larger (1 + R_s/R_m) + v_smaller - V_b"),
            numbers=f"{figure(larger_v, 'V', 6)} x (1 + {figure(ohm, 'ohm', 5)}/"
            f"{figure(case.meter.input_ohm, 'ohm')}) + {figure(smaller_v, 'V', 6)} -"
            f" {figure(bus_v, 'V', 6)}",
            value=told("{abs} apart", abs=figure(abs(missed), "V")),
        ),
        *(budget_lines("that difference", errors, "V") if name == "lower" else ()),
        _equal(name, abs(missed), errors),
    ]


def _check(case: VoltmeterCase, bench: Bench, name: str, ohm: float) -> list[Line]:
    """Show at one end that the difference is just what the errors allow."""
    missed, errors = missed_v(case, bench, ohm)
    share = 1.0 + min(bench.open_v, bench.other_v) / max(bench.open_v, bench.other_v, 1e-30)
    factor = share if bench.placed else 1.0
    whole = factor / ohm + 1.0 / case.meter.input_ohm
    lines = [
        Line(
            what=told(
                "{method}. At the {end}, leak and meter together", method=METHOD, end=ENDS[name]
            )
            if name == "lower"
            else "The same at the upper end",
            formula=told("G + G_m = (1 + v_small/v_large)/R_s + 1/R_m"),
            numbers=f"{figure(factor, '', 5)}/{figure(ohm, 'ohm', 5)}"
            f" + 1/{figure(case.meter.input_ohm, 'ohm')}",
            value=figure(whole, "S", 5),
        ),
        Line(
            what="What the meter would read with the shunt then, and by how much v' differs",
            formula="v (G + G_m)/(G + G_m + 1/R_0)",
            numbers=f"{figure(bench.shunted_v - missed, 'V', 6)}, v' ="
            f" {figure(bench.shunted_v, 'V', 6)}",
            value=told("{abs} apart", abs=figure(abs(missed), "V")),
        ),
    ]
    if name == "lower":
        lines += budget_lines("that difference", errors, "V")
    return [*lines, _equal(name, abs(missed), errors)]


def _equal(name: str, missed: float, errors: list[Component]) -> Line:
    """Say what the difference is equal to at an end."""
    whole = expanded(errors)
    worst = sum(abs(share) for each in errors for share in each.shares)
    if abs(missed - worst) < abs(missed - whole):
        return Line(
            what="The readings lie so near those of a perfect string that no resistance is within"
            " U; this end is where the difference equals all errors at their worst together",
            formula=told("difference = sum of |sensitivity| x half-width"),
            numbers=joined([figure(missed, "V", 3), figure(worst, "V", 3)]),
        )
    return Line(
        what=told("The {end} is where both are equal", end=ENDS[name]),
        formula=told("difference = U"),
        numbers=joined([figure(missed, "V", 3), figure(whole, "V", 3)]),
    )
