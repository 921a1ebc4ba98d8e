"""A watch that was moved, removed or made up is named: the entries of its job say otherwise."""

import uuid
from collections.abc import Iterator

import pytest
from django.db import IntegrityError, connection, transaction

from jobs.models import Entry, QuarantineWatch
from jobs.queries.verify import verify_job
from jobs.steps.module_swap.items import WATCH_STARTED
from jobs.triggers import create_triggers, missing_triggers
from tests.forging import drop_trigger, forged, sqlite_only
from tests.yard import M9, Yard, a_yard

pytestmark = pytest.mark.django_db
WATCHES = "jobs_quarantinewatch"


@pytest.fixture
def yard() -> Iterator[Yard]:
    with a_yard() as watched:
        yield watched


def faults(yard: Yard) -> str:
    return "; ".join(fault.what for fault in verify_job(uuid.UUID(yard.scene.job)))


def tick_again(yard: Yard) -> None:
    yard.scene.strike(WATCH_STARTED, "by mistake", at=M9)
    yard.scene.enter(WATCH_STARTED, at=M9, raw=True)


def test_a_watch_as_it_was_started_is_sound(yard: Yard) -> None:
    yard.check()
    assert faults(yard) == ""
    yard.wait(hours=1)
    tick_again(yard)
    assert QuarantineWatch.objects.get().source == Entry.objects.latest("at", "seq").key
    assert faults(yard) == ""


def test_a_second_watch_of_a_module_begins_with_its_own_tick(yard: Yard) -> None:
    yard.end("handed_over", note="the owner fetched it")
    yard.wait(minutes=5)
    tick_again(yard)
    assert QuarantineWatch.objects.count() == 2
    assert faults(yard) == ""
    forged(WATCHES, "DELETE FROM jobs_quarantinewatch WHERE ended_at IS NULL")
    assert "started a quarantine watch of M9 that is not there" in faults(yard)


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        (
            "UPDATE jobs_quarantinewatch SET started_at = '2026-02-01 08:00:00+00:00'",
            "does not begin as entry",
        ),
        (
            "UPDATE jobs_quarantinewatch SET started_by = '00000000000040008000000000000009'",
            "does not begin as entry",
        ),
        ("UPDATE jobs_quarantinewatch SET module = 'M1'", "that is not there"),
        (
            "UPDATE jobs_quarantinewatch SET source = '00000000000040008000000000000009'",
            "no entry of the job starts",
        ),
        ("DELETE FROM jobs_quarantinewatch", "that is not there"),
    ],
    ids=["moved", "person", "module", "source", "deleted"],
)
def test_a_forged_watch_is_named(yard: Yard, statement: str, said: str) -> None:
    assert faults(yard) == ""
    forged(WATCHES, statement)
    assert said in faults(yard)


def test_a_tick_is_not_carried_by_a_watch_that_had_ended(yard: Yard) -> None:
    yard.end("handed_over", note="the owner fetched it")
    yard.wait(minutes=5)
    tick_again(yard)
    later = QuarantineWatch.objects.get(ended_at=None)
    forged(WATCHES, "DELETE FROM jobs_quarantinewatch WHERE ended_at IS NULL")
    QuarantineWatch.objects.update(source=later.source)
    assert "starts a quarantine watch of M9 that had ended" in faults(yard)


def test_the_database_itself_keeps_every_watch(yard: Yard) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        QuarantineWatch.objects.all().delete()
    assert faults(yard) == ""


@sqlite_only
def test_insert_or_replace_does_not_walk_past_the_triggers_of_the_watches(yard: Yard) -> None:
    again = "INSERT OR REPLACE INTO jobs_quarantinewatch SELECT * FROM jobs_quarantinewatch"
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(again)
    assert faults(yard) == ""


def test_a_lost_trigger_of_the_watches_is_missed_and_made_again(yard: Yard) -> None:
    drop_trigger("jobs_quarantinewatch_no_delete")
    assert missing_triggers() == ("jobs_quarantinewatch_no_delete",)
    create_triggers()
    assert missing_triggers() == ()
