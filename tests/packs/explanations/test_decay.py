import json
import math
import random
from pathlib import Path
from typing import Any

import pytest

from packs.calculations import explain
from packs.explanations.decay import explained
from packs.physics.decay import Sample, decay
from packs.physics.instrument import Meter
from tests.packs.explanations.shown import assert_printable, line_of, near, number, numbers

DATA = Path(__file__).parents[2] / "data"


def fields_of(seed: int) -> dict[str, Any]:
    chance = random.Random(seed)  # noqa: S311
    count, step_s = chance.choice([3, 5, 12, 40]), chance.uniform(0.5, 20.0)
    end_v, start_v = chance.choice([0.0, 0.5, 28.0, -140.0]), chance.uniform(-300.0, 300.0)
    tau_s, noise_v = 10 ** chance.uniform(-0.5, 2.5), chance.choice([0.0, 0.05, 3.0])
    samples = [
        Sample(
            t_s=7.0 + index * step_s,
            v=round(
                end_v
                + (start_v - end_v) * math.exp(-index * step_s / tau_s)
                + chance.gauss(0.0, noise_v),
                2,
            ),
        )
        for index in range(count)
    ]
    return {
        "samples": tuple(samples),
        "meter": Meter(input_ohm=1e7),
        "floor_v": 2.0,
        "threshold_v": chance.choice([60.0, 5.0]),
        "gain_shared": chance.choice([False, True]),
    }


@pytest.mark.parametrize("seed", range(60))
def test_the_steps_lead_to_the_figures_of_the_result(seed: int) -> None:
    fields = fields_of(seed)
    samples, meter = fields["samples"], fields["meter"]
    rest = {key: value for key, value in fields.items() if key not in {"samples", "meter"}}
    result = decay(samples, meter, **rest)
    lines = explained(fields, result)
    beginning = "The series does not move" if result.tau_s is None else "End value"
    size_v = max(abs(each.v) for each in samples) + abs(result.end_v)
    shown_v = number(line_of(lines, beginning).value)
    assert abs(shown_v - result.end_v) < 2e-3 * size_v
    waits = numbers(line_of(lines, "Wait").value)
    assert (result.seconds_to_threshold is None) is (not waits)
    if waits:
        assert near(waits[0], result.seconds_to_threshold or 0.0, 5e-3)
    low, high = numbers(line_of(lines, "95 % interval").value)
    assert near(low, result.end_v_low)
    assert near(high, result.end_v_high)
    assert lines[-1].value.endswith(f": {result.kind}")
    assert_printable(lines)


@pytest.mark.parametrize("seed", range(60))
def test_the_line_found_is_better_than_its_neighbours(seed: int) -> None:
    fields = fields_of(seed)
    result = decay(fields["samples"], fields["meter"], gain_shared=fields["gain_shared"])
    if result.tau_s is None:
        return
    table = line_of(explained(fields, result), "The time constant has").numbers
    shown = {row[:16].strip(): row.split()[-1] for row in table.splitlines()[2:5]}
    found = float(shown["found"])
    others = [shown["a twentieth less"], shown["a twentieth more"]]
    assert all(found <= float(each) * 1.001 + 1e-3 for each in others if each != "-")
    times_s = [each.t_s for each in fields["samples"]]
    at_the_end = result.tau_s < 1.05 * (times_s[1] - times_s[0]) / 5.0
    assert (others[0] == "-") is at_the_end


def test_reference_cases_are_explained_through_the_door() -> None:
    for case in json.loads((DATA / "decay.json").read_text("utf-8"))["cases"]:
        found = explain("decay", json.dumps(case["input"]).encode())
        assert found.valid
        assert found.text.splitlines()[-1].startswith("Verdict: ")
