"""The absence of voltage at one point, step by step.

Here: the steps. Not here: the calculation (physics/absence.py).
"""

from collections.abc import Mapping
from typing import Any

from packs.explanation import Line, figure
from packs.explanations.readings import against, allowance_line, allowance_v
from packs.physics.absence import PAIRS, PROOF_SHARE, AbsenceResult, DeadReading, Proof
from packs.physics.instrument import Accuracy
from packs.words import told

PROOFS = {"before": "the proof before the readings", "after": "the proof after the readings"}
RULE = (
    "Comparison. Live when one reading with its allowance reaches the threshold, whatever the"
    " proofs say; else void when a proof, a pair or a step fine enough is missing; else dead"
)


def explained(fields: Mapping[str, Any], result: AbsenceResult) -> tuple[Line, ...]:
    """Return the steps from proofs and readings to the verdict.

    Parameters
    ----------
    fields : Mapping[str, Any]
        What was given: threshold, instrument, both proofs and the readings.
    result : AbsenceResult
        What came of it.

    Returns
    -------
    lines : tuple[Line, ...]
        In the order in which a person would work.
    """
    instrument, threshold_v = fields["instrument"], fields["threshold_v"]
    lines = [
        Line(
            what="Prove, test, prove again at one point (EN 50110-1, HSE GS38). Polarity does not"
            " matter: magnitudes count. A proof may be off by a tenth (shop default) or by the"
            " allowance, whichever is larger"
        ),
        *_proof("before", fields["proof_before"], instrument),
    ]
    for reading in fields["readings"]:
        lines += _reading(reading, instrument, threshold_v)
    lines += _proof("after", fields["proof_after"], instrument)
    missing = [pair for pair in PAIRS if pair not in {each.between for each in fields["readings"]}]
    lines.append(
        Line(
            what="All three pairs read",
            numbers=", ".join(PAIRS),
            value=told("missing: {join}", join=", ".join(missing)) if missing else "complete",
        )
    )
    worst = told(
        "worst {volts} at {where}",
        volts=figure(result.worst_v_high, "V"),
        where=result.worst_between or "no point",
    )
    return (
        *lines,
        Line(
            what=RULE,
            numbers=against(worst, figure(threshold_v, "V")),
            value=result.verdict,
        ),
    )


def _proof(when: str, proof: Proof | None, instrument: Accuracy) -> list[Line]:
    """Compare a proof with its known source."""
    if proof is None:
        return [Line(what=told("Proof {when} the readings", when=when), value="missing")]
    expected_v, reading_v = abs(proof.expected_v), abs(proof.reading_v)
    allowed_v = max(PROOF_SHARE * expected_v, allowance_v(instrument, reading_v))
    off_v = abs(reading_v - expected_v)
    return [
        allowance_line(PROOFS[when], instrument, reading_v),
        Line(
            what=told(
                "Proof {when} the readings against a tenth of the source or the allowance",
                when=when,
            ),
            formula=told("|shown - expected| at most the larger of expected/10 and a"),
            numbers=told(
                "|{shown} - {expected}| = {off}, allowed {allowed}",
                shown=figure(reading_v, "V", 6),
                expected=figure(expected_v, "V", 6),
                off=figure(off_v, "V"),
                allowed=figure(allowed_v, "V"),
            ),
            value="holds" if off_v <= allowed_v * (1.0 + 1e-9) else "is off",
        ),
    ]


def _reading(reading: DeadReading, instrument: Accuracy, threshold_v: float) -> list[Line]:
    """Compare one pair with the threshold."""
    if reading.volts is None:
        fine = (reading.below_v or 0.0) <= threshold_v
        return [
            Line(
                what=told(
                    "{between}: an indicator without digits stayed below its step",
                    between=reading.between,
                ),
                formula=told("step at most threshold"),
                numbers=against(figure(reading.below_v, "V"), figure(threshold_v, "V")),
                value="below" if fine else "too coarse to show it",
            )
        ]
    shown_v = abs(reading.volts)
    high_v = shown_v + allowance_v(instrument, shown_v)
    return [
        allowance_line(reading.between, instrument, shown_v),
        Line(
            what=told(
                "{between}: the most it can be, against the threshold", between=reading.between
            ),
            formula=told("|v| + a below threshold"),
            numbers=against(
                f"{figure(shown_v, 'V', 6)} + {figure(allowance_v(instrument, shown_v), 'V')}"
                f" = {figure(high_v, 'V')}",
                figure(threshold_v, "V"),
            ),
            value="live" if high_v >= threshold_v else "below",
        ),
    ]
