"""The prior, the probabilities and the verdict of localise in words, and the rule of thumb.

Here: those steps. Not here: the check by the section formula (localise.py).
"""

from collections.abc import Mapping

from packs.explanation import Line, figure, table_text
from packs.explanations.localise_circuit import string_of
from packs.explanations.readings import and_more, below
from packs.physics.localise_case import LocaliseCase, LocaliseResult
from packs.words import joined, told

MOST_MODULES = 8
NONE: Mapping[str, str] = {
    "named": "below 5 %",
    "narrowed": "below 2 %",
    "no_leak": "not excluded",
    "undecided": "not excluded",
}
"""How likely it is, by the verdict, that nothing leaks."""
LIST = "{first}, {second}"
RULES: Mapping[str, str] = {
    "named": "one module, or each of a likelier pair, leaks with 95 % or more, and sound insulation"
    " alone explains the readings with less than 5 %",
    "narrowed": "no module is sure enough to be named, but at most three hold every leak with 95 %",
    "no_leak": "sound insulation explains the readings, and no place could hide a leak",
    "undecided": "neither is one module sure enough, nor are at most three, nor is a leak excluded",
}


def prior_lines(case: LocaliseCase) -> tuple[Line, ...]:
    """Return what was thought before any reading.

    Parameters
    ----------
    case : LocaliseCase
        What was given.

    Returns
    -------
    lines : tuple[Line, ...]
        None, one, two; and the modules that are likelier.
    """
    one = 1.0 - case.none_prior - case.several_prior
    lines = [
        Line(
            what="Before any reading: no leak, one leak, two leaks",
            numbers=joined(
                [_percent(each) for each in (case.none_prior, one, case.several_prior)], LIST
            ),
        )
    ]
    weights = {each.name: each.cells * case.prior.get(each.name, 1.0) for each in case.modules}
    total = sum(weights.values())
    if case.prior and total > 0.0:
        shown = list(case.prior)[:MOST_MODULES]
        lines.append(
            Line(
                what=told(
                    "Share of a module in one leak: its cells times the factor given for it, "
                    "over the sum of all ({total})",
                    total=figure(total, ""),
                ),
                numbers=joined(
                    [
                        told("{name} {share}", name=name, share=_percent(weights[name] / total))
                        for name in shown
                    ],
                    LIST,
                ),
            )
        )
    return tuple(lines)


def probability_lines(result: LocaliseResult, *, sound_explains: bool) -> tuple[Line, ...]:
    """Return what is thought after the readings.

    Parameters
    ----------
    result : LocaliseResult
        What came of it.
    sound_explains : bool
        Whether sound insulation alone explains the readings.

    Returns
    -------
    lines : tuple[Line, ...]
        None, one, two, and the first modules.
    """
    none = told(NONE[result.verdict])
    if not sound_explains:
        none = told("excluded, as sound insulation alone does not explain the readings")
    several = result.several_leaks_probability
    rows = [(each.name, _percent(each.probability)) for each in result.modules[:MOST_MODULES]]
    left = len(result.modules) - MOST_MODULES
    return (
        Line(
            what="After the readings: no leak; given that something leaks, one and two",
            numbers=told(
                "{none}; {one}, {several}",
                none=none,
                one=_percent(1.0 - several),
                several=_percent(several),
            ),
        ),
        Line(
            what="Each module's probability to leak, given that at least one does (with two leaks"
            " possible they add to more than 100 %)",
            numbers=below(table_text(("module", "leaks with"), rows), and_more(left)),
        ),
        Line(
            what="Smallest set that holds every leaking module with 95 %",
            value=told("{names}", names=", ".join(result.likely)),
        ),
    )


def hand_rule_lines(case: LocaliseCase, result: LocaliseResult) -> tuple[Line, ...]:
    """Return the rule of thumb and where it leads.

    Parameters
    ----------
    case : LocaliseCase
        What was given.
    result : LocaliseResult
        With the module the rule would name.

    Returns
    -------
    lines : tuple[Line, ...]
        One step; none without a reading without shunt.
    """
    plain = [each for each in case.readings if each.shunt_ohm is None]
    if not plain:
        return ()
    largest = max(plain, key=lambda each: abs(each.volts))
    string = string_of(case)
    cells, mean_v = string.node(largest), string.cells_v[-1] / string.borders[-1]
    place = cells - largest.volts / mean_v
    found = result.modules[0].name
    agrees = (
        told("the same")
        if result.hand_rule_module == found
        else told("another: it takes no account of what the meter itself draws")
    )
    return (
        Line(
            what="For comparison, the rule of thumb: the largest reading without shunt, divided by"
            " the cell voltage, counted from its pole. It is biased by R_m/(R_m + R) and by sound"
            " insulation",
            formula=told("cells = cells below the pole - v/(cell voltage)"),
            numbers=f"{largest.module} {largest.pole}: {cells} - {figure(largest.volts, 'V', 6)}"
            f" / {figure(mean_v, 'V')}",
            value=told(
                "{place}, in {hand_rule_module}; likeliest by all readings is {found}: {agrees}",
                place=figure(place, ""),
                hand_rule_module=result.hand_rule_module,
                found=found,
                agrees=agrees,
            ),
        ),
    )


def verdict_lines(case: LocaliseCase, result: LocaliseResult) -> tuple[Line, ...]:
    """Return the rule that makes the verdict.

    Parameters
    ----------
    case : LocaliseCase
        What was given.
    result : LocaliseResult
        What came of it.

    Returns
    -------
    lines : tuple[Line, ...]
        Verdict and confirmation.
    """
    rule = RULES[result.verdict]
    if result.inconsistent:
        rule = told("no leak or pair of leaks explains all readings: nothing is decided")
        if result.suspect_reading is not None:
            suspect = case.readings[result.suspect_reading]
            rule = told(
                "{rule}; without reading {reading} ({module} {pole}, {volts}) the others agree "
                "best",
                rule=rule,
                reading=result.suspect_reading,
                module=suspect.module,
                pole=suspect.pole,
                volts=figure(suspect.volts, "V"),
            )
    best = result.modules[0]
    confirmed = told("readings with the links on both sides open leave no other explanation")
    if not result.confirmed:
        confirmed = told("not yet: two leaks in one section read exactly like one between them")
    return (
        Line(what="Confirmed?", value=confirmed),
        Line(
            what=told("Comparison (95 %: shop default, no source): {rule}", rule=rule),
            numbers=told(
                "{name} {probability} against 95 %; {likely} likely against 3",
                name=best.name,
                probability=_percent(best.probability),
                likely=len(result.likely),
            ),
            value=result.verdict,
        ),
    )


def _percent(share: float) -> str:
    """Write a probability, without rounding a doubt away."""
    if 0.999 < share < 1.0:  # noqa: PLR2004  (above this four digits would show a whole)
        return told("above {percent:.3f} %", percent=int(share * 1e5) / 1e3)
    return figure(100.0 * share, "%")
