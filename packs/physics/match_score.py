"""What a usable spare loses of its 100 points, and why.

Here: one reason a property, each with its price. Not here: what rules a spare out
(match_exclusion.py). Every weight is a shop default, no source.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from packs.physics.instrument import Message
from packs.physics.match_case import SpareModule
from packs.physics.match_charge import Move
from packs.physics.match_yardstick import Yardstick, comparable_temperatures
from packs.words import told

FULL_SCORE = 100.0
WEAKER_POINTS, RESISTANCE_POINTS, AGE_POINTS = 40.0, 25.0, 10.0
"""Lost when the whole limit is used up."""
STRONGER_POINTS_PER_PERCENT, STRONGER_POINTS = 0.2, 5.0
"""A stronger spare is better kept for a stronger string."""
UNMEASURED_CAPACITY_POINTS, UNMEASURED_RESISTANCE_POINTS = 30.0, 20.0
NOT_COMPARED_POINTS, UNKNOWN_TEMPERATURE_POINTS = 15.0, 3.0
VOLTAGE_POINTS_PER_PERCENT, VOLTAGE_POINTS, UNKNOWN_VOLTAGE_POINTS = 0.2, 10.0, 3.0
NEARLY_EMPTY_POINTS = 30.0
ACCEPT_MV = 10.0
"""So little is left to the balancer."""
SIDES = {True: "below", False: "above"}
WAYS = {True: "charged", False: "discharged"}
"""What is done to a spare that stands below the string, and above it."""


@dataclass(frozen=True, slots=True)
class Cost:
    """A reason and the points it takes; the sentence ends with them."""

    code: str
    text: str
    points: float

    @property
    def message(self) -> Message:
        """The reason as people read it."""
        points = round(self.points, 1)
        price = told("Costs {points:g} points.", points=points) if points else "Costs nothing."
        return Message(self.code, told("{text} {price}", text=self.text, price=price))


def costs(yardstick: Yardstick, spare: SpareModule, move: Move | None) -> tuple[Cost, ...]:
    """Say what a spare loses, and why.

    Parameters
    ----------
    yardstick : Yardstick
        What it is held against.
    spare : SpareModule
        A spare that is not ruled out.
    move : Move or None
        How its charge differs from the string's, None when one voltage is not known.

    Returns
    -------
    costs : tuple of Cost
        Points lost, rounded to a tenth when they are summed, [-]

    Notes
    -----
    Weaker than the weakest module that stays: 40 points for the whole limit, in proportion.
    Stronger: 0.2 a percent, 5 at most. Resistance off the median: 25 for the whole limit, 15 when
    the temperatures forbid the comparison, 20 when it was not measured. Age of the test: 10 for the
    whole limit. Charge to be moved: 0.2 a percent, 10 at most. Source: shop defaults, no source.

    Examples
    --------
    >>> from packs.physics.match_case import MatchCase, Wanted
    >>> from packs.physics.match_yardstick import yardstick
    >>> wanted = Wanted(chemistry="nmc", part="A", cells=6, capacity_ah=(60.0,))
    >>> spare = SpareModule(
    ...     serial="1", chemistry="nmc", part="A", cells=6, capacity_ah=58.5, days_since_test=0.0
    ... )
    >>> found = yardstick(MatchCase(wanted=wanted, spares=(spare,)), ())
    >>> [(cost.code, round(cost.points, 1)) for cost in costs(found, spare, None)]
    [('weaker', 20.0), ('test_age', 0.0), ('voltage_unknown', 3.0)]
    """
    return (
        *_capacity(yardstick, spare),
        *_resistance(yardstick, spare),
        *_age(yardstick, spare),
        *_charge(yardstick, spare, move),
    )


def score(found: tuple[Cost, ...]) -> float:
    """Return what is left of 100 points.

    Parameters
    ----------
    found : tuple of Cost
        What a spare loses.

    Returns
    -------
    score : float
        Never below 0, to a tenth, so that the reasons add up, [-]

    Notes
    -----
    ``100 - sum``. Source: shop default.

    Examples
    --------
    >>> score((Cost("weaker", "", 12.34), Cost("test_age", "", 1.0)))
    86.7
    """
    lost = sum(round(cost.points, 1) for cost in found)
    return round(max(0.0, FULL_SCORE - lost), 1)


def _capacity(yardstick: Yardstick, spare: SpareModule) -> Iterator[Cost]:
    """Yield what the capacity costs."""
    reference_ah, mine_ah = yardstick.capacity_ah, spare.capacity_ah
    if mine_ah is None or reference_ah is None:
        text = "Its capacity was not measured: measure it before it is used."
        yield Cost("capacity_unmeasured", text, UNMEASURED_CAPACITY_POINTS)
        return
    off = 100.0 * (mine_ah / reference_ah - 1.0)
    limit = yardstick.limits.capacity_percent
    if not yardstick.capacity_of_string:
        text = told(
            "Its {mine_ah:.4g} Ah are {off_percent:.3g} % below the strongest spare's.",
            mine_ah=mine_ah,
            off_percent=abs(off),
        )
        yield Cost("weaker_than_spares", text, min(WEAKER_POINTS, WEAKER_POINTS * abs(off) / limit))
    elif off < 0.0:
        text = told(
            "Its {mine_ah:.4g} Ah are {short_ah:.3g} Ah ({off_percent:.3g} %) below "
            "the weakest module that stays ({reference_ah:.4g} Ah): a weaker spare "
            "limits the whole string, here to {mine_ah:.4g} Ah.",
            mine_ah=mine_ah,
            short_ah=reference_ah - mine_ah,
            off_percent=-off,
            reference_ah=reference_ah,
        )
        yield Cost("weaker", text, WEAKER_POINTS * -off / limit)
    else:
        text = told(
            "Its {mine_ah:.4g} Ah reach the weakest module that stays. A stronger "
            "spare is only worth that: the string keeps {reference_ah:.4g} Ah, "
            "{unused_ah:.3g} Ah of the spare stay unused.",
            mine_ah=mine_ah,
            reference_ah=reference_ah,
            unused_ah=mine_ah - reference_ah,
        )
        yield Cost("stronger", text, min(STRONGER_POINTS, STRONGER_POINTS_PER_PERCENT * off))


def _resistance(yardstick: Yardstick, spare: SpareModule) -> Iterator[Cost]:
    """Yield what the resistance costs; nothing when none was ever measured."""
    median = yardstick.resistance_mohm
    if median is None:
        return
    if spare.resistance_mohm is None:
        text = "Its resistance was not measured: measure it before it is used."
        yield Cost("resistance_unmeasured", text, UNMEASURED_RESISTANCE_POINTS)
        return
    comparable = comparable_temperatures(yardstick.wanted, spare)
    if comparable is False and yardstick.resistance_of_string:
        text = told(
            "Its resistance was measured at {spare_c:g} °C, the string's at "
            "{string_c:g} °C: more than 3 °C apart they cannot be compared. Measure it "
            "again at the string's temperature.",
            spare_c=spare.temperature_c,
            string_c=yardstick.wanted.temperature_c,
        )
        yield Cost("resistance_not_compared", text, NOT_COMPARED_POINTS)
        return
    off = 100.0 * (spare.resistance_mohm / median - 1.0)
    of_whom = "the modules that stay" if yardstick.resistance_of_string else "the spares"
    text = told(
        "Its {resistance_mohm:.4g} mohm are {off_percent:.3g} % {side} the median "
        "of {of_whom} ({median_mohm:.4g} mohm).",
        resistance_mohm=spare.resistance_mohm,
        off_percent=abs(off),
        side=SIDES[off < 0.0],
        of_whom=of_whom,
        median_mohm=median,
    )
    share = min(1.0, abs(off) / yardstick.limits.resistance_percent)
    yield Cost("resistance", text, RESISTANCE_POINTS * share)
    if comparable is None and yardstick.resistance_of_string:
        text = (
            "At which temperatures the resistances were measured is not known: they count only "
            "within 3 °C of one another."
        )
        yield Cost("temperature_unknown", text, UNKNOWN_TEMPERATURE_POINTS)


def _age(yardstick: Yardstick, spare: SpareModule) -> Iterator[Cost]:
    """Yield what the age of the test costs; one of unknown age has been ruled out."""
    days, allowed = spare.days_since_test or 0.0, yardstick.limits.tested_within_days
    share = days / allowed if allowed > 0.0 else 0.0
    text = told(
        "It was tested {days:g} days ago; {allowed_days:g} are allowed.",
        days=days,
        allowed_days=allowed,
    )
    yield Cost("test_age", text, AGE_POINTS * share)


def _charge(yardstick: Yardstick, spare: SpareModule, move: Move | None) -> Iterator[Cost]:
    """Yield what its state of charge costs."""
    if not yardstick.curves:
        return
    if spare.cell_v is None:
        text = "Its voltage is not known: read it at rest, before and after a day."
        yield Cost("voltage_unknown", text, UNKNOWN_VOLTAGE_POINTS)
        return
    empty_v = max(curve.lowest_v for curve in yardstick.curves)
    if spare.cell_v < empty_v:
        text = told(
            "Its cells stand at {cell_v:g} V; some of its chemistry are empty at "
            "{empty_v:g} V. Ask for the maker's minimum before it is charged.",
            cell_v=spare.cell_v,
            empty_v=empty_v,
        )
        yield Cost("nearly_empty", text, NEARLY_EMPTY_POINTS)
    if move is not None:
        yield _move(move, spare.capacity_ah)


def _move(move: Move, capacity_ah: float | None) -> Cost:
    """Return roughly what has to be moved; the calculation charge says it with its interval."""
    apart = told("{apart_mv:.3g} mV a cell", apart_mv=abs(move.apart_mv))
    low_side = move.apart_mv > 0.0
    if move.flat:
        text = told(
            "It stands {apart} {side} the string, where the voltage does not tell the "
            "charge: match it at a knee of its curve.",
            apart=apart,
            side=SIDES[low_side],
        )
        return Cost("voltage_flat", text, VOLTAGE_POINTS / 2.0)
    if abs(move.apart_mv) <= ACCEPT_MV:
        return Cost("voltage", told("It stands within {apart} of the string.", apart=apart), 0.0)
    unit, scale = ("Ah", capacity_ah / 100.0) if capacity_ah is not None else ("%", 1.0)
    low, high = move.low_percent * scale, move.high_percent * scale
    amount = (
        f"{high:.2g}"
        if f"{low:.2g}" == f"{high:.2g}"
        else told("{low:.2g} to {high:.2g}", low=low, high=high)
    )
    text = told(
        "It stands {apart} {side} the string: roughly {amount} {unit} have to be "
        "{way} before it is joined.",
        apart=apart,
        side=SIDES[low_side],
        amount=amount,
        unit=unit,
        way=WAYS[low_side],
    )
    return Cost(
        "voltage", text, min(VOLTAGE_POINTS, VOLTAGE_POINTS_PER_PERCENT * move.high_percent)
    )
