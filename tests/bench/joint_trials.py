"""Simulated joints of known resistance.

Here: cases drawn from the error model of the interface. Not here: how often intervals hold the
truth (test_coverage.py).
"""

from dataclasses import dataclass
from random import Random

from packs.physics.instrument import Meter
from packs.physics.joint import JointCase, joint
from packs.physics.simulated_meter import shown_v
from tests.bench.coverage_table import Figure, Kind, Trial, judged

METERS = (
    Meter(input_ohm=1.0e7, accuracy_percent=0.1, accuracy_counts=2, resolution_v=1.0e-6),
    Meter(input_ohm=1.0e7, accuracy_percent=0.5, accuracy_counts=2, resolution_v=1.0e-5),
    Meter(input_ohm=1.0e7, accuracy_percent=0.5, accuracy_counts=5, resolution_v=1.0e-4),
)


@dataclass(frozen=True, slots=True)
class Bolted:
    """How a kind of joint is read."""

    micro_ohm: tuple[float, float] = (5.0, 200.0)
    current_u_percent: tuple[float, ...] = (0.0,)
    meters: tuple[Meter, ...] = METERS
    near_limit: bool = False


def drop(bolted: Bolted, chance: Random) -> Trial:
    """Read one joint; the current's error is drawn once."""
    meter, percent = chance.choice(bolted.meters), chance.choice(bolted.current_u_percent)
    micro_ohm, current_a = chance.uniform(*bolted.micro_ohm), chance.uniform(20.0, 300.0)
    limit = micro_ohm * chance.uniform(0.9, 1.1) if bolted.near_limit else 50.0
    true_a = current_a / (1.0 + chance.uniform(-1.0, 1.0) * percent / 100.0)
    result = joint(
        JointCase(
            drop_mv=round(1000.0 * shown_v(micro_ohm * 1e-6 * true_a, meter, chance), 9),
            current_a=current_a,
            current_u_percent=percent,
            meter=meter,
            limit_micro_ohm=limit,
            rated_current_a=200.0,
        )
    )
    verdict = judged(result.verdict, passes=micro_ohm <= limit) if bolted.near_limit else ""
    figure = Figure("micro_ohm", micro_ohm, result.micro_ohm_low, result.micro_ohm_high)
    return Trial((figure,), verdict)


def _kind(name: str, bolted: Bolted) -> Kind:
    return Kind("joint", name, lambda chance: drop(bolted, chance))


KINDS = (
    _kind("current known", Bolted()),
    _kind("current within 0.5 to 5 %", Bolted(current_u_percent=(0.5, 1.0, 2.0, 5.0))),
    _kind("microvolt range", Bolted(meters=METERS[:1], current_u_percent=(0.0, 1.0))),
    _kind("few steps of the display", Bolted((5.0, 40.0), meters=METERS[2:])),
    _kind("within 10 % of the limit", Bolted(current_u_percent=(0.0, 1.0), near_limit=True)),
)
