"""What holds for each of the eight rooms alike."""

from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from jobs.core.closing import close_gate
from jobs.core.flow import gate
from jobs.core.item import Item, Shape
from jobs.core.order import find_item, items_of
from jobs.core.seal import canonical, sealed
from jobs.core.section import Section
from jobs.core.step import Step
from jobs.steps import STEPS
from jobs.views.reasons import all_reasons
from tests.builders import Bench, a_bench

ROOT = Path(__file__).parents[3]
PACKS = ("delivery-van", "city-hatchback", "minibus")
EVERY_STEP = pytest.mark.parametrize("step", STEPS, ids=lambda step: step.slug)
EVERY_BENCH = pytest.mark.parametrize(
    "bench", [Bench(), *(a_bench(name) for name in PACKS)], ids=("no pack", *PACKS)
)


def items(step: Step[Any], bench: Bench) -> tuple[Item[Any], ...]:
    return items_of(step, bench.record())


@EVERY_STEP
@EVERY_BENCH
def test_a_room_copes_with_an_empty_record(step: Step[Any], bench: Bench) -> None:
    record = bench.record()
    result = step.assess(record)
    assert canonical(sealed(result))
    assert isinstance(step.section(record, result), Section)
    assert all(hold.act and hold.slug for hold in step.holds(record, result))
    assert step.ends(record) == ""


@EVERY_STEP
@EVERY_BENCH
def test_items_are_keyed_by_their_step_once_and_say_what_they_ask(
    step: Step[Any], bench: Bench
) -> None:
    asked = items(step, bench)
    assert max(Counter(item.key for item in asked).values()) == 1
    for item in asked:
        assert item.key.startswith(f"{step.slug}.")
        assert item.label
        measured = item.shape in {Shape.READING, Shape.BOUNDED, Shape.SERIES, Shape.TABLE}
        assert not measured or (item.low is not None and item.high is not None), item.key
        assert item.shape is not Shape.CHOICE or item.choices, item.key
        assert item.shape is not Shape.EQUIPMENT or item.kinds, item.key


@EVERY_STEP
@pytest.mark.parametrize("name", PACKS)
def test_every_collection_offers_which_one(step: Step[Any], name: str) -> None:
    for item in items(step, a_bench(name)):
        if item.many == "each":
            assert item.qualifiers, item.key
            offers = item.offered or item.expected or item.options
            assert offers or not item.needed, item.key


@EVERY_STEP
def test_each_way_of_entering_has_its_partial(step: Step[Any]) -> None:
    for item in items(step, a_bench()):
        assert (ROOT / "templates/jobs/items" / f"{item.shape}.html").is_file()


@EVERY_STEP
@EVERY_BENCH
def test_every_blocker_points_at_an_item_that_is_asked(step: Step[Any], bench: Bench) -> None:
    record = bench.record()
    result = step.assess(record)
    holds = step.holds(record, result)
    points = [*step.blockers(record, result), *(b for hold in holds for b in hold.blockers)]
    for point in points:
        assert not point.item or find_item(STEPS, record, point.item), point
        assert point.code in all_reasons(), point


@EVERY_STEP
@EVERY_BENCH
def test_every_hold_that_items_name_exists(step: Step[Any], bench: Bench) -> None:
    record = bench.record()
    slugs = {hold.slug for hold in step.holds(record, step.assess(record))}
    named = {item.hold for item in step.items(record) if item.hold}
    assert named <= slugs


@EVERY_STEP
def test_a_room_has_its_template_and_its_tests(step: Step[Any]) -> None:
    template = ROOT / "templates/jobs/steps" / f"{step.slug}.html"
    assert 'extends frame|default:"jobs/step.html"' in template.read_text(encoding="utf-8")
    assert (ROOT / "tests/jobs/steps" / f"test_{step.slug}.py").is_file()


def test_each_reason_has_a_code_of_its_own_and_fields_it_can_fill() -> None:
    codes = Counter(reason.code for step in STEPS for reason in step.reasons)
    assert max(codes.values()) == 1
    assert all(reason.text for reason in all_reasons().values())


@EVERY_BENCH
def test_an_empty_job_can_neither_be_signed_nor_closed(bench: Bench) -> None:
    record = bench.record()
    assert all(gate(STEPS, record, step) for step in STEPS)
    assert close_gate(STEPS, record)[1]


def test_the_steps_are_the_trades_eight_in_order() -> None:
    assert [step.title for step in STEPS] == [
        "Intake",
        "De-energise check",
        "Isolation readings",
        "Fault localisation",
        "Module swap",
        "Reassembly",
        "Seal test",
        "Road test",
    ]
