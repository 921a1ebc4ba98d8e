import random
from dataclasses import replace

import pytest

from packs.physics.instrument import Meter
from packs.physics.loading import standard_by_loading, total_by_loading
from packs.physics.shunt import (
    Interval,
    ShuntReadings,
    place,
    standard_by_shunt,
    total_by_shunt,
)

BUS_V = 400.0


def readings(
    leak_ohm: float, x: float, *, shunt_ohm: float = 40_000.0, chance: random.Random | None = None
) -> ShuntReadings:
    """Return what a meter reads; with chance, one with errors as large as its maker allows."""
    meter = Meter(input_ohm=1e7)

    def off(share: float) -> float:
        return chance.uniform(-share, share) if chance else 0.0

    def shown(volts: float) -> float:
        return volts + off(meter.half_width_v(volts))

    leak, loading = 1 / leak_ohm, 1 / (meter.input_ohm * (1 + off(0.01)))
    pulled = leak + loading + 1 / (shunt_ohm * (1 + off(0.01)))
    alone_v, shunted_v = BUS_V * leak / (leak + loading), BUS_V * leak / pulled
    return ShuntReadings(
        pos_v=max(0.0, shown(alone_v * (1 - x))),
        neg_v=max(0.0, shown(alone_v * x)),
        shunted_v=max(0.0, shown(shunted_v * max(x, 1 - x))),
        shunt_across="neg" if x >= 0.5 else "pos",
        shunt_ohm=shunt_ohm,
        shunt_tolerance_percent=1.0,
        meter=meter,
        bus_v=shown(BUS_V),
        gain_shared=False,
    )


def holds(interval: Interval | None, value: float) -> bool:
    assert interval is not None
    return interval.low <= value and (interval.high is None or value <= interval.high)


@pytest.mark.parametrize("leak_ohm", [1e3, 1e5, 1e7])
def test_exact_readings_give_back_total_standard_and_place(leak_ohm: float) -> None:
    exact = readings(leak_ohm, 0.7)
    loading, position = total_by_loading(exact), place(exact)
    assert total_by_shunt(exact).value == pytest.approx(leak_ohm)
    assert standard_by_shunt(exact).value == pytest.approx(leak_ohm / 0.7)
    assert loading is not None
    assert loading.value == pytest.approx(leak_ohm)
    assert position is not None
    assert position.value == pytest.approx(0.7)


@pytest.mark.parametrize(("low", "high"), [(2.0, 4.0), (4.0, 6.5), (6.5, 10.0)])
def test_about_ninety_five_in_a_hundred_intervals_hold_the_leak(low: float, high: float) -> None:
    chance = random.Random(8)  # noqa: S311
    held = []
    for _ in range(25):
        leak_ohm, x = 10 ** chance.uniform(low, high), chance.uniform(0.05, 0.95)
        seen = readings(leak_ohm, x, chance=chance)
        held.append(holds(standard_by_shunt(seen), leak_ohm / max(x, 1 - x)))
    # Fewer than 21 of 25 would happen once in a hundred times at 95 %.
    assert sum(held) >= 21


def test_no_voltage_between_the_poles_means_no_second_estimate() -> None:
    without = ShuntReadings(
        pos_v=1.0,
        neg_v=1.0,
        shunted_v=0.5,
        shunt_across="pos",
        shunt_ohm=1e5,
        shunt_tolerance_percent=1.0,
        meter=Meter(input_ohm=1e7),
        bus_v=None,
        gain_shared=False,
    )
    assert total_by_loading(without) is None
    assert standard_by_loading(without) is None


def test_poles_that_read_nothing_bound_the_standard_by_loading() -> None:
    dead = replace(readings(1e5, 0.7), pos_v=0.0, neg_v=0.0, shunted_v=0.0)
    standard = standard_by_loading(dead)
    assert standard is not None
    assert (standard.value, standard.high) == (standard.low, None)
    assert standard.low > 1e9


@pytest.mark.parametrize("x", [0.2, 0.7])
def test_the_standard_by_loading_is_the_total_over_the_place(x: float) -> None:
    seen = readings(3e6, x)
    total, standard = total_by_loading(seen), standard_by_loading(seen)
    assert total is not None
    assert standard is not None
    assert standard.value == pytest.approx(total.value / max(x, 1.0 - x))


def test_a_scaled_interval_keeps_its_missing_end() -> None:
    assert Interval(2.0, 1.0, None).times(2.0) == Interval(4.0, 2.0, None)
    assert Interval(2.0, 1.0, 3.0).times(2.0) == Interval(4.0, 2.0, 6.0)
