"""The course of a job: what happened, whom it waited for, the page that shows it."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import pytest
from django.test import Client
from django.urls import reverse

from jobs.core.quoted import in_force
from jobs.practice.player import play
from jobs.practice.scene import Scene
from jobs.queries.course import WORKED_WITHIN, Course, course_of, waited
from jobs.queries.records import job_info
from jobs.report.against_quoted import against_quoted
from jobs.steps.fault_localisation.items import QUOTATION
from jobs.steps.reassembly.items import AFTER_LID
from tests.jobs.conftest import Shop
from tests.jobs.test_accounting import visitor
from tests.play import a_job_at

pytestmark = pytest.mark.django_db


def course(scene: Scene) -> Course:
    info = job_info(scene.job)
    assert info is not None
    return course_of(info, scene.record())


def test_the_waits_lie_end_to_end_and_add_up_to_the_whole_time() -> None:
    with a_job_at("closed") as scene:
        found, record = course(scene), scene.record()
        assert record.closed is not None
        assert found.waits[0].since == record.entries[0].at
        assert found.ends_at == record.closed.at
        for before, after in zip(found.waits, found.waits[1:], strict=False):
            assert before.until == after.since
        whole_s = (record.closed.at - record.entries[0].at).total_seconds()
        assert sum(waited(found.waits).values()) == pytest.approx(whole_s)


def test_every_signature_is_told_with_the_time_since_its_step_was_begun() -> None:
    with a_job_at("closed") as scene:
        signed = [each for each in course(scene).happenings if each.what == "signed"]
        assert [each.step for each in signed] == list(scene.record().signatures)
        assert all(each.length_s is not None and each.length_s > 0 for each in signed)


def test_a_quotation_that_is_not_answered_is_a_wait_for_the_customer() -> None:
    with a_job_at("fault_localisation") as scene:
        play(scene, until="fault_localisation.quote_how")
        before = waited(course(scene).waits)["customer"]
        scene.wait(hours=50)
        found = course(scene)
        assert found.waits[-1].waits_for == "customer"
        assert waited(found.waits)["customer"] - before >= 50 * 3600
        assert [each.detail for each in found.happenings if each.what == "quoted"] == ["1"]


def test_a_cure_counts_as_time_that_runs_and_what_is_left_of_the_gap_does_not() -> None:
    with a_job_at("reassembly", "hatchback-module") as scene:
        play(scene, until=AFTER_LID.reading.key)
        lid_on = scene.record().live["reassembly.lid_on"][-1]
        scene.wait(hours=200)
        waits = [each for each in course(scene).waits if each.until > lid_on.at]
        assert {each.waits_for for each in waits if each.party == "time"} == {"cure"}
        assert waits[-1].party != "time"
        assert waits[-1].length_s > 50 * 3600


def test_work_within_half_an_hour_is_no_wait() -> None:
    with a_job_at("de_energise_check") as scene:
        last = scene.record().entries[-1].at
        scene.clock.moment = last + timedelta(minutes=29)
        assert course(scene).waits[-1].party == "work"
        scene.wait(minutes=2)
        tail = course(scene).waits[-1]
        assert (tail.party, tail.length_s) == ("shop", 31 * 60)


def test_the_page_is_for_whoever_is_signed_on(
    shop: Shop, client_of: Callable[[str], Client]
) -> None:
    address = reverse("jobs:timeline", args=(shop.job,))
    assert Client().get(address).status_code == 302
    for name in ("lorne", "aster", "thorne"):
        answer = client_of(name).get(address)
        assert answer.status_code == 200
        assert b"Booked in" in answer.content


def test_the_manager_sees_parts_and_hours_quoted_beside_those_fitted_and_worked() -> None:
    with a_job_at("closed") as scene:
        found, record = course(scene), scene.record()
        both = against_quoted(record, found)
        pages = {
            role: visitor(scene, role).get(f"/jobs/{scene.job}/timeline/").content.decode()
            for role in ("manager", "technician")
        }
        quoted = in_force(record, QUOTATION)
    assert quoted is not None
    lines = [line for line in quoted.given.value.lines if not line.optional]
    assert both.parts_fitted == 1
    assert both.parts_quoted == sum(line.quantity for line in lines if line.kind == "part")
    assert both.labour_quoted_h == sum(line.quantity for line in lines if line.kind == "labour")
    times = [entry.at for entry in record.entries]
    gaps = [after - before for before, after in pairwise(times)]
    worked_s = sum(gap.total_seconds() for gap in gaps if gap <= WORKED_WITHIN)
    assert 0 < both.worked_h <= worked_s / 3600.0
    assert "Quoted and done" in pages["manager"]
    assert "Quoted and done" not in pages["technician"]


def test_parts_that_differ_from_those_approved_are_pointed_out() -> None:
    with a_job_at("closed") as scene:
        both = against_quoted(scene.record(), course(scene))
    assert not both.parts_differ
    assert replace(both, parts_fitted=both.parts_fitted + 1).parts_differ
    assert not replace(both, parts_quoted=None).parts_differ
