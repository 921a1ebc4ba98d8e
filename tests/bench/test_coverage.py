"""Intervals that say 95 % hold the truth in about 95 of a hundred cases, of every kind."""

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from packs.calculations import answer
from tests.bench import decay_trials, isolation_trials, joint_trials, seal_trials, section_trials
from tests.bench.coverage_table import (
    MOST_WRONG_PERCENT,
    Kind,
    outside,
    rows,
    tally,
    verdict_rows,
    wrong_percent,
)

pytestmark = pytest.mark.bench

CASES = 2000
FEWEST = 1000
"""A figure drawn less often than this is shown, but too few cases say nothing about 95 %."""
DATA = Path(__file__).parents[1] / "data"
# Of sixteen intervals of 95 %, fewer than fourteen hold once in a hundred times or so.
FEWEST_HELD = 14

CALCULATIONS = {
    "decay": decay_trials.KINDS,
    "isolation": isolation_trials.KINDS,
    "section": section_trials.KINDS,
    "leak": seal_trials.KINDS,
    "joint": joint_trials.KINDS,
}
REFERENCE_FIGURES = {
    "decay": ("end_v",),
    "isolation": ("standard_ohm", "total_ohm"),
    "leak": ("leak_pa_m3_per_s",),
}


def shown(lines: Sequence[str], capsys: pytest.CaptureFixture[str]) -> None:
    with capsys.disabled():
        sys.stdout.write("\n" + "\n".join(lines) + "\n")


@pytest.mark.parametrize("name", CALCULATIONS)
def test_intervals_hold_the_truth_as_often_as_they_say(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    kinds: tuple[Kind, ...] = CALCULATIONS[name]
    tallies = [tally(kind, CASES, seed) for seed, kind in enumerate(kinds, 1)]
    shown([*rows(tallies), "", *verdict_rows(tallies)], capsys)
    assert [text for counted in tallies for text in outside(counted, FEWEST)] == []
    wrong = {
        counted.kind.name: wrong_percent(counted)
        for counted in tallies
        if wrong_percent(counted) > MOST_WRONG_PERCENT
    }
    assert wrong == {}


def held(result: dict[str, Any], figure: str, truth: float) -> bool:
    high = result[f"{figure}_high"]
    return bool(result[f"{figure}_low"] <= truth and (high is None or truth <= high))


@pytest.mark.parametrize("name", REFERENCE_FIGURES)
def test_reference_cases_are_held_as_often_as_chance_allows(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    cases = json.loads((DATA / f"{name}.json").read_text("utf-8"))["cases"]
    results = [json.loads(answer(name, json.dumps(case["input"]).encode()).text) for case in cases]
    counts = {
        figure: sum(
            held(result, figure, case["truth"][figure])
            for case, result in zip(cases, results, strict=True)
        )
        for figure in REFERENCE_FIGURES[name]
    }
    shown([f"{name} reference, of {len(cases)}: {counts}"], capsys)
    assert all(count >= FEWEST_HELD for count in counts.values())
