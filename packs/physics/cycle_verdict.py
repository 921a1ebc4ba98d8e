"""The verdict on a log, what it does not show, and what to record next.

Here: the limits, what makes the verdict undecided, and advice. Not here: the figures, nor the
warnings (cycle_warnings.py).
"""

from dataclasses import dataclass

from packs.physics.cycle_capacity import Capacity
from packs.physics.cycle_case import CycleCase, CycleLimits
from packs.physics.cycle_findings import Findings, doubts_of, is_full, is_strong
from packs.physics.cycle_spread import Spread
from packs.physics.cycle_warnings import warnings_of
from packs.physics.instrument import Message, Verdict, at_most

SHORTEST_LOG_S = 180.0
"""A log of less than three minutes decides nothing: shop default, no source."""
SURE_SHARE = 0.04
"""A capacity less sure than this is worth a better log: shop default, no source."""

RECORD_REST = Message(
    "record_rest",
    "Let the string rest without any current, best three hours, and log the rest too.",
)
REST_ELSEWHERE = Message(
    "rest_elsewhere", "Log a rest between 15 and 85 %, where the curve is not steep."
)
RECORD_CHARGE = Message(
    "record_charge",
    "Log a charge up to its end, best from below 20 %, and keep logging for a rest.",
)
RECORD_DRIVE = Message(
    "record_drive", "Log a drive with strong acceleration, or a discharge of a third of capacity."
)
RECORD_TEMPERATURE = Message(
    "record_temperature", "Name the columns of at least two temperature sensors, and log them."
)
FINER_READINGS = Message(
    "finer_readings",
    "A spread lies too close to its limit for these readings: log with finer resolution, or measure"
    " the highest and the lowest cell with a meter.",
)
MEND_LEAD = Message(
    "mend_sense_lead",
    "Check the sense lead and the channel of each doubtful cell, then record the log again.",
)
SETTLE_DOUBTS = Message(
    "settle_doubts", "Settle what could be read in more than one way (see warnings), and run again."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """The verdict with its words."""

    verdict: Verdict
    advice: tuple[Message, ...]
    warnings: tuple[Message, ...]


def verdict_of(findings: Findings) -> Judged:
    """Return the verdict on a log with warnings and advice.

    Parameters
    ----------
    findings : Findings
        What was found.

    Returns
    -------
    judged : Judged
        Undecided when a limit lies inside an interval, when the log has no such moment, when a cell
        cannot be trusted or the log could be read in more than one way.

    Notes
    -----
    Each spread is held against its limit, each new module against its own. One that fails makes the
    verdict fail unless the log itself is in doubt. Source: JCGM 106:2012, guard bands of the whole
    95 % interval.
    """
    doubts = doubts_of(findings)
    checks = _checks(findings)
    verdicts = [verdict for verdict, _ in checks]
    verdicts += [module.verdict for module in findings.replaced]
    advice = [message for verdict, message in checks if verdict is Verdict.UNDECIDED]
    advice += _advice_on_modules(findings)
    if findings.figures.channels.sensor:
        advice.append(MEND_LEAD)
        verdicts.append(Verdict.UNDECIDED)
    if doubts:
        advice.insert(0, SETTLE_DOUBTS)
    if doubts:
        verdict = Verdict.UNDECIDED
    elif Verdict.FAIL in verdicts:
        verdict = Verdict.FAIL
    else:
        verdict = Verdict.UNDECIDED if Verdict.UNDECIDED in verdicts else Verdict.PASS
    advice += _advice_on_capacity(findings)
    log = findings.case.log
    warnings = (
        *log.repairs,
        *findings.figures.channels.repairs,
        *log.doubts,
        *(doubt for doubt in doubts if doubt not in log.doubts),
        *warnings_of(findings),
    )
    return Judged(verdict=verdict, advice=tuple(dict.fromkeys(advice)), warnings=warnings)


def nothing_decided(case: CycleCase) -> Judged:
    """Return the verdict on a log that carries no figures at all.

    Parameters
    ----------
    case : CycleCase
        What was asked.

    Returns
    -------
    judged : Judged
        Undecided, with the reason.

    Notes
    -----
    A log needs two rows with a current and one cell that can be trusted.
    """
    text = "The log has no two rows with a current and a cell that can be trusted."
    warnings = (*case.log.repairs, *case.log.doubts, Message("nothing_usable", text))
    advice = (RECORD_REST, RECORD_CHARGE, RECORD_DRIVE)
    return Judged(verdict=Verdict.UNDECIDED, advice=advice, warnings=warnings)


def _checks(findings: Findings) -> list[tuple[Verdict, Message]]:
    """Hold each spread against its limit; beside it what to do when it is undecided."""
    spreads, limits = findings.figures.spreads, findings.case.limits
    found = [
        _rest_check(findings),
        _check(spreads.top, limits.spread_top_mv, RECORD_CHARGE, usable=is_full(findings)),
        _check(spreads.load, limits.spread_load_mv, RECORD_DRIVE, usable=is_strong(findings)),
        _temperature_check(findings, limits),
    ]
    time_s = findings.figures.channels.time_s
    if float(time_s[-1] - time_s[0]) < SHORTEST_LOG_S:
        found.append((Verdict.UNDECIDED, RECORD_CHARGE))
    return found


def _check(
    spread: Spread | None, limit_mv: float, missing: Message, *, usable: bool
) -> tuple[Verdict, Message]:
    """Judge one spread; a moment that does not show it all can fail but not pass."""
    if spread is None:
        return Verdict.UNDECIDED, missing
    verdict = at_most(spread.low_mv, spread.high_mv, limit_mv)
    if verdict is Verdict.PASS and not usable:
        return Verdict.UNDECIDED, missing
    return verdict, FINER_READINGS


def _rest_check(findings: Findings) -> tuple[Verdict, Message]:
    """Judge the spread at rest; a rest in a steep end of the curve can pass but not fail."""
    spreads, limit_mv = findings.figures.spreads, findings.case.limits.spread_rest_mv
    verdict, message = _check(spreads.rest, limit_mv, RECORD_REST, usable=True)
    if verdict is not Verdict.PASS and spreads.rest_in_knee:
        return Verdict.UNDECIDED, REST_ELSEWHERE
    return verdict, message


def _temperature_check(findings: Findings, limits: CycleLimits) -> tuple[Verdict, Message]:
    """Judge the spread of the temperatures."""
    spreads = findings.figures.spreads
    low_c, high_c = spreads.temperature_low_c, spreads.temperature_high_c
    if low_c is None or high_c is None:
        return Verdict.UNDECIDED, RECORD_TEMPERATURE
    verdict = at_most(low_c, high_c, limits.temperature_spread_c)
    text = "The temperature spread lies at its limit: measure the module ends with a thermometer."
    return verdict, Message("measure_temperature", text)


def _advice_on_modules(findings: Findings) -> list[Message]:
    """Say what decides a new module that is undecided."""
    spreads = findings.figures.spreads
    missing = {
        "top": (spreads.top, RECORD_CHARGE),
        "bottom": (spreads.bottom, RECORD_DRIVE),
        "load": (spreads.load, RECORD_DRIVE),
    }
    undecided = [m for m in findings.replaced if m.verdict is Verdict.UNDECIDED]
    if not undecided:
        return []
    found = [message for spread, message in missing.values() if spread is None]
    return found or [FINER_READINGS]


def _advice_on_capacity(findings: Findings) -> list[Message]:
    """Say what would give the capacity, or give it better."""
    capacity = findings.figures.capacity
    if capacity is None and findings.curve is None:
        text = "Name the open-circuit-voltage curve of the cells, or log from empty to full."
        return [Message("name_curve", text)]
    if capacity is None:
        text = (
            "For the capacity, log a charge from below 20 % to its end with a rest of half an hour"
            " before and after."
        )
        return [Message("record_window", text)]
    if not _sure(capacity):
        text = "A longer window between two rests, charged without pauses, gives it more surely."
        return [Message("longer_window", text)]
    return []


def _sure(capacity: Capacity) -> bool:
    """Tell whether the capacity is as sure as a log can give it."""
    return capacity.high_ah - capacity.low_ah <= 2.0 * SURE_SHARE * capacity.ah
