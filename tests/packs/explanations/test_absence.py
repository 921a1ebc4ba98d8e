import random
from typing import Any

import pytest

from packs.explanations.absence import explained
from packs.physics.absence import PAIRS, DeadReading, Proof, absence
from packs.physics.instrument import Accuracy
from tests.packs.explanations.shown import assert_printable, near, number


def fields_of(seed: int) -> dict[str, Any]:
    chance = random.Random(seed)  # noqa: S311
    pairs = [pair for pair in PAIRS if chance.random() > 0.1]
    readings = [
        DeadReading(between=pair, below_v=chance.choice([3.0, 6.0]))
        if chance.random() < 0.2
        else DeadReading(between=pair, volts=chance.choice([0.1, -0.4, 4.97, 380.0]))
        for pair in pairs
    ]
    proofs = [None, Proof(expected_v=400, reading_v=399), Proof(expected_v=400, reading_v=300)]
    return {
        "threshold_v": 5.0,
        "instrument": Accuracy(resolution_v=0.01),
        "proof_before": chance.choice([proofs[1], *proofs]),
        "readings": tuple(readings),
        "proof_after": chance.choice([proofs[1], *proofs]),
    }


@pytest.mark.parametrize("seed", range(60))
def test_the_steps_lead_to_the_verdict(seed: int) -> None:
    fields = fields_of(seed)
    result = absence(**fields)
    lines = explained(fields, result)
    assert lines[-1].value == result.verdict
    values = [line.value for line in lines[:-1]]
    fails = {"is off", "missing", "too coarse to show it"}
    wrong = any(value in fails or value.startswith("missing") for value in values)
    expected = "live" if "live" in values else "void" if wrong else "dead"
    assert expected == result.verdict
    if result.worst_v_high is not None:
        assert near(number(lines[-1].numbers.removeprefix("worst ")), result.worst_v_high)
    assert_printable(lines)
