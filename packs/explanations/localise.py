"""Which module leaks, step by step.

Here: the steps, with what of them a person can check. Not here: the calculation
(physics/localise.py), the section formula (localise_circuit.py), probabilities and verdict in
words (localise_verdict.py).
"""

from packs.explanation import Line, figure, table_text
from packs.explanations.localise_circuit import (
    SOUND_OHM,
    BestSound,
    WouldRead,
    best_sound,
    string_of,
    would_read,
)
from packs.explanations.localise_verdict import (
    hand_rule_lines,
    prior_lines,
    probability_lines,
    verdict_lines,
)
from packs.explanations.readings import and_more, below
from packs.physics.localise_case import LocaliseCase, LocaliseResult
from packs.words import told

MOST_READINGS = 40
METHOD = (
    "Which module leaks: Bayes' rule over no leak, one leak and two, each at every place and of"
    " every size, with the string's sound insulation, the meter's input, the shunt and the cell"
    " voltages free within their tolerances. That sum over many thousand explanations cannot be"
    " done by hand. What can: put the leak that was found into the section formula (Kirchhoff's"
    " laws) and compare with every reading"
)


def explained(case: LocaliseCase, result: LocaliseResult) -> tuple[Line, ...]:
    """Return the steps from the readings to the verdict.

    Parameters
    ----------
    case : LocaliseCase
        What was given.
    result : LocaliseResult
        What came of it.

    Returns
    -------
    lines : tuple[Line, ...]
        In the order in which a person would check.
    """
    sound = best_sound(case, (), result.suspect_reading)
    return (
        Line(what=METHOD),
        *prior_lines(case),
        _sound_alone(sound),
        *_leaks(result),
        *_check(case, result),
        *probability_lines(result, sound_explains=sound.times_allowed <= 1.0),
        *hand_rule_lines(case, result),
        *verdict_lines(case, result),
    )


def _sound_alone(sound: BestSound) -> Line:
    """Say whether there need be a leak at all."""
    what = told(
        "Could sound insulation alone explain the readings? Without a leak, and with the sound"
        " insulation R_B of the whole string that fits best (by trial), the reading that fits worst"
    )
    value = told("it could")
    if sound.times_allowed > 1.0:
        value = told("it could not: something leaks, or a reading is wrong")
    return Line(
        what=what,
        formula="v = B (V_a - V_mid)/(B + L)",
        numbers=told(
            "R_B = {ohm}: reading {reading} (counted from 0) misses by {times} times what is "
            "allowed",
            ohm=figure(sound.sound_ohm, "ohm"),
            reading=sound.worst,
            times=figure(sound.times_allowed, "", 3),
        ),
        value=value,
    )


def _leaks(result: LocaliseResult) -> tuple[Line, ...]:
    """Say size and place of each leak found."""
    return tuple(
        Line(
            what=told(
                "Leak in {module}: median size and place, with 95 % intervals (quantiles "
                "of the sum above)",
                module=each.module,
            ),
            numbers=told(
                "{low} to {high}; {from_cell} to {to_cell} cells from pack negative",
                low=figure(each.leak_ohm_low, "ohm"),
                high=figure(each.leak_ohm_high, "ohm"),
                from_cell=figure(each.position_cells_low, ""),
                to_cell=figure(each.position_cells_high, ""),
            ),
            value=told(
                "{leak_ohm} at cell {position_cells}",
                leak_ohm=figure(each.leak_ohm, "ohm", 5),
                position_cells=figure(each.position_cells, "", 5),
            ),
        )
        for each in result.leaks
    )


def _check(case: LocaliseCase, result: LocaliseResult) -> tuple[Line, ...]:
    """Put the leaks into the section formula and compare with each reading."""
    sound_ohm = best_sound(case, result.leaks, result.suspect_reading).sound_ohm
    string = string_of(case)
    found = [would_read(case, string, each, result.leaks, sound_ohm) for each in case.readings]
    low, high = (figure(each, "ohm") for each in SOUND_OHM)
    return (
        Line(
            what=told(
                "Sound insulation of the whole string, spread evenly over its cells, for "
                "this check: between {low} and {high} the one with which the readings "
                "fit best (by trial)",
                low=low,
                high=high,
            ),
            formula="R_B",
            value=figure(sound_ohm, "ohm"),
        ),
        _first(found[0]),
        Line(
            what="The same for every reading. G is the sum of the leaks in the reading's section,"
            " V their mean potential weighted with G; B = (share of the cells in the section)/R_B,"
            " V_mid the middle of the section; L the meter with its shunt; allowed are the meter's"
            " allowance, two standard deviations of the cell voltages, and the tolerances of meter"
            " and shunt",
            numbers=_table(case, result, found),
        ),
        _fit(case, result, found),
    )


def _first(one: WouldRead) -> Line:
    """Show the formula with the numbers of the first reading."""
    return Line(
        what="What the meter would read: the first reading in full, V_a its pole's potential",
        formula="v = (G (V_a - V) + B (V_a - V_mid))/(G + B + L)",
        numbers=f"({figure(one.leaks_g, 'S', 5)} x ({figure(one.pole_v, 'V', 5)} -"
        f" {figure(one.leaks_v, 'V', 5)}) + {figure(one.sound_g, 'S')} x"
        f" ({figure(one.pole_v, 'V', 5)} - {figure(one.middle_v, 'V', 5)})) /"
        f" ({figure(one.leaks_g, 'S', 5)} + {figure(one.sound_g, 'S')} +"
        f" {figure(one.load_g, 'S', 5)})",
        value=figure(one.volts, "V"),
    )


def _table(case: LocaliseCase, result: LocaliseResult, found: list[WouldRead]) -> str:
    """Write a row for each reading."""
    headings = ("no.", "pole", "V_a", "G", "V", "B", "V_mid", "L", "would read", "read", "allowed")
    rows = list[tuple[str, ...]]()
    for index, (reading, one) in enumerate(zip(case.readings, found, strict=True)):
        if index == MOST_READINGS:
            break
        mark = "?" if index == result.suspect_reading else ""
        rows.append(
            (
                f"{index}{mark}",
                f"{reading.module[:8]} {reading.pole}",
                f"{one.pole_v:.1f}",
                figure(one.leaks_g * 1e6, "", 3),
                f"{one.leaks_v:.1f}" if one.leaks_g else "-",
                figure(one.sound_g * 1e6, "", 3),
                f"{one.middle_v:.1f}",
                figure(one.load_g * 1e6, "", 3),
                figure(one.volts, "V"),
                figure(reading.volts, "V"),
                figure(one.allowed_v, "V", 3),
            )
        )
    left = len(found) - MOST_READINGS
    units = told("(G, B and L in uS; V_a, V and V_mid in V above pack negative)")
    return below(table_text(headings, rows), units, and_more(left))


def _fit(case: LocaliseCase, result: LocaliseResult, found: list[WouldRead]) -> Line:
    """Say which readings this explanation explains."""
    off = [
        str(index)
        for index, (reading, one) in enumerate(zip(case.readings, found, strict=True))
        if abs(reading.volts - one.volts) > one.allowed_v
    ]
    value = told("all within what is allowed")
    if off:
        value = told("not within it: {readings}", readings=", ".join(off))
        if len(result.leaks) > 1:
            value = told(
                "{said} (the medians of two leaks, each on its own, need not fit together)",
                said=value,
            )
        if result.suspect_reading is not None:
            value = told(
                "{said}; reading {reading} is under suspicion and was left out",
                said=value,
                reading=result.suspect_reading,
            )
        if result.suspect_because is not None:
            value = told("{said}: {because}", said=value, because=result.suspect_because.text)
    return Line(
        what="Difference between read and would read against what is allowed (readings from 0)",
        formula=told("|read - would read| at most allowed"),
        value=value,
    )
