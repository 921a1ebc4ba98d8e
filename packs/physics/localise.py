"""Which module leaks? The posterior of the readings, put into a verdict and words.

Here: the calculation itself and its verdicts. Its records are in localise_case.py, the string in
string_frame.py, the posterior in posterior.py (with reach.py), its sums in evidence.py and the
next readings in proposals.py.
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
from packs.physics.instrument import Message
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
from packs.physics.posterior import Explanations, explanations_of
from packs.physics.proposals import next_readings
from packs.physics.string_frame import StringFrame, constraints_of, frame_of

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
_NOTHING_TO_PROPOSE = Message(
    "nothing_to_propose",
    "No pole can be reached for another reading. Reach one, or use a second kind of reading.",
)
_INFLATIONS = (1.0, 2.0, 5.0, 20.0)


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
    left = _posterior(case, frame)
    inconsistent = not left.weight.sum() > 0.0
    suspect = None
    if inconsistent:
        suspect, left = _without_suspect(case, frame)
    evidence = evidence_of(frame, left)
    verdict = _verdict(evidence, inconsistent=inconsistent)
    confirmed = verdict == "named" and _confirmed(case, frame, left, evidence)
    proposals: tuple[NextReading, ...] = ()
    if case.propose and not confirmed:
        named = verdict == "named"
        rivals = _pairs_even(case, frame, left) if named else left
        proposals = next_readings(case, frame, rivals, evidence, named=named)
    warnings = _warnings(verdict, evidence, confirmed=confirmed, inconsistent=inconsistent)
    if case.propose and not confirmed and not proposals:
        warnings = (*warnings, _NOTHING_TO_PROPOSE)
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
        suspect_reading=suspect,
        warnings=warnings,
    )
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
    frame: StringFrame,
    *,
    inflation: float = 1.0,
    without: int | None = None,
    several_prior: float | None = None,
) -> Explanations:
    """Explain the readings, or all but one of them."""
    constraints = constraints_of(case, frame, inflation=inflation)
    if without is not None:
        constraints = constraints.without(without)
    return explanations_of(
        frame,
        constraints,
        none_prior=case.none_prior,
        several_prior=case.several_prior if several_prior is None else several_prior,
    )


def _without_suspect(case: LocaliseCase, frame: StringFrame) -> tuple[int | None, Explanations]:
    """Find the reading without which the others are explained best, and explain those.

    A wrong reading may lie anywhere, so leaving one out is worth its half-width once more. Where
    the rest does not agree either, all half-widths grow until it does.
    """
    half_v = np.array([case.meter.half_width_v(each.volts) for each in case.readings])
    several_priors = (0.0, case.several_prior) if case.several_prior else (0.0,)
    for inflation in _INFLATIONS:
        for several_prior in several_priors:
            rests = [
                _posterior(
                    case, frame, inflation=inflation, without=index, several_prior=several_prior
                )
                for index in range(len(half_v))
            ]
            scores = np.array([rest.weight.sum() for rest in rests]) * half_v
            if scores.max() > 0.0:
                suspect = int(scores.argmax())
                return suspect, rests[suspect]
    nothing = _posterior(case, frame, several_prior=0.0)
    return None, nothing


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


def _pairs_even(case: LocaliseCase, frame: StringFrame, left: Explanations) -> Explanations:
    """Count pairs of leaks as likely as one leak: what confirmation has to hold against."""
    if case.several_prior == 0.0:
        return _posterior(case, frame, several_prior=_EVEN_PRIOR)
    one = 1.0 - case.none_prior - case.several_prior
    factor = np.where(left.second >= 0, one / case.several_prior, 1.0)
    return replace(left, weight=left.weight * factor)


def _confirmed(
    case: LocaliseCase, frame: StringFrame, left: Explanations, evidence: Evidence
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
    left = _pairs_even(case, frame, left)
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


def _warnings(
    verdict: LocaliseVerdict, evidence: Evidence, *, confirmed: bool, inconsistent: bool
) -> tuple[Message, ...]:
    """Say what to keep in mind."""
    found = []
    if inconsistent:
        text = "No leak or pair of leaks explains all readings. Check sign, pole and digits."
        found.append(Message("inconsistent_readings", text))
    if verdict == "named" and not confirmed:
        text = (
            "Two leaks in one section read exactly like one between them. Confirm with the links "
            "on both sides of the named module open, or by a second kind of reading."
        )
        found.append(Message("not_confirmed", text))
    if evidence.none > 0.0 and evidence.hides:
        text = (
            "Sound insulation would explain the readings, but a leak could hide at a pole that "
            "reads near zero. Read a second pole of that section, or use an insulation tester."
        )
        found.append(Message("leak_may_hide", text))
    if verdict == "no_leak":
        text = "A leak above 1 megohm cannot be told from the string's own insulation."
        found.append(Message("weak_leak_not_excluded", text))
    return tuple(found)
