"""The two reference logs, whose truth is known, read as a user's files are."""

import csv
import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from packs.logs.reading import read_log
from packs.logs.wanted import Columns
from packs.physics.cycle import cycle
from packs.physics.cycle_case import CycleCase, CycleModule, CycleResult
from packs.physics.instrument import Verdict

DATA = Path(__file__).parents[2] / "data"
LOGS = {"cycle_clean": ",", "cycle_dirty": ";"}


def truth_of(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((DATA / f"{name}.truth.json").read_text(encoding="utf-8"))
    return found


@cache
def result_of(name: str) -> CycleResult:
    truth = truth_of(name)
    content = (DATA / f"{name}.csv").read_bytes()
    header = next(csv.reader([content.decode().splitlines()[0]], delimiter=LOGS[name]))
    columns = Columns(
        time_s=header[0],
        current_a=header[1],
        cell_v=tuple(header[2 : 2 + truth["cells"]]),
        temperature_c=tuple(header[2 + truth["cells"] :]),
    )
    modules = tuple(CycleModule(name=f"M{i + 1}", cells=6) for i in range(truth["cells"] // 6))
    return cycle(
        CycleCase(
            log=read_log(content, columns, truth["current_sign"]),
            modules=modules,
            replaced=truth["replaced"],
            rated_ah=truth["nominal_ah"],
            curve=truth["curve"],
        )
    )


@pytest.mark.parametrize("name", LOGS)
def test_the_capacity_is_found_and_its_interval_holds_the_truth(name: str) -> None:
    result, truth = result_of(name), truth_of(name)
    assert result.capacity_ah is not None
    assert result.capacity_ah_low is not None
    assert result.capacity_ah_high is not None
    true_ah = truth["median_cell_capacity_ah"]
    assert result.capacity_ah_low <= true_ah <= result.capacity_ah_high
    assert result.capacity_ah == pytest.approx(true_ah, rel=0.003)
    assert result.counted_ah == pytest.approx(truth["charged_ah"], rel=0.003)
    assert result.state_of_health_percent == pytest.approx(
        result.capacity_ah / truth["nominal_ah"] * 100.0
    )


@pytest.mark.parametrize("name", LOGS)
def test_the_weak_cell_is_found_with_its_resistance(name: str) -> None:
    result, truth = result_of(name), truth_of(name)
    flagged = [cell for cell in result.cells if cell.flag]
    assert [(cell.index, cell.module) for cell in flagged] == [
        (truth["weak_cell"], truth["weak_module"])
    ]
    assert flagged[0].flag == "high_resistance"
    ohms = [cell.resistance_mohm for cell in result.cells if cell.resistance_mohm is not None]
    assert flagged[0].resistance_mohm is not None
    ratio = flagged[0].resistance_mohm / float(np.median(ohms))
    assert ratio == pytest.approx(truth["weak_cell_resistance_ratio"], rel=0.03)


@pytest.mark.parametrize("name", LOGS)
def test_the_weakest_cell_is_the_one_of_the_smallest_capacity(name: str) -> None:
    result, truth = result_of(name), truth_of(name)
    assert (result.weakest_cell, result.weakest_module) == (
        truth["weak_cell"],
        truth["weak_module"],
    )
    assert result.weakest_capacity_ah_low is not None
    assert result.weakest_capacity_ah_high is not None
    true_ah = truth["smallest_cell_capacity_ah"]
    assert result.weakest_capacity_ah_low <= true_ah <= result.weakest_capacity_ah_high
    assert result.weakest_capacity_ah == pytest.approx(true_ah, rel=0.003)


@pytest.mark.parametrize("name", LOGS)
def test_the_new_module_is_judged_and_the_weak_cell_fails_the_string(name: str) -> None:
    result, truth = result_of(name), truth_of(name)
    assert [module.name for module in result.replaced] == truth["replaced"]
    assert result.replaced[0].verdict is Verdict.PASS
    assert result.spread_top_cell == truth["weak_cell"]
    assert result.verdict is Verdict.FAIL
    assert "spread_top_over" in {message.code for message in result.warnings}


def test_the_gap_of_the_dirty_log_is_said_and_lies_outside_the_window() -> None:
    result = result_of("cycle_dirty")
    assert result.gaps_s == (truth_of("cycle_dirty")["gap_s"],)
    assert result.counted_gap_ah == 0.0
    assert {"gap_in_charge", "filled_cells"} <= {message.code for message in result.warnings}
