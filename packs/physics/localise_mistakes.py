"""What could have gone wrong with a reading: the usual slips, as pseudo-readings.

Here: the slips of one reading as pseudo-readings: other sign, other pole, other digits, shunt
forgotten or left on, or anything. Not here: weighing them against readings that are all right
(localise_doubt.py).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from packs.physics.instrument import Message
from packs.physics.localise_case import LocaliseCase, Place, Pole, Reading
from packs.physics.localise_spots import Spots
from packs.physics.string_frame import Floats, StringFrame
from packs.words import told

WRONG_PRIOR = 0.01
"""Probability that a reading is wrong, shop default, no source, [-]."""
SHUNT_OHM = 1.0e6
"""Shunt that may have been left on when no reading names one, shop default, no source, [ohm]."""

_SIGN, _POLE, _DECIMAL, _DIGIT, _SWAP, _SHUNT, _ANY = 0.15, 0.2, 0.15, 0.15, 0.1, 0.15, 0.1
"""How the slips share that probability, shop defaults, no source, [-]."""

_RIGHT = Message("right", "It is right.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """One way in which a reading may have gone wrong.

    Parameters
    ----------
    share : float
        Its part of all slips, [-]
    shown_v : float or None
        What the display would have shown, None for anything at all, [V]
    node : int
        Module border that the lead would have been on, [-]
    section : tuple of int
        First module of the section and the one after its last, [-]
    shunt_ohm : float or None
        Resistor that would have been across the meter, [ohm]
    because : Message
        The slip in words.
    """

    share: float
    shown_v: float | None
    node: int
    section: tuple[int, int]
    shunt_ohm: float | None
    because: Message


def slips_of(case: LocaliseCase, frame: StringFrame, index: int) -> tuple[Slip, ...]:
    """Return the ways in which a reading may have gone wrong.

    Parameters
    ----------
    case : LocaliseCase
        The input.
    frame : StringFrame
        Its string.
    index : int
        The reading, [-]

    Returns
    -------
    slips : tuple of Slip
        Their shares sum to 1 at most, [-]

    Notes
    -----
    A shop default of 1 % a reading, shared between the usual slips and one part in ten for anything
    else (no source).
    """
    reading = case.readings[index]
    volts = reading.volts
    right = Slip(
        share=0.0,
        shown_v=volts,
        node=frame.node(reading),
        section=frame.section(reading, reading.open_after),
        shunt_ohm=reading.shunt_ohm,
        because=_RIGHT,
    )
    swapped = Message("sign", told("It fits as {volts:g} V: the leads were swapped.", volts=-volts))
    anything = Message("unexplained", "No single slip explains it.")
    return (
        replace(right, share=_SIGN, shown_v=-volts, because=swapped),
        *_poles(frame, reading, right),
        *_decimals(volts, right),
        *_digits(volts, case.meter.resolution_v, right),
        *_shunts(case, reading, right),
        replace(right, share=_ANY, shown_v=None, because=anything),
    )


def _poles(frame: StringFrame, reading: Reading, right: Slip) -> Iterator[Slip]:
    """List the poles that could be mistaken for the right one."""
    at = frame.names.index(reading.module)
    up = reading.pole == "pos"
    other: Pole = "neg" if up else "pos"
    beside = at + 1 if up else at - 1
    places = [Place(module=reading.module, pole=other)]
    if 0 <= beside < len(frame.names):
        poles: tuple[Pole, Pole] = (other, reading.pole)
        places += [Place(module=frame.names[beside], pole=pole) for pole in poles]
    spots = [
        (place, frame.node(place), frame.section(place, reading.open_after)) for place in places
    ]
    spots = [spot for spot in spots if spot[1:] != (right.node, right.section)]
    for place, node, section in spots:
        text = told(
            "It fits {module} {pole}: the lead was on the wrong pole.",
            module=place.module,
            pole=place.pole,
        )
        because = Message("pole", text)
        share = _POLE / len(spots)
        yield replace(right, share=share, node=node, section=section, because=because)


def _decimals(volts: float, right: Slip) -> Iterator[Slip]:
    """List the slips of the decimal point; ten times the figure is a tenth as dense."""
    for factor, density in ((0.1, 0.1), (10.0, 10.0)):
        text = told("It fits as {volts:g} V: the decimal point slipped.", volts=volts * factor)
        because = Message("decimal", text)
        share = 0.5 * _DECIMAL * density
        yield replace(right, share=share, shown_v=volts * factor, because=because)


def _digits(volts: float, step_v: float, right: Slip) -> Iterator[Slip]:
    """List the figures that differ in one digit or have two digits swapped."""
    places = int(max(0.0, np.ceil(-np.log10(step_v) - 1.0e-9)))
    text = f"{abs(volts):.{min(places, 9)}f}"
    at = [position for position, mark in enumerate(text) if mark != "."]
    sign = -1.0 if volts < 0.0 else 1.0
    changed = {
        sign * float(text[:one] + digit + text[one + 1 :])
        for one in at
        for digit in "0123456789"
        if digit != text[one]
    }
    swapped = set(_swaps(text, at, sign)) - {volts}
    for figures, share, words in (
        (changed, _DIGIT, "one digit was misread"),
        (swapped, _SWAP, "two digits were swapped"),
    ):
        for figure in sorted(figures):
            said = told("It fits as {volts:g} V: {words}.", volts=figure, words=words)
            because = Message("digits", said)
            yield replace(right, share=share / len(figures), shown_v=figure, because=because)


def _swaps(text: str, at: Sequence[int], sign: float) -> Iterator[float]:
    """List the figures with two neighbouring digits swapped."""
    for one, two in pairwise(at):
        marks = list(text)
        marks[one], marks[two] = marks[two], marks[one]
        yield sign * float("".join(marks))


def _shunts(case: LocaliseCase, reading: Reading, right: Slip) -> Iterator[Slip]:
    """List the other states of the shunt."""
    if reading.shunt_ohm is not None:
        text = "It fits without the shunt: the shunt was not connected."
        because = Message("shunt", text)
        yield replace(right, share=_SHUNT, shunt_ohm=None, because=because)
        return
    known = {each.shunt_ohm for each in case.readings if each.shunt_ohm is not None}
    for shunt_ohm in sorted(known) or [SHUNT_OHM]:
        text = "It fits with the shunt: the shunt was still connected."
        share = _SHUNT / max(1, len(known))
        because = Message("shunt", text)
        yield replace(right, share=share, shunt_ohm=shunt_ohm, because=because)


def spots_of_slips(slips: Sequence[Slip]) -> Spots:
    """Return where slips would have been read.

    Parameters
    ----------
    slips : sequence of Slip
        Of one reading.

    Returns
    -------
    spots : Spots
        One element a slip.

    Notes
    -----
    A slip of pole or shunt moves the spot; all others leave it.
    """
    return Spots(
        node=np.array([each.node for each in slips], dtype=np.int64),
        first=np.array([each.section[0] for each in slips], dtype=np.int64),
        end=np.array([each.section[1] for each in slips], dtype=np.int64),
        shunt_g=np.array([1.0 / each.shunt_ohm if each.shunt_ohm else 0.0 for each in slips]),
    )


def figures_of(slips: Sequence[Slip]) -> tuple[Floats, Floats]:
    """Return the shares of slips and what the display would have shown.

    Parameters
    ----------
    slips : sequence of Slip
        Of one reading.

    Returns
    -------
    shares, shown_v : tuple of ndarray
        Slip by slip; nothing shown where anything could have been, [-], [V]

    Notes
    -----
    Shares are those of `slips_of`, unchanged.
    """
    shares = np.array([each.share for each in slips])
    shown_v = np.array([np.nan if each.shown_v is None else each.shown_v for each in slips])
    return shares, shown_v
