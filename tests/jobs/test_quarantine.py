"""The watch on a removed module: started and followed by the door, checked by anybody."""

import uuid
from collections.abc import Iterator
from datetime import timedelta

import pytest

from jobs.core.entry import Kind
from jobs.core.reason import InputRefused
from jobs.core.watch import Word
from jobs.models import QuarantineCheck, QuarantineWatch
from jobs.practice.player import play
from jobs.practice.scene import TECHNICIAN, Draft
from jobs.queries.quarantine import due_checks, watches
from jobs.steps.module_swap.items import QUARANTINE_CLASS, QUARANTINE_PLACE, WATCH_STARTED
from tests.play import a_job_at
from tests.yard import M9, Yard, a_swap, a_yard
from workshop.actions import retire_person, set_limit
from workshop.errors import NotAllowed

pytestmark = pytest.mark.django_db


def code(refused: pytest.ExceptionInfo[InputRefused]) -> str:
    return refused.value.blocker.code


@pytest.fixture
def yard() -> Iterator[Yard]:
    with a_yard() as watched:
        yield watched


@pytest.fixture
def swap() -> Iterator[Yard]:
    with a_swap() as open_swap:
        yield open_swap


def test_no_watch_runs_before_its_tick(swap: Yard) -> None:
    swap.scene.enter(QUARANTINE_PLACE, "Bay 2", at=M9)
    assert watches(swap.now()) == ()


def test_the_tick_starts_a_watch_and_its_first_check_is_due(yard: Yard) -> None:
    info = yard.info()
    assert (info.module, info.job_id, info.struck) == ("M9", yard.scene.job, False)
    assert (info.started_at, info.started_by) == (yard.now(), yard.scene.shop.people[TECHNICIAN])
    assert [(d.module, d.due_at, d.overdue) for d in due_checks(yard.now())] == [
        ("M9", info.started_at, False)
    ]


def test_a_refused_tick_starts_none(swap: Yard) -> None:
    draft = Draft(kind=Kind.VALUE, by=TECHNICIAN, item=WATCH_STARTED.key, qualifier=M9, value="x")
    assert swap.scene.send(draft).verdict == "refused"
    assert not QuarantineWatch.objects.exists()


def test_the_same_tick_sent_twice_starts_one(swap: Yard) -> None:
    draft = Draft(kind=Kind.VALUE, by=TECHNICIAN, item=WATCH_STARTED.key, qualifier=M9, value=True)
    key = str(uuid.uuid4())
    assert [swap.scene.send(draft, key).verdict for _ in range(2)] == ["applied", "applied"]
    assert QuarantineWatch.objects.count() == 1


def test_what_the_job_says_later_or_corrects_is_shown(yard: Yard) -> None:
    assert yard.info().place == ""
    yard.scene.enter(QUARANTINE_PLACE, "Bay 2", at=M9)
    assert yard.info().place == "Bay 2"
    yard.scene.strike(QUARANTINE_PLACE, "wrong bay", at=M9)
    yard.scene.enter(QUARANTINE_PLACE, "Bay 3", at=M9)
    assert yard.info().place == "Bay 3"


def test_a_dry_module_is_watched_for_three_days_any_other_for_seven(yard: Yard) -> None:
    week = yard.info().started_at + timedelta(days=7)
    assert yard.info().schedule.over_at == week
    yard.scene.enter(QUARANTINE_CLASS, "dry", at=M9)
    assert yard.info().schedule.over_at == yard.info().started_at + timedelta(hours=72)
    yard.check(signs=("fluid",))
    yard.check(signs=("fluid",))
    assert yard.info().schedule.over_at > week - timedelta(minutes=1)


def test_striking_the_tick_ends_nothing_silently(yard: Yard) -> None:
    yard.scene.strike(WATCH_STARTED, "wrong module", at=M9)
    assert yard.info().struck
    assert yard.info().ended_at is None
    assert len(due_checks(yard.now())) == 1


def test_the_tick_given_again_goes_on_with_the_same_watch(yard: Yard) -> None:
    started_at = yard.info().started_at
    yard.scene.strike(WATCH_STARTED, "wrong module", at=M9)
    yard.scene.enter(WATCH_STARTED, at=M9, raw=True)
    assert not yard.info().struck
    assert yard.info().started_at == started_at
    assert QuarantineWatch.objects.count() == 1


def test_a_module_of_danger_class_sends_everybody_away_until_it_is_corrected(yard: Yard) -> None:
    yard.scene.enter(QUARANTINE_CLASS, "danger", at=M9)
    yard.check()
    assert yard.info().word is Word.EVACUATE
    assert due_checks(yard.now())[0].verdict == "evacuate"
    yard.scene.strike(QUARANTINE_CLASS, "it was steam", at=M9)
    assert yard.info().word is Word.CALM


def test_several_modules_of_a_job_have_a_watch_each(yard: Yard) -> None:
    first = QuarantineWatch.objects.get()
    QuarantineWatch.objects.create(
        job=first.job,
        module="M2",
        started_at=first.started_at - timedelta(hours=1),
        started_by=first.started_by,
        source=uuid.uuid5(first.id, "other"),
    )
    assert [d.module for d in due_checks(yard.now())] == ["M2", "M9"]
    yard.scene.enter(QUARANTINE_PLACE, "Bay 2", at=M9)
    assert {info.module: info.place for info in watches(yard.now())} == {"M9": "Bay 2", "M2": ""}


def test_the_watch_outlasts_its_job() -> None:
    with a_job_at("module_swap") as scene:
        play(scene, until="reassembly")
        info = watches(scene.clock.now())[0]
        assert (info.place, info.condition) == ("Quarantine, bay 2, outdoors", "wet")
        assert info.serial


@pytest.mark.parametrize("by", ["Aster", "Thorne", "Lorne"])
def test_anybody_of_the_workshop_adds_a_check(yard: Yard, by: str) -> None:
    assert yard.check(by=by) is Word.CALM
    last = yard.info().last
    assert last is not None
    assert last.person == yard.scene.shop.people[by]


def test_somebody_who_has_left_adds_none(yard: Yard) -> None:
    people = yard.scene.shop.people
    retire_person(person_id=people["Munk"], by=people["Thorne"])
    with pytest.raises(NotAllowed):
        yard.check(by="Munk")


def test_a_double_tap_is_one_check(yard: Yard) -> None:
    key = str(uuid.uuid4())
    assert [yard.check("25", key=key) for _ in range(2)] == [Word.ESCALATE, Word.ESCALATE]
    assert QuarantineCheck.objects.count() == 1


@pytest.mark.parametrize("point", ["12", "25"])
def test_the_same_key_with_other_figures_is_refused(yard: Yard, point: str) -> None:
    key = str(uuid.uuid4())
    yard.check("11", key=key)
    with pytest.raises(InputRefused) as refused:
        yard.check(point, key=key)
    assert code(refused) == "watch_key_used"
    assert QuarantineCheck.objects.count() == 1


def test_a_refused_check_writes_nothing(yard: Yard) -> None:
    with pytest.raises(InputRefused) as refused:
        yard.check("warm")
    assert (code(refused), refused.value.blocker.item) == ("watch_no_number", "point_0_c")
    assert not QuarantineCheck.objects.exists()


def test_an_unknown_watch_takes_no_check(swap: Yard) -> None:
    swap.id = str(uuid.uuid4())
    with pytest.raises(InputRefused) as refused:
        swap.check()
    assert code(refused) == "watch_unknown"


def test_a_check_keeps_the_word_of_its_day_whatever_the_limits_are_later(yard: Yard) -> None:
    yard.check("16")
    manager = yard.scene.shop.people["Thorne"]
    set_limit(key="watch_above_ambient_c", value=3.0, source="", note="", by=manager)
    assert yard.info().word is Word.CALM
    assert QuarantineCheck.objects.get().values["limits"]["watch_above_ambient_c"] == "10"
    assert yard.check("16") is Word.ESCALATE


def test_after_an_escalation_the_next_check_is_due_within_the_quarter_of_an_hour(
    yard: Yard,
) -> None:
    yard.keep(days=1)
    yard.check("25")
    found = due_checks(yard.now())[0]
    assert (found.verdict, found.due) == ("escalate", False)
    assert found.due_at == yard.now() + timedelta(minutes=15)


def test_what_is_most_urgent_stands_first(yard: Yard) -> None:
    first = QuarantineWatch.objects.get()
    for hours, module in ((2, "M2"), (1, "M3")):
        QuarantineWatch.objects.create(
            job=first.job,
            module=module,
            started_at=first.started_at - timedelta(hours=hours),
            started_by=first.started_by,
            source=uuid.uuid5(first.id, module),
        )
    yard.wait(minutes=7)
    yard.check(signs=("smoke",))
    found = due_checks(yard.now())
    assert [(d.module, d.due, d.overdue) for d in found] == [
        ("M9", False, False),
        ("M3", True, True),
        ("M2", True, False),
    ]
    assert [d.missed for d in found] == [0, 3, 4]


def test_a_wrong_figure_is_corrected_by_another_check_and_stays_readable(yard: Yard) -> None:
    key = str(uuid.uuid4())
    yard.check("61", key=key)
    yard.wait(minutes=2)
    yard.check("16", corrects=key, note="Typed 61 for 16")
    info = yard.info()
    assert info.word is Word.CALM
    assert info.wrong == {key}
    assert info.schedule.restarted_at is None
    assert len(info.checks) == 2


@pytest.mark.parametrize(
    ("minutes", "by", "note", "expected"),
    [
        (31, "Aster", "typo", "watch_not_last"),
        (2, "Aster", " ", "watch_say_what"),
        (2, "Lorne", "typo", "watch_corrector"),
    ],
)
def test_an_alarm_is_corrected_only_soon_with_a_word_and_by_the_qualified(
    yard: Yard, minutes: int, by: str, note: str, expected: str
) -> None:
    key = str(uuid.uuid4())
    yard.check("61", key=key)
    yard.wait(minutes=minutes)
    with pytest.raises(InputRefused) as refused:
        yard.check("16", corrects=key, note=note, by=by)
    assert code(refused) == expected
