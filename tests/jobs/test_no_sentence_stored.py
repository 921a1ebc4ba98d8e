"""Entries hold codes, figures and what people typed: no sentence of ours, in whatever language."""

import pytest

from jobs.models import Entry, Verdict
from jobs.practice.player import play
from packs.models import SpareEvent
from tests.pages.marked import CLOSE, OPEN, marking
from tests.play import a_job
from workshop.models import RegisterEvent

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("recipe", ["minibus-module", "hatchback-declined", "hatchback-heater"])
def test_no_sentence_of_a_language_is_stored(recipe: str) -> None:
    with a_job(recipe) as scene:
        # Everybody reads a language that marks each text of ours; a mark that is stored was said.
        with marking():
            play(scene)
        kept = [bytes(row).decode() for row in Entry.objects.values_list("canonical", flat=True)]
        kept += [str(row) for row in Verdict.objects.values_list("answer")]
        kept += [str(row) for row in RegisterEvent.objects.values_list("kind", "values")]
        kept += [str(row) for row in SpareEvent.objects.values_list()]
        assert len(kept) > 50
        assert [row for row in kept if OPEN in row or CLOSE in row] == []
