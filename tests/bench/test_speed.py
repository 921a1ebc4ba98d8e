"""What a call of each calculation takes, and how fast the command starts."""

import json
import os
import platform
import statistics
import subprocess
import sys
import time
from pathlib import Path
from random import Random
from typing import Any

import pytest

from packs.calculations import answer
from packs.physics.instrument import Meter
from packs.physics.shunt import Pole
from packs.physics.simulate import (
    Enclosure,
    MeterInHand,
    PackUnderTest,
    Probe,
    SimulatedLeak,
    SimulatedModule,
    meter_reading_v,
    pressure_samples,
)
from packs.physics.simulated_meter import exponential_series

pytestmark = pytest.mark.bench

ROOT = Path(__file__).parents[2]
CALLS, STARTS = 41, 10
CALL_MS, START_S = 10.0, 0.4
LOCALISE_MS, PROPOSING_MS = 60.0, 250.0
METER = {"input_ohm": 1.0e7}
CHANCE = Random(5)  # noqa: S311  (repeatable cases, not a secret)


def decay_of(count: int) -> dict[str, Any]:
    times_s = [60.0 * index / count for index in range(count)]
    series = exponential_series(times_s, 150.0, 40.0, 12.0, Meter(input_ohm=1.0e7), CHANCE)
    return {"samples": [{"t_s": t, "v": v} for t, v in series], "meter": METER}


def leak_of(count: int) -> dict[str, Any]:
    box = Enclosure(volume_l=60.0, leak_pa_m3_per_s=0.01, drift_c_per_h=0.5)
    times_s = [600.0 * index / count for index in range(count)]
    samples = pressure_samples(
        box, times_s=times_s, resolution_pa=1.0, repeatability_pa=2.0, chance=CHANCE
    )
    return {
        "volume_l": 60.0,
        "barometer_pa": 101325.0,
        "samples": [{"t_s": t, "gauge_pa": pa, "temp_c": c} for t, pa, c in samples],
        "gauge": {"resolution_pa": 1.0, "repeatability_pa": 2.0},
        "limit": {"ml_per_min": 10.0},
    }


def voltmeter() -> dict[str, Any]:
    return {
        "method": "voltmeter",
        "pos_to_chassis_v": 106.11,
        "neg_to_chassis_v": 261.68,
        "shunt_ohm": 185000.0,
        "shunt_across": "neg",
        "shunted_v": 197.55,
        "meter": METER,
        "working_voltage_v": 370.0,
        "bus_v": 370.0,
    }


def insulation_tester() -> dict[str, Any]:
    return {
        "method": "tester",
        "test_voltage_v": 500.0,
        "pos_ohm": 2.4e6,
        "neg_ohm": {"above_ohm": 5.5e8},
        "working_voltage_v": 400.0,
    }


def absence() -> dict[str, Any]:
    proof = {"expected_v": 400.0, "reading_v": 399.0}
    pairs = ("pos-neg", "pos-chassis", "neg-chassis")
    return {
        "threshold_v": 5.0,
        "instrument": {"accuracy_percent": 0.5},
        "proof_before": proof,
        "readings": [{"between": pair, "volts": 0.3} for pair in pairs],
        "proof_after": proof,
    }


def joint() -> dict[str, Any]:
    return {
        "drop_mv": 3.0,
        "current_a": 200.0,
        "current_u_percent": 1.0,
        "meter": METER | {"resolution_v": 1.0e-6},
        "siblings_micro_ohm": [14.2, 14.5, 14.6, 15.1],
    }


def match(count: int) -> dict[str, Any]:
    alike = {"chemistry": "nmc", "part": "A-1", "cells": 12}
    spares = [
        alike
        | {
            "serial": f"S{index}",
            "capacity_ah": CHANCE.uniform(54.0, 60.0),
            "resistance_mohm": CHANCE.uniform(11.0, 14.0),
            "cell_v": 3.68,
            "days_since_test": index,
        }
        for index in range(count)
    ]
    wanted = alike | {"capacity_ah": [57.0, 58.0, 56.5], "resistance_mohm": [12.0, 12.4, 11.8]}
    return {"wanted": wanted | {"cell_v": 3.7, "temperature_c": 22.0}, "spares": spares}


def charge(method: dict[str, Any], target_cell_v: float) -> dict[str, Any]:
    return {
        "curve": "nmc532_graphite",
        "cells": 12,
        "capacity_ah": 60.0,
        "spare_cell_v": 3.75,
        "target_cell_v": target_cell_v,
        "method": method,
    }


def localise(*, propose: bool) -> dict[str, Any]:
    modules = tuple(SimulatedModule(name=f"M{n}", cells_v=(3.7,) * 10) for n in range(1, 25))
    leaks = (SimulatedLeak(module="M17", position_cells=4.0, leak_ohm=8.5e4),)
    pack = PackUnderTest(modules=modules, leaks=leaks, sound_ohm=1.0e8)
    in_hand = MeterInHand(meter=Meter(input_ohm=1.0e7), input_ohm=1.005e7)
    poles: tuple[tuple[str, Pole], ...] = (
        ("M1", "neg"),
        ("M24", "pos"),
        ("M12", "pos"),
        ("M13", "neg"),
        ("M18", "pos"),
        ("M19", "neg"),
    )
    readings = []
    for name, pole in poles:
        for shunt_ohm in (None, 1.0e6):
            probe = Probe(module=name, pole=pole, open_after=("M12", "M18"), shunt_ohm=shunt_ohm)
            volts = meter_reading_v(pack, in_hand, probe, CHANCE)
            readings.append(
                {
                    "module": name,
                    "pole": pole,
                    "open_after": ["M12", "M18"],
                    "shunt_ohm": shunt_ohm,
                    "volts": volts,
                }
            )
    return {
        "modules": [{"name": module.name, "cells": 10} for module in modules],
        "cell_v": 3.7,
        "meter": METER,
        "readings": readings,
        "propose": propose,
    }


CALLS_OF = {
    "decay, 20 samples": ("decay", decay_of(20), CALL_MS),
    "decay, 200 samples": ("decay", decay_of(200), CALL_MS),
    "absence": ("absence", absence(), CALL_MS),
    "isolation, voltmeter": ("isolation", voltmeter(), CALL_MS),
    "isolation, tester": ("isolation", insulation_tester(), CALL_MS),
    "localise, 12 readings": ("localise", localise(propose=False), LOCALISE_MS),
    "localise, with proposals": ("localise", localise(propose=True), PROPOSING_MS),
    "match, 20 spares": ("match", match(20), CALL_MS),
    "charge, resistor": (
        "charge",
        charge({"kind": "resistor", "ohm": 10.0, "max_w": 400.0}, 3.7),
        CALL_MS,
    ),
    "charge, supply": ("charge", charge({"kind": "supply", "current_a": 10.0}, 3.8), CALL_MS),
    "leak, 60 samples": ("leak", leak_of(60), CALL_MS),
    "leak, 600 samples": ("leak", leak_of(600), CALL_MS),
    "joint": ("joint", joint(), CALL_MS),
    "vin": ("vin", {"vin": "1J9RP1A36A1644345"}, CALL_MS),
}


def machine() -> str:
    """Return what the times were taken on."""
    cpuinfo = Path("/proc/cpuinfo")
    lines = cpuinfo.read_text("utf-8").splitlines() if cpuinfo.exists() else []
    models = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    model = models[0] if models else platform.processor()
    return f"{os.cpu_count()} cores, {model}, Python {platform.python_version()}"


def median_ms(name: str, raw: bytes) -> float:
    assert answer(name, raw).valid, answer(name, raw).text
    took = []
    for _ in range(CALLS):
        before = time.perf_counter()
        answer(name, raw)
        took.append(time.perf_counter() - before)
    return 1000.0 * statistics.median(took)


def test_a_call_of_each_calculation_stays_within_its_bound(
    capsys: pytest.CaptureFixture[str],
) -> None:
    took = {
        kind: (median_ms(name, json.dumps(fields).encode()), bound_ms)
        for kind, (name, fields, bound_ms) in CALLS_OF.items()
    }
    with capsys.disabled():
        sys.stdout.write(f"\n{machine()}\n{'call':28}{'median ms':>10}{'bound ms':>10}\n")
        for kind, (ms, bound_ms) in took.items():
            sys.stdout.write(f"{kind:28}{ms:10.2f}{bound_ms:10.0f}\n")
    assert {kind: ms for kind, (ms, bound_ms) in took.items() if ms > bound_ms} == {}


def test_the_command_starts_fast(capsys: pytest.CaptureFixture[str]) -> None:
    command = [sys.executable, "manage.py", "calc", "--list"]
    took = []
    for _ in range(STARTS):
        before = time.perf_counter()
        subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
        took.append(time.perf_counter() - before)
    with capsys.disabled():
        sys.stdout.write(f"\nstart of calc --list: median {statistics.median(took):.2f} s\n")
    assert statistics.median(took) <= START_S
