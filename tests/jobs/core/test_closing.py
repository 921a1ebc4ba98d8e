"""Going back to a step, and closing the job."""

from jobs.core.closing import close_gate, plan_reopen, reopen_gate
from jobs.core.entering import enter_gate, strike_gate
from jobs.core.entry import Kind
from jobs.core.flow import gate, hold_gate
from jobs.core.order import open_step, step_state
from tests.builders import THORNE, a_person
from tests.jobs.core.small_jobs import (
    a_job_at_work,
    a_job_with_the_lid_off,
    a_looked_at_job,
    codes,
)
from tests.small_rooms import LID_OFF, LID_ON, LOOK, PULL, SECOND, SHUT, SMALL, VOLTS, WORK


def test_re_opening_voids_the_named_items_and_everything_later() -> None:
    bench = a_job_with_the_lid_off()
    bench.sign("work")
    plan = plan_reopen(SMALL, bench.record(), LOOK, [VOLTS.key])
    assert plan.voids == tuple(sorted((VOLTS.key, SECOND.key, PULL.key, LID_OFF.key)))
    assert plan.supersedes == ("look", "work")
    value = {"step": "look", "voids": plan.voids, "supersedes": plan.supersedes, "reason": "again"}
    bench.add(Kind.REOPEN, value)
    record = bench.record()
    assert record.get(VOLTS) is None
    assert record.get(SECOND) is None
    assert step_state(SMALL, record, LOOK) == "reopened"
    assert step_state(SMALL, record, SHUT) == "waiting"
    assert [signature.step for signature in record.superseded] == ["look", "work"]
    assert record.holds == {}
    assert record.pack_open


def test_only_a_signed_step_of_an_open_job_is_re_opened() -> None:
    bench = a_looked_at_job()
    assert codes(reopen_gate(bench.record(), LOOK)) == ["not_signed_yet"]
    bench.sign("look")
    assert reopen_gate(bench.record(), LOOK) == ()
    bench.add(Kind.CLOSE, {"how": "handed_over"})
    assert codes(reopen_gate(bench.record(), LOOK)) == ["job_closed"]


def test_a_job_closes_when_every_step_is_signed_and_the_lid_is_on() -> None:
    bench = a_job_with_the_lid_off()
    assert codes(close_gate(SMALL, bench.record())[1]) == [
        "step_not_signed",
        "step_not_signed",
        "pack_open",
    ]
    bench.sign("work")
    bench.put(LID_ON)
    bench.sign("shut", by=THORNE)
    assert close_gate(SMALL, bench.record()) == ("handed_over", ())
    bench.add(Kind.CLOSE, {"how": "handed_over"})
    assert codes(close_gate(SMALL, bench.record())[1]) == ["job_closed"]


def test_a_step_that_ends_the_job_leaves_only_the_closing() -> None:
    bench = a_job_at_work("7")
    bench.sign("work", ends="declined")
    record = bench.record()
    assert open_step(SMALL, record) is None
    assert close_gate(SMALL, record) == ("declined", ())
    assert codes(gate(SMALL, record, SHUT)) == ["job_ended"]


def test_a_closed_job_takes_nothing() -> None:
    bench = a_job_at_work()
    bench.add(Kind.CLOSE, {"how": "handed_over"})
    record = bench.record()
    by = a_person()
    assert codes(gate(SMALL, record, WORK)) == ["job_closed"]
    assert "job_closed" in codes(enter_gate(SMALL, record, key=PULL.key, qualifier="", by=by))
    assert codes(strike_gate(SMALL, record, key=bench.entries[0].key)) == ["job_closed"]
    assert codes(hold_gate(SMALL, record, WORK, "open")) == ["job_closed"]
