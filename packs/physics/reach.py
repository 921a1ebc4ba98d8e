"""Boxes of explanations and the potentials that the readings leave to them.

Here: interval bounds over a box of conductances, exact where the box is a point, and the area of
the places left to one leak or two. Not here: which boxes are looked at (posterior.py) and what the
readings demand (string_frame.py).
"""

from dataclasses import dataclass, fields

import numpy as np

from packs.physics.string_frame import Bools, Constraints, Floats, Ints, StringFrame


@dataclass(frozen=True, slots=True)
class Boxes:
    """Boxes of explanations: a pair of modules, and intervals of log g1, log g2, log sound.

    With one leak the second module is -1 and its interval is empty of meaning.
    """

    first: Ints
    second: Ints
    low: Floats
    high: Floats

    def where(self, keep: Bools | Ints) -> "Boxes":
        """Return some of the boxes."""
        return Boxes(self.first[keep], self.second[keep], self.low[keep], self.high[keep])


@dataclass(frozen=True, slots=True)
class Reach:
    """Potentials that the readings leave to each box, leak by leak and for their mean."""

    first_low: Floats
    first_high: Floats
    second_low: Floats
    second_high: Floats
    mean_low: Floats
    mean_high: Floats
    share_low: Floats
    share_high: Floats

    def where(self, keep: Bools) -> "Reach":
        """Return some of the rows."""
        return Reach(**{each.name: getattr(self, each.name)[keep] for each in fields(self)})

    def feasible(self) -> Bools:
        """Return whether any explanation in the box may survive."""
        single = (self.first_low < self.first_high) & (self.second_low < self.second_high)
        lows = [s * self.first_low + (1.0 - s) * self.second_low for s in self._shares()]
        highs = [s * self.first_high + (1.0 - s) * self.second_high for s in self._shares()]
        meets = (np.minimum(*lows) < self.mean_high) & (np.maximum(*highs) > self.mean_low)
        return single & meets & (self.mean_low < self.mean_high)

    def _shares(self) -> tuple[Floats, Floats]:
        """Return the ends of the first leak's share of the conductance."""
        return self.share_low, self.share_high


@dataclass(frozen=True, slots=True)
class Demands:
    """What each reading (column) demands of the leaks of each box (row)."""

    has_first: Bools
    has_second: Bools
    g_low: Floats
    g_high: Floats
    below: Floats
    above: Floats
    bottom_v: Floats
    top_v: Floats


def demands_of(constraints: Constraints, boxes: Boxes) -> Demands:
    """Return bounds of every reading's interval of potential over each box.

    Parameters
    ----------
    constraints : Constraints
        What the readings demand.
    boxes : Boxes
        Where the conductances lie.

    Returns
    -------
    demands : Demands
        Box by reading; a reading without a leak in its section demands nothing here.

    Notes
    -----
    `Constraints` is linear in one over the leaks' conductance and in the sound conductance, so its
    extremes over a box lie at the box's corners.
    """
    inside = constraints.inside.T
    has_first = inside[boxes.first]
    has_second = inside[boxes.second] & (boxes.second >= 0)[:, None]
    low, high = np.exp(boxes.low)[:, :, None], np.exp(boxes.high)[:, :, None]
    g_low = np.where(has_first, low[:, 0], 0.0) + np.where(has_second, low[:, 1], 0.0)
    g_high = np.where(has_first, high[:, 0], 0.0) + np.where(has_second, high[:, 1], 0.0)
    untouched = ~(has_first | has_second)
    g_low[untouched], g_high[untouched] = 1.0, 1.0
    ends = constraints.low_b * low[:, 2], constraints.low_b * high[:, 2]
    below = np.minimum(*ends) + constraints.low_0
    ends = constraints.high_b * low[:, 2], constraints.high_b * high[:, 2]
    above = np.maximum(*ends) + constraints.high_0
    return Demands(
        has_first=has_first,
        has_second=has_second,
        g_low=g_low,
        g_high=g_high,
        below=below,
        above=above,
        bottom_v=constraints.low_v + np.minimum(below / g_low, below / g_high),
        top_v=constraints.high_v + np.maximum(above / g_low, above / g_high),
    )


def reach_of(frame: StringFrame, demands: Demands, boxes: Boxes) -> Reach:
    """Return the potentials left to each box, leak by leak and for the weighted mean of two.

    Parameters
    ----------
    frame : StringFrame
        The modules.
    demands : Demands
        What each reading demands of each box.
    boxes : Boxes
        The boxes themselves.

    Returns
    -------
    reach : Reach
        Intersections of the readings' intervals and the modules' own ends.

    Notes
    -----
    A reading whose section holds one of the two leaks bounds that leak's potential; one whose
    section holds both bounds their mean, weighted by conductance.
    """
    low, high = np.exp(boxes.low), np.exp(boxes.high)
    paired = boxes.second >= 0
    only_first = demands.has_first & ~demands.has_second
    only_second = demands.has_second & ~demands.has_first
    both = demands.has_first & demands.has_second
    top = np.where(paired, frame.ends_v[boxes.second + 1], 1.0)
    bottom = np.where(paired, frame.ends_v[boxes.second], 0.0)
    return Reach(
        first_low=np.maximum(_highest(demands.bottom_v, only_first), frame.ends_v[boxes.first]),
        first_high=np.minimum(_lowest(demands.top_v, only_first), frame.ends_v[boxes.first + 1]),
        second_low=np.maximum(_highest(demands.bottom_v, only_second), bottom),
        second_high=np.minimum(_lowest(demands.top_v, only_second), top),
        mean_low=_highest(demands.bottom_v, both),
        mean_high=_lowest(demands.top_v, both),
        share_low=np.where(paired, low[:, 0] / (low[:, 0] + high[:, 1]), 1.0),
        share_high=np.where(paired, high[:, 0] / (high[:, 0] + low[:, 1]), 1.0),
    )


def slack_of(
    frame: StringFrame, constraints: Constraints, demands: Demands, boxes: Boxes
) -> Floats:
    """Return how far the intervals move across each box along each of its axes.

    Parameters
    ----------
    frame : StringFrame
        The modules.
    constraints : Constraints
        What the readings demand.
    demands : Demands
        The same, box by box.
    boxes : Boxes
        The boxes themselves.

    Returns
    -------
    slack : ndarray
        Box by axis: the largest movement as a share of the interval's own width, [-]

    Notes
    -----
    Differences over the box of the numerator over the leaks' conductance, and for two leaks in one
    section of their weighted mean. A guide for halving, not a bound.
    """
    low, high = np.exp(boxes.low)[:, :, None], np.exp(boxes.high)[:, :, None]
    touched = demands.has_first | demands.has_second
    width_v = constraints.high_v - constraints.low_v
    width_v = width_v + (constraints.high_0 - constraints.low_0) / demands.g_high
    swing = np.maximum(np.abs(demands.below), np.abs(demands.above))
    swing = swing / (demands.g_low * demands.g_high)
    apart_v = frame.ends_v[boxes.second + 1] - frame.ends_v[boxes.first]
    both = demands.has_first & demands.has_second
    tilt = np.where(both, apart_v[:, None], 0.0) / demands.g_high**2
    slope = np.maximum(np.abs(constraints.low_b), np.abs(constraints.high_b))
    moves = (
        demands.has_first * (high[:, 0] - low[:, 0]) * (swing + tilt * high[:, 1]),
        demands.has_second * (high[:, 1] - low[:, 1]) * (swing + tilt * high[:, 0]),
        touched * (high[:, 2] - low[:, 2]) * slope / demands.g_high,
    )
    return np.stack([(move / width_v).max(axis=1) for move in moves], axis=1)


def _highest(values: Floats, keep: Bools) -> Floats:
    """Largest kept value of each row, minus infinity for none."""
    return np.asarray(np.where(keep, values, -np.inf).max(axis=1))


def _lowest(values: Floats, keep: Bools) -> Floats:
    """Smallest kept value of each row, infinity for none."""
    return np.asarray(np.where(keep, values, np.inf).min(axis=1))


def places_of(reach: Reach) -> Floats:
    """Return the measure of the places left to the leaks.

    Parameters
    ----------
    reach : Reach
        Of boxes that are points.

    Returns
    -------
    places : ndarray
        Area for two leaks, length for one, [V2] or [V]

    Notes
    -----
    A rectangle (an interval for each leak), cut by the diagonal strip of their weighted mean: with
    ``x = s (V1 - low1)`` and ``y = (1 - s)(V2 - low2)`` the area below ``x + y = z`` is half of
    ``z^2 - (z - w)^2 - (z - h)^2``, each square only where its base is positive.
    """
    share = reach.share_low
    rest = 1.0 - share
    wide = share * (reach.first_high - reach.first_low)
    tall = rest * (reach.second_high - reach.second_low)
    corner = share * reach.first_low + rest * reach.second_low
    plain = (reach.first_high - reach.first_low) * (reach.second_high - reach.second_low)

    def below(edge: Floats) -> Floats:
        depth = np.clip(edge - corner, 0.0, wide + tall)
        parts = depth**2 - np.maximum(depth - wide, 0.0) ** 2 - np.maximum(depth - tall, 0.0) ** 2
        return np.asarray(0.5 * parts)

    with np.errstate(divide="ignore", invalid="ignore"):
        cut = (below(reach.mean_high) - below(reach.mean_low)) / (share * rest)
    free = np.isinf(reach.mean_low) | (rest == 0.0)
    return np.where(free, plain, np.maximum(cut, 0.0))


def narrowed(reach: Reach, *, first: bool) -> tuple[Floats, Floats]:
    """Return the potentials of one leak that leave room for the other.

    Parameters
    ----------
    reach : Reach
        Of boxes that are points.
    first : bool
        Which of the two leaks.

    Returns
    -------
    low_v, high_v : tuple of ndarray
        Ends of its interval, [V]

    Notes
    -----
    The other leak's ends are put into the strip of the weighted mean.
    """
    share = reach.share_low if first else 1.0 - reach.share_low
    own = (reach.first_low, reach.first_high) if first else (reach.second_low, reach.second_high)
    other = (reach.second_low, reach.second_high) if first else (reach.first_low, reach.first_high)
    with np.errstate(divide="ignore", invalid="ignore"):
        low = (reach.mean_low - (1.0 - share) * other[1]) / share
        high = (reach.mean_high - (1.0 - share) * other[0]) / share
    return np.fmax(own[0], low), np.fmin(own[1], high)
