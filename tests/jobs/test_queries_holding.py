"""What holds a job: one test for each kind of wait, and since when it holds."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from jobs.core.entry import Kind
from jobs.core.order import open_step
from jobs.core.spare_check import RESTING
from jobs.practice.player import play
from jobs.practice.scene import Scene
from jobs.queries.floor import Floor, floor_on
from jobs.queries.holding import Holding, holding, moved_at
from jobs.queries.holding_codes import DANGER, EQUIPMENT, PEOPLE, VERDICTS
from jobs.queries.lists import OpenJob, open_jobs
from jobs.queries.timers import TIMED, timer_of
from jobs.steps import STEPS
from jobs.steps.de_energise_check.assessment import isolated_at
from jobs.steps.de_energise_check.items import BEFORE
from jobs.steps.fault_localisation.items import ANSWER, CANDIDATES, QUOTATION
from jobs.steps.intake.items import AUTHORITY, STANDS, TRIAGE
from jobs.steps.module_swap.gate import REST_SHORT
from jobs.steps.module_swap.items import SPARE_CELL_V, SPARES
from jobs.steps.reassembly.items import AFTER_LID
from jobs.steps.road_test.gate import AGAIN_MISSING
from jobs.steps.road_test.items import AFTER_24H, CODES, DRIVE_KM, SPREAD_REST
from jobs.views.reasons import all_reasons
from tests.builders import ASTER, MUNK, Bench, a_bench, a_person, a_quotation
from tests.play import a_job, a_job_at

NOBODY = Floor(names={}, pieces={})
TODAY = Bench().now.date()


def held(bench: Bench, *, floor: Floor = NOBODY, arrives: Any = None) -> Holding:
    record = bench.record()
    return holding(record, open_step(STEPS, record), floor, arrives)


def shown(scene: Scene) -> OpenJob:
    now = scene.clock.now()
    return next(row for row in open_jobs(now=now, today=now.date()) if row.job.id == scene.job)


def told(scene: Scene) -> Holding:
    found = shown(scene).holding
    assert found is not None
    return found


def test_a_vehicle_that_is_booked_waits_for_its_arrival_and_holds_nothing_yet() -> None:
    found = held(a_bench(), arrives=TODAY + timedelta(days=1))
    assert (found.waits_for, found.since) == ("arrival", None)


def test_a_vehicle_that_did_not_come_holds_since_its_day() -> None:
    found = held(a_bench(), arrives=TODAY - timedelta(days=1))
    assert found.waits_for == "arrival"
    assert found.since == datetime(2026, 3, 1, tzinfo=UTC)


def test_a_vehicle_of_which_something_was_entered_is_here() -> None:
    bench = a_bench()
    bench.put(STANDS, "bay 2")
    assert held(bench, arrives=TODAY).waits_for == "work"


@pytest.mark.parametrize("sign", ["acute", "watch"])
def test_a_sign_of_danger_holds_before_anything_else(sign: str) -> None:
    bench = a_bench()
    seen = bench.put(TRIAGE, sign)
    bench.wait(minutes=20)
    bench.put(STANDS, "yard")
    found = held(bench)
    assert (found.waits_for, found.since) == ("danger", seen.at)


def signed(bench: Bench, *slugs: str) -> None:
    for slug in slugs:
        bench.sign(slug)


def a_quoted_bench() -> Bench:
    bench = a_bench()
    signed(bench, "intake", "de_energise_check", "isolation_readings")
    bench.put(CANDIDATES, "M8 or M9")
    return bench


def test_a_quotation_that_is_not_answered_waits_for_the_customer_since_it_was_written() -> None:
    bench = a_quoted_bench()
    assert held(bench).waits_for == "work"
    bench.wait(minutes=5)
    quoted = bench.put(QUOTATION, a_quotation())
    bench.wait(hours=3)
    found = held(bench)
    assert (found.waits_for, found.since) == ("customer", quoted.at)
    bench.put(ANSWER, "approved", version="1")
    assert held(bench).waits_for != "customer"


def test_a_new_version_waits_for_the_customer_again() -> None:
    bench = a_quoted_bench()
    first = bench.put(QUOTATION, a_quotation())
    bench.put(ANSWER, "approved", version="1")
    bench.add(Kind.STRIKE, {"key": first.key, "reason": "dearer"})
    bench.put(QUOTATION, a_quotation("1900"))
    found = held(bench)
    assert found.waits_for == "customer"
    assert "answer again" in found.said.text


def test_a_note_or_a_refusal_does_not_change_since_when_something_holds() -> None:
    bench = a_bench()
    last = bench.put(STANDS, "bay 2")
    bench.wait(hours=1)
    bench.add(Kind.VALUE, "seen", item="intake.note")
    bench.add(Kind.REFUSAL, {"codes": []})
    assert moved_at(bench.record()) == last.at
    moved = bench.put(TRIAGE, "none")
    assert moved_at(bench.record()) == moved.at


def test_a_24_h_reading_is_waited_for_and_then_due() -> None:
    bench = a_bench()
    drive = bench.put(DRIVE_KM, "12")
    blocker = AGAIN_MISSING(AFTER_24H.key)
    bench.wait(hours=2)
    found = timer_of(bench.record(), [blocker])
    assert found is not None
    assert (found.waits_for, found.since) == ("reading_24h", drive.at)
    assert found.until == drive.at + timedelta(hours=24)
    bench.wait(hours=23)
    found = timer_of(bench.record(), [blocker])
    assert found is not None
    assert (found.waits_for, found.since) == ("work", drive.at + timedelta(hours=24))


def test_a_24_h_reading_does_not_hold_before_the_drive() -> None:
    assert timer_of(a_bench().record(), [AGAIN_MISSING(AFTER_24H.key)]) is None


def test_a_spare_rests_for_what_was_missing() -> None:
    bench = a_bench()
    read = bench.put(SPARE_CELL_V, "3.6", module="M9")
    blocker = REST_SHORT(SPARE_CELL_V.key, "module=M9", module="M9", rest_h=1.5, needed_h=4.0)
    found = timer_of(bench.record(), [blocker])
    assert found is not None
    assert (found.waits_for, found.until) == ("rest", read.at + timedelta(hours=2.5))
    bench.wait(hours=3)
    assert timer_of(bench.record(), [blocker]) is None


def test_a_spare_whose_charge_was_moved_rests_from_the_current_off() -> None:
    bench = a_bench()
    off = bench.put(SPARES.off, module="M9", round="1")
    until = off.at + timedelta(hours=3)
    found = timer_of(
        bench.record(), [RESTING(SPARES.again_v.key, module="M9", until_at=until.isoformat())]
    )
    assert found is not None
    assert (found.waits_for, found.since, found.until) == ("rest", off.at, until)


def test_where_nobody_may_sign_a_person_is_missing() -> None:
    bench = a_bench()
    bench.put(STANDS, "bay 2")
    desk = Floor(people=(a_person("00000000-0000-4000-8000-000000000004"),), names={}, pieces={})
    floor = Floor(people=(a_person(ASTER), a_person(MUNK)), names={}, pieces={})
    assert held(bench, floor=desk).waits_for == "person"
    assert held(bench, floor=floor).waits_for == "work"


def test_a_proof_that_ran_out_holds_since_it_ran_out() -> None:
    bench = a_bench()
    signed(bench, "intake")
    proof = bench.prove(hours=4)
    signed(bench, "de_energise_check")
    bench.wait(hours=3)
    assert held(bench).waits_for != "proof"
    bench.wait(hours=2)
    found = held(bench)
    assert (found.waits_for, found.since) == ("proof", proof.at + timedelta(hours=4))


def test_a_job_with_every_step_signed_waits_to_be_collected() -> None:
    bench = a_bench()
    signed(bench, *(step.slug for step in STEPS))
    found = held(bench)
    assert (found.waits_for, found.since) == ("collection", bench.now)


def on_the_road() -> Bench:
    bench = a_bench()
    signed(bench, *(step.slug for step in STEPS[:-1]))
    return bench


def test_a_result_that_fails_holds_since_it_was_entered() -> None:
    bench = on_the_road()
    bench.put(CODES, "none")
    assert held(bench).waits_for != "verdict"
    bench = on_the_road()
    returned = bench.put(CODES, "returned")
    bench.wait(hours=1)
    found = held(bench)
    assert (found.waits_for, found.since) == ("verdict", returned.at)


def test_a_shop_limit_that_was_not_met_waits_for_a_manager() -> None:
    bench = on_the_road()
    read = bench.put(SPREAD_REST, "900")
    bench.wait(hours=1)
    found = held(bench)
    assert (found.waits_for, found.since) == ("manager", read.at)
    bench = on_the_road()
    bench.put(SPREAD_REST, "1")
    assert held(bench).waits_for != "manager"


def test_every_code_that_means_a_wait_is_one_that_a_step_gives() -> None:
    assert {*DANGER, *EQUIPMENT, *PEOPLE, *VERDICTS, *TIMED} - {*all_reasons()} == set()


@pytest.mark.django_db
def test_an_authority_not_signed_waits_for_the_customer() -> None:
    with a_job() as scene:
        play(scene, until=AUTHORITY.key)
        assert told(scene).waits_for == "customer"
        assert told(scene).said.text == "Authority to diagnose not signed"


@pytest.mark.django_db
def test_the_waiting_time_runs_from_the_last_isolating_act() -> None:
    with a_job_at("de_energise_check") as scene:
        assert told(scene).waits_for == "work"
        play(scene, until=BEFORE.key)
        since = isolated_at(scene.record())
        found = told(scene)
        assert (found.waits_for, found.since) == ("waiting_time", since)
        assert found.until is not None
        assert found.until > scene.clock.now()


@pytest.mark.django_db
def test_sealant_that_cures_is_waited_for_until_it_has_cured() -> None:
    with a_job_at("reassembly", "hatchback-module") as scene:
        play(scene, until=AFTER_LID.reading.key)
        found = told(scene)
        assert found.waits_for == "cure"
        assert found.until is not None
        assert found.since is not None
        assert found.since <= scene.clock.now() < found.until
        scene.wait(hours=(found.until - scene.clock.now()).total_seconds() / 3600 + 0.1)
        assert told(scene).waits_for != "cure"


@pytest.mark.django_db
def test_gloves_that_run_out_of_test_hold_since_that_day() -> None:
    with a_job_at("isolation_readings") as scene:
        play(scene, until="isolation_readings.live_air_test")
        picked = scene.record().live["isolation_readings.live_gloves"][-1]
        due = datetime.fromisoformat(picked.value["due_on"])
        late = datetime(due.year, due.month, due.day, 10, tzinfo=UTC) + timedelta(days=1)
        row = open_jobs(now=late, today=late.date())[0]
        assert row.holding is not None
        assert row.holding.waits_for == "equipment"
        assert "out of date since" in row.holding.said.text
        assert row.holding.since is not None
        assert row.holding.since.date() == late.date()


@pytest.mark.django_db
def test_equipment_of_which_there_is_none_is_missing() -> None:
    with a_job_at("isolation_readings") as scene:
        play(scene, until="isolation_readings.live_gloves")
        record, step = scene.record(), open_step(STEPS, scene.record())
        full = floor_on(scene.clock.now().date())
        empty = Floor(people=full.people, names=full.names, pieces={})
        assert holding(record, step, full, None).waits_for != "equipment"
        assert holding(record, step, empty, None).waits_for == "equipment"


@pytest.mark.django_db
def test_next_comes_what_the_step_asks_next_with_the_fact_behind_it() -> None:
    with a_job_at("isolation_readings") as scene:
        found, row = told(scene), shown(scene)
        assert found.waits_for == "work"
        assert found.said.params["label"]
        assert row.behind is not None
        assert row.behind[0] == "De-energise check"


@pytest.mark.django_db
def test_once_the_leak_is_named_its_place_stands_behind() -> None:
    with a_job_at("module_swap") as scene:
        row = shown(scene)
        assert row.behind is not None
        assert row.behind[1].params == {"modules": "M9"}


@pytest.mark.django_db
def test_an_open_pack_is_a_hazard() -> None:
    with a_job_at("module_swap") as scene:
        assert "pack_open" in shown(scene).hazards
        assert shown(scene).unsafe


@pytest.mark.django_db
def test_a_closed_pack_under_a_proof_is_no_hazard() -> None:
    with a_job_at("isolation_readings") as scene:
        assert shown(scene).hazards == ()
