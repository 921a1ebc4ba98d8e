"""A job is read once and then only what came since; never something that was taken back."""

import pytest
from django.db import transaction

from jobs.core.entry import Kind
from jobs.practice.scene import TECHNICIAN, Draft, Scene
from jobs.queries.records import record_of
from tests.play import a_job

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
