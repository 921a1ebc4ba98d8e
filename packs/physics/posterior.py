"""The posterior over none, one and two leaks, by subdividing the space of explanations.

Here: which explanations the readings leave, each with its weight. An explanation is a leaking
module or two, their conductances and the string's sound conductance; where in a module a leak sits
is integrated in closed form. Not here: what to tell people (localise.py), what to read next
(proposals.py).
"""

from dataclasses import dataclass, fields

import numpy as np

from packs.physics.reach import Boxes, demands_of, narrowed, places_of, reach_of, slack_of
from packs.physics.string_frame import Bools, Constraints, Floats, Ints, StringFrame

LEAK_OHM_LOW, LEAK_OHM_HIGH = 100.0, 1.0e7
"""Range of leaks considered, log-uniform, [ohm]; the upper end is where sound insulation begins."""
SOUND_OHM_LOW, SOUND_OHM_HIGH = 1.0e7, 1.0e9
"""Range of the whole string's sound insulation, log-uniform, [ohm]."""
BEST_OHM_HIGH, BEST_PRIOR = 1.0e12, 0.02
"""Insulation better than that range: up to where, [ohm], and how likely before any reading, [-]."""

_LEAK_SPAN = float(np.log(LEAK_OHM_HIGH / LEAK_OHM_LOW))
_SOUND_SPAN = float(np.log(SOUND_OHM_HIGH / SOUND_OHM_LOW))
_BEST_SPAN = float(np.log(BEST_OHM_HIGH / SOUND_OHM_HIGH))
_ONE_SETTLED, _TWO_SETTLED = 0.2, 0.5
"""A box is small enough when no interval moves across it by more than this share of its width."""
_MOST_BOXES = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanations:
    """What the readings leave, one array element an explanation.

    Parameters
    ----------
    first : ndarray
        Leaking module, -1 for none, [-]
    second : ndarray
        Second leaking module, -1 for none; never below the first, [-]
    first_g : ndarray
        Conductance of the first leak, zero for none, [1/ohm]
    second_g : ndarray
        Conductance of the second leak, zero for none, [1/ohm]
    first_low_v : ndarray
        Lowest potential the first leak may have, [V]
    first_high_v : ndarray
        Highest potential the first leak may have, [V]
    second_low_v : ndarray
        Lowest potential the second leak may have, [V]
    second_high_v : ndarray
        Highest potential the second leak may have, [V]
    first_half_log : ndarray
        Half-width of the box in the logarithm of the first conductance, [-]
    second_half_log : ndarray
        Half-width of the box in the logarithm of the second conductance, [-]
    sound : ndarray
        Sound conductance of the whole string, [1/ohm]
    weight : ndarray
        Posterior weight, not normalised, [-]
    """

    first: Ints
    second: Ints
    first_g: Floats
    second_g: Floats
    first_low_v: Floats
    first_high_v: Floats
    second_low_v: Floats
    second_high_v: Floats
    first_half_log: Floats
    second_half_log: Floats
    sound: Floats
    weight: Floats

    def where(self, keep: Bools | Ints) -> "Explanations":
        """Return some of the explanations.

        Parameters
        ----------
        keep : ndarray
            Which: a mask or indices.

        Returns
        -------
        some : Explanations
            Those, weights unchanged.
        """
        return Explanations(**{each.name: getattr(self, each.name)[keep] for each in fields(self)})


def explanations_of(
    frame: StringFrame,
    constraints: Constraints,
    *,
    none_prior: float,
    several_prior: float,
) -> Explanations:
    """Return every explanation that the readings leave, with its posterior weight.

    Parameters
    ----------
    frame : StringFrame
        The modules.
    constraints : Constraints
        What the readings demand.
    none_prior : float
        Probability of no leak before the readings, [-]
    several_prior : float
        Probability of two leaks before the readings, [-]

    Returns
    -------
    left : Explanations
        Empty when nothing explains all readings.

    Notes
    -----
    Reading errors are boxes, so the likelihood is constant inside and zero outside and a weight is
    the prior measure of what is left. With the conductances fixed every reading is an interval of
    potential (`Constraints`), so the measure over places is the length of an interval for one leak
    and the area of a rectangle cut by a diagonal strip for two. The conductances are integrated by
    halving boxes and dropping those whose interval bounds already contradict a reading.
    """
    count = len(frame.names)
    one = np.arange(count)
    parts = [_without_leak(constraints, none_prior)]
    boxes = _first_boxes(constraints, one, np.full(count, -1))
    weights = frame.weights * (1.0 - none_prior - several_prior)
    left = _explored(frame, constraints, boxes, settled=_ONE_SETTLED)
    parts.append(_weighed(frame, constraints, left, np.diag(weights)))
    if several_prior > 0.0:
        boxes = _first_boxes(constraints, *np.triu_indices(count))
        pairs = np.outer(frame.weights, frame.weights) * (2.0 - np.eye(count)) * several_prior
        left = _explored(frame, constraints, boxes, settled=_TWO_SETTLED)
        parts.append(_weighed(frame, constraints, left, pairs))
    return Explanations(
        **{
            each.name: np.concatenate([getattr(part, each.name) for part in parts])
            for each in fields(Explanations)
        }
    )


def _sound_range(constraints: Constraints, outside: Bools) -> tuple[Floats, Floats]:
    """Interval of log sound conductance that the readings without a leak leave, per row."""
    below = np.full(outside.shape, 1.0 / SOUND_OHM_LOW)
    above = np.full(outside.shape, 1.0 / BEST_OHM_HIGH)
    for slope, offset in (
        (constraints.low_b, constraints.low_0),
        (-constraints.high_b, -constraints.high_0),
    ):
        # Each demand reads: slope times sound conductance, plus offset, is at most zero.
        with np.errstate(divide="ignore", invalid="ignore"):
            edge = np.where(slope == 0.0, np.where(offset > 0.0, np.inf, -np.inf), -offset / slope)
        below = np.where(outside & (slope > 0.0), np.minimum(below, edge), below)
        above = np.where(outside & (slope <= 0.0), np.maximum(above, edge), above)
    low, high = above.max(axis=1), below.min(axis=1)
    empty = low >= high
    low, high = np.where(empty, 1.0, low), np.where(empty, 1.0, high)
    return np.log(low), np.log(high)


def _sound_share(low: Floats, high: Floats) -> Floats:
    """Prior probability of an interval of log sound conductance."""
    border, end = -np.log(SOUND_OHM_HIGH), -np.log(SOUND_OHM_LOW)
    usual = np.clip(high, border, end) - np.clip(low, border, end)
    better = np.minimum(high, border) - np.minimum(low, border)
    share = (1.0 - BEST_PRIOR) * usual / _SOUND_SPAN + BEST_PRIOR * better / _BEST_SPAN
    return np.asarray(share)


def _without_leak(constraints: Constraints, prior: float) -> Explanations:
    """Explain everything by sound insulation."""
    low, high = _sound_range(constraints, np.ones((1, len(constraints.low_v)), dtype=np.bool_))
    none, zero = np.array([-1]), np.zeros(1)
    whole = Explanations(
        first=none,
        second=none,
        first_g=zero,
        second_g=zero,
        first_low_v=zero,
        first_high_v=zero,
        second_low_v=zero,
        second_high_v=zero,
        first_half_log=zero,
        second_half_log=zero,
        sound=np.exp(0.5 * (low + high)),
        weight=prior * _sound_share(low, high),
    )
    return whole.where(whole.weight > 0.0)


def _first_boxes(constraints: Constraints, first: Ints, second: Ints) -> Boxes:
    """One box a pair of modules, its sound conductance already fixed by the leakless readings."""
    inside = constraints.inside.T
    outside = ~(inside[first] | (inside[second] & (second >= 0)[:, None]))
    sound_low, sound_high = _sound_range(constraints, outside)
    leak_low = np.full(len(first), -np.log(LEAK_OHM_HIGH))
    leak_high = np.full(len(first), -np.log(LEAK_OHM_LOW))
    boxes = Boxes(
        first,
        second,
        np.stack([leak_low, leak_low, sound_low], axis=1),
        np.stack([leak_high, leak_high, sound_high], axis=1),
    )
    return boxes.where(sound_low < sound_high)


def _explored(
    frame: StringFrame, constraints: Constraints, boxes: Boxes, *, settled: float
) -> Boxes:
    """Halve boxes where it matters and drop the impossible ones."""
    done: list[Boxes] = []
    kept = 0
    while len(boxes.first) and kept + len(boxes.first) <= _MOST_BOXES:
        demands = demands_of(constraints, boxes)
        feasible = reach_of(frame, demands, boxes).feasible()
        slack = slack_of(frame, constraints, demands, boxes)
        small = slack.max(axis=1) < settled
        done.append(boxes.where(feasible & small))
        kept += len(done[-1].first)
        going = feasible & ~small
        boxes = _halved(boxes.where(going), slack[going].argmax(axis=1))
    done.append(boxes)
    return Boxes(
        np.concatenate([each.first for each in done]),
        np.concatenate([each.second for each in done]),
        np.concatenate([each.low for each in done]),
        np.concatenate([each.high for each in done]),
    )


def _halved(boxes: Boxes, axis: Ints) -> Boxes:
    """Cut every box in two along its own axis."""
    rows = np.arange(len(axis))
    middle = 0.5 * (boxes.low[rows, axis] + boxes.high[rows, axis])
    low, high = boxes.low.copy(), boxes.high.copy()
    low[rows, axis] = middle
    high[rows, axis] = middle
    return Boxes(
        np.concatenate([boxes.first, boxes.first]),
        np.concatenate([boxes.second, boxes.second]),
        np.concatenate([boxes.low, low]),
        np.concatenate([high, boxes.high]),
    )


def _weighed(
    frame: StringFrame, constraints: Constraints, boxes: Boxes, prior: Floats
) -> Explanations:
    """Weigh each box by its prior measure, with the places integrated at its middle."""
    middle = 0.5 * (boxes.low + boxes.high)
    points = Boxes(boxes.first, boxes.second, middle, middle)
    reach = reach_of(frame, demands_of(constraints, points), points)
    keep = reach.feasible()
    boxes, points = boxes.where(keep), points.where(keep)
    reach = reach.where(keep)
    paired = points.second >= 0
    volume = (boxes.high - boxes.low) / _LEAK_SPAN
    volume[~paired, 1] = 1.0
    volume[:, 2] = _sound_share(boxes.low[:, 2], boxes.high[:, 2])
    first_v = np.diff(frame.ends_v)[points.first]
    second_v = np.where(paired, np.diff(frame.ends_v)[points.second], 1.0)
    weight = volume.prod(axis=1) * places_of(reach) / (first_v * second_v)
    g = np.exp(middle[keep])
    first_low, first_high = narrowed(reach, first=True)
    second_low, second_high = narrowed(reach, first=False)
    return Explanations(
        first=points.first,
        second=points.second,
        first_g=g[:, 0],
        second_g=np.where(paired, g[:, 1], 0.0),
        first_low_v=first_low,
        first_high_v=first_high,
        second_low_v=second_low,
        second_high_v=second_high,
        first_half_log=0.5 * (boxes.high - boxes.low)[:, 0],
        second_half_log=0.5 * (boxes.high - boxes.low)[:, 1],
        sound=g[:, 2],
        weight=weight * prior[points.first, np.where(paired, points.second, points.first)],
    ).where(weight > 0.0)
