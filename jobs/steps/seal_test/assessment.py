"""What the samples of the seal test say, through `packs.physics.leak`."""

from dataclasses import dataclass

from jobs.core.record import Record
from jobs.steps.seal_test.items import GAUGE, SAMPLES, SETTLED_S, THERMOMETER
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
    """Give the samples that carry gauge, gas temperature and barometer [s, Pa, degC, Pa]."""
    rows = record.get(SAMPLES) or ()
    return tuple(
        PressureSample(t_s=row[0], gauge_pa=row[1], temp_c=row[2], barometer_pa=row[3])
        for row in rows
        if len(row) >= COLUMNS
    )


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
    pack, rows = record.pack, record.get(SAMPLES)
    if pack is None or pack.seal_test.method == "none":
        return SealResult()
    test, settled_s = pack.seal_test, record.get(SETTLED_S)
    needed_s = 0.0 if test.duration_s is None else test.duration_s.value
    stabilise_s = 0.0 if test.stabilise_s is None else test.stabilise_s.value
    samples = samples_of(record)
    case = _case(record, pack, samples) if samples else None
    result, refused = None, ""
    try:
        result = None if case is None else leak(case)
    except CalculationRefused as why:
        refused = str(why)
    return SealResult(
        verdict="none" if result is None else str(result.verdict),
        limit=test.limit_ml_per_min,
        leak=result,
        refused=refused,
        columns_short=rows is not None and not samples,
        duration_s=samples[-1].t_s - samples[0].t_s if samples else None,
        duration_needed_s=needed_s,
        settled_short_s=0.0 if settled_s is None else max(0.0, stabilise_s - settled_s),
        advice=() if result is None else result.advice,
        warnings=() if result is None else result.warnings,
    )
