"""Bolts through the door: each an entry of its own, none twice, one corrected by itself."""

import pytest

from jobs.core.entry import Kind
from jobs.core.item import qualifier_of
from jobs.core.torque import check_torque
from jobs.practice.scene import TECHNICIAN, Draft
from jobs.steps.road_test.items import MOUNTS
from tests.play import a_job_at

pytestmark = pytest.mark.django_db
FIRST = qualifier_of(stage="1")


def test_a_bolt_out_of_tolerance_is_struck_and_entered_again_without_the_others() -> None:
    with a_job_at("road_test") as scene:
        plan, at = scene.pack.mounts, FIRST
        value = MOUNTS.values.key
        bolt = Draft(kind=Kind.VALUE, by=TECHNICIAN, item=value, qualifier=at, value={"P1": "60"})
        assert scene.send(bolt).codes == {"torque_tool_first"}
        tool = next(t for t in scene.shelf("torque_tool") if t.ratings["high_nm"] > 60)
        scene.enter(MOUNTS.tool, raw=tool.id, at=at)
        scene.do(bolt)
        assert scene.send(bolt).codes == {"row_recorded"}
        scene.enter(MOUNTS.values, raw={"P6": "75"}, at=at)
        off = check_torque(scene.record(), MOUNTS, plan, plan.positions).stages[0].off
        assert off == (("P6", 75.0),)
        scene.strike(MOUNTS.values, "Loosened and tightened again", at=at)
        scene.enter(MOUNTS.values, raw={"P6": {"clicked": "60"}}, at=at)
        stage = check_torque(scene.record(), MOUNTS, plan, plan.positions).stages[0]
        assert (stage.off, dict(stage.values)) == ((), {"P1": 60.0, "P6": 60.0})
