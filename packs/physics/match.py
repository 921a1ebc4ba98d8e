"""Which spare suits the string: those that may be used, best first, and why the others may not.

Here: the order, the advice and the warnings. Not here: the fields (match_case.py), the hard rules
(match_exclusion.py) and the points (match_score.py).
"""

import statistics
from collections import Counter
from collections.abc import Iterator

from packs.physics.instrument import Message
from packs.physics.match_case import (
    ExcludedSpare,
    MatchCase,
    MatchLimits,
    MatchResult,
    RankedSpare,
    SpareModule,
    Wanted,
)
from packs.physics.match_charge import Move, moves
from packs.physics.match_exclusion import FAR, kind_exclusions, state_exclusions
from packs.physics.match_score import costs, score
from packs.physics.match_yardstick import Yardstick, yardstick
from packs.physics.unit_suspicion import suspect, suspicions
from packs.words import joined, told

__all__ = ["MatchCase", "MatchLimits", "MatchResult", "SpareModule", "Wanted", "match"]

ONLY_A_TEST = {"test_too_old", "test_age_unknown", "capacity_unmeasured"}
"""A spare that is ruled out by these alone may suit once it has been tested."""
NAMED = 5
USUAL_AH, USUAL_MOHM = (0.5, 1000.0), (0.1, 500.0)
CAPACITY_UNITS = ("were thousands of Ah meant? Enter Ah", "were milliampere hours meant? Enter Ah")
RESISTANCE_UNITS = ("were ohms meant? Enter mohm", "were micro-ohms meant? Enter mohm")


def match(case: MatchCase) -> MatchResult:
    """Rank the spares for a string.

    Parameters
    ----------
    case : MatchCase
        The string, limits and the spares there are, [Ah], [mohm] and [V]

    Returns
    -------
    result : MatchResult
        Ranked best first with points from 0 to 100, excluded, each with its reasons, and advice

    Notes
    -----
    A spare is excluded by any hard rule (match_exclusion.py); the others start with 100 points and
    lose what each reason says (match_score.py). A string in series delivers what its weakest module
    holds: a weaker spare limits all of it, a stronger one is worth no more than the weakest. Ties
    go to the larger capacity, then the newer test, then the serial. Where nothing is known of the
    string the spares are compared with one another. Source: series circuit; shop defaults.

    Examples
    --------
    >>> wanted = Wanted(chemistry="nmc", part="A", cells=6, capacity_ah=(60.0, 61.0))
    >>> kind = {"chemistry": "nmc", "part": "A", "cells": 6, "days_since_test": 10.0}
    >>> spares = [
    ...     SpareModule(serial=serial, capacity_ah=ah, **kind)
    ...     for serial, ah in (("S1", 58.0), ("S2", 61.0), ("S3", 50.0))
    ... ]
    >>> result = match(MatchCase(wanted=wanted, spares=spares))
    >>> [spare.serial for spare in result.ranked], [spare.serial for spare in result.excluded]
    (['S2', 'S1'], ['S3'])
    """
    known = yardstick(case, ())
    reasons = [_exclusions(known, spare) for spare in case.spares]
    usable = [spare for spare, found in zip(case.spares, reasons, strict=True) if not found]
    held = yardstick(case, usable)
    charges = moves(held.curves, case.wanted.cell_v, [spare.cell_v for spare in usable])
    ranked = [
        (spare, _ranked(held, spare, move)) for spare, move in zip(usable, charges, strict=True)
    ]
    excluded = tuple(
        ExcludedSpare(serial=spare.serial, reasons=found)
        for spare, found in zip(case.spares, reasons, strict=True)
        if found
    )
    ranked.sort(key=lambda pair: _order(*pair))
    return MatchResult(
        ranked=tuple(entry for _, entry in ranked),
        excluded=excluded,
        advice=tuple(_advice(case, held, excluded, some=bool(ranked))),
        warnings=_warnings(case, held),
    )


def _exclusions(held: Yardstick, spare: SpareModule) -> tuple[Message, ...]:
    """Return every reason against a spare."""
    return (*kind_exclusions(held.wanted, spare), *state_exclusions(held, spare))


def _ranked(held: Yardstick, spare: SpareModule, move: Move | None) -> RankedSpare:
    """Return a usable spare with its points."""
    found = costs(held, spare, move)
    return RankedSpare(
        serial=spare.serial,
        score=score(found),
        reasons=tuple(cost.message for cost in found),
    )


def _order(spare: SpareModule, entry: RankedSpare) -> tuple[float, float, float, str]:
    """Return what the order goes by."""
    days = spare.days_since_test if spare.days_since_test is not None else float("inf")
    return (-entry.score, -(spare.capacity_ah or 0.0), days, spare.serial)


def _advice(
    case: MatchCase, held: Yardstick, excluded: tuple[ExcludedSpare, ...], *, some: bool
) -> Iterator[Message]:
    """Yield what to do next."""
    if not some:
        yield _to_look_for(held)
        yield from _to_test(excluded)
    yield from _string_unknown(held)
    weak = _weak_string(case)
    if weak is not None:
        yield weak
    text = (
        "Compare resistances and rested voltages only at the same temperature, within 3 °C, and "
        "bring the chosen spare to the string's charge before it is joined."
    )
    yield Message("same_temperature", text)
    twice = [
        serial for serial, count in Counter(s.serial for s in case.spares).items() if count > 1
    ]
    if twice:
        text = told(
            "More than one spare has the serial {serials}: check the plates.",
            serials=", ".join(twice[:NAMED]),
        )
        yield Message("serial_twice", text)


CAPACITY_UNKNOWN = (
    "The capacity of the modules that stay is not known: the spares were compared with one another "
    "only. Measure the string before choosing."
)
RESISTANCE_UNKNOWN = (
    "The resistance of the modules that stay is not known: the spares were compared with one "
    "another only. Measure the string before choosing."
)
BOTH_UNKNOWN = (
    "The capacity and resistance of the modules that stay are not known: the spares were compared "
    "with one another only. Measure the string before choosing."
)


def _to_look_for(held: Yardstick) -> Message:
    """Say what would suit."""
    wanted, limits = held.wanted, held.limits
    parts = [
        told('No spare suits. Look for part "{wanted_part}"', wanted_part=wanted.part),
        told('chemistry "{wanted_chemistry}"', wanted_chemistry=wanted.chemistry),
        told("{wanted_cells} cells", wanted_cells=wanted.cells),
    ]
    if held.least_ah is not None and held.capacity_ah is not None:
        parts.append(
            told(
                "at least {least_ah:.4g} Ah, best {capacity_ah:.4g} to {most_ah:.4g} Ah",
                least_ah=held.least_ah,
                capacity_ah=held.capacity_ah,
                most_ah=held.capacity_ah * (1.0 + limits.capacity_percent / 100.0),
            )
        )
    if held.resistance_of_string and held.resistance_mohm is not None:
        share = limits.resistance_percent / 100.0
        parts.append(
            told(
                "{low_mohm:.4g} to {high_mohm:.4g} mohm at the string's temperature",
                low_mohm=held.resistance_mohm * max(0.0, 1.0 - share),
                high_mohm=held.resistance_mohm * (1.0 + share),
            )
        )
    parts.append(
        told(
            "tested within {tested_within_days:g} days",
            tested_within_days=limits.tested_within_days,
        )
    )
    return Message("none_suits", told("{parts}.", parts=joined(parts, "{first}, {second}")))


def _to_test(excluded: tuple[ExcludedSpare, ...]) -> Iterator[Message]:
    """Yield which spares only lack a test."""
    serials = [
        spare.serial
        for spare in excluded
        if {reason.code for reason in spare.reasons} <= ONLY_A_TEST
    ]
    if serials:
        named = ", ".join(serials[:NAMED])
        more = len(serials) - NAMED
        text = (
            told(
                "Only a test is missing of {named} and {more} more: test these first.",
                named=named,
                more=more,
            )
            if more > 0
            else told("Only a test is missing of {named}: test these first.", named=named)
        )
        yield Message("test_first", text)


def _string_unknown(held: Yardstick) -> Iterator[Message]:
    """Yield that spares were only compared with one another."""
    missing = [
        name
        for name, known in (
            (CAPACITY_UNKNOWN, held.capacity_of_string),
            (RESISTANCE_UNKNOWN, held.resistance_of_string),
        )
        if not known
    ]
    if missing:
        text = missing[0] if len(missing) == 1 else BOTH_UNKNOWN
        yield Message("string_unknown", text)


def _weak_string(case: MatchCase) -> Message | None:
    """Say that the string holds a module weaker than the others allow."""
    capacities_ah = case.wanted.capacity_ah
    if not capacities_ah:
        return None
    weakest_ah, median_ah = min(capacities_ah), statistics.median(capacities_ah)
    if weakest_ah >= median_ah * (1.0 - case.limits.capacity_percent / 100.0):
        return None
    text = told(
        "The string's weakest module has {weakest_ah:.4g} Ah, its median "
        "{median_ah:.4g} Ah: that module limits the string whatever spare goes in. "
        "Think of replacing it as well.",
        weakest_ah=weakest_ah,
        median_ah=median_ah,
    )
    return Message("weak_string", text)


def _warnings(case: MatchCase, held: Yardstick) -> tuple[Message, ...]:
    """Warn of figures that are likely a thousand times off."""
    wanted, whole = case.wanted, float("inf")
    entered: list[tuple[str, float | None, bool]] = []
    entered += [(f"wanted.capacity_ah.{n}", ah, True) for n, ah in enumerate(wanted.capacity_ah)]
    entered += [
        (f"wanted.resistance_mohm.{n}", mohm, False)
        for n, mohm in enumerate(wanted.resistance_mohm)
    ]
    for index, spare in enumerate(case.spares):
        entered.append((f"spares.{index}.capacity_ah", spare.capacity_ah, True))
        entered.append((f"spares.{index}.resistance_mohm", spare.resistance_mohm, False))
    found: list[Message | None] = []
    for path, value, is_capacity in entered:
        least, most = _usual(held, path, is_capacity=is_capacity)
        small, large = CAPACITY_UNITS if is_capacity else RESISTANCE_UNITS
        found.append(suspect(path, value, least, whole, small))
        found.append(suspect(path, value, 0.0, most, large))
    return suspicions(*found)


def _usual(held: Yardstick, path: str, *, is_capacity: bool) -> tuple[float, float]:
    """Return the usual range of a field: around the string for spares, else of any module."""
    known = held.capacity_of_string if is_capacity else held.resistance_of_string
    reference = held.capacity_ah if is_capacity else held.resistance_mohm
    if path.startswith("spares") and known and reference is not None:
        return reference / FAR, reference * FAR
    return USUAL_AH if is_capacity else USUAL_MOHM
