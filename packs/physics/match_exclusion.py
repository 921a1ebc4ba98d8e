"""Which spares may not be used, whatever else speaks for them.

Here: the hard rules, each with its sentence. Not here: what only costs points (match_score.py).
"""

from collections.abc import Iterator

from packs.physics.instrument import Message
from packs.physics.match_case import SpareModule, Wanted
from packs.physics.match_yardstick import Yardstick, comparable_temperatures, same_text

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
        text = f'Its chemistry is "{spare.chemistry}", the string is "{wanted.chemistry}".'
        reasons.append(Message("other_chemistry", text))
    if not same_text(spare.part, wanted.part):
        text = f'It is part "{spare.part}", the string takes "{wanted.part}".'
        reasons.append(Message("other_part", text))
    if spare.cells != wanted.cells:
        text = f"It has {spare.cells} cells in series, the string's modules have {wanted.cells}."
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
        text = (
            f"Its cells stand at {spare.cell_v:g} V, under the {lowest_v:g} V at which they are "
            "empty: it must not be charged. Quarantine it."
        )
        yield Message("cell_below_minimum", text)
    if spare.cell_v > highest_v:
        text = (
            f"Its cells stand at {spare.cell_v:g} V, above full ({highest_v:.2f} V at the most). "
            "Check the reading; if it stands, quarantine it."
        )
        yield Message("cell_above_maximum", text)


def _test(yardstick: Yardstick, spare: SpareModule) -> Iterator[Message]:
    """Yield a test that is too old."""
    allowed = yardstick.limits.tested_within_days
    if spare.days_since_test is None:
        text = f"Nobody knows when it was tested; {allowed:g} days are allowed. Test it."
        yield Message("test_age_unknown", text)
    elif spare.days_since_test > allowed:
        text = (
            f"It was tested {spare.days_since_test:g} days ago; {allowed:g} are allowed. Test it "
            "again."
        )
        yield Message("test_too_old", text)


def _capacity(yardstick: Yardstick, spare: SpareModule) -> Iterator[Message]:
    """Yield a capacity that would hold the string down, or is not known."""
    weakest_ah, least_ah = yardstick.capacity_ah, yardstick.least_ah
    if weakest_ah is None or least_ah is None:
        return
    if spare.capacity_ah is None:
        text = (
            "Its capacity was not measured, and one weak module limits the whole string: measure "
            f"it; at least {least_ah:.4g} Ah are needed."
        )
        yield Message("capacity_unmeasured", text)
    elif spare.capacity_ah < least_ah * (1.0 - HAIR):
        short = 100.0 * (1.0 - spare.capacity_ah / weakest_ah)
        text = (
            f"Its {spare.capacity_ah:.4g} Ah are {short:.3g} % below the weakest module that stays "
            f"({weakest_ah:.4g} Ah); {yardstick.limits.capacity_percent:g} % are allowed. It would "
            f"hold the whole string down to {spare.capacity_ah:.4g} Ah."
        )
        yield Message("capacity_low", text)
    elif spare.capacity_ah > FAR * weakest_ah:
        text = (
            f"Its capacity is entered as {spare.capacity_ah:g} Ah against {weakest_ah:.4g} Ah of "
            "the weakest module that stays: correct the figure or its unit."
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
        text = (
            f"Its {spare.resistance_mohm:.4g} mohm are {abs(off):.3g} % "
            f"{'above' if off > 0.0 else 'below'} the median of the modules that stay "
            f"({median:.4g} mohm); {yardstick.limits.resistance_percent:g} % are allowed."
        )
        yield Message("resistance_off", text)
