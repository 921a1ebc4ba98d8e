"""Are the readings all right? Wrong readings weighed against leaks.

Here: the evidence for every single reading being wrong in one of the usual ways, against the
evidence for all of them being right. Not here: the ways themselves (localise_mistakes.py) and what
is made of the answer (localise.py).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from packs.physics.instrument import Message
from packs.physics.localise_case import LocaliseCase, Suspect
from packs.physics.localise_draws import surroundings_of
from packs.physics.localise_mistakes import (
    WRONG_PRIOR,
    Slip,
    figures_of,
    slips_of,
    spots_of_slips,
)
from packs.physics.localise_points import Points, Readings
from packs.physics.localise_spots import spots_of
from packs.physics.posterior import explored, hypotheses_of
from packs.physics.string_frame import Floats, StringFrame

DOUBTFUL = 0.1
"""Probability of a wrong reading from which it is said, shop default, no source, [-]."""
WORTH_NAMING = 0.02
"""Probability from which a reading is among the suspects, shop default, no source, [-]."""
_EVENS = 0.5
_CLEAR = 0.02
_FEW_ROWS, _ROWS = 1_000, 4_000
_FAR = 3.0
_LOOSER = (2.0, 5.0, 20.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """How likely a reading is wrong.

    Parameters
    ----------
    probability : float
        That some reading is wrong, [-]
    column : int or None
        The likeliest one among the readings that are weighed, None when no one stands out, [-]
    suspects : tuple of Suspect
        All that are worth naming, likeliest first.
    loose : float
        Factor on all errors that had to be allowed before anything fitted, [-]
    """

    probability: float
    column: int | None = None
    suspects: tuple[Suspect, ...] = ()
    loose: float = 1.0

    def likeliest(self) -> Suspect | None:
        """Return the likeliest suspect.

        Returns
        -------
        suspect : Suspect or None
            None when no one stands out.
        """
        return self.suspects[0] if self.suspects else None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Effort:
    """How many draws to make, whether to think of pairs, and a factor on all errors."""

    rows: int
    paired: bool = False
    loose: float = 1.0


def doubt_of(
    case: LocaliseCase, frame: StringFrame, readings: Readings, all_right: Points
) -> Doubt:
    """Return how likely a reading is wrong, and which.

    Parameters
    ----------
    case : LocaliseCase
        The input.
    frame : StringFrame
        Its string.
    readings : Readings
        The same in numbers.
    all_right : Points
        What explains all readings as they are.

    Returns
    -------
    doubt : Doubt
        No suspect where two or more readings must be wrong.

    Notes
    -----
    Bayes' rule: the evidence of "one leak or none, reading k wrong" is the prior measure of what
    all other readings leave, times the probability that a slip shows what was written down for k.
    Pairs of leaks are tried beside a wrong reading only where one leak does not explain the rest.
    """
    right = float(all_right.weight.sum())
    single = float(all_right.weight[all_right.second < 0].sum())
    prior = WRONG_PRIOR / (1.0 - WRONG_PRIOR)
    best = _best_slips(case, frame, readings, _Effort(rows=_FEW_ROWS))
    wrong = prior * sum(mass for mass, _ in best)
    if wrong > _CLEAR * right:
        best = _best_slips(case, frame, readings, _Effort(rows=_ROWS))
        wrong = prior * sum(mass for mass, _ in best)
    if case.several_prior > 0.0 and wrong <= right and single <= _EVENS * right:
        best = _best_slips(case, frame, readings, _Effort(rows=_ROWS, paired=True))
    masses = np.array([mass for mass, _ in best]) * prior
    total = right + float(masses.sum())
    if not total > 0.0:
        return _looser(case, frame, readings)
    return _found(readings, best, float(masses.sum()) / total)


def _found(
    readings: Readings, best: list[tuple[float, Message]], probability: float, loose: float = 1.0
) -> Doubt:
    """Name the likeliest wrong readings."""
    masses = np.array([mass for mass, _ in best])
    shares = probability * masses / masses.sum() if masses.sum() > 0.0 else masses
    order = np.argsort(-shares, kind="stable")
    suspects = tuple(
        Suspect(
            reading=int(readings.index[each]),
            probability=float(shares[each]),
            because=best[each][1],
        )
        for each in order
        if shares[each] >= WORTH_NAMING
    )
    column = int(order[0])
    return Doubt(probability=probability, column=column, suspects=suspects, loose=loose)


def _looser(case: LocaliseCase, frame: StringFrame, readings: Readings) -> Doubt:
    """Let all errors grow until a leak and one wrong reading explain the rest."""
    for loose in _LOOSER:
        best = _best_slips(case, frame, readings, _Effort(rows=_FEW_ROWS, loose=loose))
        if sum(mass for mass, _ in best) > 0.0:
            return _found(readings, best, 1.0, loose)
    return Doubt(probability=1.0)


def _best_slips(
    case: LocaliseCase, frame: StringFrame, readings: Readings, effort: _Effort
) -> list[tuple[float, Message]]:
    """Weigh every reading being wrong: its evidence, and the likeliest slip."""
    count = len(readings.volts)
    plain = hypotheses_of(readings, none_prior=case.none_prior, several_prior=case.several_prior)
    plain = plain.where((plain.second < 0) | effort.paired)
    size = len(plain.first)
    each = np.tile(np.arange(size), count)
    left_out = np.repeat(np.arange(count), size)
    hypotheses = plain.without_each(each, left_out)
    points = explored(readings, hypotheses, rows=effort.rows, loose=effort.loose)
    found: list[tuple[float, Message]] = []
    for index in range(count):
        slips = slips_of(case, frame, int(readings.index[index]))
        some = points.where(points.without == index)
        masses = _masses(readings, some, slips, float(readings.volts[index]))
        best = int(masses.argmax())
        found.append((float(masses.sum()), slips[best].because))
    return found


def _masses(readings: Readings, points: Points, slips: Sequence[Slip], volts: float) -> Floats:
    """Evidence of each slip of one reading, over what the other readings leave."""
    shares, shown_v = figures_of(slips)
    spots = spots_of_slips(slips)
    around = surroundings_of(readings.bench, points.unit, points.borders_v, spots)
    frame = readings.bench.frame
    true_v = points.shown_at(around, *points.seen_from(spots))
    fits = readings.display.fit(np.nan_to_num(shown_v), true_v)
    span_v = max(float(frame.ends_v[-1]), abs(volts))
    half_v = readings.display.share * abs(volts) + readings.display.counts_v
    anything = (half_v + 0.5 * readings.display.step_v) / span_v
    fits = np.where(np.isnan(shown_v), anything, fits)
    return np.asarray(shares * (points.weight[:, None] * fits).sum(axis=0))


def beyond(
    case: LocaliseCase, frame: StringFrame, readings: Readings, left: Points
) -> Doubt | None:
    """Return whether a reading that was not weighed disagrees with the answer.

    Parameters
    ----------
    case : LocaliseCase
        The input.
    frame : StringFrame
        Its string.
    readings : Readings
        Those that were weighed.
    left : Points
        What explains them.

    Returns
    -------
    doubt : Doubt or None
        The reading that disagrees most; None when all agree.

    Notes
    -----
    With errors three times as large as the meter's allowance no explanation shows what it shows.
    """
    rest = np.setdiff1d(np.arange(len(case.readings)), readings.index)
    if not len(rest) or not len(left.weight):
        return None
    spots = spots_of(frame, [case.readings[each] for each in rest])
    around = surroundings_of(readings.bench, left.unit, left.borders_v, spots)
    true_v = left.shown_at(around, *left.seen_from(spots))
    shown_v = np.array([case.readings[each].volts for each in rest])
    off_v = np.average(np.abs(true_v - shown_v), axis=0, weights=left.weight)
    fits = readings.display.fit(shown_v, true_v, _FAR) * left.weight[:, None]
    worst = int(np.where(fits.sum(axis=0) > 0.0, -1.0, off_v).argmax())
    if fits[:, worst].sum() > 0.0:
        return None
    because = Message("unexplained", "The answer from the other readings does not show this.")
    suspect = Suspect(reading=int(rest[worst]), probability=1.0, because=because)
    return Doubt(probability=1.0, suspects=(suspect,))
