"""Resistance of one bolted joint from its voltage drop.

Here: the resistance, its interval, the comparison with like joints and the heat. Not here: the
torque, which is recorded and never computed from a resistance.
"""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from packs.physics.instrument import (
    CalculationRefused,
    Message,
    Meter,
    Verdict,
    at_most,
    half_width_95,
)
from packs.physics.unit_suspicion import suspect, suspicions, suspicious_instrument
from packs.words import told

SIBLING_SHARE = 1.2
"""A joint a fifth above the median of like joints stands out: shop default, no source."""
FEWEST_SIBLINGS = 3
USUAL_MICRO_OHM = 0.5, 5000.0
"""A welded busbar has half a microhm, a joint that hangs by a thread some milliohms."""
USUAL_LIMITS_MICRO_OHM = 1.0, 5000.0
LEAST_CURRENT_A = 1e-6
"""Below a microampere no drop over a joint is a reading."""
MOST_CURRENT_A = 3000.0
"""No vehicle's string carries more, and no micro-ohmmeter sends it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JointCase:
    """A drop over one joint at a known current, and what it is compared with."""

    drop_mv: float
    current_a: float
    meter: Meter
    siblings_micro_ohm: Sequence[float] = ()
    limit_micro_ohm: float | None = None
    rated_current_a: float | None = None
    current_u_percent: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class JointResult:
    """The joint's resistance with its interval, the verdict, and the heat at rated current."""

    micro_ohm: float
    micro_ohm_low: float
    micro_ohm_high: float
    verdict: Verdict
    limit_micro_ohm: float | None
    ratio_to_median: float | None
    heat_w: float | None
    heat_w_low: float | None
    heat_w_high: float | None
    advice: tuple[Message, ...]
    warnings: tuple[Message, ...]


def joint(case: JointCase) -> JointResult:
    """Judge the resistance of one joint.

    Parameters
    ----------
    case : JointCase
        Drop, current, meter, like joints and limits, [mV], [A] and [µohm]

    Returns
    -------
    result : JointResult
        Resistance with its 95 % interval, verdict and heat, [µohm] and [W]

    Raises
    ------
    CalculationRefused
        When the current is zero, or no limit can be had: none given and fewer than three like
        joints.

    Notes
    -----
    ``R = U/I``; ``P = R I_rated^2``. Without a limit of its own a joint is compared with 1.2
    times the median of at least three like joints (shop default, no source). The errors of
    meter and last digit are rectangular; so is that of the current, ``current_u_percent``, taken as
    none unless given. The sign of the drop does not matter. Figures whose unit was probably
    mistaken are warned of. Source: Ohm's law; JCGM 100:2008 for the errors.

    Examples
    --------
    >>> meter = Meter(input_ohm=1.0e7, resolution_v=1.0e-6)
    >>> case = JointCase(drop_mv=3.0, current_a=200.0, meter=meter, limit_micro_ohm=20.0)
    >>> result = joint(case)
    >>> round(result.micro_ohm, 1), result.verdict.value
    (15.0, 'pass')
    """
    if not abs(case.current_a) >= LEAST_CURRENT_A:
        raise CalculationRefused(
            "current_a",
            told(
                "must be {least_a:g} A or more: nothing drops without a current",
                least_a=LEAST_CURRENT_A,
            ),
        )
    drop_v, current_a = abs(case.drop_mv) / 1000.0, abs(case.current_a)
    micro_ohm = drop_v / current_a * 1e6
    half = half_width_95(
        [
            *(error_v / current_a * 1e6 for error_v in case.meter.errors_v(drop_v)),
            micro_ohm * case.current_u_percent / 100.0,
        ]
    )
    low, high = max(0.0, micro_ohm - half), micro_ohm + half
    median = statistics.median(case.siblings_micro_ohm) if case.siblings_micro_ohm else None
    limit = _limit(case, median)
    verdict = at_most(low, high, limit)
    heat = case.rated_current_a**2 * 1e-6 if case.rated_current_a is not None else None
    return JointResult(
        micro_ohm=micro_ohm,
        micro_ohm_low=low,
        micro_ohm_high=high,
        verdict=verdict,
        limit_micro_ohm=limit,
        ratio_to_median=micro_ohm / median if median else None,
        heat_w=micro_ohm * heat if heat is not None else None,
        heat_w_low=low * heat if heat is not None else None,
        heat_w_high=high * heat if heat is not None else None,
        advice=_advice(case, verdict, half, limit),
        warnings=(
            *_warnings(case, low, median),
            *suspicious_instrument("meter", case.meter),
            *_suspicions(case, micro_ohm),
        ),
    )


def _limit(case: JointCase, median: float | None) -> float:
    """Return the limit given, or the one like joints make."""
    if case.limit_micro_ohm is not None:
        return case.limit_micro_ohm
    if median is None or len(case.siblings_micro_ohm) < FEWEST_SIBLINGS:
        raise CalculationRefused(
            "limit_micro_ohm", "give a limit, or at least 3 like joints in siblings_micro_ohm"
        )
    return SIBLING_SHARE * median


def _suspicions(case: JointCase, micro_ohm: float) -> tuple[Message, ...]:
    """Warn of figures that were probably entered in another unit."""
    gives = suspect("", micro_ohm, *USUAL_MICRO_OHM, "")
    drop = "were volts meant?" if micro_ohm < USUAL_MICRO_OHM[0] else "were microvolts meant?"
    limits = {"limit_micro_ohm": case.limit_micro_ohm}
    limits |= {f"siblings_micro_ohm.{i}": ohm for i, ohm in enumerate(case.siblings_micro_ohm)}
    return suspicions(
        gives
        and Message(
            gives.code,
            told(
                "drop_mv over current_a gives {micro_ohm:.4g} micro-ohm, which is unusual: {drop}",
                micro_ohm=micro_ohm,
                drop=drop,
            ),
        ),
        suspect("current_a", case.current_a, 0.0, MOST_CURRENT_A, "were milliamperes meant?"),
        suspect(
            "rated_current_a", case.rated_current_a, 0.0, MOST_CURRENT_A, "were milliamperes meant?"
        ),
        *(
            suspect(path, ohm, *USUAL_LIMITS_MICRO_OHM, "is it in micro-ohm?")
            for path, ohm in limits.items()
        ),
    )


def _advice(case: JointCase, verdict: Verdict, half: float, limit: float) -> tuple[Message, ...]:
    """Say how to decide an undecided joint."""
    if verdict is not Verdict.UNDECIDED:
        return ()
    if half > limit / 10.0:
        text = "Use a millivolt range or a micro-ohmmeter with four leads, or a larger current."
        return (Message("finer_meter", text),)
    text = told(
        "Clean and remake the joint, then read it again at {current_a:g} A or more.",
        current_a=abs(case.current_a),
    )
    return (Message("remake_joint", text),)


def _warnings(case: JointCase, low: float, median: float | None) -> tuple[Message, ...]:
    """Say what a reader of the result must know."""
    found = []
    if median is not None and low > SIBLING_SHARE * median:
        text = "The joint stands more than a fifth above the median of its like."
        found.append(Message("above_siblings", text))
    if case.drop_mv * case.current_a < 0.0:
        text = "Drop and current have opposite signs: the leads are swapped. The size was used."
        found.append(Message("leads_swapped", text))
    return tuple(found)
