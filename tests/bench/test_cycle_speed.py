"""What a long log costs: 100 000 rows of 96 cells through the whole command, start included.

Prints seconds and the peak of memory, the best of three runs.
"""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from tests.house.sources import ROOT

pytestmark = pytest.mark.bench

ROWS, CELLS, SENSORS, MODULES = 100_000, 96, 4, 8
RUNS = 3
LONGEST_S = 3.0
LARGEST_MB = 600.0
PART_ROWS = 10_000
CHILD = """
import resource, runpy, sys
sys.argv = ["manage.py", "calc", "cycle", sys.argv[1]]
try:
    runpy.run_path("manage.py", run_name="__main__")
finally:
    used = resource.getrusage(resource.RUSAGE_SELF)
    print(used.ru_utime + used.ru_stime, used.ru_maxrss, file=sys.stderr)
"""


def long_log(path: Path, delimiter: str, decimal: str) -> dict[str, object]:
    """Write rest, charge, rest and drive at one row a second; return the case."""
    noise = np.random.default_rng(5)
    time_s = np.arange(ROWS)
    drive_a = -30.0 + 60.0 * np.sign(np.sin(time_s / 12.0)) * (time_s % 97 < 60)
    parts = [time_s < 3000, time_s < 60_000, time_s < 65_000]
    current_a = np.select(parts, [0.0, 5.0, 0.0], default=drive_a * 0.2)
    charge_ah = np.cumsum(current_a) / 3600.0
    cell_v = 3.45 + 0.005 * charge_ah[:, None] + 1e-3 * current_a[:, None]
    cell_v = cell_v + noise.normal(0.0, 0.001, (ROWS, CELLS))
    sensors_c = 20.0 + noise.normal(0.0, 0.05, (ROWS, SENSORS))
    cells = [f"c{cell + 1:02}_v" for cell in range(CELLS)]
    sensors = [f"t{sensor + 1}_c" for sensor in range(SENSORS)]
    shape = delimiter.join(["%d", "%.2f", *["%.3f"] * CELLS, *["%.1f"] * SENSORS]) + "\n"
    with path.open("w", encoding="utf-8") as log:
        log.write(delimiter.join(["time_s", "current_a", *cells, *sensors]) + "\n")
        for start in range(0, ROWS, PART_ROWS):
            part = slice(start, start + PART_ROWS)
            table = np.column_stack((time_s[part], current_a[part], cell_v[part], sensors_c[part]))
            text = "".join(shape % tuple(row) for row in table.tolist())
            log.write(text.replace(".", decimal))
    columns = {"time_s": "time_s", "current_a": "current_a", "cell_v": cells}
    names = [{"name": f"M{at + 1}", "cells": CELLS // MODULES} for at in range(MODULES)]
    return {
        "file": str(path),
        "columns": {**columns, "temperature_c": sensors},
        "current_sign": "charge_positive",
        "modules": names,
        "replaced": ["M3"],
        "curve": "nmc532_graphite",
        "rated_ah": 52.0,
    }


def whole_command(case: Path) -> tuple[float, float, float]:
    """Run it; return seconds, seconds of the processor, and megabytes."""
    began = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(case)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        env=os.environ,
    )
    took_s = time.perf_counter() - began
    assert done.returncode == 0, done.stderr
    assert len(json.loads(done.stdout)["cells"]) == CELLS
    processor_s, peak_kb = done.stderr.split()[-2:]
    return took_s, float(processor_s), int(peak_kb) / 1024.0


@pytest.mark.parametrize(("delimiter", "decimal"), [(",", "."), (";", ",")])
def test_a_long_log_stays_within_its_bounds(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], delimiter: str, decimal: str
) -> None:
    case = tmp_path / "case.json"
    case.write_text(json.dumps(long_log(tmp_path / "long.csv", delimiter, decimal)))
    runs = [whole_command(case) for _ in range(RUNS)]
    best_s, processor_s, _ = min(runs)
    peak_mb = max(run[2] for run in runs)
    with capsys.disabled():
        sys.stdout.write(
            f"\n{ROWS} rows of {CELLS} cells, decimal {decimal!r}:"
            f" {best_s:.2f} s ({processor_s:.2f} s of processor), {peak_mb:.0f} MB\n"
        )
    assert best_s < LONGEST_S
    assert peak_mb < LARGEST_MB
