"""Absence of voltage: proven, disproven, or not proven at all.

Here: prove, test, prove again, and the verdict on one point of measurement. Not here: when the
proof stops being valid, and who may act on it; that is the flow of a job.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from packs.physics.instrument import Accuracy, CalculationRefused, Message
from packs.physics.unit_suspicion import (
    HIGHEST_CLASS_B_V,
    suspect,
    suspicions,
    suspicious_instrument,
)
from packs.words import told

Pair = Literal["pos-neg", "pos-chassis", "neg-chassis"]
AbsenceVerdict = Literal["dead", "live", "void"]
PAIRS: tuple[Pair, ...] = ("pos-neg", "pos-chassis", "neg-chassis")
PROOF_SHARE = 0.1
"""A proof may be off by a tenth of the known source: shop default, no source."""
THRESHOLDS_V = 0.5, 120.0
"""From finer than any shop asks to the most that low-voltage rules call extra-low."""
LEAST_SOURCE_V = 1.0
"""A proving source of less proves no voltage indicator."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """The instrument on a known source: what it should show, and what it showed."""

    expected_v: float
    reading_v: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DeadReading:
    """One pair of points: digits, or the step an indicator without digits stayed below."""

    between: Pair
    volts: float | None = None
    below_v: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AbsenceResult:
    """Dead, live, or void; the largest magnitude read with the allowance of the instrument."""

    verdict: AbsenceVerdict
    worst_v: float | None
    worst_v_low: float | None
    worst_v_high: float | None
    worst_between: Pair | None
    reasons: tuple[Message, ...]
    warnings: tuple[Message, ...] = ()


@dataclass(frozen=True, slots=True)
class _Span:
    """A reading as a magnitude with its lowest and highest possible value."""

    between: Pair
    shown_v: float
    low_v: float
    high_v: float
    has_digits: bool


def absence(
    *,
    threshold_v: float,
    instrument: Accuracy,
    proof_before: Proof | None,
    readings: Sequence[DeadReading],
    proof_after: Proof | None,
) -> AbsenceResult:
    """Tell whether the absence of voltage has been proven at one point.

    Parameters
    ----------
    threshold_v : float
        A reading that may reach this is live, [V]
    instrument : Accuracy
        How far the instrument may be off, [-]
    proof_before : Proof | None
        The instrument on a known source before the readings, [V]
    readings : Sequence[DeadReading]
        Pole to pole and each pole to chassis, in any order, [V]
    proof_after : Proof | None
        The instrument on a known source after the readings, [V]

    Returns
    -------
    result : AbsenceResult
        The verdict, its reasons, and the worst reading, [V]

    Raises
    ------
    CalculationRefused
        When a reading has neither or both of ``volts`` and ``below_v``, or a limit or a known
        source is not above zero.

    Notes
    -----
    Live when ``|reading| + allowance >= threshold``, whatever the proofs say. Void when a proof
    is missing or off by more than a tenth (shop default) or the allowance, whichever is larger,
    when a pair is missing, or when an indicator's step is above the threshold. Source: EN 50110-1,
    verification of the absence of operating voltage; HSE GS38, proving before and after.
    Polarity does not matter; figures whose unit was probably mistaken are warned of. A threshold
    of 5 V is the shop default, 60 V is where UN R100 stops calling a direct voltage high.

    Examples
    --------
    >>> proof = Proof(expected_v=400.0, reading_v=399.0)
    >>> readings = [DeadReading(between=pair, volts=0.3) for pair in PAIRS]
    >>> result = absence(
    ...     threshold_v=5.0,
    ...     instrument=Accuracy(),
    ...     proof_before=proof,
    ...     readings=readings,
    ...     proof_after=proof,
    ... )
    >>> result.verdict, result.worst_v
    ('dead', 0.3)
    """
    if not threshold_v > 0.0:
        raise CalculationRefused("threshold_v", "must be above zero")
    spans = [_span(index, reading, instrument) for index, reading in enumerate(readings)]
    live = [span for span in spans if span.has_digits and span.high_v >= threshold_v]
    faults = [
        *_proof_faults("proof_before", proof_before, instrument),
        *_proof_faults("proof_after", proof_after, instrument),
        *_pair_faults(spans, threshold_v),
    ]
    reasons = (*map(_live_reason, live), *faults)
    verdict: AbsenceVerdict = "live" if live else "void" if faults else "dead"
    worst = max(spans, key=lambda span: span.high_v, default=None)
    return AbsenceResult(
        verdict=verdict,
        worst_v=worst.shown_v if worst else None,
        worst_v_low=worst.low_v if worst else None,
        worst_v_high=worst.high_v if worst else None,
        worst_between=worst.between if worst else None,
        reasons=reasons or (Message("proven", "All three pairs read nothing, proven twice."),),
        warnings=(
            *suspicious_instrument("instrument", instrument),
            *_suspicions(threshold_v, readings, {"before": proof_before, "after": proof_after}),
        ),
    )


def _suspicions(
    threshold_v: float, readings: Sequence[DeadReading], proofs: Mapping[str, Proof | None]
) -> tuple[Message, ...]:
    """Warn of figures that were probably entered in another unit."""
    too_low = threshold_v < THRESHOLDS_V[0]
    threshold = "were kilovolts meant?" if too_low else "were millivolts meant?"
    volts = "were millivolts meant?"
    shown = [
        suspect(f"readings.{index}.{name}", getattr(reading, name), 0.0, HIGHEST_CLASS_B_V, volts)
        for index, reading in enumerate(readings)
        for name in ("volts", "below_v")
    ]
    sources = [
        suspect(
            f"proof_{when}.expected_v",
            proof.expected_v,
            LEAST_SOURCE_V,
            HIGHEST_CLASS_B_V,
            "were kilovolts meant?" if abs(proof.expected_v) < LEAST_SOURCE_V else volts,
        )
        for when, proof in proofs.items()
        if proof is not None
    ]
    threshold_odd = suspect("threshold_v", threshold_v, *THRESHOLDS_V, threshold)
    return suspicions(threshold_odd, *shown, *sources)


def _span(index: int, reading: DeadReading, instrument: Accuracy) -> _Span:
    """Turn one reading into a magnitude with its limits."""
    path = f"readings.{index}"
    if (reading.volts is None) == (reading.below_v is None):
        raise CalculationRefused(path, "needs either volts or below_v, not both and not neither")
    if reading.below_v is not None:
        if not reading.below_v > 0.0:
            raise CalculationRefused(f"{path}.below_v", "must be above zero")
        return _Span(reading.between, reading.below_v, 0.0, reading.below_v, has_digits=False)
    shown_v = abs(reading.volts or 0.0)
    half_v = instrument.half_width_v(shown_v)
    low_v, high_v = max(0.0, shown_v - half_v), shown_v + half_v
    return _Span(reading.between, shown_v, low_v, high_v, has_digits=True)


def _live_reason(span: _Span) -> Message:
    """Say which pair is live."""
    text = told(
        "{between} may carry {high_v:.1f} V: treat the point as live.",
        between=span.between,
        high_v=span.high_v,
    )
    return Message("live", text)


def _proof_faults(name: str, proof: Proof | None, instrument: Accuracy) -> list[Message]:
    """Say what is wrong with one proof on a known source."""
    when = "before the readings" if name == "proof_before" else "after the readings"
    if proof is None:
        return [
            Message(
                f"{name}_missing",
                told("The instrument was not proven {when}.", when=when),
            )
        ]
    if not abs(proof.expected_v) > 0.0:
        raise CalculationRefused(f"{name}.expected_v", "a known source must have a voltage")
    expected_v, reading_v = abs(proof.expected_v), abs(proof.reading_v)
    allowed_v = max(PROOF_SHARE * expected_v, instrument.half_width_v(reading_v))
    # A hair of slack, so that exactly a tenth is not lost to binary fractions.
    if abs(reading_v - expected_v) <= allowed_v * (1.0 + 1e-9):
        return []
    text = told(
        "The proof {when} showed {reading_v:g} V on a source of "
        "{expected_v:g} V: change the instrument and prove and test again.",
        when=when,
        reading_v=reading_v,
        expected_v=expected_v,
    )
    return [Message(f"{name}_off", text)]


def _pair_faults(spans: Sequence[_Span], threshold_v: float) -> list[Message]:
    """Say which pairs were not read, or not read finely enough."""
    read = {span.between for span in spans}
    missing = [
        Message("pair_missing", told("There is no reading {pair}.", pair=pair))
        for pair in PAIRS
        if pair not in read
    ]
    coarse = [
        Message(
            "too_coarse",
            told(
                "{between}: below {shown_v:g} V does not show less than {threshold_v:g} V.",
                between=span.between,
                shown_v=span.shown_v,
                threshold_v=threshold_v,
            ),
        )
        for span in spans
        if not span.has_digits and span.shown_v > threshold_v
    ]
    return missing + coarse
