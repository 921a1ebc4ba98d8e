"""Which spares may not be used, whatever else speaks for them.

Here: the hard rules, each with its sentence. Not here: what only costs points (match_score.py).
"""

from collections.abc import Iterator

from packs.physics.instrument import Message
from packs.physics.match_case import SpareModule, Wanted
from packs.physics.match_yardstick import Yardstick, comparable_temperatures, same_text
from packs.words import told

SIDES = {True: "above", False: "below"}
FAR = 200.0
"""Modules of one part are never so many times apart: a unit was mistaken."""
HAIR = 1e-9
"""What binary fractions leave of a comparison, relative."""


def kind_exclusions(wanted: Wanted, spare: SpareModule) -> tuple[Message, ...]:
    """Say why a spare is not of the kind that is wanted.

    Parameters
    ----------
    wanted : Wanted
        The string.
    spare : SpareModule
        The spare.

    Returns
    -------
    reasons : tuple of Message
        Empty when it is.

    Notes
    -----
    Same chemistry, part and number of cells in series, and not in quarantine. Source: practice of
    vehicle makers; shop default.

    Examples
    --------
    >>> wanted = Wanted(chemistry="nmc", part="A", cells=6)
    >>> spare = SpareModule(serial="1", chemistry="lfp", part="A", cells=6)
    >>> [reason.code for reason in kind_exclusions(wanted, spare)]
    ['other_chemistry']
    """
    reasons = []
    if spare.quarantined:
        text = "It stands in quarantine. Nothing in quarantine goes into a pack."
        reasons.append(Message("quarantined", text))
    if not same_text(spare.chemistry, wanted.chemistry):
        text = told(
            'Its chemistry is "{chemistry}", the string is "{wanted_chemistry}".',
            chemistry=spare.chemistry,
            wanted_chemistry=wanted.chemistry,
        )
        reasons.append(Message("other_chemistry", text))
    if not same_text(spare.part, wanted.part):
        text = told(
            'It is part "{part}", the string takes "{wanted_part}".',
            part=spare.part,
            wanted_part=wanted.part,
        )
        reasons.append(Message("other_part", text))
    if spare.cells != wanted.cells:
        text = told(
            "It has {cells} cells in series, the string's modules have {wanted_cells}.",
            cells=spare.cells,
            wanted_cells=wanted.cells,
        )
        reasons.append(Message("other_cells", text))
    return tuple(reasons)


def state_exclusions(yardstick: Yardstick, spare: SpareModule) -> tuple[Message, ...]:
    """Say why a spare of the right kind is in no state to be used.

    Parameters
    ----------
    yardstick : Yardstick
        What it is held against.
    spare : SpareModule
        The spare.

    Returns
    -------
    reasons : tuple of Message
        Empty when it may be used.

    Notes
    -----
    A cell outside what its chemistry's curves know; a test too old or of unknown age; a capacity
    not measured, beyond belief, or below the weakest module that stays by more than the limit; a
    resistance off the median by more than the limit. An unmeasured capacity rules out, because one
    weak module limits the whole string; an unmeasured resistance costs points (match_score.py),
    because it is read in a minute before the swap. Source: shop defaults.

    Examples
    --------
    >>> from packs.physics.match_case import MatchCase
    >>> from packs.physics.match_yardstick import yardstick
    >>> wanted = Wanted(chemistry="nmc", part="A", cells=6, capacity_ah=(60.0,))
    >>> spare = SpareModule(
    ...     serial="1", chemistry="nmc", part="A", cells=6, capacity_ah=50.0, days_since_test=3.0
    ... )
    >>> found = yardstick(MatchCase(wanted=wanted, spares=(spare,)), ())
    >>> [reason.code for reason in state_exclusions(found, spare)]
    ['capacity_low']
    """
    return (
        *_voltage(yardstick, spare),
        *_test(yardstick, spare),
        *_capacity(yardstick, spare),
        *_resistance(yardstick, spare),
    )


def _voltage(yardstick: Yardstick, spare: SpareModule) -> Iterator[Message]:
    """Yield a cell that was discharged too deeply, or stands above full."""
    if spare.cell_v is None or not yardstick.curves:
        return
    lowest_v = min(curve.lowest_v for curve in yardstick.curves)
    highest_v = max(curve.highest_v + curve.trust_v for curve in yardstick.curves)
    if spare.cell_v < lowest_v:
        text = told(
            "Its cells stand at {cell_v:g} V, under the {lowest_v:g} V at which they "
            "are empty: it must not be charged. Quarantine it.",
            cell_v=spare.cell_v,
            lowest_v=lowest_v,
        )
        yield Message("cell_below_minimum", text)
    if spare.cell_v > highest_v:
        text = told(
            "Its cells stand at {cell_v:g} V, above full ({highest_v:.2f} V at the "
            "most). Check the reading; if it stands, quarantine it.",
            cell_v=spare.cell_v,
            highest_v=highest_v,
        )
        yield Message("cell_above_maximum", text)


def _test(yardstick: Yardstick, spare: SpareModule) -> Iterator[Message]:
    """Yield a test that is too old."""
    allowed = yardstick.limits.tested_within_days
    if spare.days_since_test is None:
        text = told(
            "Nobody knows when it was tested; {allowed_days:g} days are allowed. Test it.",
            allowed_days=allowed,
        )
        yield Message("test_age_unknown", text)
    elif spare.days_since_test > allowed:
        text = told(
            "It was tested {days:g} days ago; {allowed_days:g} are allowed. Test it again.",
            days=spare.days_since_test,
            allowed_days=allowed,
        )
        yield Message("test_too_old", text)


def _capacity(yardstick: Yardstick, spare: SpareModule) -> Iterator[Message]:
    """Yield a capacity that would hold the string down, or is not known."""
    weakest_ah, least_ah = yardstick.capacity_ah, yardstick.least_ah
    if weakest_ah is None or least_ah is None:
        return
    if spare.capacity_ah is None:
        text = told(
            "Its capacity was not measured, and one weak module limits the whole "
            "string: measure it; at least {least_ah:.4g} Ah are needed.",
            least_ah=least_ah,
        )
        yield Message("capacity_unmeasured", text)
    elif spare.capacity_ah < least_ah * (1.0 - HAIR):
        short = 100.0 * (1.0 - spare.capacity_ah / weakest_ah)
        text = told(
            "Its {capacity_ah:.4g} Ah are {short_percent:.3g} % below the weakest "
            "module that stays ({weakest_ah:.4g} Ah); {allowed_percent:g} % are "
            "allowed. It would hold the whole string down to {capacity_ah:.4g} Ah.",
            capacity_ah=spare.capacity_ah,
            short_percent=short,
            weakest_ah=weakest_ah,
            allowed_percent=yardstick.limits.capacity_percent,
        )
        yield Message("capacity_low", text)
    elif spare.capacity_ah > FAR * weakest_ah:
        text = told(
            "Its capacity is entered as {capacity_ah:g} Ah against {weakest_ah:.4g} Ah "
            "of the weakest module that stays: correct the figure or its unit.",
            capacity_ah=spare.capacity_ah,
            weakest_ah=weakest_ah,
        )
        yield Message("capacity_not_credible", text)


def _resistance(yardstick: Yardstick, spare: SpareModule) -> Iterator[Message]:
    """Yield a resistance unlike that of the string, where the two can be compared."""
    median = yardstick.resistance_mohm
    if median is None or not yardstick.resistance_of_string or spare.resistance_mohm is None:
        return
    if comparable_temperatures(yardstick.wanted, spare) is False:
        return
    off = 100.0 * (spare.resistance_mohm / median - 1.0)
    if abs(off) > yardstick.limits.resistance_percent * (1.0 + HAIR):
        text = told(
            "Its {resistance_mohm:.4g} mohm are {off_percent:.3g} % {side} the median "
            "of the modules that stay ({median_mohm:.4g} mohm); {allowed_percent:g} % "
            "are allowed.",
            resistance_mohm=spare.resistance_mohm,
            off_percent=abs(off),
            side=SIDES[off > 0.0],
            median_mohm=median,
            allowed_percent=yardstick.limits.resistance_percent,
        )
        yield Message("resistance_off", text)
