"""The schedule of a watch: no gap, nothing forgotten, dense again after an escalation."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.core.watch import (
    Check,
    Schedule,
    Word,
    in_force,
    release_blockers,
    schedule,
    watch_length,
)

START = datetime(2026, 3, 2, 10, 0, tzinfo=UTC)
DRY, WET = watch_length(wet=False), watch_length(wet=True)
MINUTE = timedelta(minutes=1)


def at(**time: float) -> datetime:
    return START + timedelta(**time)


def checks_at(*moments: datetime, word: Word = Word.CALM) -> tuple[Check, ...]:
    return tuple(Check(key=str(n), at=moment, word=word) for n, moment in enumerate(moments))


def stands(now: datetime, *checks: Check, length: timedelta = DRY) -> Schedule:
    return schedule(START, checks, length=length, now=now)


def in_time(until: datetime, *, length: timedelta = DRY) -> tuple[Check, ...]:
    """Check whenever the schedule asks for it."""
    made: tuple[Check, ...] = ()
    now = START
    while now <= until:
        made = (*made, Check(key=str(len(made)), at=now))
        now = stands(now, *made, length=length).next.due_at
    return made


def hours(found: Schedule) -> list[float]:
    return [(slot.due_at - START).total_seconds() / 3600 for slot in found.slots]


@pytest.mark.parametrize(("length", "end_h"), [(DRY, 72), (WET, 168)])
def test_a_whole_watch_has_the_checks_that_the_trade_makes(length: timedelta, end_h: int) -> None:
    found = stands(at(hours=end_h), *in_time(at(hours=end_h), length=length), length=length)
    twice_a_day = list(range(17, end_h, 12))
    assert hours(found) == [0, 0.25, 0.5, 1, 2, 3, 4, 5, *twice_a_day, end_h]
    assert found.missed == ()
    assert found.over_at == at(hours=end_h)


@given(later=st.integers(min_value=0, max_value=60 * 24 * 30), wet=st.booleans())
def test_there_is_always_a_next_check_and_never_more_than_twelve_hours_between_two(
    later: int, wet: bool
) -> None:
    found = stands(at(minutes=later), length=watch_length(wet=wet))
    due = sorted({*(slot.due_at for slot in found.slots), found.next.due_at})
    assert due[0] == START
    assert all(timedelta() < b - a <= timedelta(hours=12) for a, b in pairwise(due))
    assert found.next.due_at > at(minutes=later) - timedelta(hours=12)


@settings(max_examples=50)
@given(
    moments=st.lists(st.integers(min_value=0, max_value=60 * 100), max_size=25).map(sorted),
    words=st.lists(st.sampled_from(list(Word)), min_size=25, max_size=25),
)
def test_every_slot_is_made_missed_or_waited_for_and_the_windows_leave_no_time_out(
    moments: list[int], words: list[Word]
) -> None:
    pairs = zip(moments, words, strict=False)
    made = [Check(key=str(n), at=at(minutes=m), word=w) for n, (m, w) in enumerate(pairs)]
    found = stands(at(minutes=60 * 100), *made)
    assert {slot.state for slot in found.slots} <= {"done", "late", "missed", "due", "overdue"}
    assert [s.state in {"due", "overdue"} for s in found.slots].count(True) <= 1
    assert all(slot.opens_at < slot.due_at < slot.late_at for slot in found.slots)
    restarts = [c.at for c in made if c.word is not Word.CALM]
    assert found.over_at == (restarts[-1] if restarts else START) + DRY


@pytest.mark.parametrize(
    ("minutes", "state"),
    [(9, "ahead"), (10, "due"), (20, "due"), (21, "overdue"), (24, "overdue")],
)
def test_a_check_is_due_and_then_overdue(minutes: int, state: str) -> None:
    found = stands(at(minutes=minutes), *checks_at(START))
    assert (found.next.due_at, found.next.state) == (at(minutes=15), state)


def test_a_missed_check_stays_missed_however_many_follow() -> None:
    found = stands(at(minutes=31), *checks_at(START, at(minutes=30)))
    assert [slot.due_at for slot in found.missed] == [at(minutes=15)]
    later = in_time(at(hours=72))
    without = tuple(check for check in later if check.at != at(minutes=15))
    assert [slot.due_at for slot in stands(at(hours=72), *without).missed] == [at(minutes=15)]


def test_a_check_that_came_late_is_no_missed_one() -> None:
    found = stands(at(minutes=24), *checks_at(START, at(minutes=22)))
    assert [slot.state for slot in found.slots] == ["done", "late"]


def test_two_checks_within_one_window_leave_the_next_one_due() -> None:
    found = stands(at(minutes=28), *checks_at(START, at(minutes=14), at(minutes=16)))
    assert (found.next.due_at, found.next.state) == (at(minutes=30), "due")


def test_after_an_escalation_the_schedule_is_as_dense_as_at_the_start() -> None:
    calm = in_time(at(hours=30))
    alarm = Check(key="alarm", at=at(hours=31), word=Word.ESCALATE)
    found = stands(at(hours=31, minutes=1), *calm, alarm)
    assert found.next.due_at == at(hours=31, minutes=15)
    assert found.restarted_at == at(hours=31)
    assert found.over_at == at(hours=31) + DRY
    assert found.missed == ()


def test_what_was_missed_before_an_escalation_stays_missed() -> None:
    alarm = Check(key="alarm", at=at(minutes=40), word=Word.EVACUATE)
    found = stands(at(minutes=41), *checks_at(START), alarm)
    assert [slot.due_at for slot in found.missed] == [at(minutes=15)]
    assert found.next.due_at == at(minutes=55)


def test_a_corrected_check_neither_counts_nor_restarts() -> None:
    wrong = Check(key="wrong", at=at(minutes=15), word=Word.ESCALATE)
    right = Check(key="right", at=at(minutes=17), corrects="wrong")
    first = Check(key="first", at=START)
    assert in_force((first, wrong, right)) == (first, right)
    found = stands(at(minutes=20), first, wrong, right)
    assert found.restarted_at is None
    assert [slot.state for slot in found.slots] == ["done", "done"]


def codes(now: datetime, *checks: Check, danger: bool = False) -> list[str]:
    found = stands(now, *checks)
    return [point.code for point in release_blockers(found, checks, danger=danger, now=now)]


def test_a_calm_module_is_released_after_its_time() -> None:
    assert codes(at(hours=72, minutes=1), *in_time(at(hours=72))) == []


@pytest.mark.parametrize(
    ("now", "code"),
    [(at(hours=71), "watch_not_over"), (at(hours=85), "watch_not_in_date")],
)
def test_no_module_is_released_too_early_or_on_an_old_check(now: datetime, code: str) -> None:
    assert codes(now, *in_time(min(now, at(hours=72)))) == [code]


def test_a_check_before_the_end_does_not_stand_for_the_one_at_the_end() -> None:
    assert codes(at(hours=72, minutes=1), *checks_at(at(hours=69))) == ["watch_not_in_date"]


def test_a_module_that_is_not_calm_or_was_never_checked_or_shows_danger_stays() -> None:
    end = at(hours=72)
    assert codes(end) == ["watch_no_check"]
    assert codes(end, *in_time(end), danger=True) == ["watch_danger_class"]
    found = stands(end, *in_time(end))
    alarm = checks_at(end - MINUTE, word=Word.ESCALATE)
    assert [b.code for b in release_blockers(found, alarm, danger=False, now=end)] == [
        "watch_not_calm"
    ]
