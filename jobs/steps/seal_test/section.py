"""What the seal test says on the screen and in the report, with its decay strip."""

import math
from datetime import timedelta

from jobs.core.record import Record
from jobs.core.section import CountDown, Fact, Quantity, Said, Section, VerdictWord
from jobs.steps.seal_test.assessment import SealResult, falling_times, more_s, samples_of
from jobs.steps.seal_test.gate import skip
from jobs.steps.seal_test.items import CAPS_IN, GAUGE, sample_sheet
from packs.decay_strip import decay_strip, leak_line
from packs.physics.leak import LeakResult, PressureSample
from packs.picture import Picture

_HEADLINES: dict[str, tuple[VerdictWord, str]] = {
    "pass": ("pass", "Within the limit."),
    "fail": ("fail", "The enclosure leaks."),
    "undecided": ("undecided", "Not decided yet."),
}


def _facts(record: Record, result: SealResult, found: LeakResult) -> tuple[Fact, ...]:
    gauge, limit = record.get(GAUGE), result.limit
    leak = Quantity(
        found.leak_ml_per_min,
        "ml/min",
        found.leak_ml_per_min_low,
        found.leak_ml_per_min_high,
    )
    return (
        Fact(
            label="Leak of the closed enclosure",
            value=leak,
            verdict=_HEADLINES.get(result.verdict, ("none", ""))[0],
            limit=None if limit is None else Quantity(limit.value, "ml/min"),
            limit_kind="" if limit is None else limit.kind,
            limit_source="" if limit is None else limit.source,
            instrument="" if gauge is None else gauge.label,
        ),
        Fact(label="Pressure lost as read", value=Quantity(found.raw_drop_pa, "Pa")),
        Fact(label="Of this, temperature", value=Quantity(found.temperature_drop_pa, "Pa")),
    )


def _not_covered(record: Record, result: SealResult) -> tuple[Said, ...]:
    if record.lid_was_off and skip(record) is not None:
        return (Said("The maker names no seal test for this pack; none was made."),)
    if result.leak is None:
        return ()
    return (Said("The seal test finds faults of assembly; it is no proof against immersion."),)


def _whole_min(result: SealResult, more: float) -> float:
    """Give the whole minutes that the samples have to span in all; what is left is counted down."""
    whole_s = (result.duration_s or 0.0) + more
    return float(max(1, math.ceil(round(whole_s / 60.0, 6))))


def _headline(record: Record, result: SealResult) -> tuple[VerdictWord, Said | None]:
    """Give the verdict; while the test has to go on, how much longer."""
    if falling_times(record) is not None:
        return "undecided", Said("The times of the samples do not rise.")
    more = more_s(result)
    if more and result.verdict != "fail":
        words = "Not decided yet: sample until about {minutes:g} min are over."
        if result.verdict == "pass":
            words = "Within the limit so far: {minutes:g} min of samples are asked."
        return "undecided", Said(words, {"minutes": _whole_min(result, more)})
    verdict, words = _HEADLINES.get(result.verdict, ("none", ""))
    return verdict, Said(words) if words else None


def _next_sample(result: SealResult, count: int) -> list[Said]:
    """Say when the next sample is to be taken."""
    if count == 0 or result.verdict == "fail":
        return []
    if count == 1:
        words = "Next sample in about a minute; go on until {minutes:g} min are over."
        return [Said(words, {"minutes": _whole_min(result, result.duration_needed_s)})]
    more = more_s(result)
    return [Said("Go on sampling until about {minutes:g} min are over, at an even temperature.",
                 {"minutes": _whole_min(result, more)})] if more else []  # fmt: skip


def _counts(record: Record, result: SealResult) -> tuple[CountDown, ...]:
    """Count down to when the test can be decided; one sample alone counts what the test asks."""
    sheet, more = sample_sheet(record), more_s(result)
    if sheet.started_at is None or sheet.last is None or result.verdict == "fail":
        return ()
    left_s = result.duration_needed_s if result.leak is None else more
    if not left_s:
        return ()
    if result.leak is not None and more:
        # The same whole minutes as the words name, so that both end together.
        left_s = 60.0 * _whole_min(result, more) - (result.duration_s or 0.0)
    until = sheet.started_at + timedelta(seconds=sheet.last.t_s + left_s)
    text = Said("Can be decided in about")
    return (CountDown(text=text, until=until, over=Said("Take a sample now: it may decide.")),)


def _pictures(result: SealResult, samples: tuple[PressureSample, ...]) -> tuple[Picture, ...]:
    """Draw the strip once there are two samples, and the leak once it is known."""
    if len(samples) < 2:  # noqa: PLR2004 - a strip needs two ends
        return ()
    found, limit = result.leak, result.limit
    if found is None or limit is None:
        return (decay_strip(samples),)
    low, high = found.leak_ml_per_min_low, found.leak_ml_per_min_high
    return decay_strip(samples), leak_line(found.leak_ml_per_min, low, high, limit.value)


def section(record: Record, result: SealResult) -> Section:
    """Say how well the closed enclosure held its pressure."""
    verdict, headline = _headline(record, result)
    plain, samples, rising = list[Said](), samples_of(record), falling_times(record) is None
    if result.verdict == "pass":
        plain.append(Said("We tested the closed pack's seal with air pressure; it kept its limit."))
    if result.verdict == "pass" and record.has(CAPS_IN):
        plain.append(Said("Every cap used for the test was taken off again."))
    advice = _next_sample(result, len(samples))
    # How long is said once, and by what the test asks as well.
    longer = {"longer_test"} if advice else set()
    advice += [Said(each.text) for each in result.advice if each.code not in longer]
    fails = result.verdict == "fail"
    if fails:
        advice.append(Said("Go back to reassembly: sealing faces, gasket, bolts, vents."))
    return Section(
        verdict=verdict,
        headline=headline,
        plain=tuple(plain),
        advice=tuple(advice),
        warnings=tuple(Said(message.text) for message in result.warnings),
        facts=() if result.leak is None else _facts(record, result, result.leak),
        pictures=_pictures(result, samples) if rising else (),
        counts=_counts(record, result),
        back=("reassembly",) if fails else (),
        not_covered=_not_covered(record, result),
    )
