"""Isolation by voltmeter and shunt, step by step.

Here: the steps of the voltmeter method, and the way to those of the tester. Not here: the
calculation (physics/isolation.py, physics/shunt.py), the interval's check (isolation_interval.py).
"""

from packs.explanation import Line, figure
from packs.explanations.isolation_interval import Bench, bench_of, interval_lines
from packs.explanations.isolation_tester import explained_tester, limit_line, verdict_line
from packs.explanations.readings import against, allowance_line, allowance_v, interval_text
from packs.physics.isolation import IsolationResult, TesterCase, VoltmeterCase
from packs.words import joined, told

AGREE = 1e-6
"""Two figures closer than this are the same one."""


def explained(case: VoltmeterCase | TesterCase, result: IsolationResult) -> tuple[Line, ...]:
    """Return the steps from the readings to the verdict.

    Parameters
    ----------
    case : VoltmeterCase | TesterCase
        What was given.
    result : IsolationResult
        What came of it.

    Returns
    -------
    lines : tuple[Line, ...]
        In the order in which a person would work.
    """
    if isinstance(case, TesterCase):
        return explained_tester(case, result)
    bench = bench_of(case)
    return (
        Line(
            what="Isolation by voltmeter and a known shunt (UN R100, two steps): settled readings"
            " of each pole to the enclosure, one leak or several that do not depend on voltage;"
            " errors as JCGM 100 counts them"
        ),
        *_readings(case, bench),
        *_conductances(case, bench),
        *_loading(case, bench),
        *_poles(bench, result),
        *interval_lines(case, bench, result),
        Line(
            what="A volt of working voltage",
            formula="R / U",
            numbers=f"{figure(result.standard_ohm, 'ohm')} / {figure(case.working_voltage_v, 'V')}",
            value=figure(result.standard_ohm / case.working_voltage_v, "ohm") + "/V",
        ),
        limit_line(case.limit_ohm_per_v, case.working_voltage_v),
        *_hard_leak(case, bench, result),
        verdict_line(case.limit_ohm_per_v * case.working_voltage_v, result),
    )


def _readings(case: VoltmeterCase, bench: Bench) -> tuple[Line, ...]:
    """Say what was read and how far it may be off."""
    other = "neg" if case.shunt_across == "pos" else "pos"
    named = (
        (told("v, {shunt_across}", shunt_across=case.shunt_across), bench.open_v),
        (told("v', with the shunt"), bench.shunted_v),
    )
    return (
        Line(
            what=told(
                "Readings as magnitudes, below zero counts as zero: v at the pole with "
                "the shunt ({shunt_across}), v' there with the shunt, v_other at the "
                "{other} pole",
                shunt_across=case.shunt_across,
                other=other,
            ),
            numbers=f"v = {figure(bench.open_v, 'V', 6)}, v' = {figure(bench.shunted_v, 'V', 6)},"
            f" v_other = {figure(bench.other_v, 'V', 6)}",
        ),
        *(allowance_line(name, case.meter, v) for name, v in named),
    )


def _conductances(case: VoltmeterCase, bench: Bench) -> tuple[Line, ...]:
    """Work out the resistance of all leaks together from the shunt."""
    drop_v = bench.open_v - bench.shunted_v
    if not drop_v > 0.0:
        return (
            Line(
                what="With the shunt the reading is no lower than without: the formula of the shunt"
                " gives no resistance above zero",
                formula="v/v' - 1",
                numbers=f"{figure(bench.open_v, 'V', 6)} / {figure(bench.shunted_v, 'V', 6)} - 1",
                value="no figure",
            ),
        )
    whole = bench.shunted_v / drop_v / case.shunt_ohm
    leak = whole - 1.0 / case.meter.input_ohm
    return (
        Line(
            what="Conductance seen from the pole, leak and meter together, from the shunt R_0",
            formula="G + G_m = (1/R_0)/(v/v' - 1)",
            numbers=f"(1/{figure(case.shunt_ohm, 'ohm')}) / ({figure(bench.open_v, 'V', 6)}"
            f" / {figure(bench.shunted_v, 'V', 6)} - 1)",
            value=figure(whole, "S", 5),
        ),
        Line(
            what="The meter's own conductance taken out",
            formula="G = (G + G_m) - 1/R_m",
            numbers=f"{figure(whole, 'S', 5)} - 1/{figure(case.meter.input_ohm, 'ohm')}",
            value=figure(leak, "S", 5)
            if leak > 0.0
            else told(
                "{leak}: less than the meter can resolve, only a bound is known",
                leak=figure(leak, "S", 5),
            ),
        ),
        *(
            (Line(what="Total", formula="R = 1/G", value=figure(1.0 / leak, "ohm")),)
            if leak > 0.0
            else ()
        ),
    )


def _loading(case: VoltmeterCase, bench: Bench) -> tuple[Line, ...]:
    """Work out the second estimate, from the meter's own loading."""
    sum_v = bench.open_v + bench.other_v
    if case.bus_v is None or not sum_v > 0.0:
        return ()
    ohm = case.meter.input_ohm * (case.bus_v / sum_v - 1.0)
    return (
        Line(
            what="Second estimate of the total: how far the meter pulls the poles down, not below"
            " zero. Where the two differ by more than a fifth and more than their errors explain,"
            " nothing is decided",
            formula="R = R_m (V_b/(v_pos + v_neg) - 1)",
            numbers=f"{figure(case.meter.input_ohm, 'ohm')} x ({figure(case.bus_v, 'V', 6)}"
            f" / {figure(sum_v, 'V', 6)} - 1)",
            value=figure(max(0.0, ohm), "ohm"),
        ),
    )


def _poles(bench: Bench, result: IsolationResult) -> tuple[Line, ...]:
    """Work out the place, both pole resistances and the smaller of them."""
    if not bench.placed:
        return (
            Line(
                what="Both poles read next to nothing: there is no place, and the total stands for"
                " the smaller pole resistance, which is never below it",
                value=interval_text(result.standard_ohm_low, result.standard_ohm_high, "ohm"),
            ),
        )
    x = bench.neg_v / (bench.pos_v + bench.neg_v)
    return (
        Line(
            what="Place between the negative pole (0) and the positive (1); with several leaks"
            " their centre of gravity",
            formula="x = v_neg/(v_pos + v_neg)",
            numbers=f"{figure(bench.neg_v, 'V', 6)} / ({figure(bench.pos_v, 'V', 6)}"
            f" + {figure(bench.neg_v, 'V', 6)})",
            value=told("{x}, that is {value}", x=figure(x, ""), value=figure(100.0 * x, "%")),
        ),
        Line(
            what="Total that counts: from the shunt or, where its interval is narrower, the second"
            " estimate",
            formula="R",
            value=figure(result.total_ohm, "ohm"),
        ),
        *_smaller(x, result),
    )


def _smaller(x: float, result: IsolationResult) -> tuple[Line, Line]:
    """Work out both pole resistances and the smaller of them."""
    total, larger = result.total_ohm, max(x, 1.0 - x)
    both = [figure(total / share, "ohm") if share else told("none") for share in (x, 1.0 - x)]
    value = figure(total / larger, "ohm")
    if abs(result.standard_ohm * larger - total) > AGREE * total:
        value = told("{end}, the end of its interval", end=figure(result.standard_ohm, "ohm"))
    return (
        Line(
            what="Pole resistances that explain the readings",
            formula="R_pos = R/x, R_neg = R/(1 - x)",
            numbers=f"{figure(total, 'ohm')} / {figure(x, '')},"
            f" {figure(total, 'ohm')} / {figure(1.0 - x, '')}",
            value=joined(both, "{first}, {second}"),
        ),
        Line(
            what="The smaller of them, which the regulation limits",
            formula="R_s = R/max(x, 1 - x)",
            numbers=f"{figure(total, 'ohm')} / {figure(larger, '')}",
            value=value,
        ),
    )


def _hard_leak(case: VoltmeterCase, bench: Bench, result: IsolationResult) -> tuple[Line, ...]:
    """Say whether the shunt changed anything that the meter can see."""
    allowed_v = allowance_v(case.meter, bench.open_v) + allowance_v(case.meter, bench.shunted_v)
    change_v = abs(bench.open_v - bench.shunted_v)
    if result.verdict != "fail" and change_v > allowed_v:
        return ()
    return (
        Line(
            what="Change by the shunt against both allowances: less than they allow means a hard"
            " leak where the meter is fine enough and the shunt is of a sensible size",
            formula=told("|v - v'| against a + a'"),
            numbers=against(figure(change_v, "V"), figure(allowed_v, "V")),
            value="can be seen" if change_v > allowed_v else "cannot be seen",
        ),
    )
