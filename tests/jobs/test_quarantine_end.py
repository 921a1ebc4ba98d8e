"""The end of a watch, what the database refuses, and what is read of many watches."""

import json
import uuid
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction

from jobs.core.reason import InputRefused
from jobs.core.watch import Word
from jobs.models import QuarantineCheck, QuarantineWatch
from jobs.practice.loading import LOADED, load_jobs
from jobs.queries.quarantine import due_checks, watch, watches
from jobs.queries.verify import verify_all
from jobs.steps.module_swap.items import QUARANTINE_PLACE
from jobs.triggers import missing_triggers
from tests.forging import drop_trigger, forged, sqlite_only
from tests.play import MORNING, a_practice_shop, light_pins
from tests.yard import M9, Yard, a_yard
from workshop import clock as shop_clock
from workshop.models import Qualification

pytestmark = pytest.mark.django_db


def code(refused: pytest.ExceptionInfo[InputRefused]) -> str:
    return refused.value.blocker.code


@pytest.fixture
def yard() -> Iterator[Yard]:
    with a_yard() as watched:
        yield watched


@pytest.mark.parametrize("how", ["kept", "disposal", "returned"])
def test_a_calm_module_is_released_when_its_time_is_over(yard: Yard, how: str) -> None:
    yard.keep(days=7.01)
    yard.end(how)
    info = yard.info()
    assert (info.ended_how, info.ended_to) == (how, "Carrier, receipt 12")
    assert watches(yard.now()) == ()
    assert [each.id for each in watches(yard.now(), ended=True)] == [yard.id]
    assert due_checks(yard.now() + timedelta(days=1)) == ()


def test_before_its_time_it_is_not_released_but_handed_over_with_a_reason(yard: Yard) -> None:
    yard.check()
    with pytest.raises(InputRefused) as refused:
        yard.end("disposal")
    assert code(refused) == "watch_not_over"
    with pytest.raises(InputRefused) as refused:
        yard.end("handed_over", to="Fire brigade")
    assert code(refused) == "watch_why_early"
    with pytest.raises(InputRefused) as refused:
        yard.end("handed_over", to=" ", note="It smoked")
    assert code(refused) == "watch_to_whom"
    yard.end("handed_over", to="Fire brigade", note="It smoked")
    assert (yard.info().ended_how, yard.info().ended_note) == ("handed_over", "It smoked")


def test_a_module_that_was_hot_at_the_end_is_not_released(yard: Yard) -> None:
    yard.keep(days=7.01)
    yard.check("25")
    with pytest.raises(InputRefused) as refused:
        yard.end()
    assert code(refused) == "watch_not_over"


def test_where_checks_were_missed_the_release_says_why(yard: Yard) -> None:
    yard.wait(days=7.1)
    yard.check()
    with pytest.raises(InputRefused) as refused:
        yard.end()
    assert code(refused) == "watch_why_missed"
    yard.end(note="Camera of the yard showed it all week")
    assert yard.info().ended_at is not None


@pytest.mark.parametrize("by", ["Lorne", "Munk"])
def test_whoever_is_not_qualified_ends_no_watch(yard: Yard, by: str) -> None:
    Qualification.objects.filter(person__short_name="Munk", code="live_work").delete()
    yard.keep(days=7.01)
    with pytest.raises(InputRefused) as refused:
        yard.end(by=by)
    assert code(refused) == "watch_end_role"


def test_the_end_needs_the_pin_and_a_known_way(yard: Yard) -> None:
    yard.keep(days=7.01)
    with pytest.raises(InputRefused) as refused:
        yard.end(pin="0000")
    assert (code(refused), refused.value.blocker.item) == ("watch_pin", "pin")
    with pytest.raises(InputRefused) as refused:
        yard.end("sold")
    assert code(refused) == "watch_how"
    assert yard.info().ended_at is None


def test_an_ended_watch_takes_nothing_more_and_the_same_end_twice_is_one(yard: Yard) -> None:
    key = str(uuid.uuid4())
    for _ in range(2):
        yard.end("handed_over", key=key, note="Carrier took it")
    with pytest.raises(InputRefused) as refused:
        yard.check()
    assert code(refused) == "watch_ended"
    with pytest.raises(InputRefused) as refused:
        yard.end("handed_over", note="again")
    assert code(refused) == "watch_ended"
    yard.scene.enter(QUARANTINE_PLACE, "Bay 9", at=M9)
    assert yard.info().place == ""


WRITES = {
    "update": "UPDATE jobs_quarantinecheck SET person = watch_id",
    "delete": "DELETE FROM jobs_quarantinecheck",
    "replace": "INSERT OR REPLACE INTO jobs_quarantinecheck SELECT * FROM jobs_quarantinecheck",
}
CHECKS = "jobs_quarantinecheck"
NAMES = tuple(f"jobs_quarantinecheck_no_{act}" for act in WRITES)


@pytest.mark.parametrize(
    "act", [pytest.param(act, marks=sqlite_only if act == "replace" else ()) for act in WRITES]
)
def test_the_database_refuses_to_change_or_delete_a_check(yard: Yard, act: str) -> None:
    yard.check()
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(WRITES[act])
    assert QuarantineCheck.objects.count() == 1


def test_the_guard_makes_the_triggers_again(yard: Yard) -> None:
    drop_trigger(NAMES[0])
    assert missing_triggers() == (NAMES[0],)
    call_command("guard")
    assert missing_triggers() == ()


def test_verification_names_a_changed_check_a_removed_one_and_a_changed_end(yard: Yard) -> None:
    for _ in range(3):
        yard.check()
        yard.wait(minutes=15)
    yard.end("handed_over", note="Carrier took it")
    assert verify_all()[1] == ()
    QuarantineWatch.objects.update(ended_to="Somebody else")
    assert [fault.what for fault in verify_all()[1]] == [
        "the end of the quarantine watch of M9 does not fit its checks"
    ]
    values = json.dumps(QuarantineCheck.objects.get(seq=2).values | {"note": "calm"})
    forged(CHECKS, 'UPDATE jobs_quarantinecheck SET "values" = %s WHERE seq = 2', values)
    assert "quarantine check 2 of M9 was changed, or the one before it" in {
        fault.what for fault in verify_all()[1]
    }
    forged(CHECKS, "DELETE FROM jobs_quarantinecheck WHERE seq = 2")
    assert "a quarantine check of M9 is missing before 3" in {
        fault.what for fault in verify_all()[1]
    }


@pytest.mark.parametrize(
    ("search", "found"),
    [("", 1), ("M9", 1), ("bay 2", 1), ("q000001 m9", 1), ("M8", 0), ("bay 7", 0)],
)
def test_watches_are_found_by_module_place_and_job(yard: Yard, search: str, found: int) -> None:
    yard.scene.enter(QUARANTINE_PLACE, "Bay 2", at=M9)
    assert len(watches(yard.now(), search=search)) == found


def test_a_list_asks_twice_however_many_watches_and_checks(
    yard: Yard, django_assert_num_queries: object
) -> None:
    first = QuarantineWatch.objects.get()
    yard.check()
    for module in ("M2", "M3", "M4"):
        QuarantineWatch.objects.create(
            job=first.job,
            module=module,
            started_at=first.started_at,
            started_by=first.started_by,
            source=uuid.uuid5(first.id, module),
        )
    with django_assert_num_queries(2):  # type: ignore[operator]
        assert len(due_checks(yard.now() + timedelta(hours=1))) == 4


def test_an_identifier_that_is_none_finds_nothing(yard: Yard) -> None:
    assert watch("nonsense", yard.now()) is None


def test_the_invented_workshop_shows_a_check_that_is_due_and_a_module_that_can_go() -> None:
    wanted = {"minibus-module", "hatchback-module"}
    # What comes after the swap changes nothing at the watch.
    jobs = tuple(replace(job, until="reassembly") for job in LOADED if job.recipe in wanted)
    with light_pins(), shop_clock.use_fixed(MORNING):
        load_jobs(a_practice_shop(), MORNING, jobs)
    due, calm = watches(MORNING)
    assert (due.module, due.schedule.next.state) == ("M2", "due")
    assert (calm.module, calm.word, calm.schedule.next.state) == ("M3", Word.CALM, "ahead")
    assert calm.release == ()
    assert not due.schedule.missed
    assert not calm.schedule.missed
    assert verify_all()[1] == ()
