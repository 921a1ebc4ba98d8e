"""How often the intervals of cycle hold the truth, and whether the odd cell is found.

Random packs, temperatures, samplings, noises, gaps, sensor gains within 1 % and curves shifted
within their trust; the current changes with a row, as where current and cells are read at once.
"""

import time
from collections import Counter
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
import pytest

from packs.physics.cycle import cycle
from packs.physics.cycle_case import CycleResult
from packs.physics.ocv import curve_named
from tests.packs.physics.cycle_simulator import Simulated, simulated

pytestmark = pytest.mark.bench

LOGS = 700
CURVES = ("nmc532_graphite", "nmc811_graphite_siox", "nca_graphite", "nco_graphite_kokam")
WANTED = {
    "resistance": "high_resistance",
    "capacity": "low_capacity",
    "offset": "offset",
    "stuck": "sensor",
    "missing": "sensor",
    "jumping": "sensor",
}
KINDS = ("", *WANTED)
STEPS_S = (1.0, 5.0, 10.0, 20.0, 30.0, 60.0)


@dataclass(slots=True)
class Tally:
    """What came of all logs."""

    capacities: int = 0
    capacities_held: int = 0
    resistances: Counter[float] = field(default_factory=Counter)
    resistances_held: Counter[float] = field(default_factory=Counter)
    odd: Counter[str] = field(default_factory=Counter)
    found: Counter[str] = field(default_factory=Counter)
    false: Counter[str] = field(default_factory=Counter)
    half_percent: list[float] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)


def options_of(seed: int) -> dict[str, Any]:
    """Return one random pack and log."""
    chance = np.random.default_rng(10_000 + seed)
    cells = int(chance.choice([12, 24, 48, 84]))
    curve = str(chance.choice(CURVES))
    trust_v = curve_named(curve).trust_v
    found: dict[str, Any] = {
        "seed": seed,
        "cells": cells,
        "curve": curve,
        "nominal_ah": chance.uniform(20.0, 150.0),
        "from_percent": chance.uniform(6.0, 25.0),
        "to_percent": chance.uniform(82.0, 96.0),
        "temperature_c": chance.uniform(5.0, 40.0),
        "slow_s": chance.uniform(20.0, 150.0),
        "step_s": float(chance.choice(STEPS_S, p=[0.05, 0.15, 0.2, 0.3, 0.2, 0.1])),
        "noise_v": float(chance.choice([0.0003, 0.0008, 0.002])),
        "resolution_v": float(chance.choice([0.001, 0.001, 0.005])),
        "gain": chance.uniform(-0.01, 0.01),
        "current_offset_a": chance.uniform(-0.1, 0.1),
        "rest_s": chance.uniform(900.0, 3600.0),
        "curve_shift_v": chance.uniform(-trust_v, trust_v),
    }
    if chance.random() < 0.4:
        found |= {"gap_s": chance.uniform(100.0, 600.0), "gap_at": chance.uniform(0.1, 0.9)}
    return found | odd_of(KINDS[seed % len(KINDS)], cells, chance)


def odd_of(kind: str, cells: int, chance: np.random.Generator) -> dict[str, Any]:
    """Return what is wrong with one cell, if any."""
    if not kind:
        return {}
    ways: dict[str, dict[str, Any]] = {
        "resistance": {"odd_resistance": chance.uniform(1.6, 2.5)},
        "capacity": {"odd_capacity": chance.uniform(0.84, 0.91)},
        "offset": {"odd_offset_v": chance.choice([-1.0, 1.0]) * chance.uniform(0.025, 0.04)},
    }
    return {"odd_cell": int(chance.integers(cells)), **ways.get(kind, {"odd_sensor": kind})}


def count(tally: Tally, kind: str, sim: Simulated, result: CycleResult) -> None:
    """Hold one result against its truth."""
    true_ah = float(np.median(sim.capacity_ah))
    if result.capacity_ah is not None:
        low_ah, high_ah = result.capacity_ah_low or 0.0, result.capacity_ah_high or 0.0
        tally.capacities += 1
        tally.capacities_held += low_ah <= true_ah <= high_ah
        tally.half_percent.append((high_ah - low_ah) / true_ah * 50.0)
    for cell, true_ohm in zip(result.cells, sim.resistance_ohm, strict=True):
        if cell.resistance_mohm_low is not None and cell.resistance_mohm_high is not None:
            held = cell.resistance_mohm_low <= true_ohm * 1e3 <= cell.resistance_mohm_high
            tally.resistances[sim.plan.step_s] += 1
            tally.resistances_held[sim.plan.step_s] += held
    flags = {cell.index - 1: cell.flags for cell in result.cells if cell.flag}
    tally.odd[kind] += 1
    if kind:
        tally.found[kind] += WANTED[kind] in flags.get(sim.plan.odd_cell or 0, ())
    tally.false[kind] += any(cell != sim.plan.odd_cell for cell in flags)


@cache
def tally_of_all() -> Tally:
    """Run every log once and print the table."""
    tally = Tally()
    for seed in range(LOGS):
        sim = simulated(**options_of(seed))
        start_s = time.process_time()
        result = cycle(sim.case)
        tally.seconds.append(time.process_time() - start_s)
        count(tally, KINDS[seed % len(KINDS)], sim, result)
    print(table_of(tally))  # noqa: T201  (what a bench is for)
    return tally


def table_of(tally: Tally) -> str:
    """Return what was found, line by line."""
    lines = [
        f"{LOGS} logs, {tally.capacities} with a capacity",
        f"capacity held {share(tally.capacities_held, tally.capacities)}",
        f"half-width of its interval, mean: {np.mean(tally.half_percent):.2f} %",
    ]
    every, held = tally.resistances.total(), tally.resistances_held.total()
    lines.append(f"resistance held {share(held, every)}")
    lines += [
        f"  every {step_s:g} s: {share(tally.resistances_held[step_s], tally.resistances[step_s])}"
        for step_s in STEPS_S
    ]
    lines += [f"found {kind}: {share(tally.found[kind], tally.odd[kind])}" for kind in WANTED]
    lines.append(f"healthy logs with a flag: {share(tally.false[''], tally.odd[''])}")
    lines.append(f"another cell flagged: {share(tally.false.total(), LOGS)}")
    lines.append(f"seconds a log: mean {np.mean(tally.seconds):.3f}, most {max(tally.seconds):.3f}")
    return "\n".join(lines)


def share(part: int, whole: int) -> str:
    return f"{part}/{whole} = {part / whole * 100.0:.1f} %"


def test_the_interval_of_the_capacity_holds_the_truth() -> None:
    tally = tally_of_all()
    assert tally.capacities >= 0.95 * LOGS
    assert 0.93 <= tally.capacities_held / tally.capacities <= 0.97


def test_the_interval_of_each_resistance_holds_the_truth() -> None:
    tally = tally_of_all()
    assert 0.93 <= tally.resistances_held.total() / tally.resistances.total() <= 0.97


@pytest.mark.parametrize("kind", WANTED)
def test_the_odd_cell_is_found(kind: str) -> None:
    tally = tally_of_all()
    assert tally.found[kind] >= 0.95 * tally.odd[kind]


def test_a_healthy_log_carries_no_flag() -> None:
    tally = tally_of_all()
    assert tally.false[""] <= 0.05 * tally.odd[""]


def test_a_long_log_takes_less_than_a_second() -> None:
    sim = simulated(cells=96, step_s=1.0, drive_s=86_000.0, drive_rate=0.12)
    rows = sim.log.time_s.size
    # Of the processor: what else runs on the machine does not count.
    start_s = time.process_time()
    cycle(sim.case)
    taken_s = time.process_time() - start_s
    print(f"{rows} rows of 96 cells: {taken_s:.2f} s")  # noqa: T201
    assert rows > 95_000
    assert taken_s <= 1.0
