"""What Today shows of a job, from the booking to the hand-over."""

from datetime import timedelta

import pytest

from jobs.practice.player import close, play
from jobs.practice.scene import Scene
from jobs.queries.lists import closed_jobs, open_jobs
from jobs.queries.today import TodayInfo, today
from jobs.steps.de_energise_check.items import DEAD, NEW_ROUND, readings_asked
from tests.play import a_job, a_job_at

pytestmark = pytest.mark.django_db


def seen(scene: Scene) -> TodayInfo:
    now = scene.clock.now()
    return today(now=now, day=now.date())


def listed(found: TodayInfo) -> set[str]:
    return {
        name for name in ("arriving", "collectable", "unsafe", "overdue") if getattr(found, name)
    }


def test_a_vehicle_that_was_booked_arrives() -> None:
    with a_job() as scene:
        assert listed(seen(scene)) == {"arriving"}


def test_a_vehicle_that_was_taken_in_arrives_no_more() -> None:
    with a_job_at("de_energise_check") as scene:
        assert listed(seen(scene)) == set()


def test_an_open_pack_is_unsafe_though_its_circuit_is_proven_dead() -> None:
    with a_job_at("fault_localisation") as scene:
        play(scene, until="fault_localisation.link_opened")
        assert scene.record().proof_holds()
        assert listed(seen(scene)) == {"unsafe"}


def test_work_under_a_proof_that_ran_out_is_unsafe() -> None:
    with a_job_at("isolation_readings") as scene:
        scene.wait(hours=5)
        assert listed(seen(scene)) == {"unsafe"}


def test_a_point_that_reads_live_while_the_proof_is_in_force_is_unsafe_at_once() -> None:
    with a_job_at("isolation_readings") as scene:
        scene.enter(NEW_ROUND, True, at="round=1")
        place = readings_asked(scene.record(), "2")[0]
        assert scene.record().proof_holds()
        scene.enter(DEAD, "384", at=place)
        assert not scene.record().proof_holds()
        assert listed(seen(scene)) == {"unsafe"}


def test_a_vehicle_switched_on_by_plan_waits_to_be_collected_and_is_not_unsafe() -> None:
    with a_job_at("road_test") as scene:
        play(scene, closing=False)
        assert not scene.record().proof_holds()
        assert listed(seen(scene)) == {"collectable"}
        close(scene)
        assert listed(seen(scene)) == set()
        assert [job.id for job in closed_jobs().rows] == [scene.job]


def test_a_job_past_its_promised_day_is_overdue() -> None:
    with a_job_at("isolation_readings") as scene:
        later = scene.clock.now() + timedelta(days=4)
        assert [row.overdue for row in open_jobs(now=later, today=later.date())] == [True]
