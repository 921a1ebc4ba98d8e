"""What the samples of the seal test say, through `packs.physics.leak`."""

from dataclasses import dataclass
from itertools import pairwise

from jobs.core.asked import note
from jobs.core.entry import Kind
from jobs.core.once import once_a_record
from jobs.core.record import Record
from jobs.core.section import Said
from jobs.steps.seal_test.items import GAUGE, SAMPLE, SAMPLES, SETTLED_S, THERMOMETER
from packs.definition import Figure, PackDefinition
from packs.physics.instrument import CalculationRefused, Message
from packs.physics.leak import Gauge, LeakCase, LeakLimit, LeakResult, PressureSample, leak

COLUMNS = 4
"""Time, gauge pressure, gas temperature, barometer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SealResult:
    """The test as it stands; `verdict` is "none" while nothing was read."""

    verdict: str = "none"
    limit: Figure | None = None
    leak: LeakResult | None = None
    refused: str = ""
    columns_short: bool = False
    duration_s: float | None = None
    duration_needed_s: float = 0.0
    settled_short_s: float = 0.0
    advice: tuple[Message, ...] = ()
    warnings: tuple[Message, ...] = ()


def _case(
    record: Record, pack: PackDefinition, samples: tuple[PressureSample, ...]
) -> LeakCase | None:
    test, gauge, thermometer = pack.seal_test, record.get(GAUGE), record.get(THERMOMETER)
    limit, low, high = test.limit_ml_per_min, test.test_pressure_low_pa, test.test_pressure_high_pa
    if gauge is None or thermometer is None or limit is None or test.volume_l is None:
        return None
    return LeakCase(
        volume_l=test.volume_l,
        volume_u_percent=test.volume_u_percent or 0.0,
        samples=samples,
        gauge=Gauge(
            resolution_pa=gauge.number("resolution_pa"),
            repeatability_pa=gauge.number("repeatability_pa"),
        ),
        temp_u_c=thermometer.number("u_c", 0.5),
        limit=LeakLimit(ml_per_min=limit.value),
        test_pressure_pa=None if low is None or high is None else (low, high),
    )


def samples_of(record: Record) -> tuple[PressureSample, ...]:
    """Give the samples in the order of time, entered one by one or as a whole series.

    Parameters
    ----------
    record : Record
        The job as it stands.

    Returns
    -------
    tuple[PressureSample, ...]
        Those that carry gauge, gas temperature and barometer [s, Pa, degC, Pa].
    """
    rows = [row for row in record.get(SAMPLES) or () if len(row) >= COLUMNS]
    series = [
        PressureSample(t_s=row[0], gauge_pa=row[1], temp_c=row[2], barometer_pa=row[3])
        for row in rows
    ]
    single = [
        PressureSample(
            t_s=one.value.t_s,
            gauge_pa=one.value.gauge_pa,
            temp_c=one.value.temp_c,
            barometer_pa=one.value.barometer_pa,
        )
        for one in record.all(SAMPLE)
    ]
    return tuple(sorted((*series, *single), key=lambda each: each.t_s))


def falling_times(record: Record) -> tuple[float, float] | None:
    """Give the first two times that do not rise in the order in which they were entered [s].

    Parameters
    ----------
    record : Record
        The job as it stands.

    Returns
    -------
    tuple[float, float] | None
        The time before and the one that is not later; None where all rise. A series counts
        where it stands: before the single samples or after them, not between. A sample entered
        again at the time of a struck one takes its place.
    """
    struck = {
        float(entry.value["t_s"]): entry.seq
        for entry in record.entries
        if entry.item == SAMPLE.key and entry.kind is Kind.VALUE and entry.key in record.gone
    }
    times_s = [
        (min(one.seq, struck.get(one.value.t_s, one.seq)), [one.value.t_s])
        for one in record.all(SAMPLE)
    ]
    given = record.given(SAMPLES)
    if given is not None:
        times_s.append((given.seq, [row[0] for row in given.value]))
    entered = [t_s for _, group in sorted(times_s) for t_s in group]
    return next(((a, b) for a, b in pairwise(entered) if b <= a), None)


def more_s(result: "SealResult") -> float | None:
    """Say how much longer the test has to go on [s].

    Parameters
    ----------
    result : SealResult
        The test as it stands.

    Returns
    -------
    float | None
        To what the definition asks and, while nothing is decided, to where the noise of the
        readings is smaller than the distance to the limit; None where a longer test decides
        nothing, or nothing is known yet.

    Notes
    -----
    The noise of a slope shrinks with the time, the distance to the limit stays: ``longer =
    shortest x limit / |limit - q|``, with the figures of `packs.physics.leak`. An estimate: the
    readings to come may scatter otherwise.
    """
    found, span_s = result.leak, result.duration_s
    if found is None or span_s is None:
        return None
    wanted_s = result.duration_needed_s
    if result.verdict == "undecided":
        if [message.code for message in result.advice] != ["longer_test"]:
            return None
        apart = max(abs(found.limit_pa_m3_per_s - found.leak_pa_m3_per_s), 1e-30)
        wanted_s = max(wanted_s, found.shortest_duration_s * found.limit_pa_m3_per_s / apart)
    return max(0.0, wanted_s - span_s)


def _asked(case: LeakCase) -> LeakResult:
    """Ask for the leak, and leave how it came about."""
    result = leak(case)
    note("leak", Said("Leak of the closed enclosure"), case, result)
    return result


@once_a_record
def assess(record: Record) -> SealResult:
    """Judge the pressure decay against the limit of the pack definition.

    Parameters
    ----------
    record : Record
        The job as it stands.

    Returns
    -------
    SealResult
        Leak with its 95 % interval [ml/min], what of the drop is temperature [Pa], verdict.
    """
    pack, rows, falling = record.pack, record.get(SAMPLES), falling_times(record)
    if pack is None or pack.seal_test.method == "none":
        return SealResult()
    test, settled_s = pack.seal_test, record.get(SETTLED_S)
    needed_s = 0.0 if test.duration_s is None else test.duration_s.value
    stabilise_s = 0.0 if test.stabilise_s is None else test.stabilise_s.value
    samples = samples_of(record)
    # One sample alone is a beginning, not something that cannot be used.
    enough = bool(samples) and (len(samples) > 1 or rows is not None) and falling is None
    case = _case(record, pack, samples) if enough else None
    result, refused = None, "" if falling is None else "times do not rise"
    try:
        result = None if case is None else _asked(case)
    except CalculationRefused as why:
        refused = str(why)
    return SealResult(
        verdict="none" if result is None else str(result.verdict),
        limit=test.limit_ml_per_min,
        leak=result,
        refused=refused,
        columns_short=rows is not None and any(len(row) < COLUMNS for row in rows),
        duration_s=samples[-1].t_s - samples[0].t_s if samples else None,
        duration_needed_s=needed_s,
        settled_short_s=0.0 if settled_s is None else max(0.0, stabilise_s - settled_s),
        advice=() if result is None else result.advice,
        warnings=() if result is None else result.warnings,
    )
