"""One draw of everything, weighed.

Here: in a draw meter, shunts and cell voltages are given; sound insulation, conductances and
places of the leaks are taken from what the readings leave, one after the other, and the weight is
the prior measure of what was left times the fit. Not here: which draws are made (posterior.py).
"""

from dataclasses import dataclass, fields
from typing import TypeVar

import numpy as np

from packs.physics.localise_draws import (
    FIRST_CELLS,
    FIRST_G,
    FIRST_V,
    ORDER,
    SECOND_CELLS,
    SECOND_G,
    SECOND_V,
    SOUND,
    Bench,
    Surroundings,
    bells,
    surroundings_of,
)
from packs.physics.localise_points import Points, Readings, Rows
from packs.physics.localise_priors import (
    LEAK_OHM_HIGH,
    LEAK_OHM_LOW,
    LEAK_SPAN,
    sound_at,
    sound_share,
)
from packs.physics.localise_spans import Strips, sound_span, strips_of
from packs.physics.string_frame import Bools, Floats, Ints

_Numbers = TypeVar("_Numbers", Floats, Ints)
_EMPTY = 1.0e-300
_HALF = 0.5
_LEAST_PART = 1.0e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class _Draws:
    """Draws under way: what they are read through and what has been settled so far."""

    rows: Rows
    node_v: Floats
    tilt_v: Floats
    load: Floats
    used: Bools
    has_first: Bools
    has_second: Bools
    sound: Floats
    weight: Floats
    first_g: Floats
    second_g: Floats
    first_v: Floats
    second_v: Floats

    def where(self, keep: Bools | Ints) -> "_Draws":
        """Return some of the draws."""
        parts = {
            each.name: getattr(self, each.name)[keep]
            for each in fields(self)
            if each.name != "rows"
        }
        return _Draws(rows=self.rows.where(keep), **parts)

    def having(self, **changed: Floats) -> "_Draws":
        """Return the draws with more settled, without those that lost all weight."""
        parts = {each.name: getattr(self, each.name) for each in fields(self)} | changed
        return _Draws(**parts).where(parts["weight"] > 0.0)

    def around(self, share: Floats) -> Surroundings:
        """Return what is read through."""
        return Surroundings(self.node_v, self.tilt_v, share, self.load)


def points_of(readings: Readings, rows: Rows, loose: float) -> Points:
    """Return the explanations that draws stand for, without those that do not fit.

    Parameters
    ----------
    readings : Readings
        In numbers.
    rows : Rows
        The draws.
    loose : float
        Factor on all reading errors, [-]

    Returns
    -------
    points : Points
        Explanations with their weights.

    Notes
    -----
    Every quantity is taken evenly from the span that the readings leave it, given what has been
    taken before; the product of the spans' prior shares is the weight (importance sampling), times
    the fit of all readings to the voltages that follow.
    """
    low_v, high_v = readings.display.bounds(readings.volts, loose)
    draws = _begun(readings, rows)
    share = _share(readings)
    span = sound_span(draws.around(share), draws.used & ~_leaky(draws), low_v, high_v)
    draws = _with_sound(draws, *span)
    strips = strips_of(draws.around(share), draws.sound, low_v, high_v)
    if not (rows.second >= 0).any():
        draws = _with_one_leak(readings, draws, strips)
    elif apart_of(readings, rows).any():
        draws = _with_leaks_apart(readings, draws, strips)
    else:
        draws = _with_leaks_together(readings, draws, strips)
    points = _placed(readings.bench, draws)
    keep = points.weight > 0.0
    points, draws = points.where(keep), draws.where(keep)
    true_v = points.shown_at(draws.around(share), draws.has_first, draws.has_second)
    fit = readings.display.fit(readings.volts, true_v, loose)
    weight = points.weight * np.where(draws.used, fit, 1.0).prod(axis=1)
    parts = {each.name: getattr(points, each.name) for each in fields(points)}
    return Points(**(parts | {"weight": weight})).where(weight > 0.0)


def apart_of(readings: Readings, rows: Rows) -> Bools:
    """Return which draws have two leaks of which some reading sees only one.

    Parameters
    ----------
    readings : Readings
        In numbers.
    rows : Rows
        The draws.

    Returns
    -------
    apart : ndarray
        Draw by draw.

    Notes
    -----
    Only such readings can tell two leaks from one between them.
    """
    used = np.arange(len(readings.volts)) != rows.without[:, None]
    one_alone = readings.inside[rows.first] != readings.inside[rows.second]
    return np.asarray((used & one_alone).any(axis=1) & (rows.second >= 0))


def _share(readings: Readings) -> Floats:
    """Each section's share of the cells."""
    cells = readings.bench.frame.ends_cells
    return np.asarray((cells[readings.spots.end] - cells[readings.spots.first]) / cells[-1])


def _leaky(draws: _Draws) -> Bools:
    """Whether a reading's section has a leak."""
    return draws.has_first | draws.has_second


def _begun(readings: Readings, rows: Rows) -> _Draws:
    """Start draws: instruments and cell voltages."""
    around = surroundings_of(readings.bench, rows.unit, rows.borders_v, readings.spots)
    used = np.arange(len(readings.volts)) != rows.without[:, None]
    nothing = np.zeros(len(rows.weight))
    return _Draws(
        rows=rows,
        node_v=around.node_v,
        tilt_v=around.tilt_v,
        load=around.load,
        used=used,
        has_first=readings.inside[rows.first] & used,
        has_second=readings.inside[rows.second] & used,
        sound=nothing,
        weight=rows.weight,
        first_g=nothing,
        second_g=nothing,
        first_v=nothing,
        second_v=nothing,
    )


def _with_sound(draws: _Draws, least: Floats, most: Floats) -> _Draws:
    """Take the sound conductance."""
    low = np.maximum(sound_share(least), draws.rows.sound_low)
    high = np.minimum(sound_share(most), draws.rows.sound_high)
    room = np.where(least <= most, np.maximum(high - low, 0.0), 0.0)
    sound = sound_at(low + room * draws.rows.unit[:, SOUND])
    return draws.having(sound=sound, weight=draws.weight * room)


def _taken(low: Floats, high: Floats, unit: Floats) -> tuple[Floats, Floats]:
    """Take a value evenly in the logarithm, and return the prior share of its span."""
    with np.errstate(divide="ignore"):
        bottom = np.log(np.maximum(low, _EMPTY))
        room = np.maximum(np.log(np.maximum(high, _EMPTY)) - bottom, 0.0)
    return np.exp(bottom + room * unit), room / LEAK_SPAN


def _part_ends(readings: Readings, draws: _Draws, part: Ints) -> tuple[Floats, Floats]:
    """Potentials of the ends of a part of the string."""
    at = np.searchsorted(readings.bench.borders, readings.parts)
    each = np.arange(len(part))
    borders_v = draws.rows.borders_v
    return borders_v[each, at[part]], borders_v[each, at[part + 1]]


def _with_one_leak(readings: Readings, draws: _Draws, strips: Strips) -> _Draws:
    """Take resistance and place of a single leak; draws without one stay as they are."""
    part = np.maximum(draws.rows.first, 0)
    leaking = draws.rows.first >= 0
    own = strips.among(draws.has_first, *_part_ends(readings, draws, part))
    ends = np.full(len(part), LEAK_OHM_LOW), np.full(len(part), LEAK_OHM_HIGH)
    resistance, share = _taken(*own.resistances(*ends), draws.rows.unit[:, FIRST_G])
    low_v, high_v = own.at(resistance)
    room_v = np.maximum(high_v - low_v, 0.0)
    return draws.having(
        first_g=np.where(leaking, 1.0 / resistance, 0.0),
        first_v=low_v + room_v * draws.rows.unit[:, FIRST_V],
        weight=draws.weight * np.where(leaking, share * room_v, 1.0),
    )


def _with_leaks_together(readings: Readings, draws: _Draws, strips: Strips) -> _Draws:
    """Take two leaks that every reading sees together, or not at all."""
    first_ends = _part_ends(readings, draws, draws.rows.first)
    second_ends = _part_ends(readings, draws, draws.rows.second)
    least = np.full(len(draws.weight), 0.5 * LEAK_OHM_LOW)
    both = strips.among(draws.has_first, first_ends[0], second_ends[1])
    span = both.resistances(least, least * (LEAK_OHM_HIGH / LEAK_OHM_LOW))
    first_g, second_g, share = _two_conductances(draws.rows, *span)
    part = np.clip(first_g / (first_g + second_g), _LEAST_PART, 1.0 - _LEAST_PART)
    mean = both.at(1.0 / (first_g + second_g))
    low_v = np.maximum(first_ends[0], (mean[0] - (1.0 - part) * second_ends[1]) / part)
    high_v = np.minimum(first_ends[1], (mean[1] - (1.0 - part) * second_ends[0]) / part)
    first_room_v = np.maximum(high_v - low_v, 0.0)
    first_v = low_v + first_room_v * draws.rows.unit[:, FIRST_V]
    low_v = np.maximum(second_ends[0], (mean[0] - part * first_v) / (1.0 - part))
    high_v = np.minimum(second_ends[1], (mean[1] - part * first_v) / (1.0 - part))
    second_room_v = np.maximum(high_v - low_v, 0.0)
    return draws.having(
        first_g=first_g,
        second_g=second_g,
        first_v=first_v,
        second_v=low_v + second_room_v * draws.rows.unit[:, SECOND_V],
        weight=draws.weight * share * first_room_v * second_room_v,
    )


def _two_conductances(rows: Rows, least: Floats, most: Floats) -> tuple[Floats, Floats, Floats]:
    """Take the conductances of two leaks: the smaller first, then what that leaves the larger.

    In every other draw the smaller leak is the second in the string.
    """
    swapped = rows.unit[:, ORDER] < _HALF
    both_low, both_high = 1.0 / np.maximum(most, _EMPTY), 1.0 / np.maximum(least, _EMPTY)
    low, high = np.full_like(both_low, 1.0 / LEAK_OHM_HIGH), 1.0 / LEAK_OHM_LOW
    small, small_share = _taken(low, np.minimum(high, 0.5 * both_high), rows.unit[:, FIRST_G])
    large, large_share = _taken(
        np.maximum(small, both_low - small),
        np.minimum(high, both_high - small),
        rows.unit[:, SECOND_G],
    )
    share = np.where(least <= most, 2.0 * small_share * large_share, 0.0)
    return np.where(swapped, large, small), np.where(swapped, small, large), share


def _with_leaks_apart(readings: Readings, draws: _Draws, strips: Strips) -> _Draws:
    """Take two leaks of which some reading sees only one: that one first, then the other."""
    only_first = draws.has_first & ~draws.has_second
    only_second = draws.has_second & ~draws.has_first
    swapped = only_second.sum(axis=1) > only_first.sum(axis=1)
    part = np.where(swapped, draws.rows.second, draws.rows.first)
    other = np.where(swapped, draws.rows.first, draws.rows.second)
    own = np.where(swapped[:, None], only_second, only_first)
    seen = strips.among(own, *_part_ends(readings, draws, part))
    ends = np.full(len(part), LEAK_OHM_LOW), np.full(len(part), LEAK_OHM_HIGH)
    resistance, share = _taken(*seen.resistances(*ends), draws.rows.unit[:, FIRST_G])
    low_v, high_v = seen.at(resistance)
    room_v = np.maximum(high_v - low_v, 0.0)
    one_g, one_v = 1.0 / resistance, low_v + room_v * draws.rows.unit[:, FIRST_V]
    has_other = np.where(swapped[:, None], draws.has_first, draws.has_second)
    has_one = np.where(swapped[:, None], draws.has_second, draws.has_first)
    rest = strips.beside(has_one, one_g, one_v).among_currents(
        has_other, *_part_ends(readings, draws, other)
    )
    ends = np.full(len(part), 1.0 / LEAK_OHM_HIGH), np.full(len(part), 1.0 / LEAK_OHM_LOW)
    other_g, other_share = _taken(*rest.resistances(*ends), draws.rows.unit[:, SECOND_G])
    low_v, high_v = (current / other_g for current in rest.at(other_g))
    other_room_v = np.maximum(high_v - low_v, 0.0)
    other_v = low_v + other_room_v * draws.rows.unit[:, SECOND_V]
    return draws.having(
        first_g=np.where(swapped, other_g, one_g),
        second_g=np.where(swapped, one_g, other_g),
        first_v=np.where(swapped, other_v, one_v),
        second_v=np.where(swapped, one_v, other_v),
        weight=draws.weight * share * room_v * other_share * other_room_v,
    )


def _placed(bench: Bench, draws: _Draws) -> Points:
    """Find the module of each leak, and weigh it with what is known of the module."""
    rows = draws.rows
    one, two = rows.first >= 0, rows.second >= 0
    places = (
        _module(bench, rows.borders_v, draws.first_v, rows.unit[:, FIRST_CELLS]),
        _module(bench, rows.borders_v, draws.second_v, rows.unit[:, SECOND_CELLS]),
    )
    priors = (np.where(each, place[2], 1.0) for each, place in zip((one, two), places, strict=True))
    turned = two & (places[1][0] < places[0][0])
    modules = [
        np.where(each, place[0], -1).astype(np.int64)
        for each, place in zip((one, two), places, strict=True)
    ]
    first, second = _turned(turned, *modules)
    first_g, second_g = _turned(turned, draws.first_g, draws.second_g)
    first_v, second_v = _turned(turned, draws.first_v, draws.second_v)
    first_at_v, second_at_v = _turned(turned, places[0][1], places[1][1])
    return Points(
        hypothesis=rows.hypothesis,
        without=rows.without,
        first=first,
        second=second,
        first_g=first_g,
        second_g=second_g,
        first_v=first_v,
        second_v=second_v,
        first_at_v=first_at_v,
        second_at_v=second_at_v,
        sound=draws.sound,
        sound_share=sound_share(draws.sound),
        borders_v=rows.borders_v,
        unit=rows.unit,
        weight=draws.weight * np.prod(list(priors), axis=0),
    )


def _turned(turned: Bools, one: _Numbers, two: _Numbers) -> tuple[_Numbers, _Numbers]:
    """Swap the two leaks where they are not in the order of the string."""
    return np.where(turned, two, one), np.where(turned, one, two)


def _module(
    bench: Bench, borders_v: Floats, at_v: Floats, unit: Floats
) -> tuple[Ints, Floats, Floats]:
    """Find the module at a potential, that place in the string as given, and its prior."""
    frame, rows = bench.frame, np.arange(len(at_v))
    left = (borders_v[:, 1:-1] <= at_v[:, None]).sum(axis=1)
    along = (at_v - borders_v[rows, left]) / (borders_v[rows, left + 1] - borders_v[rows, left])
    along = np.clip(along, 0.0, 1.0)
    cells = np.diff(frame.ends_cells[bench.borders])[left]
    spread_v = bench.cell_spread_v * np.sqrt(cells * along * (1.0 - along))
    ends_v = frame.ends_v[bench.borders]
    nominal_v = ends_v[left] + along * (ends_v[left + 1] - ends_v[left])
    nominal_v = np.clip(nominal_v + spread_v * bells(unit), ends_v[left], ends_v[left + 1])
    module = np.searchsorted(frame.ends_v[1:-1], nominal_v, side="right")
    prior = frame.weights[module] / np.diff(frame.ends_v)[module]
    return module, nominal_v, prior
