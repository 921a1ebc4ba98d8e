"""Each cell's resistance from the steps of the current.

Here: which steps are sharp, the regression, its interval. Not here: which cell stands out
(cycle_flags.py).
"""

import math
from dataclasses import dataclass

import numpy as np

from packs.physics.cycle_case import Floats
from packs.physics.cycle_channels import Channels, Rows
from packs.physics.cycle_phases import GAIN_SHARE, SECONDS_PER_HOUR, SHARP_SHARE, Phases
from packs.physics.instrument import half_width_95

SLOW_S = (15.0, 60.0, 240.0)
"""Time constants that stand for whatever relaxes between two rows."""
LEAST_STEP_A = 0.5
FEWEST_STEPS = 2
STEPS_PER_TERM = 6
MOST_KNOTS = 10
STEPS_PER_KNOT = 20
SPARSE_SHARE = 0.1
"""Half-width when too few steps show what relaxes: shop default, no source."""
OUTLIER = 4.0
ROUNDS = 2
FADED = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class Resistances:
    """What the steps of the current showed.

    Parameters
    ----------
    ohm : ndarray
        Of each cell, [ohm]
    own_u_ohm : ndarray
        Standard deviation of each cell's own error, the shared ones left out, [ohm]
    half_ohm : ndarray
        Half of the 95 % interval of each cell, [ohm]
    steps : int
        Sharp steps used.
    """

    ohm: Floats
    own_u_ohm: Floats
    half_ohm: Floats
    steps: int


def resistances_of(channels: Channels, phases: Phases) -> Resistances | None:
    """Return each cell's resistance from the sharp steps of the current.

    Parameters
    ----------
    channels : Channels
        Without holes.
    phases : Phases
        The current, offset taken out.

    Returns
    -------
    resistances : Resistances | None
        None with fewer than two sharp steps.

    Notes
    -----
    ``dV = R dI + sum_k a_k df_k + dU(q)`` over all rows between which the current changes by more
    than 5 % of its largest, least squares, the same terms for every cell: ``f_k`` is the current
    before the step, slowed by 15, 60 and 240 s, ``U(q)`` a broken line over the charge counted. A
    current is taken to hold from its row to the next, as where current and cells are read at once:
    then ``R`` is the drop at the moment of the step. Where it switches in between, ``R`` also has
    what relaxes within a row, alike for all cells. Residuals beyond four standard deviations are
    cut. Neighbouring steps share a reading; the variance counts readings, not steps. The current's
    gain is shared by all cells, rectangular 1 %. Too few steps for the slow terms: 10 % more (shop
    default). Source: JCGM 100:2008, clause 5, for the errors.
    """
    change_a = np.diff(phases.current_a)
    least_a = max(SHARP_SHARE * phases.largest_a, LEAST_STEP_A)
    places = np.flatnonzero((np.abs(change_a) > least_a) & ~channels.gap)
    if places.size < FEWEST_STEPS:
        return None
    terms, whole = _terms(channels, phases, places)
    change_v = channels.cell_v[places + 1] - channels.cell_v[places]
    base, triangle = np.linalg.qr(terms)
    weights = np.asarray(np.linalg.pinv(triangle) @ base.T, dtype=np.float64)
    sigma_v = np.full(change_v.shape[1], channels.noise_v)
    freedom = _freedom(terms, weights, places)
    fitted_v, cut_v = terms @ (weights @ change_v), change_v
    for _ in range(ROUNDS if freedom > 1.0 else 0):
        left_v = change_v - fitted_v
        own_v = np.sqrt(np.median(left_v**2, axis=0) / 0.455) * math.sqrt(places.size / freedom)
        cut_v = fitted_v + np.clip(left_v, -OUTLIER * own_v * 1.5, OUTLIER * own_v * 1.5)
        fitted_v = terms @ (weights @ cut_v)
        sigma_v = np.sqrt(((cut_v - fitted_v) ** 2).sum(axis=0) / freedom)
    ohm = (weights @ cut_v)[0]
    pooled_v = max(float(np.median(sigma_v)), channels.noise_v)
    sigma_v = np.where(sigma_v > 1.5 * pooled_v, sigma_v, pooled_v)
    own_u = sigma_v * math.sqrt(_readings(weights[0], places, channels.time_s.size))
    sparse = 0.0 if whole else SPARSE_SHARE
    half = [
        half_width_95([GAIN_SHARE * float(r), sparse * float(r)], float(u))
        for r, u in zip(ohm, own_u, strict=True)
    ]
    return Resistances(ohm=ohm, own_u_ohm=own_u, half_ohm=np.array(half), steps=places.size)


def _terms(channels: Channels, phases: Phases, places: Rows) -> tuple[Floats, bool]:
    """Return the terms of the regression, and whether all that should be there are."""
    change_a = np.diff(phases.current_a)[places]
    columns = [change_a]
    room = places.size // STEPS_PER_TERM - 1
    knots = int(min(MOST_KNOTS, max(1, room - len(SLOW_S)), 1 + places.size // STEPS_PER_KNOT))
    if room >= 1:
        held_ah = np.cumsum(phases.current_a[:-1] * np.diff(phases.time_s)) / SECONDS_PER_HOUR
        columns += _slopes(np.concatenate(([0.0], held_ah)), places, knots)
    slow = [tau_s for tau_s in SLOW_S if tau_s > 0.4 * channels.step_s]
    for tau_s in sorted(slow, key=lambda tau_s: abs(math.log(tau_s / 60.0)))[: max(0, room - 1)]:
        slowed_a = _slowed(phases.time_s, phases.current_a, tau_s)
        columns.append(slowed_a[places + 1] - slowed_a[places])
    scaled = np.column_stack([column / max(np.abs(column).max(), 1e-12) for column in columns])
    scaled[:, 0] = change_a
    return scaled, room > len(slow)


def _slopes(count_ah: Floats, places: Rows, knots: int) -> list[Floats]:
    """Return what each step moves along a broken line over the charge counted."""
    low_ah, high_ah = float(count_ah.min()), float(count_ah.max())
    if not high_ah > low_ah:
        return []
    at = np.linspace(low_ah, high_ah, knots + 1)
    found = []
    for knot in range(1, knots + 1):
        hat = np.zeros(knots + 1)
        hat[knot] = 1.0
        before, after = (
            np.interp(count_ah[places], at, hat),
            np.interp(count_ah[places + 1], at, hat),
        )
        if np.any(before != after):
            found.append(after - before)
    return found


def _slowed(time_s: Floats, current_a: Floats, tau_s: float) -> Floats:
    """Return the current before each row as a first-order lag would show it."""
    keep = np.concatenate(([0.0], np.exp(-np.diff(time_s) / tau_s)))
    value = np.concatenate(([0.0], (1.0 - keep[1:]) * current_a[:-1]))
    reach = 1
    # Each round joins spans twice as long; what is older than all spans has faded.
    while reach < value.size and keep.max() > FADED:
        value[reach:] = value[reach:] + keep[reach:] * value[:-reach]
        keep[reach:] = keep[reach:] * keep[:-reach]
        keep[:reach] = 0.0
        reach *= 2
    return value


def _freedom(terms: Floats, weights: Floats, places: Rows) -> float:
    """Return by what the squared residuals must be divided to give a reading's variance.

    With D from readings to steps and M what the fit leaves: the trace of M D D' M.
    """
    next_to = np.flatnonzero(np.diff(places) == 1)

    def shared(columns: Floats) -> Floats:
        product = 2.0 * columns
        product[next_to] -= columns[next_to + 1]
        product[next_to + 1] -= columns[next_to]
        return product

    return 2.0 * places.size - float(np.trace(weights @ shared(terms)))


def _readings(step_weights: Floats, places: Rows, rows: int) -> float:
    """Return the sum of squared weights of the readings behind the steps."""
    weights = np.zeros(rows)
    np.add.at(weights, places + 1, step_weights)
    np.subtract.at(weights, places, step_weights)
    return float((weights**2).sum())
