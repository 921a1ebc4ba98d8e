"""The posterior over none, one and two leaks, from evenly spread draws.

Here: which explanations the readings leave, each with its weight. A hypothesis says in which part
of the string each leak sits; parts lie between links that were open in some reading. Each
hypothesis is drawn coarsely with every error larger than it is, then finely where that left
something. Not here: one draw (localise_weighing.py), what to tell people (localise.py), what to
read next (proposals.py).
"""

from dataclasses import replace

import numpy as np

from packs.physics.localise_case import LocaliseCase
from packs.physics.localise_draws import NUISANCES, Bench, unit_points
from packs.physics.localise_points import Hypotheses, Points, Readings, Rows
from packs.physics.localise_spots import Spots, display_of, spots_of
from packs.physics.localise_weighing import apart_of, points_of
from packs.physics.string_frame import Bools, Floats, Ints, StringFrame

MOST_READINGS = 48
"""Readings that are weighed; more of them are checked against the answer only."""
_LOOSE = 3.0
_GOLDEN = 0.6180339887498949
_MOST_COARSE, _LEAST_COARSE = 128, 16
_MOST_FINE, _LEAST_FINE = 4_000, 64
_NEGLIGIBLE = 1.0e-5
_MORE = 6
_FEW = 4
_MOST_ELEMENTS = 400_000
_MOST_WORK = 60_000_000


def readings_of(case: LocaliseCase, frame: StringFrame) -> Readings:
    """Return the readings of a case in numbers.

    Parameters
    ----------
    case : LocaliseCase
        The input.
    frame : StringFrame
        Its string.

    Returns
    -------
    readings : Readings
        With the parts of the string that they tell apart.

    Notes
    -----
    Modules between two links that were open in some reading are always read together: one part.
    """
    every = spots_of(frame, case.readings)
    volts = np.array([each.volts for each in case.readings])
    index = _telling(every, volts)
    spots = every.where(index)
    count = len(frame.names)
    borders = np.unique(np.concatenate([[0, count], every.borders().clip(0, count)]))
    parts = np.unique(np.concatenate([[0, count], spots.first, spots.end]))
    inside = (spots.first <= parts[:-1, None]) & (parts[:-1, None] < spots.end)
    bench = Bench(
        frame=frame,
        borders=borders,
        input_g=1.0 / case.meter.input_ohm,
        input_tolerance=case.meter.input_tolerance_percent / 100.0,
        shunt_tolerance=case.shunt_tolerance_percent / 100.0,
        cell_spread_v=case.cell_v_spread_v,
        shunts_g=np.unique(spots.shunt_g[spots.shunt_g > 0.0]),
    )
    return Readings(
        bench=bench,
        spots=spots,
        index=index,
        volts=volts[index],
        display=display_of(case.meter),
        parts=parts,
        inside=np.concatenate([inside, np.zeros((1, len(spots.node)), dtype=np.bool_)]),
    )


def _telling(spots: Spots, volts: Floats) -> Ints:
    """Choose readings when there are too many: every spot once, short sections first."""
    if len(volts) <= MOST_READINGS:
        return np.arange(len(volts))
    keys = np.stack([spots.node, spots.first, spots.end, spots.shunt_g], axis=1)
    _, spot = np.unique(keys, axis=0, return_inverse=True)
    repeat = _rank(spot.ravel(), volts)
    _, section = np.unique(keys[:, 1:], axis=0, return_inverse=True)
    spread = np.asarray((spots.node * _GOLDEN) % 1.0, dtype=np.float64)
    turn = _rank(section.ravel() * (repeat.max() + 1) + repeat, spread)
    first = np.lexsort((spread, spots.end - spots.first, turn, repeat))
    return np.sort(first[:MOST_READINGS])


def _rank(group: Ints, value: Floats) -> Ints:
    """Rank of each element among those of its group."""
    order = np.lexsort((value, group))
    same = np.concatenate([[False], np.diff(group[order]) == 0])
    starts = np.maximum.accumulate(np.where(same, 0, np.arange(len(order))))
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order)) - starts
    return rank


def hypotheses_of(readings: Readings, *, none_prior: float, several_prior: float) -> Hypotheses:
    """Return all there is to think of: no leak, one in each part, two in each pair of parts.

    Parameters
    ----------
    readings : Readings
        With the parts of the string.
    none_prior : float
        Probability of no leak before the readings, [-]
    several_prior : float
        Probability of two leaks before the readings, [-]

    Returns
    -------
    hypotheses : Hypotheses
        Every reading used; what has no prior is left out.

    Notes
    -----
    Two leaks fall into two parts in either order, so those count twice; inside a part the places
    themselves run through both orders.
    """
    count = len(readings.parts) - 1
    first, second = np.triu_indices(count)
    one = np.arange(-1, count)
    single = np.where(one < 0, none_prior, 1.0 - none_prior - several_prior)
    double = several_prior * np.where(first == second, 1.0, 2.0)
    prior = np.concatenate([single, double])
    whole = Hypotheses(
        first=np.concatenate([one, first]),
        second=np.concatenate([np.full(len(one), -1), second]),
        without=np.full(len(prior), -1),
        prior=prior,
    )
    return whole.where(prior > 0.0)


def explored(
    readings: Readings,
    hypotheses: Hypotheses,
    *,
    rows: int,
    loose: float = 1.0,
    enough: float = 0.0,
) -> Points:
    """Return what the readings leave of some hypotheses.

    Parameters
    ----------
    readings : Readings
        In numbers.
    hypotheses : Hypotheses
        What to think of.
    rows : int
        About how many fine draws to make in all, [-]
    loose : float
        Factor on all errors, above 1 only where nothing fits otherwise, [-]
    enough : float
        Explanations of equal weight that must come out, else many more draws are made once, [-]

    Returns
    -------
    points : Points
        Explanations with their posterior weights, not normalised; none when nothing fits.

    Notes
    -----
    Importance sampling at fixed, evenly spread points. The coarse draws have every error three
    times as large; the fine ones stay where the coarse ones found the meter, the shunts and the
    sound insulation, and each hypothesis gets as many as the square root of its coarse weight
    deserves.
    """
    possible = hypotheses.where(_possible(readings, hypotheses, _LOOSE * loose))
    count = len(possible.first)
    share = min(rows, _MOST_WORK // max(1, len(readings.volts))) // max(1, count)
    counts = np.full(count, np.clip(share, _LEAST_COARSE, _MOST_COARSE))
    coarse = _in_chunks(readings, _rows(readings, possible, counts), _LOOSE * loose)
    if not len(coarse.weight):
        return coarse
    mass = np.bincount(coarse.hypothesis, coarse.weight, count)
    wanted = np.sqrt(mass / mass.sum())
    counts = np.clip(rows * wanted / wanted.sum(), _LEAST_FINE, _MOST_FINE).astype(np.int64)
    counts[mass < _NEGLIGIBLE * mass.max()] = 0
    fine = _in_chunks(readings, _narrowed(_rows(readings, possible, counts), coarse), loose)
    if not len(fine.weight) or _effective(fine) >= enough:
        return fine
    counts *= _MORE
    counts[np.bincount(fine.hypothesis, fine.weight, count) == 0.0] = 0
    return _in_chunks(readings, _narrowed(_rows(readings, possible, counts), fine), loose)


def _effective(points: Points) -> float:
    """Count the explanations of equal weight that would scatter as much."""
    return float(points.weight.sum() ** 2 / (points.weight**2).sum())


def _possible(readings: Readings, hypotheses: Hypotheses, loose: float) -> Bools:
    """Whether every reading that sound insulation does not explain has a leak in its section."""
    standing = ~readings.explained_by_sound(loose)
    inside = readings.inside[hypotheses.first] | readings.inside[hypotheses.second]
    left_out = np.arange(len(standing)) == hypotheses.without[:, None]
    return np.asarray((inside | ~standing | left_out).all(axis=1))


def _rows(readings: Readings, hypotheses: Hypotheses, counts: Ints) -> Rows:
    """Give each hypothesis its draws."""
    which = np.repeat(np.arange(len(counts)), counts)
    number = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)
    most = int(counts.max()) if len(counts) else 1
    table = unit_points(most, readings.bench.dimensions())
    each = np.repeat(1.0 / np.maximum(counts, 1), counts)
    return Rows(
        hypothesis=which,
        first=hypotheses.first[which],
        second=hypotheses.second[which],
        without=hypotheses.without[which],
        unit=table[number],
        borders_v=readings.bench.borders_v(table)[number],
        sound_low=np.zeros(len(which)),
        sound_high=np.ones(len(which)),
        weight=hypotheses.prior[which] * each,
    )


def _narrowed(rows: Rows, coarse: Points) -> Rows:
    """Keep the draws of each hypothesis where its coarse ones have left something."""
    columns = list(NUISANCES)
    known = np.column_stack([coarse.unit[:, columns], coarse.sound_share])
    size = int(rows.hypothesis.max()) + 1
    low, high = np.ones((size, known.shape[1])), np.zeros((size, known.shape[1]))
    keep = (coarse.weight > 0.0) & (coarse.hypothesis < size)
    np.minimum.at(low, coarse.hypothesis[keep], known[keep])
    np.maximum.at(high, coarse.hypothesis[keep], known[keep])
    count = np.bincount(coarse.hypothesis[keep], minlength=size)[:, None]
    margin = 0.02 + 3.0 * (high - low) / np.maximum(count, 1) + 0.5 * (count < _FEW)
    low = np.clip(low - margin, 0.0, 1.0)[rows.hypothesis]
    high = np.clip(high + margin, 0.0, 1.0)[rows.hypothesis]
    unit = rows.unit.copy()
    unit[:, columns] = low[:, :-1] + (high - low)[:, :-1] * unit[:, columns]
    return replace(
        rows,
        unit=unit,
        sound_low=low[:, -1],
        sound_high=high[:, -1],
        weight=rows.weight * (high - low)[:, :-1].prod(axis=1),
    )


def _in_chunks(readings: Readings, rows: Rows, loose: float) -> Points:
    """Weigh draws, not too many at a time, each kind by itself."""
    step = max(1_000, _MOST_ELEMENTS // max(1, len(readings.volts)))
    paired, apart = rows.second >= 0, apart_of(readings, rows)
    parts = [points_of(readings, rows.where(np.zeros(0, dtype=np.int64)), loose)]
    for some in map(np.flatnonzero, (~paired, paired & apart, paired & ~apart)):
        parts.extend(
            points_of(readings, rows.where(some[start : start + step]), loose)
            for start in range(0, len(some), step)
        )
    return Points.joined(parts)
