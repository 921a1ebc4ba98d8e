"""Simulated series of readings that settle, of known end value and time constant.

Here: cases drawn from the error model of the interface. Not here: how often intervals hold the
truth (test_coverage.py).
"""

from dataclasses import dataclass, replace
from random import Random

from packs.physics.decay import Sample, decay
from packs.physics.instrument import Meter
from packs.physics.simulated_meter import exponential_series
from tests.bench.coverage_table import Figure, Kind, Trial

METERS = (
    Meter(input_ohm=1.0e7, accuracy_percent=0.1, accuracy_counts=2, resolution_v=0.01),
    Meter(input_ohm=1.0e7, accuracy_percent=0.5, accuracy_counts=2, resolution_v=0.01),
    Meter(input_ohm=1.1e7, accuracy_percent=0.7, accuracy_counts=3, resolution_v=0.1),
)
FLOOR_V = 2.0


@dataclass(frozen=True, slots=True)
class Settling:
    """What a kind of series settles to, how long it is watched, and how often it is read."""

    end_v: tuple[float, float]
    step_v: tuple[float, float] = (30.0, 200.0)
    spans: tuple[float, float] = (2.5, 5.0)
    samples: tuple[int, int] = (6, 12)
    gain_shared: bool = False
    near_floor: bool = False


def series(settling: Settling, chance: Random) -> Trial:
    """Read one series, evenly spaced by a hand that is not."""
    meter = chance.choice(METERS)
    sign = chance.choice((-1.0, 1.0))
    end_v = sign * chance.uniform(*settling.end_v)
    step_v = chance.choice((sign, -sign)) * chance.uniform(*settling.step_v)
    tau_s = 10.0 ** chance.uniform(0.3, 2.0)
    count = chance.randint(*settling.samples)
    every_s = tau_s * chance.uniform(*settling.spans) / (count - 1)
    times_s = [every_s * (index + chance.uniform(-0.2, 0.2)) for index in range(count)]
    own, gain = meter, 1.0
    if settling.gain_shared:
        gain += chance.uniform(-1.0, 1.0) * meter.accuracy_percent / 100.0
        own = replace(meter, accuracy_percent=0.0)
    shown = exponential_series(times_s, (end_v + step_v) * gain, end_v * gain, tau_s, own, chance)
    samples = [Sample(t_s=t, v=v) for t, v in shown]
    result = decay(samples, meter, floor_v=FLOOR_V, gain_shared=settling.gain_shared)
    figures = [Figure("end_v", end_v, result.end_v_low, result.end_v_high)]
    if result.tau_s_low is not None:
        figures.append(Figure("tau_s", tau_s, result.tau_s_low, result.tau_s_high))
    verdict = _verdict(result.kind, end_v) if settling.near_floor else ""
    return Trial(tuple(figures), verdict)


def _verdict(kind: str, end_v: float) -> str:
    """Return whether a series was told apart rightly."""
    if kind == "undecided":
        return "undecided"
    return "right" if (kind == "standing") is (abs(end_v) > FLOOR_V) else "wrong"


def _kind(name: str, settling: Settling) -> Kind:
    return Kind("decay", name, lambda chance: series(settling, chance))


KINDS = (
    _kind("standing at 20 to 150 V", Settling((20.0, 150.0))),
    _kind("floating", Settling((0.0, 0.5))),
    _kind("slow: half a time constant to two", Settling((0.0, 100.0), spans=(0.5, 2.0))),
    _kind("three samples", Settling((0.0, 100.0), spans=(1.0, 3.0), samples=(3, 3))),
    _kind("four and five samples", Settling((0.0, 100.0), samples=(4, 5))),
    _kind("60 to 200 samples", Settling((0.0, 100.0), samples=(60, 200))),
    _kind("settled before it began", Settling((0.0, 100.0), step_v=(0.0, 0.05))),
    _kind("watched for long", Settling((0.0, 100.0), spans=(8.0, 20.0), samples=(8, 20))),
    _kind("gain shared", Settling((20.0, 150.0), gain_shared=True)),
    _kind("end value near the floor", Settling((1.0, 3.0), near_floor=True)),
)
