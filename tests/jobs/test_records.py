"""A job is read once and then only what came since; never something that was taken back."""

import json
from collections.abc import Callable

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from jobs.core.entry import Kind
from jobs.core.record import Record, fold
from jobs.practice.player import book_in, play
from jobs.practice.scenario import recipe
from jobs.practice.scene import TECHNICIAN, Draft, Scene
from jobs.practice.tablet import Straight
from jobs.queries import folding
from jobs.queries.lists import open_now
from jobs.queries.records import record_of
from tests.play import a_job, a_job_at

pytestmark = pytest.mark.django_db


def notes(scene: Scene) -> list[str]:
    record = record_of(scene.job, now=scene.clock.now())
    assert record is not None
    return [entry.value for entry in record.entries if entry.item == "intake.note"]


def write(scene: Scene, words: str) -> None:
    scene.do(Draft(kind=Kind.VALUE, by=TECHNICIAN, item="intake.note", value=words))


def test_what_was_written_and_taken_back_is_not_read_from_memory() -> None:
    with a_job() as scene:
        write(scene, "first")
        with transaction.atomic():
            write(scene, "taken back")
            assert notes(scene) == ["first", "taken back"]
            transaction.set_rollback(True)
        assert notes(scene) == ["first"]
        write(scene, "second")
        assert notes(scene) == ["first", "second"]


@pytest.mark.parametrize("at_once", [1, 7, 60])
def test_a_record_gone_on_with_is_the_record_of_all_its_entries(at_once: int) -> None:
    with a_job_at("closed", "minibus-module") as scene:
        whole = record_of(scene.job, now=scene.clock.now())
    assert whole is not None
    definitions = {whole.revision: whole.pack} if whole.pack is not None else {}
    made: Record | None = None
    for begin in range(0, len(whole.entries), at_once):
        more = whole.entries[begin : begin + at_once]
        made = fold(more, now=whole.now, limits=whole.limits, packs=definitions, onto=made)
    assert made == whole


def test_what_came_since_is_all_that_is_read() -> None:
    with a_job_at("reassembly") as scene:
        assert record_of(scene.job, now=scene.clock.now()) is not None
        write(scene, "one more")
        with CaptureQueriesContext(connection) as asked:
            assert notes(scene)[-1] == "one more"
    reading = [each["sql"] for each in asked if '"jobs_entry"."seq" >' in each["sql"]]
    assert len(reading) == 1
    assert all('"seq" > 0' not in sql for sql in reading)


def read_entries(scene: Scene) -> tuple[Record | None, int]:
    """Give the record and how many statements read entries for it."""
    with CaptureQueriesContext(connection) as asked:
        record = record_of(scene.job, now=scene.clock.now())
    return record, sum('"jobs_entry"."seq" >' in each["sql"] for each in asked)


@pytest.mark.parametrize("slug", ["van-coolant", "minibus-module"])
def test_what_this_process_wrote_it_need_not_read(
    slug: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All entries of a whole job, added as they were written, give the record that is read."""
    monkeypatch.setattr(transaction, "on_commit", lambda act, **_named: act())
    with a_job(slug) as scene:
        assert record_of(scene.job, now=scene.clock.now()) is not None
        play(scene)
        gone_on, reading = read_entries(scene)
        assert reading == 0
        folding._KEPT.clear()  # noqa: SLF001 - so that all is read
        assert read_entries(scene) == (gone_on, 1)
        read = record_of(scene.job, now=scene.clock.now())
    assert gone_on is not None
    assert read is not None
    # To the order of fields: what is counted and sealed may follow it.
    assert [json.dumps(each.value) for each in gone_on.entries] == [
        json.dumps(each.value) for each in read.entries
    ]


def test_an_entry_is_added_once_its_transaction_stands() -> None:
    with a_job() as scene:
        assert notes(scene) == []
        with pytest.MonkeyPatch.context() as patch:
            later: list[Callable[[], None]] = []
            patch.setattr(transaction, "on_commit", lambda act, **_named: later.append(act))
            write(scene, "not yet")
            kept = list(folding._KEPT.values())  # noqa: SLF001 - what is kept is what this is about
            assert all("not yet" not in str(each.record.entries) for each in kept)
            for act in later:
                act()
        assert read_entries(scene)[1] == 0


def test_an_entry_that_does_not_follow_is_not_added() -> None:
    """Another process wrote between: the record is read from where it was kept."""
    with a_job() as scene:
        assert notes(scene) == []
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(transaction, "on_commit", lambda _act, **_named: None)
            write(scene, "by another process")
            kept = dict(folding._KEPT)  # noqa: SLF001 - as this process had it before
        with pytest.MonkeyPatch.context() as patch:
            later: list[Callable[[], None]] = []
            patch.setattr(transaction, "on_commit", lambda act, **_named: later.append(act))
            write(scene, "by this one")
            folding._KEPT.clear()  # noqa: SLF001 - and has it again
            folding._KEPT.update(kept)  # noqa: SLF001 - and has it again
            for act in later:
                act()
        assert notes(scene) == ["by another process", "by this one"]


def test_a_list_reads_what_others_wrote_in_many_jobs_at_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """However many jobs another process went on with, one statement; each gets its own entries."""
    with a_job() as one:
        clock, shop = one.clock, one.shop
        scenes = [one, book_in(shop, recipe("minibus-module"), clock)]
        for scene in scenes:
            scene.hand = Straight
        today = clock.now().date()
        open_now(now=clock.now(), today=today)
        monkeypatch.setattr(transaction, "on_commit", lambda _act, **_named: None)
        for scene in scenes:
            write(scene, f"first of {scene.job}")
            write(scene, f"second of {scene.job}")
        with CaptureQueriesContext(connection) as asked:
            open_now(now=clock.now(), today=today)
        assert sum('"jobs_entry"."seq" >' in each["sql"] for each in asked) == 1
        for scene in scenes:
            record, reading = read_entries(scene)
            assert reading == 0
            assert record is not None
            kept = [each.value for each in record.entries if each.item == "intake.note"]
            assert kept == [f"first of {scene.job}", f"second of {scene.job}"]
