"""Which module leaks? The posterior of the readings, put into a verdict and words.

Here: the calculation itself and its verdicts. Its records are in localise_case.py, the string in
string_frame.py, the posterior in posterior.py, its sums in evidence.py, wrong readings in
localise_doubt.py, the next readings in proposals.py and the words in localise_warnings.py.
"""

from dataclasses import replace

import numpy as np

from packs.physics.evidence import (
    HIDDEN_OHM,
    Evidence,
    evidence_of,
    hardest_leak,
    leaks_found,
)
from packs.physics.localise_case import (
    Leak,
    LocaliseCase,
    LocaliseResult,
    LocaliseVerdict,
    Module,
    ModuleProbability,
    NextReading,
    Place,
    Reading,
)
from packs.physics.localise_doubt import beyond, doubt_of
from packs.physics.localise_points import Points, Readings
from packs.physics.localise_warnings import unit_warnings, warnings_of
from packs.physics.posterior import explored, hypotheses_of, readings_of
from packs.physics.proposals import next_readings
from packs.physics.string_frame import StringFrame, frame_of

__all__ = [
    "Leak",
    "LocaliseCase",
    "LocaliseResult",
    "Module",
    "ModuleProbability",
    "NextReading",
    "Place",
    "Reading",
    "localise",
]

_MOST_NARROWED = 3
_DOUBT = 0.02
_EVEN_PRIOR = 0.49
_ROWS, _ENOUGH = 3_000, 150.0
_EVENS = 0.5


def localise(case: LocaliseCase) -> LocaliseResult:
    """Return which module leaks, how sure that is, and what to read next.

    Parameters
    ----------
    case : LocaliseCase
        String, meter, readings and priors.

    Returns
    -------
    result : LocaliseResult
        Verdict, probabilities, size and place of the leaks, next readings, [ohm], [-]

    Raises
    ------
    CalculationRefused
        When the case contradicts itself; the path names the field.

    Notes
    -----
    Bayes' rule over none, one and two leaks on the section circuit (Kirchhoff's laws): leak size
    log-uniform from 100 ohm to 10 megohm, place uniform over the cells weighted by `prior`, sound
    insulation of the whole string log-uniform from 10 megohm to 1 gigohm (better with 2 %) and
    even over the cells, reading errors rectangular (JCGM 100:2008, clause 4.3.7). Thresholds of
    the verdicts: shop default, no source.

    Examples
    --------
    Eight modules, a leak in the second, read on both sides of the open disconnect after M4:

    >>> from packs.physics.instrument import Meter
    >>> case = LocaliseCase(
    ...     modules=tuple(Module(name=f"M{n}", cells=12) for n in range(1, 9)),
    ...     cell_v=3.7,
    ...     meter=Meter(input_ohm=1.0e7),
    ...     readings=(
    ...         Reading(module="M4", pole="pos", open_after=("M4",), volts=109.9),
    ...         Reading(module="M4", pole="pos", open_after=("M4",), shunt_ohm=1e6, volts=100.0),
    ...         Reading(module="M5", pole="neg", open_after=("M4",), volts=-4.2),
    ...         Reading(module="M5", pole="neg", open_after=("M4",), shunt_ohm=1e6, volts=-0.40),
    ...     ),
    ... )
    >>> result = localise(case)
    >>> str(result.verdict), result.modules[0].name, result.confirmed
    ('named', 'M2', False)
    >>> result.leak_ohm_low < 100.0e3 < result.leak_ohm_high
    True
    """
    frame = frame_of(case)
    readings = readings_of(case, frame)
    left = _posterior(case, readings)
    doubt = doubt_of(case, frame, readings, left)
    inconsistent = doubt.probability > _EVENS
    if inconsistent:
        left = _posterior(case, readings, without=doubt.column, loose=doubt.loose)
    doubt = beyond(case, frame, readings, left) or doubt
    inconsistent, accused = doubt.probability > _EVENS, doubt.likeliest()
    evidence = evidence_of(frame, left)
    verdict = _verdict(evidence, inconsistent=inconsistent)
    confirmed = verdict == "named" and _confirmed(case, frame, readings, left, evidence)
    proposals: tuple[NextReading, ...] = ()
    if case.propose and not confirmed:
        named = verdict == "named"
        rivals = _pairs_even(case, readings, left) if named else left
        proposals = next_readings(case, frame, rivals, evidence, named=named, doubt=doubt)
    hardest = hardest_leak(frame, left)
    result = LocaliseResult(
        verdict=verdict,
        confirmed=confirmed,
        modules=tuple(
            ModuleProbability(name=frame.names[each], probability=float(evidence.modules[each]))
            for each in evidence.ranked()
        ),
        likely=tuple(frame.names[each] for each in evidence.likely()),
        leaks=leaks_found(frame, left, evidence.found(), several=evidence.is_pair()),
        several_leaks_probability=evidence.several,
        hand_rule_module=_hand_rule(case, frame),
        next_readings=proposals,
        inconsistent=inconsistent,
        suspect_reading=accused.reading if inconsistent and accused else None,
        suspect_because=accused.because if inconsistent and accused else None,
        suspects=doubt.suspects,
        warnings=(),
    )
    warnings = warnings_of(case, result, evidence, doubt) + unit_warnings(case, frame)
    result = replace(result, warnings=warnings)
    return result if hardest is None else _with_hardest(result, hardest)


def _with_hardest(result: LocaliseResult, hardest: Leak) -> LocaliseResult:
    """Put the most conductive leak's size and place beside the verdict."""
    return replace(
        result,
        leak_ohm=hardest.leak_ohm,
        leak_ohm_low=hardest.leak_ohm_low,
        leak_ohm_high=hardest.leak_ohm_high,
        position_cells=hardest.position_cells,
        position_cells_low=hardest.position_cells_low,
        position_cells_high=hardest.position_cells_high,
    )


def _posterior(
    case: LocaliseCase,
    readings: Readings,
    *,
    without: int | None = None,
    several_prior: float | None = None,
    loose: float = 1.0,
) -> Points:
    """Explain the readings, or all but one of them."""
    hypotheses = hypotheses_of(
        readings,
        none_prior=case.none_prior,
        several_prior=case.several_prior if several_prior is None else several_prior,
    )
    if without is not None:
        count = len(hypotheses.first)
        hypotheses = hypotheses.without_each(np.arange(count), np.full(count, without))
    return explored(readings, hypotheses, rows=_ROWS, loose=loose, enough=_ENOUGH)


def _verdict(evidence: Evidence, *, inconsistent: bool) -> LocaliseVerdict:
    """Name, narrow, or neither."""
    if inconsistent:
        return "undecided"
    if evidence.none > 0.0 and not evidence.hides:
        return "no_leak"
    if evidence.names_them():
        return "named"
    if evidence.none < _DOUBT and len(evidence.likely()) <= _MOST_NARROWED:
        return "narrowed"
    return "undecided"


def _pairs_even(case: LocaliseCase, readings: Readings, left: Points) -> Points:
    """Count pairs of leaks as likely as one leak: what confirmation has to hold against."""
    if case.several_prior == 0.0:
        return _posterior(case, readings, several_prior=_EVEN_PRIOR)
    one = 1.0 - case.none_prior - case.several_prior
    factor = np.where(left.second >= 0, one / case.several_prior, 1.0)
    return replace(left, weight=left.weight * factor)


def _confirmed(
    case: LocaliseCase,
    frame: StringFrame,
    readings: Readings,
    left: Points,
    evidence: Evidence,
) -> bool:
    """Whether readings beside open links leave no other explanation, pairs counted as likely.

    Each named module must have been read in a section that begins with it and in one that ends
    with it; one reading of the module alone is both.
    """
    found = evidence.found()
    sections = [frame.section(each, each.open_after) for each in case.readings]
    for module in found:
        from_below = any(first == module < end for first, end in sections)
        from_above = any(first <= module == end - 1 for first, end in sections)
        if not (from_below and from_above):
            return False
    left = _pairs_even(case, readings, left)
    alone = np.isin(left.first, found) & (np.isin(left.second, found) | (left.second < 0))
    weak = 1.0 / HIDDEN_OHM
    elsewhere = (~np.isin(left.first, found) & (left.first_g > weak)) | (
        ~np.isin(left.second, found) & (left.second_g > weak)
    )
    missing = np.zeros(len(left.first), dtype=np.bool_)
    for module in found:
        missing |= (left.first != module) & (left.second != module)
    total = left.weight.sum()
    return bool(left.weight[missing | (elsewhere & ~alone)].sum() <= _DOUBT * total)


def _hand_rule(case: LocaliseCase, frame: StringFrame) -> str | None:
    """Name the module that dividing the largest unshunted reading by the cell voltage would."""
    plain = [each for each in case.readings if each.shunt_ohm is None]
    if not plain:
        return None
    largest = max(plain, key=lambda each: abs(each.volts))
    potential_v = frame.ends_v[frame.node(largest)] - largest.volts
    module = int(np.searchsorted(frame.ends_v, potential_v, side="right")) - 1
    return frame.names[min(max(module, 0), len(frame.names) - 1)]
