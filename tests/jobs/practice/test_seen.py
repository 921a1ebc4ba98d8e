"""What is seen in the open pack is drawn on the pack map, and said close up at each module."""

from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse

from jobs.core.reason import InputRefused
from jobs.practice.room.seen import seen_at, seen_map, what_is_seen
from jobs.steps.fault_localisation.items import SEEN
from packs.picture import Disc, Label, Line, Picture
from tests.builders import a_pack
from tests.jobs.practice.learner import Learner, a_learner


def a_look(seen: str, modules: tuple[str, ...], *, links: tuple[str, ...] = ()) -> Any:
    """Give an open pack in which something is seen."""
    record = SimpleNamespace(pack_open=True)
    return SimpleNamespace(
        scene=SimpleNamespace(pack=a_pack("delivery-van"), record=lambda: record),
        hidden=SimpleNamespace(modules=modules, recipe=SimpleNamespace(seen=seen)),
        rig=SimpleNamespace(links_open=lambda _record: links),
    )


def texts(drawn: Picture) -> list[str]:
    return [each.text for each in drawn.shapes if isinstance(each, Label)]


def rings(drawn: Picture) -> int:
    return sum(isinstance(each, Disc) and each.form == "ring" for each in drawn.shapes)


@pytest.mark.parametrize(
    ("seen", "words"), [("coolant", "film"), ("water", "drops"), ("corrosion", "crusts")]
)
def test_a_mark_stands_at_the_module_in_shape_and_in_words(seen: str, words: str) -> None:
    drawn = seen_map(a_look(seen, ("M9",)))
    plain = seen_map(a_look("nothing", ("M9",)))
    assert texts(drawn).count(words) == 1
    mark = next(e for e in drawn.shapes if isinstance(e, Label) and e.text == words)
    name = next(e for e in drawn.shapes if isinstance(e, Label) and e.text == "M9")
    assert mark.x == name.x
    assert len(drawn.shapes) > len(plain.shapes) + 1
    assert "M9" in drawn.description
    assert drawn.title != plain.description


def test_what_does_not_show_is_not_told() -> None:
    run = a_look("nothing", ("M9",))
    drawn = seen_map(run)
    assert drawn == seen_map(a_look("nothing", ("M2",)))
    assert "M9" not in drawn.description
    assert {seen_at(run, name).replace(name, "") for name in ("M9", "M2")} == {
        "Module : dry and clean; nothing stands out."
    }


def test_open_links_are_rings_and_are_named() -> None:
    closed, parted = (seen_map(a_look("nothing", (), links=each)) for each in ((), ("M3",)))
    assert rings(parted) == rings(closed) + 1
    lines = [sum(isinstance(e, Line) for e in drawn.shapes) for drawn in (closed, parted)]
    assert lines[1] == lines[0] - 1
    assert "Open after: M3." in parted.description


def test_close_up_says_it_only_at_that_module() -> None:
    run = a_look("coolant", ("M9",))
    assert "film of coolant" in seen_at(run, "M9")
    assert "dry" in seen_at(run, "M8")


def test_nothing_is_seen_through_the_lid() -> None:
    run = a_look("coolant", ("M9",))
    run.scene.record().pack_open = False
    for look in (seen_map, what_is_seen):
        with pytest.raises(InputRefused):
            look(run)


@pytest.fixture
def learner() -> Iterator[Learner]:
    with a_learner("hard_leak", slug="city-hatchback", seed=11) as hands:
        yield hands


@pytest.mark.django_db
def test_the_page_says_why_it_shows_nothing_while_the_lid_is_on(learner: Learner) -> None:
    address = reverse("jobs:practice_bench", args=(learner.job,))
    page = learner.client.get(address, {"item": SEEN.key}).content.decode()
    assert "The lid is on" in page
    assert "<svg" not in page
    status, told = learner.ask("look", item=SEEN.key, red="M4", black="eye")
    assert status == 200
    assert "The lid is on" in told["said"]
