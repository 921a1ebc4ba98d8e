"""Values that were written on a printed sheet: which may be taken, and which never."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from jobs.core.entry import Json, Kind
from jobs.core.item import free_note
from jobs.core.paper import (
    Paper,
    as_written,
    on_paper,
    paper_gate,
    read_paper,
    sheet_number,
    stored_paper,
)
from jobs.core.reason import InputRefused
from tests.builders import MUNK, Bench
from tests.jobs.core.small_jobs import codes
from tests.small_rooms import LID_OFF, PROBE, PULL, SECOND, SMALL, VOLTS

JOB = "Q000009"


def a_booked_job() -> Bench:
    bench = Bench()
    bench.add(Kind.OPEN, {"number": JOB})
    return bench


def a_job_at_work() -> Bench:
    bench = a_booked_job()
    bench.put(VOLTS, "3")
    bench.put(SECOND, by=MUNK)
    bench.sign("look")
    bench.prove()
    return bench


def a_sheet(bench: Bench, step: int, **ago: float) -> Paper:
    """Write on a sheet that is printed now, some time before the clock of the bench."""
    number = sheet_number(JOB, step, len(bench.entries))
    return Paper(sheet=number, written_at=bench.now - timedelta(**ago), by=MUNK)


def refused(bench: Bench, item: Any, paper: Paper) -> list[str]:
    return codes(paper_gate(SMALL, bench.record(), key=item.key, paper=paper))


def test_a_reading_of_the_open_step_is_taken_from_its_sheet() -> None:
    bench = a_booked_job()
    sheet = a_sheet(bench, 1)
    bench.wait(minutes=20)
    assert refused(bench, VOLTS, sheet) == []


@pytest.mark.parametrize(
    "sheet",
    ["Q000008-1-1", "Q000009-2-1", "Q000009-1-2", "Q000009-1-0"],
    ids=["other-job", "other-step", "not-printed-yet", "before-the-job"],
)
def test_a_sheet_of_another_job_or_step_or_state_is_refused(sheet: str) -> None:
    bench = a_booked_job()
    paper = Paper(sheet=sheet, written_at=bench.now, by=MUNK)
    assert refused(bench, VOLTS, paper) == ["paper_sheet"]


def test_it_was_not_written_before_the_sheet_was_printed_nor_later_than_now() -> None:
    bench = a_booked_job()
    bench.wait(hours=1)
    bench.put(VOLTS, "3")
    printed = a_sheet(bench, 1)
    bench.wait(hours=1)
    early = Paper(sheet=printed.sheet, written_at=bench.now - timedelta(hours=2), by=MUNK)
    late = Paper(sheet=printed.sheet, written_at=bench.now + timedelta(hours=1), by=MUNK)
    assert refused(bench, SECOND, printed) == ["paper_not_this"]
    assert refused(bench, VOLTS, early) == ["paper_early"]
    assert refused(bench, VOLTS, late) == ["paper_late"]
    assert refused(bench, VOLTS, printed) == []


def test_nothing_behind_a_hold_point_was_written_before_it_was_passed() -> None:
    bench = a_job_at_work()
    bench.put(PULL)
    sheet = a_sheet(bench, 2)
    bench.wait(minutes=30)
    bench.hold("work", "open")
    bench.wait(minutes=10)
    later = Paper(sheet=sheet.sheet, written_at=bench.now, by=MUNK)
    assert refused(bench, LID_OFF, sheet) == ["paper_before_hold"]
    assert refused(bench, LID_OFF, later) == []


def test_what_was_written_before_the_step_was_opened_does_not_count() -> None:
    bench = a_booked_job()
    bench.put(VOLTS, "3")
    bench.put(SECOND, by=MUNK)
    early = a_sheet(bench, 2)
    bench.wait(minutes=40)
    bench.sign("look")
    bench.prove()
    assert refused(bench, PULL, early) == ["paper_before_proof", "paper_before_step"]
    assert refused(bench, PULL, replace(early, written_at=bench.now)) == []


def test_an_old_sheet_does_not_carry_readings_past_a_re_opening() -> None:
    bench = a_booked_job()
    sheet = a_sheet(bench, 1)
    bench.wait(minutes=5)
    bench.put(SECOND, by=MUNK)
    bench.sign("look")
    bench.wait(hours=1)
    value = {"step": "look", "voids": [SECOND.key], "supersedes": ["look"], "reason": "wet"}
    bench.add(Kind.REOPEN, value)
    assert refused(bench, VOLTS, sheet) == ["paper_before_step"]
    assert refused(bench, VOLTS, replace(sheet, written_at=bench.now)) == []


def test_what_was_done_before_something_else_is_not_typed_in_after_it() -> None:
    bench = a_job_at_work()
    sheet = a_sheet(bench, 2)
    bench.wait(minutes=30)
    bench.hold("work", "open")
    bench.wait(minutes=5)
    bench.put(LID_OFF)
    assert refused(bench, PULL, sheet) == ["paper_out_of_order"]
    assert refused(bench, PULL, replace(sheet, written_at=bench.now)) == []


def test_a_strike_stands_in_the_order_too() -> None:
    bench = a_booked_job()
    struck = bench.put(VOLTS, "3")
    sheet = a_sheet(bench, 1)
    bench.wait(minutes=30)
    bench.add(Kind.STRIKE, {"key": struck.key, "reason": "misread"})
    assert refused(bench, VOLTS, sheet) == ["paper_out_of_order"]


def test_lines_of_one_sheet_are_typed_in_in_the_order_of_their_times() -> None:
    bench = a_booked_job()
    first = a_sheet(bench, 1)
    bench.wait(minutes=30)
    second = replace(first, written_at=bench.now)
    bench.wait(minutes=30)
    bench.add(
        Kind.VALUE, True, item=PROBE.key, paper=stored_paper(second, second.written_at.isoformat())
    )
    assert refused(bench, VOLTS, first) == ["paper_out_of_order"]
    assert refused(bench, VOLTS, replace(first, written_at=bench.now)) == []


def test_a_note_may_be_typed_in_whenever() -> None:
    bench = a_job_at_work()
    sheet = a_sheet(bench, 2)
    bench.wait(minutes=30)
    bench.put(PULL)
    note = free_note("work")
    assert refused(bench, note, sheet) == []


def test_work_that_needs_the_proof_was_not_written_before_it() -> None:
    bench = a_booked_job()
    bench.put(VOLTS, "3")
    bench.put(SECOND, by=MUNK)
    bench.sign("look")
    sheet = a_sheet(bench, 2)
    bench.wait(minutes=30)
    bench.prove()
    assert refused(bench, PULL, sheet) == ["paper_before_proof"]
    assert refused(bench, PULL, Paper(sheet=sheet.sheet, written_at=bench.now, by=MUNK)) == []


def test_what_was_written_under_a_proof_that_has_lapsed_since_is_judged_as_of_then() -> None:
    bench = a_job_at_work()
    bench.wait(hours=1)
    sheet = a_sheet(bench, 2)
    bench.wait(hours=6)
    record = bench.record()
    assert not record.proof_holds()
    assert as_written(record, sheet).proof_holds()


def test_the_record_as_written_is_never_later_than_now() -> None:
    bench = a_booked_job()
    ahead = Paper(sheet=f"{JOB}-1-1", written_at=bench.now + timedelta(seconds=40), by=MUNK)
    assert as_written(bench.record(), ahead).now == bench.record().now


def test_signatures_are_never_taken_from_paper_and_readings_are() -> None:
    assert not on_paper(SECOND)
    assert on_paper(VOLTS)
    assert on_paper(PROBE)


def test_an_item_nobody_asks_is_left_to_the_gate_that_says_so() -> None:
    bench = a_booked_job()
    gone = paper_gate(SMALL, bench.record(), key="look.nothing", paper=a_sheet(bench, 1))
    assert gone == ()


@pytest.mark.parametrize(
    ("raw", "code"),
    [
        (None, "paper_sheet"),
        ("Q000009-1-1", "paper_sheet"),
        ({"written_at": "2026-03-02T09:00:00+00:00", "by": MUNK}, "paper_sheet"),
        ({"sheet": f"{JOB}-9-1", "written_at": "2026-03-02T09:00:00+00:00"}, "paper_sheet"),
        ({"sheet": f"{JOB}-1-1", "by": MUNK}, "paper_time"),
        ({"sheet": f"{JOB}-1-1", "written_at": "nine", "by": MUNK}, "paper_time"),
        ({"sheet": f"{JOB}-1-1", "written_at": "9999-12-31T23:59:59+00:00"}, "paper_time"),
        ({"sheet": f"{JOB}-1-1", "written_at": "0001-01-01T00:00:00+14:00"}, "paper_time"),
        ({"sheet": f"{JOB}-1-1", "written_at": "2026-03-02T09:00", "by": MUNK}, "paper_time"),
        ({"sheet": f"{JOB}-1-1", "written_at": "2026-03-02T09:00:00+00:00"}, "paper_writer"),
        (
            {"sheet": f"{JOB}-1-1", "written_at": "2026-03-02T09:00:00+00:00", "by": "munk"},
            "paper_writer",
        ),
    ],
    ids=[
        "nothing", "text", "no-sheet", "no-such-step", "no-time", "no-clock", "last-year",
        "first-year", "no-zone", "no-writer", "no-person",
    ],
)  # fmt: skip
def test_half_a_sheet_is_refused_where_it_is_wrong(raw: Json, code: str) -> None:
    with pytest.raises(InputRefused) as said:
        read_paper(raw)
    assert said.value.blocker.code == code


def test_what_is_kept_can_be_read_again() -> None:
    raw = {"sheet": f"{JOB}-1-1", "written_at": "2026-03-02T09:00:00+00:00", "by": MUNK}
    paper = read_paper(raw)
    assert read_paper(stored_paper(paper, paper.written_at.isoformat())) == paper
