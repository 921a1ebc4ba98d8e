"""What stands against signing the seal test. Only a test that passes opens the next step."""

from jobs.core.insulation import late_blockers
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.step import Hold
from jobs.core.torque import used_in_date
from jobs.steps.seal_test.assessment import SealResult, falling_times
from jobs.steps.seal_test.items import (
    CAPS_IN,
    CAPS_OUT,
    GAUGE,
    SAMPLE,
    SAMPLES,
    SETTLED_S,
    THERMOMETER,
    TOOLS_FIRST,
)
from packs.words import in_a_row

LID_STAYED_ON = Reason("seal_lid_stayed_on", "The pack was not opened, so its seal is as it was.")
NO_METHOD = Reason("seal_no_method", "The pack definition knows no seal test for this pack.")
FAILS = Reason(
    "seal_fails",
    "The enclosure leaks {leak:.1f} ml/min; {limit:g} ml/min are allowed. Go back to reassembly.",
)
UNDECIDED = Reason("seal_undecided", "Not decided against {limit:g} ml/min. {advice}")
REFUSED = Reason("seal_refused", "The readings cannot be used ({why}). Strike them, test again.")
TIMES = Reason(
    "seal_times",
    "{late_s:g} s was entered after {early_s:g} s: the times do not rise, or two tests are mixed. "
    "Strike the wrong one.",
)
TOO_FEW = Reason(
    "seal_too_few", "One sample only. Take the next ones until {needed_s:g} s are over."
)
COLUMNS = Reason(
    "seal_columns", "Each row needs seconds, gauge, gas temperature and barometer. Enter it again."
)
SHORT = Reason(
    "seal_short", "The readings span {got_s:g} s; {needed_s:g} s are asked. Test for longer."
)
NOT_SETTLED = Reason(
    "seal_not_settled", "Left to settle {short_s:g} s too short. Fill, wait and test again."
)
INSTRUMENT = Reason("seal_instrument", "{label} is out of calibration. Test with another one.")
CAPS_WRONG = Reason(
    "seal_caps_out", "{got:g} caps counted out; this pack has {needed:g} vents to blank."
)
CAP_OUT = Reason(
    "seal_cap_out", "{out:g} caps counted out, {back:g} counted in. Take every cap off its vent."
)
REASONS = (
    LID_STAYED_ON,
    NO_METHOD,
    FAILS,
    UNDECIDED,
    REFUSED,
    TIMES,
    TOO_FEW,
    TOOLS_FIRST,
    COLUMNS,
    SHORT,
    NOT_SETTLED,
    INSTRUMENT,
    CAPS_WRONG,
    CAP_OUT,
)


def skip(record: Record) -> Reason | None:
    """Say why the step does not apply: the lid stayed on, or there is no test to make."""
    if not record.lid_was_off:
        return LID_STAYED_ON
    none = record.pack is not None and record.pack.seal_test.method == "none"
    return NO_METHOD if none else None


def holds(_record: Record, _result: SealResult) -> tuple[Hold, ...]:
    """Give no hold point: nothing here cannot be taken back."""
    return ()


def _caps(record: Record) -> list[Blocker]:
    out, back, found = record.get(CAPS_OUT), record.get(CAPS_IN), list[Blocker]()
    needed = None if record.pack is None else record.pack.seal_test.vent_caps
    if out is not None and needed is not None and out != needed:
        found.append(CAPS_WRONG(CAPS_OUT.key, got=out, needed=needed))
    if out is not None and back is not None and out != back:
        found.append(CAP_OUT(CAPS_IN.key, out=out, back=back))
    return found


def _instruments(record: Record) -> list[Blocker]:
    given = [record.given(item) for item in (GAUGE, THERMOMETER)]
    return [
        INSTRUMENT(one.entry.item, label=one.value.label)
        for one in given
        if one is not None and not used_in_date(one)
    ]


def _where(record: Record) -> str:
    """Name the item at which the samples stand."""
    return SAMPLES.key if record.has(SAMPLES) and not record.has(SAMPLE) else SAMPLE.key


def _readings(record: Record, result: SealResult) -> list[Blocker]:
    """Say what is wrong with the way the readings were taken."""
    key, found = _where(record), list[Blocker]()
    falling = falling_times(record)
    if result.columns_short:
        found.append(COLUMNS(SAMPLES.key))
    if falling is not None:
        found.append(TIMES(key, early_s=falling[0], late_s=falling[1]))
    elif result.refused:
        found.append(REFUSED(key, why=result.refused))
    if len(record.all(SAMPLE)) == 1 and not record.has(SAMPLES):
        found.append(TOO_FEW(key, needed_s=result.duration_needed_s))
    elif result.duration_s is not None and result.duration_s < result.duration_needed_s:
        spans = {"got_s": result.duration_s, "needed_s": result.duration_needed_s}
        found.append(SHORT(key, **spans))
    if result.settled_short_s > 0.0:
        found.append(NOT_SETTLED(SETTLED_S.key, short_s=result.settled_short_s))
    return found


def blockers(record: Record, result: SealResult) -> tuple[Blocker, ...]:
    """Say what blocks the signature beyond missing items."""
    found = [*_caps(record), *_instruments(record), *_readings(record, result)]
    for used in (GAUGE, THERMOMETER):
        found += late_blockers(record, used, SAMPLES, SAMPLE)
    if result.leak is None or result.limit is None:
        return tuple(found)
    limit, key = result.limit.value, _where(record)
    if result.verdict == "fail":
        found.append(FAILS(key, leak=result.leak.leak_ml_per_min, limit=limit))
    if result.verdict == "undecided":
        advice = in_a_row(message.text for message in result.advice)
        found.append(UNDECIDED(key, limit=limit, advice=advice))
    return tuple(found)
