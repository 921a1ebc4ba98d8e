"""Simulated pressure decay tests of known leak.

Here: cases drawn from the error model of the interface. Not here: how often intervals hold the
truth (test_coverage.py).
"""

from dataclasses import dataclass
from random import Random

from packs.physics.leak import (
    PA_M3_PER_S_PER_ML_PER_MIN,
    Gauge,
    LeakCase,
    LeakLimit,
    PressureSample,
    leak,
)
from packs.physics.simulated_meter import rounded
from tests.bench.coverage_table import Figure, Kind, Trial, judged

KELVIN, REFERENCE_K = 273.15, 293.15
GAUGES = (
    Gauge(resolution_pa=1.0, repeatability_pa=2.0),
    Gauge(resolution_pa=2.0, repeatability_pa=4.0),
    Gauge(resolution_pa=10.0, repeatability_pa=20.0),
    Gauge(resolution_pa=10.0, repeatability_pa=0.0),
)


@dataclass(frozen=True, slots=True)
class Sealed:
    """How a kind of test is taken."""

    samples: tuple[int, int]
    drift_c: float = 0.3
    own_barometer: bool = False
    fixed_thermometer: bool = False
    volume_u_percent: tuple[float, ...] = (1.0, 2.0, 5.0)
    times_limit: tuple[float, ...] = (0.1, 0.3, 0.7, 1.5, 3.0)
    near_limit: bool = False
    slowing: bool = False


def pressure_decay(sealed: Sealed, chance: Random) -> Trial:
    """Take one test: volume, gauge offset and barometer are drawn once."""
    volume_l, percent = chance.uniform(40.0, 200.0), chance.choice(sealed.volume_u_percent)
    limit = chance.choice((10.0, 20.0, 50.0)) * PA_M3_PER_S_PER_ML_PER_MIN
    times = chance.uniform(0.7, 1.3) if sealed.near_limit else chance.choice(sealed.times_limit)
    q, gauge = times * limit, chance.choice(GAUGES)
    air_pa, temp_u_c = chance.uniform(96e3, 104e3), chance.choice((0.02, 0.1, 0.2))
    true_l = volume_l * (1.0 + chance.uniform(-percent, percent) / 100.0)
    samples = _samples(sealed, chance, _Truth(q, true_l, air_pa), gauge, temp_u_c)
    result = leak(
        LeakCase(
            volume_l=volume_l,
            volume_u_percent=percent,
            barometer_pa=None if sealed.own_barometer else air_pa,
            barometer_u_pa=20.0,
            samples=samples,
            gauge=gauge,
            temp_u_c=temp_u_c,
            limit=LeakLimit(pa_m3_per_s=limit),
        )
    )
    verdict = judged(result.verdict, passes=q <= limit) if sealed.near_limit else ""
    ends = result.leak_pa_m3_per_s_low, result.leak_pa_m3_per_s_high
    return Trial((Figure("leak_pa_m3_per_s", q, *ends),), verdict)


@dataclass(frozen=True, slots=True)
class _Truth:
    """What nobody at the test knows, and the air pressure at its start."""

    q: float
    volume_l: float
    air_pa: float


def _samples(
    sealed: Sealed, chance: Random, truth: _Truth, gauge: Gauge, temp_u_c: float
) -> list[PressureSample]:
    """Return what gauge and thermometer show of a leak of known mean."""
    count, duration_s = chance.randint(*sealed.samples), chance.uniform(300.0, 900.0)
    start_c, drift_c = chance.uniform(15.0, 28.0), chance.uniform(-1.0, 1.0) * sealed.drift_c
    drift_pa, offset_pa = chance.uniform(-20.0, 20.0), chance.uniform(-30.0, 30.0)
    offset_c = chance.uniform(-temp_u_c, temp_u_c)
    over_pa = chance.uniform(2500.0, 5000.0)
    # Pressures over their temperature, which only the leak changes.
    start = (over_pa + truth.air_pa) / (start_c + KELVIN)
    fallen = truth.q * duration_s / (truth.volume_l / 1000.0) / REFERENCE_K
    left = 1.0 - fallen * REFERENCE_K / over_pa if sealed.slowing else 1.0
    samples = []
    for index in range(count):
        part = index / (count - 1)
        kelvin = start_c + KELVIN + drift_c * part
        share = part if left == 1.0 else (1.0 - left**part) / (1.0 - left)
        outside_pa = truth.air_pa + drift_pa * part
        gauge_pa = (start - fallen * share) * kelvin - outside_pa + offset_pa
        off_c = offset_c if sealed.fixed_thermometer else chance.uniform(-temp_u_c, temp_u_c)
        samples.append(
            PressureSample(
                t_s=duration_s * part,
                gauge_pa=rounded(
                    gauge_pa + chance.gauss(0.0, gauge.repeatability_pa), gauge.resolution_pa
                ),
                temp_c=kelvin - KELVIN + off_c,
                barometer_pa=outside_pa if sealed.own_barometer else None,
            )
        )
    return samples


def _kind(name: str, sealed: Sealed, guarded: frozenset[str] = frozenset()) -> Kind:
    return Kind("leak", name, lambda chance: pressure_decay(sealed, chance), guarded)


KINDS = (
    _kind("2 samples", Sealed((2, 2))),
    _kind("3 samples", Sealed((3, 3))),
    _kind("5 samples", Sealed((5, 5))),
    _kind("60 samples", Sealed((60, 60))),
    _kind("drift of temperature by 2 K", Sealed((2, 12), drift_c=2.0)),
    _kind("barometer read along", Sealed((2, 12), own_barometer=True)),
    _kind("a leak that slows as it empties", Sealed((5, 30), slowing=True, times_limit=(0.3, 0.7))),
    _kind("volume hardly known", Sealed((2, 12), volume_u_percent=(10.0, 20.0, 30.0))),
    _kind(
        "thermometer with one fixed error",
        Sealed((2, 12), fixed_thermometer=True),
        frozenset({"leak_pa_m3_per_s"}),
    ),
    _kind("within a third of the limit", Sealed((2, 12), near_limit=True)),
)
