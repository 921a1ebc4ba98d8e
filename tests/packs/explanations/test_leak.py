import json
import random
from pathlib import Path

import pytest

from packs.calculations import explain
from packs.explanations.leak import explained
from packs.physics.leak import Gauge, LeakCase, LeakLimit, PressureSample, leak
from tests.packs.explanations.shown import assert_printable, last_of, line_of, near, number, numbers

DATA = Path(__file__).parents[2] / "data"


def case_of(seed: int) -> LeakCase:
    chance = random.Random(seed)  # noqa: S311
    count = chance.choice([2, 2, 5, 40])
    duration_s, fall_pa = chance.uniform(60.0, 3000.0), 10 ** chance.uniform(-1.0, 3.0)
    scatter_pa, curved = chance.choice([0.2, 0.2, 30.0]), chance.choice([0.0, 0.0, 0.5])
    samples = [
        PressureSample(
            t_s=duration_s * index / (count - 1),
            gauge_pa=3000.0
            - fall_pa * (index / (count - 1)) ** (1.0 - curved)
            + chance.gauss(0.0, scatter_pa),
            temp_c=20.0 + 0.3 * index / count,
        )
        for index in range(count)
    ]
    limits = [
        LeakLimit(ml_per_min=10.0),
        LeakLimit(mbar_l_per_s=0.2),
        LeakLimit(pa_m3_per_s=0.01),
        LeakLimit(drop_pa=50.0),
    ]
    return LeakCase(
        volume_l=chance.uniform(5.0, 200.0),
        samples=samples,
        gauge=Gauge(resolution_pa=1.0, repeatability_pa=0.5),
        limit=chance.choice(limits),
        barometer_pa=98_000.0,
        temp_u_c=chance.choice([0.02, 0.2]),
    )


@pytest.mark.parametrize("seed", range(60))
def test_the_steps_lead_to_the_figures_of_the_result(seed: int) -> None:
    case = case_of(seed)
    result = leak(case)
    lines = explained(case, result)
    size = max(abs(result.leak_pa_m3_per_s_low), abs(result.leak_pa_m3_per_s_high))
    shown = number(line_of(lines, "Leak:").value)
    assert near(shown, result.leak_pa_m3_per_s)
    half = number(last_of(lines, "Half-width").value)
    low, high = numbers(line_of(lines, "95 % interval").value)
    if not any(each.code == "not_settled" for each in result.warnings):
        assert abs(shown - half - low) < 5e-3 * size
        assert abs(shown + half - high) < 5e-3 * size
    other = numbers(line_of(lines, "In the units").value)
    assert near(other[0], result.leak_mbar_l_per_s)
    assert near(other[1], result.leak_ml_per_min)
    assert near(number(line_of(lines, "Drop as read").value), result.raw_drop_pa)
    assert near(number(line_of(lines, "Drop with").value), result.corrected_drop_pa)
    assert near(number(line_of(lines, "Limit").value), result.limit_pa_m3_per_s)
    assert near(number(lines[-1].value), result.shortest_duration_s)
    assert lines[-2].value.endswith(f": {result.verdict}")
    assert_printable(lines)


def test_reference_cases_are_explained_through_the_door() -> None:
    for case in json.loads((DATA / "leak.json").read_text("utf-8"))["cases"]:
        found = explain("leak", json.dumps(case["input"]).encode())
        assert found.valid
        assert found.text.splitlines()[-1].startswith("Verdict: ")
