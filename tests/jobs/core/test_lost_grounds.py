"""What ends when the grounds of a hold point, a proof or a signature are lost."""

from dataclasses import replace

import pytest

from jobs.core.closing import plan_reopen
from jobs.core.entering import enter_gate, strike_gate
from jobs.core.entry import Entry, Json, Kind
from jobs.core.flow import gate, hold_gate, not_needed_gate, sign_gate
from jobs.core.item import Effect, tick
from jobs.core.step import Hold
from tests.builders import ASTER, LORNE, MUNK, THORNE, Bench, a_bench, a_person, an_equipment
from tests.jobs.core.small_jobs import (
    a_job_at_work,
    a_job_with_the_lid_off,
    a_looked_at_job,
    codes,
)
from tests.small_rooms import (
    LID_OFF,
    LID_ON,
    LOOK,
    PROBE,
    PULL,
    REFIT,
    SECOND,
    SHUT,
    SMALL,
    VOLTS,
    WORK,
)


def lid_off(bench: Bench) -> list[str]:
    by = a_person()
    return codes(enter_gate(SMALL, bench.record(), key=LID_OFF.key, qualifier="", by=by))


def a_job_at_its_hold_point() -> tuple[Bench, Entry]:
    bench = a_job_at_work()
    pulled = bench.put(PULL)
    bench.hold("work", "open")
    assert lid_off(bench) == []
    return bench, pulled


def reopened(bench: Bench, *items: str) -> None:
    plan = plan_reopen(SMALL, bench.record(), LOOK, items)
    value = {"step": "look", "voids": plan.voids, "supersedes": plan.supersedes, "reason": "x"}
    bench.add(Kind.REOPEN, value)


def test_a_hold_point_of_the_open_step_is_lost_when_an_earlier_step_is_re_opened() -> None:
    bench, _ = a_job_at_its_hold_point()
    reopened(bench)
    bench.put(VOLTS, "3")
    bench.put(SECOND, by=MUNK)
    bench.sign("look")
    assert lid_off(bench) == ["hold_not_passed"]
    assert codes(hold_gate(SMALL, bench.record(), WORK, "open", a_person())) == ["missing"]


def test_a_hold_point_is_lost_when_equipment_that_it_rests_on_is_withdrawn() -> None:
    bench, _ = a_job_at_its_hold_point()
    gloves = an_equipment("gloves")
    bench.add(Kind.VALUE, gloves, item="work.gloves")
    bench.hold("work", "open")
    assert lid_off(bench) == []
    bench.add(Kind.WITHDRAW, {"id": gloves["id"], "reason": "torn"})
    assert lid_off(bench) == ["hold_not_passed"]


def test_a_value_entered_after_a_hold_point_can_be_struck_without_losing_it() -> None:
    bench, _ = a_job_at_its_hold_point()
    later = bench.add(Kind.VALUE, {"number": "1"}, item="work.later")
    bench.add(Kind.STRIKE, {"key": later.key, "reason": "misread"})
    assert lid_off(bench) == []


def test_another_revision_of_the_definition_ends_the_proof_and_the_hold_points() -> None:
    bench, revision = a_bench(), "00000000-0000-4000-8000-00000000000f"
    bench.add(Kind.REVISION, {"revision": revision})
    bench.prove()
    bench.hold("work", "open")
    assert bench.record().proof_holds()
    bench.add(Kind.REVISION, {"revision": revision})
    record = bench.record()
    assert (record.proof_holds(), record.holds) == (False, {})


def test_an_item_behind_a_hold_point_that_is_not_there_cannot_be_entered() -> None:
    no_hold = replace(WORK, holds=lambda _record, _result: ())
    bench = a_job_at_work()
    by = a_person()
    points = enter_gate((LOOK, no_hold), bench.record(), key=LID_OFF.key, qualifier="", by=by)
    assert codes(points) == ["no_such_hold"]


def test_a_hold_point_asks_for_every_part_of_a_collection_it_needs() -> None:
    both = ("round=1", "round=2")
    need = replace(PROBE, expected=both)
    hold = Hold(slug="open", act="the lid comes off", needs=(need,))
    step = replace(LOOK, holds=lambda _record, _result: (hold,))
    bench = Bench()
    bench.put(PROBE, "1", round="1")
    (point,) = hold_gate((step,), bench.record(), step, "open")
    assert (point.code, point.qualifier) == ("missing", "round=2")


def test_the_second_person_signs_again_after_a_value_they_saw_is_struck() -> None:
    step = replace(LOOK, signers=replace(LOOK.signers, second_last=True))
    steps = (step, WORK, SHUT)
    bench = Bench()
    extra = bench.put(PROBE, "400", round="1")
    bench.put(VOLTS, "3")
    bench.put(SECOND, by=MUNK)
    assert gate(steps, bench.record(), step) == ()
    bench.add(Kind.STRIKE, {"key": extra.key, "reason": "looks bad"})
    assert codes(gate(steps, bench.record(), step)) == ["second_stale"]


def test_a_note_struck_does_not_ask_the_second_person_again() -> None:
    step = replace(LOOK, signers=replace(LOOK.signers, second_last=True))
    bench = Bench()
    note = bench.add(Kind.VALUE, "loud fan", item="look.note")
    bench.put(VOLTS, "3")
    bench.put(SECOND, by=MUNK)
    bench.add(Kind.STRIKE, {"key": note.key, "reason": "typo"})
    assert gate((step,), bench.record(), step) == ()


def test_re_opening_voids_what_is_not_asked_any_more_too() -> None:
    bench = a_looked_at_job()
    bench.add(Kind.VALUE, True, item="look.asked_before")
    bench.sign("look")
    bench.add(Kind.VALUE, True, item="work.asked_before")
    plan = plan_reopen(SMALL, bench.record(), LOOK, [])
    assert {"look.asked_before", "work.asked_before"} <= set(plan.voids)


def test_re_opening_takes_back_what_was_countersigned_in_that_step() -> None:
    bench = a_looked_at_job("60")
    bench.add(Kind.COUNTERSIGN, {"digest": "d", "item": VOLTS.key}, by=THORNE)
    bench.sign("look")
    reopened(bench)
    assert bench.record().countersigned == ()


def test_a_lid_that_something_was_entered_under_is_not_struck_away() -> None:
    under = tick("work.under", "Under the lid", hold="open", needed=False)
    work = replace(WORK, items=lambda _record: (PULL, LID_OFF, under))
    bench = a_job_with_the_lid_off()
    opened = bench.record().lid_events[-1]
    assert strike_gate((LOOK, work), bench.record(), key=opened.key) == ()
    bench.put(under)
    assert codes(strike_gate((LOOK, work), bench.record(), key=opened.key)) == ["lid_was_off"]


def test_the_desk_strikes_no_reading_of_a_technician() -> None:
    bench = Bench()
    volts = bench.put(VOLTS, "150")
    desk, technician = a_person(LORNE), a_person(ASTER)
    assert codes(strike_gate(SMALL, bench.record(), key=volts.key, by=desk)) == ["role_may_not"]
    assert strike_gate(SMALL, bench.record(), key=volts.key, by=technician) == ()


def test_whoever_signed_a_repair_that_was_re_opened_does_not_release_it() -> None:
    bench = a_job_with_the_lid_off()
    bench.sign("work", by=THORNE)
    plan = {"step": "work", "voids": [], "supersedes": ["work"], "reason": "again"}
    bench.add(Kind.REOPEN, plan)
    bench.sign("work", by=MUNK)
    bench.put(LID_ON)
    bench.put(REFIT)
    assert codes(sign_gate(SMALL, bench.record(), SHUT, a_person(THORNE))) == ["signer_of"]


def test_whoever_did_the_repair_does_not_sign_the_release_as_not_needed_either() -> None:
    shut = replace(SHUT, skip=lambda _record: SHUT_NOT)
    bench = a_job_with_the_lid_off()
    bench.sign("work", by=THORNE)
    points = not_needed_gate((LOOK, WORK, shut), bench.record(), shut, a_person(THORNE))
    assert codes(points) == ["signer_of"]


SHUT_NOT = LOOK.reasons[0]


def test_a_step_without_a_qualification_is_called_not_needed_by_a_qualified_person() -> None:
    plain = replace(LOOK, signers=replace(LOOK.signers, qualification=""), skip=lambda _r: SHUT_NOT)
    anybody = replace(a_person(), qualifications={})
    record = Bench().record()
    assert codes(not_needed_gate((plain,), record, plain, anybody)) == ["signer_unqualified"]
    assert not_needed_gate((plain,), record, plain, a_person()) == ()


@pytest.mark.parametrize("effect", [Effect.ENDS_PROOF, Effect.DOUBTS_PROOF])
def test_a_proof_ends_when_it_is_undone_or_in_doubt(effect: Effect) -> None:
    bench = Bench()
    bench.prove()
    value: Json = True
    bench.add(Kind.VALUE, value, item="look.any", effect=str(effect))
    record = bench.record()
    assert not record.proof_holds()
    assert record.proof is not None
    assert record.proof.ended_by == "look.any"
