"""Twenty tablets and two managers on a shop with years of closed jobs, on SQLite.

Prints a row for each size of the shop, p50 / p95 / p99 in milliseconds and the memory in MB; the
last size has more than two million entries. The same on PostgreSQL: fill an empty database by
``tests.bench.full_shop``, then run ``tests.bench.load`` with its address.
"""

import sys
from pathlib import Path

import pytest

from tests.bench.full_shop import filled
from tests.bench.load import alone_ms, floor_ms, loaded
from tests.bench.test_posting_and_pages import at
from tests.running import running_server

pytestmark = pytest.mark.bench

SIZES = (100, 1_000, 10_000)
OPEN = 20
LASTING_S = 60.0
POST_P95_MS, PAGE_P95_MS, MEMORY_MB = 40.0, 80.0, 300.0
FLOOR_RATIO_GOAL, FLOOR_RATIO_MOST = 3.0, 10.0
GROWN_MOST = 1.3
"""How much dearer a page may be at the largest size than at the smallest, by its p50."""


def test_a_shop_with_years_of_closed_jobs_answers_as_a_young_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, loads = tmp_path / "data", []
    with running_server(folder, "--demo"):
        pass
    for closed in SIZES:
        filled(folder, closed, OPEN)
        loads.append(loaded(folder, lasting_s=LASTING_S))
        with capsys.disabled():
            sys.stdout.write("\n" + loads[-1].row(closed))
    alone, floor = alone_ms(folder), floor_ms(tmp_path / "floor")
    ratio = at(alone, 0.5) / at(floor, 0.5)
    with capsys.disabled():
        goal = "reached" if ratio < FLOOR_RATIO_GOAL else "missed"
        sys.stdout.write(f"\nposted entry {at(alone, 0.5):.1f} ms, {ratio:.1f} times the floor")
        sys.stdout.write(f" (goal {FLOOR_RATIO_GOAL:.0f}: {goal})")
    assert [load.failed for load in loads] == [[]] * len(SIZES)
    for name in ("step page", "Open jobs"):
        assert loads[-1].p(name, 0.5) < GROWN_MOST * loads[0].p(name, 0.5)
        assert loads[-1].p(name, 0.95) < PAGE_P95_MS
    assert loads[-1].p("post", 0.95) < POST_P95_MS
    assert loads[-1].memory_mb < MEMORY_MB
    assert ratio < FLOOR_RATIO_MOST
