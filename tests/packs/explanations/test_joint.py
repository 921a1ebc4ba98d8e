import random

import pytest

from packs.explanations.joint import explained
from packs.physics.instrument import Meter
from packs.physics.joint import JointCase, joint
from tests.packs.explanations.shown import assert_printable, line_of, near, number, numbers


def case_of(seed: int) -> JointCase:
    chance = random.Random(seed)  # noqa: S311
    siblings = [chance.uniform(5.0, 40.0) for _ in range(chance.randrange(3, 8))]
    return JointCase(
        drop_mv=chance.choice([-1.0, 1.0]) * 10 ** chance.uniform(-1.0, 2.0),
        current_a=chance.uniform(5.0, 300.0),
        meter=Meter(input_ohm=1e7, resolution_v=chance.choice([1e-6, 1e-5, 1e-4])),
        siblings_micro_ohm=siblings,
        limit_micro_ohm=chance.choice([None, 20.0]),
        rated_current_a=chance.choice([None, 150.0]),
        current_u_percent=chance.choice([0.0, 0.5, 2.0]),
    )


@pytest.mark.parametrize("seed", range(60))
def test_the_steps_lead_to_the_figures_of_the_result(seed: int) -> None:
    case = case_of(seed)
    result = joint(case)
    lines = explained(case, result)
    assert near(number(line_of(lines, "Resistance;").value), result.micro_ohm)
    low, high = numbers(line_of(lines, "95 % interval, not").value)
    assert near(low, result.micro_ohm_low, 5e-3)
    assert near(high, result.micro_ohm_high, 5e-3)
    assert near(number(line_of(lines, "Limit").value), result.limit_micro_ohm or 0.0)
    if result.heat_w is not None:
        assert near(number(line_of(lines, "Heat").value), result.heat_w)
    assert near(number(line_of(lines, "Ratio").value), result.ratio_to_median or 0.0)
    assert lines[-1].value.endswith(f": {result.verdict}")
    assert_printable(lines)
