"""Signing, hold points, the proof of absence of voltage, countersigning."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from jobs.core.entering import enter_gate, strike_gate
from jobs.core.entry import Kind
from jobs.core.flow import (
    blocker_digest,
    countersignable,
    gate,
    hold_gate,
    not_needed_gate,
    proof_gate,
    sign_gate,
)
from jobs.core.high_voltage import high_voltage
from tests.builders import ASTER, LORNE, MUNK, THORNE, Bench, a_person
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
    PROBE_SECOND,
    PULL,
    REFIT,
    SECOND,
    SHUT,
    SMALL,
    VOLTS,
    WORK,
)


def test_an_empty_step_names_every_item_it_needs() -> None:
    points = gate(SMALL, Bench().record(), LOOK)
    assert codes(points) == ["missing", "missing"]
    assert [point.item for point in points] == [VOLTS.key, SECOND.key]


def test_a_complete_step_can_be_signed_by_a_qualified_technician() -> None:
    record = a_looked_at_job().record()
    assert sign_gate(SMALL, record, LOOK, a_person(ASTER)) == ()


def test_a_failing_reading_blocks_and_no_manager_can_sign_over_it() -> None:
    record = a_looked_at_job("150").record()
    assert codes(sign_gate(SMALL, record, LOOK, a_person(THORNE))) == ["too_high"]
    assert countersignable(SMALL, record) == ()


def test_a_later_step_waits_for_the_one_before() -> None:
    record = a_looked_at_job().record()
    assert codes(gate(SMALL, record, WORK)) == ["earlier_step_open"]
    assert codes(enter_gate(SMALL, record, key=PULL.key, qualifier="", by=a_person())) == [
        "earlier_step_open",
        "proof_needed",
    ]


def test_the_signer_has_to_hold_the_role_and_the_qualification() -> None:
    record = a_looked_at_job().record()
    assert codes(sign_gate(SMALL, record, LOOK, a_person(LORNE))) == [
        "signer_role",
        "signer_unqualified",
    ]


def test_a_qualification_counts_to_its_last_day_and_not_beyond() -> None:
    record = a_looked_at_job().record()
    until = replace(a_person(), qualifications={"live_work": date(2026, 3, 2)})
    before = replace(a_person(), qualifications={"live_work": date(2026, 3, 1)})
    assert sign_gate(SMALL, record, LOOK, until) == ()
    assert codes(sign_gate(SMALL, record, LOOK, before)) == ["signer_unqualified"]


def test_the_second_person_is_somebody_else_and_qualified() -> None:
    bench = Bench()
    bench.put(VOLTS, "3")
    bench.put(SECOND, by=ASTER)
    assert codes(sign_gate(SMALL, bench.record(), LOOK, a_person(ASTER))) == ["second_same"]
    bench = Bench()
    bench.put(VOLTS, "3")
    bench.put(SECOND, by=LORNE)
    assert codes(gate(SMALL, bench.record(), LOOK)) == ["second_unqualified"]


def test_a_second_person_who_signs_last_signs_again_after_a_new_reading() -> None:
    step = replace(LOOK, signers=replace(LOOK.signers, second_last=True))
    steps = (step, WORK, SHUT)
    bench = Bench()
    bench.put(SECOND, by=MUNK)
    bench.put(VOLTS, "3")
    assert codes(gate(steps, bench.record(), step)) == ["second_stale"]
    bench = a_looked_at_job()
    assert gate(steps, bench.record(), step) == ()


def test_a_hold_point_is_refused_until_what_it_needs_is_there() -> None:
    bench = a_job_at_work()
    assert codes(hold_gate(SMALL, bench.record(), WORK, "open", a_person())) == ["missing"]
    bench.put(PULL)
    assert hold_gate(SMALL, bench.record(), WORK, "open", a_person()) == ()


def test_a_hold_point_asks_its_own_question() -> None:
    bench = a_job_at_work("30")
    bench.put(PULL)
    assert codes(hold_gate(SMALL, bench.record(), WORK, "open", a_person())) == ["too_high"]


def test_an_item_behind_a_hold_point_is_locked_until_it_is_passed_and_when_it_lapses() -> None:
    bench = a_job_at_work()
    bench.put(PULL)

    def lid_off() -> list[str]:
        by = a_person()
        return codes(enter_gate(SMALL, bench.record(), key=LID_OFF.key, qualifier="", by=by))

    assert lid_off() == ["hold_not_passed"]
    bench.hold("work", "open")
    assert lid_off() == []
    bench.wait(hours=13)
    assert lid_off() == ["hold_not_passed"]


def test_a_step_cannot_be_signed_around_its_hold_point() -> None:
    bench = a_job_at_work()
    bench.put(PULL)
    assert "hold_not_passed" in codes(gate(SMALL, bench.record(), WORK))


def test_unknown_holds_and_passed_holds_are_refused() -> None:
    bench = a_job_with_the_lid_off()
    assert codes(hold_gate(SMALL, bench.record(), WORK, "close")) == ["no_such_hold"]
    assert codes(hold_gate(SMALL, bench.record(), WORK, "open")) == ["hold_is_passed"]


def test_work_on_the_circuit_needs_a_proof_by_one_of_the_two_who_made_it() -> None:
    bench = a_looked_at_job()
    bench.sign("look")

    def pull(person: str) -> list[str]:
        by = a_person(person)
        return codes(enter_gate(SMALL, bench.record(), key=PULL.key, qualifier="", by=by))

    assert pull(ASTER) == ["proof_needed"]
    bench.prove()
    assert pull(ASTER) == []
    assert pull(MUNK) == []
    assert pull(THORNE) == ["proof_other_person"]
    bench.wait(hours=4)
    assert pull(ASTER) == ["proof_needed"]


def test_a_proof_is_written_for_two_qualified_people_only() -> None:
    bench = a_looked_at_job()
    bench.put(PROBE, "0.2", round="1")
    judged, points = proof_gate(SMALL, bench.record(), round_name="1", by=a_person())
    assert codes(points) == ["not_dead"]
    bench.put(PROBE_SECOND, by=MUNK, round="1")
    judged, points = proof_gate(SMALL, bench.record(), round_name="1", by=a_person())
    assert points == ()
    assert judged is not None
    assert judged.verdict == "dead"
    _, points = proof_gate(SMALL, bench.record(), round_name="1", by=a_person(MUNK))
    assert codes(points) == ["second_same"]
    _, points = proof_gate(SMALL, bench.record(), round_name="1", by=a_person(LORNE))
    assert codes(points) == ["signer_role", "signer_unqualified"]


def test_a_job_without_a_proving_step_has_no_proof() -> None:
    steps = (replace(LOOK, prove=None), WORK, SHUT)
    _, points = proof_gate(steps, Bench().record(), round_name="1", by=a_person())
    assert codes(points) == ["no_proof_step"]


def test_the_band_tells_the_state_of_the_high_voltage() -> None:
    bench = a_looked_at_job()
    assert high_voltage(bench.record()).state == "not_proven"
    bench.sign("look")
    bench.prove()
    assert high_voltage(bench.record()).state == "proven"
    bench.wait(hours=5)
    assert high_voltage(bench.record()).state == "lapsed"
    bench = a_job_with_the_lid_off()
    band = high_voltage(bench.record())
    assert (band.state, band.proof_holds) == ("pack_open", True)
    bench.put(LID_ON)
    assert high_voltage(bench.record()).state == "proven"
    bench.put(REFIT)
    band = high_voltage(bench.record())
    assert (band.state, band.ended_by) == ("lapsed", REFIT.key)


def test_a_lid_ticked_off_by_mistake_is_on_again_once_struck_but_not_by_re_opening() -> None:
    bench = a_job_with_the_lid_off()
    off = bench.entries[-1]
    bench.add(
        Kind.REOPEN, {"step": "work", "voids": [LID_OFF.key], "supersedes": [], "reason": "x"}
    )
    assert bench.record().pack_open
    bench.add(Kind.STRIKE, {"key": off.key, "reason": "wrong vehicle"})
    assert not bench.record().pack_open


def test_a_manager_accepts_only_what_is_offered_and_only_for_the_figure_shown() -> None:
    bench = a_looked_at_job("60")
    (point,) = countersignable(SMALL, bench.record())
    bench.add(Kind.COUNTERSIGN, {"digest": blocker_digest(point)}, by=THORNE)
    assert gate(SMALL, bench.record(), LOOK) == ()
    first = next(e for e in bench.entries if e.item == VOLTS.key)
    bench.add(Kind.STRIKE, {"key": first.key, "reason": "read again"})
    bench.put(VOLTS, "61")
    assert codes(gate(SMALL, bench.record(), LOOK)) == ["spread"]


def test_a_step_that_does_not_apply_is_signed_as_not_needed_and_only_then() -> None:
    bench = a_looked_at_job("0")
    bench.sign("look")
    assert not_needed_gate(SMALL, bench.record(), WORK, a_person()) == ()
    assert codes(not_needed_gate(SMALL, bench.record(), WORK, a_person(LORNE))) == [
        "signer_role",
        "signer_unqualified",
    ]
    bench = a_job_at_work()
    assert codes(not_needed_gate(SMALL, bench.record(), WORK, a_person())) == ["step_applies"]


def test_whoever_did_the_work_does_not_release_it() -> None:
    bench = a_job_with_the_lid_off()
    bench.sign("work", by=THORNE)
    bench.put(LID_ON)
    bench.put(REFIT)
    assert codes(sign_gate(SMALL, bench.record(), SHUT, a_person(THORNE))) == ["signer_of"]
    bench.entries.pop()
    bench.entries.pop()
    bench.entries.pop()
    bench.sign("work", by=ASTER)
    bench.put(LID_ON)
    bench.put(REFIT)
    assert sign_gate(SMALL, bench.record(), SHUT, a_person(THORNE)) == ()


def test_a_signed_step_takes_no_more_values_but_notes() -> None:
    bench = a_job_at_work()
    record = bench.record()
    assert codes(enter_gate(SMALL, record, key=VOLTS.key, qualifier="", by=a_person())) == [
        "already_recorded",
        "step_signed",
    ]
    assert enter_gate(SMALL, record, key="look.note", qualifier="", by=a_person(LORNE)) == ()


def test_a_single_item_takes_a_second_value_only_after_the_first_is_struck() -> None:
    bench = a_looked_at_job()
    first = bench.entries[0]
    assert codes(enter_gate(SMALL, bench.record(), key=VOLTS.key, qualifier="", by=a_person())) == [
        "already_recorded"
    ]
    assert strike_gate(SMALL, bench.record(), key=first.key) == ()
    bench.add(Kind.STRIKE, {"key": first.key, "reason": "misread"})
    assert enter_gate(SMALL, bench.record(), key=VOLTS.key, qualifier="", by=a_person()) == ()
    assert bench.record().gone == {first.key: "misread"}


@pytest.mark.parametrize("qualifier", ["", "round=", "round=1;pole=x", "pole=x", "rubbish"])
def test_a_collection_says_which_one(qualifier: str) -> None:
    record = Bench().record()
    found = enter_gate(SMALL, record, key=PROBE.key, qualifier=qualifier, by=a_person())
    assert codes(found) == ["wrong_qualifier"]


def test_what_is_not_asked_cannot_be_entered_or_struck() -> None:
    record = Bench().record()
    found = enter_gate(SMALL, record, key="look.other", qualifier="", by=a_person())
    assert codes(found) == ["unknown_item"]
    assert codes(strike_gate(SMALL, record, key="nothing")) == ["nothing_to_strike"]


def test_the_front_desk_does_not_enter_readings() -> None:
    found = enter_gate(SMALL, Bench().record(), key=VOLTS.key, qualifier="", by=a_person(LORNE))
    assert codes(found) == ["role_may_not"]


def test_withdrawn_equipment_blocks_the_step_that_uses_it() -> None:
    bench = a_job_with_the_lid_off()
    bench.add(Kind.WITHDRAW, {"id": "x", "reason": "dropped"})
    assert bench.record().withdrawn == {"x": "dropped"}


def a_job_with_a_proof_on(entry_kind: Kind, value: dict[str, object]) -> Bench:
    bench = a_looked_at_job()
    probe = bench.put(PROBE, "0.2", round="1")
    picked = bench.add(Kind.VALUE, {"id": "indicator"}, item="look.indicator")
    bench.sign("look")
    until = (bench.now + timedelta(hours=4)).isoformat()
    grounds = [probe.key, picked.key]
    bench.add(Kind.PROOF, {"until": until, "second": MUNK, "round": "1", "rests_on": grounds})
    assert bench.record().proof_holds()
    bench.add(entry_kind, {"key": probe.key, "voids": [PROBE.key], "supersedes": [], **value})
    return bench


@pytest.mark.parametrize(
    ("kind", "value", "cause"),
    [
        (Kind.STRIKE, {"reason": "misread"}, "struck"),
        (Kind.REOPEN, {"reason": "again", "step": "look"}, "reopened"),
        (Kind.WITHDRAW, {"id": "indicator", "reason": "dropped"}, "withdrawn"),
    ],
)
def test_a_proof_ends_when_what_it_rests_on_is_lost(
    kind: Kind, value: dict[str, object], cause: str
) -> None:
    record = a_job_with_a_proof_on(kind, value).record()
    assert not record.proof_holds()
    assert record.proof is not None
    assert record.proof.ended_by == cause


def test_a_proof_does_not_end_for_what_it_does_not_rest_on() -> None:
    bench = a_job_with_a_proof_on(Kind.WITHDRAW, {"id": "another", "reason": "dropped"})
    assert bench.record().proof_holds()


def test_a_hold_point_is_passed_again_when_what_it_needed_is_struck() -> None:
    bench = a_job_at_work()
    pulled = bench.put(PULL)
    bench.hold("work", "open")

    def lid_off() -> list[str]:
        by = a_person()
        return codes(enter_gate(SMALL, bench.record(), key=LID_OFF.key, qualifier="", by=by))

    assert lid_off() == []
    bench.add(Kind.STRIKE, {"key": pulled.key, "reason": "wrong vehicle"})
    assert lid_off() == ["hold_not_passed"]
    bench.put(PULL)
    assert lid_off() == ["hold_not_passed"]
    bench.hold("work", "open")
    assert lid_off() == []
