"""What the seal test says on the screen and in the report, with its decay strip."""

import math
from itertools import pairwise

from jobs.core.record import Record
from jobs.core.section import Fact, Quantity, Said, Section, VerdictWord
from jobs.steps.seal_test.assessment import SealResult, falling_times, more_s, samples_of
from jobs.steps.seal_test.gate import skip
from jobs.steps.seal_test.items import CAPS_IN, GAUGE
from packs.physics.leak import LeakResult, PressureSample
from packs.picture import Disc, Ink, Label, Line, Picture, Shape

_WIDTH_MM, _HEIGHT_MM, _LEFT_MM, _TOP_MM, _LOW_MM = 96.0, 44.0, 14.0, 6.0, 34.0
_POINTS = 60
_KELVIN = 273.15
_HEADLINES: dict[str, tuple[VerdictWord, str]] = {
    "pass": ("pass", "Within the limit."),
    "fail": ("fail", "The enclosure leaks."),
    "undecided": ("undecided", "Not decided yet."),
}


def _drops(samples: tuple[PressureSample, ...]) -> list[tuple[float, float, float]]:
    """Give time, drop of absolute pressure, and the part of it that temperature explains."""
    first = samples[0]
    start_pa, start_k = first.gauge_pa + (first.barometer_pa or 0.0), first.temp_c + _KELVIN
    return [
        (
            one.t_s - first.t_s,
            start_pa - one.gauge_pa - (one.barometer_pa or 0.0),
            start_pa * (1.0 - (one.temp_c + _KELVIN) / start_k),
        )
        for one in (*samples[: -1 : max(1, len(samples) // _POINTS)], samples[-1])
    ]


def decay_strip(samples: tuple[PressureSample, ...]) -> Picture:
    """Draw the drop of pressure over time, and the part of it that temperature explains.

    Parameters
    ----------
    samples : tuple[PressureSample, ...]
        At least two, times rising [s, Pa, degC].

    Returns
    -------
    Picture
        Downwards is pressure lost [Pa].
    """
    drops = _drops(samples)
    least = min(0.0, *(min(raw, warm) for _, raw, warm in drops))
    most = max(1.0, *(max(raw, warm) for _, raw, warm in drops))
    last_s = max(drops[-1][0], 1.0)

    def place(t_s: float, drop_pa: float) -> tuple[float, float]:
        down = (drop_pa - least) / (most - least) * (_LOW_MM - _TOP_MM)
        return _LEFT_MM + t_s / last_s * (_WIDTH_MM - _LEFT_MM - 2.0), _TOP_MM + down

    def line(points: list[tuple[float, float]], ink: Ink, *, dashed: bool) -> list[Shape]:
        return [
            Line(x1=a[0], y1=a[1], x2=b[0], y2=b[1], ink=ink, width=0.6, dashed=dashed)
            for a, b in pairwise(points)
        ]

    zero = place(0.0, 0.0)[1]
    shapes: list[Shape] = [Line(x1=_LEFT_MM, y1=zero, x2=_WIDTH_MM - 2.0, y2=zero, ink="line")]
    shapes += line([place(t, raw) for t, raw, _ in drops], "petrol", dashed=False)
    shapes += [
        Disc(x=place(t, raw)[0], y=place(t, raw)[1], radius=0.9, ink="petrol")
        for t, raw, _ in drops
    ]
    shapes += line([place(t, warm) for t, _, warm in drops], "soft", dashed=True)
    lost, explained = drops[-1][1], drops[-1][2]
    words = (
        f"line: pressure lost {lost:.0f} Pa, dashed: explained by temperature {explained:.0f} Pa"
    )
    shapes += [
        Label(x=_LEFT_MM - 1.0, y=zero + 1.0, text="0 Pa", size=2.8, anchor="end", ink="soft"),
        Label(x=_WIDTH_MM - 2.0, y=_LOW_MM + 4.0, text=f"{last_s:.0f} s", size=2.8, anchor="end"),
        Label(x=2.0, y=_HEIGHT_MM - 2.0, text=words, size=2.8, anchor="start", ink="soft"),
    ]
    return Picture(
        width_mm=_WIDTH_MM,
        height_mm=_HEIGHT_MM,
        title="Decay strip",
        description=f"Over {last_s:.0f} s, {words}.",
        shapes=tuple(shapes),
    )


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


def _minutes(seconds: float) -> float:
    """Give the whole minutes that are still needed."""
    return float(max(1, math.ceil(seconds / 60.0)))


def _headline(record: Record, result: SealResult) -> tuple[VerdictWord, Said | None]:
    """Give the verdict; while the test has to go on, how much longer."""
    if falling_times(record) is not None:
        return "undecided", Said("The times of the samples do not rise.")
    more = more_s(result)
    if more and result.verdict != "fail":
        words = "Not decided yet: about {minutes:g} more minutes."
        if result.verdict == "pass":
            words = "Within the limit so far: {minutes:g} more minutes are asked."
        return "undecided", Said(words, {"minutes": _minutes(more)})
    verdict, words = _HEADLINES.get(result.verdict, ("none", ""))
    return verdict, Said(words) if words else None


def _next_sample(result: SealResult, count: int) -> list[Said]:
    """Say when the next sample is to be taken."""
    if count == 0 or result.verdict == "fail":
        return []
    if count == 1:
        words = "Next sample in about a minute; go on until {needed_s:g} s are over."
        return [Said(words, {"needed_s": result.duration_needed_s})]
    more = more_s(result)
    return [Said("Go on sampling for about {minutes:g} more minutes, at an even temperature.",
                 {"minutes": _minutes(more)})] if more else []  # fmt: skip


def section(record: Record, result: SealResult) -> Section:
    """Say how well the closed enclosure held its pressure."""
    verdict, headline = _headline(record, result)
    plain, samples, rising = list[Said](), samples_of(record), falling_times(record) is None
    if result.verdict == "pass":
        plain.append(Said("We tested the closed pack's seal with air pressure; it kept its limit."))
    if result.verdict == "pass" and record.has(CAPS_IN):
        plain.append(Said("Every cap used for the test was taken off again."))
    advice = [*_next_sample(result, len(samples)), *(Said(each.text) for each in result.advice)]
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
        pictures=(decay_strip(samples),) if len(samples) > 1 and rising else (),
        back=("reassembly",) if fails else (),
        not_covered=_not_covered(record, result),
    )
