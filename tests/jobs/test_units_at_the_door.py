"""A shop that reads foot-pounds: typed, judged, shown in both, and typed in from an older sheet."""

import pytest

from jobs.core.entry import Kind
from jobs.core.item import qualifier_of
from jobs.core.torque import check_torque
from jobs.practice.scene import TECHNICIAN, Draft
from jobs.report.wording import wording_of
from jobs.steps.road_test.items import DRIVE_KM, MOUNTS
from tests.play import a_job_at
from workshop import figures_text, units
from workshop.units import Units

pytestmark = pytest.mark.django_db
FIRST = qualifier_of(stage="1")
FEET = Units(torque="ftlb", distance="mi")


def plain(text: str) -> str:
    return text.replace(figures_text.SPACE, " ")


def test_a_torque_typed_in_foot_pounds_is_judged_and_shown_in_both() -> None:
    with a_job_at("road_test") as scene:
        plan = scene.pack.mounts
        tool = next(t for t in scene.shelf("torque_tool") if t.ratings["high_nm"] > 60)
        scene.enter(MOUNTS.tool, raw=tool.id, at=FIRST)
        target_ftlb = round(plan.stages[0].target_nm / 1.3558179483314004, 1)
        scene.enter(MOUNTS.values, raw={"in": "ftlb", "rows": {"P1": str(target_ftlb)}}, at=FIRST)
        stage = check_torque(scene.record(), MOUNTS, plan, plan.positions).stages[0]
        got = dict(stage.values)["P1"]
        assert stage.off == ()
        assert got == pytest.approx(target_ftlb * 1.3558179483314004)
        stored = scene.record().live[MOUNTS.values.key][-1].value
        words = wording_of(scene.job, scene.record())
        with units.use(FEET):
            shown = plain(words.value(MOUNTS.values, stored))
        assert shown == f"P1 {target_ftlb:g} ft·lb ({got:.4g} N·m)"
        assert plain(words.value(MOUNTS.values, stored)) == (
            f"P1 {got:.4g} N·m, typed as {target_ftlb} ft·lb"
        )


def test_what_was_typed_before_the_change_keeps_its_number() -> None:
    with a_job_at("road_test") as scene:
        words = wording_of(scene.job, scene.record())
        stored = {"number": "25", "unit": "km", "comparator": "=", "typed": "25"}
        with units.use(FEET):
            assert plain(words.value(DRIVE_KM, stored)) == "15.5 mi (25 km)"


def test_a_unit_of_another_kind_is_refused_at_the_door() -> None:
    with a_job_at("road_test") as scene:
        tool = next(t for t in scene.shelf("torque_tool") if t.ratings["high_nm"] > 60)
        scene.enter(MOUNTS.tool, raw=tool.id, at=FIRST)
        raw = {"in": "psi", "rows": {"P1": "44"}}
        draft = Draft(
            kind=Kind.VALUE, by=TECHNICIAN, item=MOUNTS.values.key, qualifier=FIRST, value=raw
        )
        assert scene.send(draft).codes == {"not_this_unit"}
