"""Isolation by insulation tester, step by step.

Here: the steps. Not here: the calculation (physics/isolation.py, physics/tester.py).
"""

from packs.explanation import Line, figure
from packs.explanations.budget import Component, expanded
from packs.explanations.readings import against, interval_text
from packs.physics.isolation import AboveOhm, IsolationResult, TesterCase
from packs.words import told

WORDS = {
    "pass": "the whole interval reaches the limit",
    "fail": "the whole interval is below the limit",
    "undecided": "the limit lies inside the interval",
}


def explained_tester(case: TesterCase, result: IsolationResult) -> tuple[Line, ...]:
    """Return the steps from the two readings to the verdict.

    Parameters
    ----------
    case : TesterCase
        What was given.
    result : IsolationResult
        What came of it.

    Returns
    -------
    lines : tuple[Line, ...]
        In the order in which a person would work.
    """
    steps, ohm, share = _mean(case) if case.own_voltage_v > 0.0 else _smaller(case)
    return (
        Line(
            what="Isolation by insulation tester (ISO 6469-3): each pole to the enclosure; each"
            " reading rectangular within the tester's accuracy (JCGM 100, 4.3.7)"
        ),
        Line(
            what="Readings",
            numbers=told(
                "positive pole {pos}, negative pole {neg}",
                pos=_shown(case.pos_ohm),
                neg=_shown(case.neg_ohm),
            ),
        ),
        *steps,
        Line(
            what="95 % interval: every resistance that a tester off by so much would show as this;"
            " an over-range reading is a lower bound and stays one",
            formula=told("{low} to {high}", low="R/(1 + s)", high="R/(1 - s)"),
            numbers=f"{figure(ohm, 'ohm')}, s = {figure(share, '')}",
            value=interval_text(result.standard_ohm_low, result.standard_ohm_high, "ohm"),
        ),
        Line(
            what="A volt of working voltage",
            formula="R / U",
            numbers=f"{figure(result.standard_ohm, 'ohm')} / {figure(case.working_voltage_v, 'V')}",
            value=figure(result.standard_ohm / case.working_voltage_v, "ohm") + "/V",
        ),
        *_absorption(case),
        _test_voltage(case),
        limit_line(case.limit_ohm_per_v, case.working_voltage_v),
        verdict_line(case.limit_ohm_per_v * case.working_voltage_v, result),
    )


def limit_line(limit_ohm_per_v: float, working_voltage_v: float) -> Line:
    """Return the step that turns a limit in ohm per volt into ohm.

    Parameters
    ----------
    limit_ohm_per_v : float
        The limit, [ohm/V]
    working_voltage_v : float
        The string's highest working voltage, [V]

    Returns
    -------
    line : Line
        Formula, numbers, result.
    """
    return Line(
        what="Limit in ohm",
        formula=told("limit x working voltage"),
        numbers=f"{limit_ohm_per_v:g} ohm/V x {figure(working_voltage_v, 'V')}",
        value=figure(limit_ohm_per_v * working_voltage_v, "ohm"),
    )


def verdict_line(limit_ohm: float, result: IsolationResult) -> Line:
    """Return the comparison that makes the verdict.

    Parameters
    ----------
    limit_ohm : float
        The least that is acceptable, [ohm]
    result : IsolationResult
        With the interval and the verdict.

    Returns
    -------
    line : Line
        Both sides and the verdict, with what overrules the comparison.
    """
    ends = interval_text(result.standard_ohm_low, result.standard_ohm_high, "ohm")
    high = result.standard_ohm_high
    compared = "undecided"
    if result.standard_ohm_low >= limit_ohm:
        compared = "pass"
    elif high is not None and high < limit_ohm:
        compared = "fail"
    value: str = told("{words}: {verdict}", words=WORDS[compared], verdict=compared)
    if compared != result.verdict:
        value = told(
            "{said}; but {reason}: {verdict}",
            said=value,
            reason=_overruling(result),
            verdict=str(result.verdict),
        )
    return Line(
        what="Comparison of the interval with the limit",
        numbers=against(ends, figure(limit_ohm, "ohm")),
        value=value,
    )


def _overruling(result: IsolationResult) -> str:
    """Say what overrules the comparison."""
    codes = {message.code for message in result.warnings}
    if "test_voltage_low" in codes:
        return told("the test voltage was too low to decide anything")
    if result.verdict == "fail":
        return told("a shunt that changes nothing means a hard leak")
    return told("the readings contradict one another (see the warnings)")


def _shown(reading: float | AboveOhm) -> str:
    """Write a reading as the display showed it."""
    if isinstance(reading, AboveOhm):
        return told("above {ohm}", ohm=figure(reading.above_ohm, "ohm"))
    return figure(reading, "ohm")


def _bound(reading: float | AboveOhm) -> float:
    """Return the number on the display."""
    return reading.above_ohm if isinstance(reading, AboveOhm) else reading


def _smaller(case: TesterCase) -> tuple[tuple[Line, ...], float, float]:
    """Take the smaller reading."""
    ohm = min(_bound(case.pos_ohm), _bound(case.neg_ohm))
    share = expanded([_accuracy(case, 1.0)])
    steps = (
        Line(
            what="Isolation resistance: the smaller reading",
            formula="R = min(R_pos, R_neg)",
            value=figure(ohm, "ohm"),
        ),
        Line(
            what="95 % half-width of one rectangular error, as a share of the reading",
            formula=told("s = 0.95 x accuracy/100"),
            numbers=f"0.95 x {case.accuracy_percent:g}/100",
            value=figure(share, ""),
        ),
    )
    return steps, ohm, share


def _mean(case: TesterCase) -> tuple[tuple[Line, ...], float, float]:
    """Take the mean conductance, on a part with a voltage of its own."""
    pos_ohm, neg_ohm = _bound(case.pos_ohm), _bound(case.neg_ohm)
    off = case.own_voltage_v / (2.0 * case.test_voltage_v)
    share = expanded([_accuracy(case, 0.5), _accuracy(case, 0.5), _own_voltage(off)])
    ohm = 2.0 / (1.0 / pos_ohm + 1.0 / neg_ohm)
    steps = (
        Line(
            what="Isolation resistance: the part has a voltage of its own, which adds to the test"
            " voltage at one terminal and takes from it at the other: conductances are averaged",
            formula="R = 2/(1/R_pos + 1/R_neg)",
            numbers=f"2/(1/{figure(pos_ohm, 'ohm')} + 1/{figure(neg_ohm, 'ohm')})",
            value=figure(ohm, "ohm"),
        ),
        Line(
            what="What is left of that voltage's error for a leak at either end",
            formula="U/(2 U_test)",
            numbers=f"{figure(case.own_voltage_v, 'V')} / (2 x {figure(case.test_voltage_v, 'V')})",
            value=figure(off, ""),
        ),
        Line(
            what="95 % half-width of half the accuracy, twice, and of that; as a share",
            formula="s",
            value=figure(share, ""),
        ),
    )
    return steps, ohm, share


def _accuracy(case: TesterCase, sensitivity: float) -> Component:
    """Return the tester's error as a share of the reading."""
    return Component(
        source="tester",
        half_width=case.accuracy_percent / 100.0,
        unit="",
        sensitivity=sensitivity,
    )


def _own_voltage(off: float) -> Component:
    """Return what the part's own voltage leaves."""
    return Component(source="own voltage", half_width=off, unit="", sensitivity=1.0)


def _absorption(case: TesterCase) -> tuple[Line, ...]:
    """Work out the absorption ratio."""
    early, late = case.at_30s_ohm, case.at_60s_ohm
    if isinstance(early, float) and isinstance(late, float):
        return (
            Line(
                what="Absorption ratio (IEEE 43); it decides nothing here",
                formula="R60/R30",
                numbers=f"{figure(late, 'ohm')} / {figure(early, 'ohm')}",
                value=figure(late / early, ""),
            ),
        )
    return ()


def _test_voltage(case: TesterCase) -> Line:
    """Compare the test voltage with the one required."""
    least_v = case.minimum_fraction * case.working_voltage_v
    return Line(
        what="Test voltage against the least one that decides",
        formula=told("U_test at least fraction x working voltage"),
        numbers=against(
            figure(case.test_voltage_v, "V"),
            f"{case.minimum_fraction:g} x {figure(case.working_voltage_v, 'V')}"
            f" = {figure(least_v, 'V')}",
        ),
        value="enough" if case.test_voltage_v >= least_v else "too low: undecided",
    )
