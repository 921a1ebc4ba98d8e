"""Whatever is thrown at the door, in whatever order: no fault, and no record that cannot be."""

import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from jobs.core.entry import Entry, Kind
from jobs.core.flow import gate
from jobs.core.item import Item, qualifier_parts
from jobs.core.order import find_item, hold_passed, items_of, open_step
from jobs.core.record import Record
from jobs.practice.answers import BOOK
from jobs.practice.book import At, Pass, answer_of
from jobs.practice.scene import Scene, Stuck
from jobs.practice.tablet import Tablet
from jobs.queries.verify import verify_job
from jobs.steps import STEPS
from tests.play import a_job_at

pytestmark = pytest.mark.django_db

KINDS = (*[Kind.VALUE] * 8, *Kind, "nonsense")
GARBAGE: tuple[Any, ...] = (
    None, True, "", "0", "-1", "1e5", "nan", ">550M", "<5", "none", "x" * 5000, "\u202e",
    {}, {"id": "no"}, {"typed": "3,5"}, [], [["0", "1"], ["1", "2"]], {"a": {"b": {"c": []}}},
    {"Leads shorted": "1"}, 7, 3.5, {"step": "intake", "hold": "lid_off"}, {"revision": "none"},
)  # fmt: skip
PEOPLE = ("Aster", "Munk", "Thorne", "Lorne", "Pell")
ANSWERED = {200, 400, 409}
EXAMPLES = 3


@dataclass(frozen=True)
class Throw:
    """What is drawn before the job's state is known; numbers pick from what there is then."""

    kind: str
    pick: int
    where: int
    sensible: bool
    garbage: int
    person: str
    other: str
    pin: str
    minutes: int


throws = st.builds(
    Throw,
    kind=st.sampled_from([str(kind) for kind in KINDS]),
    pick=st.integers(0, 10_000),
    where=st.integers(0, 50),
    sensible=st.sampled_from([True, True, True, False]),
    garbage=st.integers(0, len(GARBAGE) - 1),
    person=st.sampled_from(PEOPLE),
    other=st.sampled_from(["", "", "", *PEOPLE]),
    pin=st.sampled_from(["2580", "2580", "2580", "", "1111"]),
    minutes=st.sampled_from([0, 0, 0, 0, 1, 11, 300]),
)


def pick_item(record: Record, throw: Throw) -> Item[Any]:
    """Prefer the open step, but name any item of any step."""
    step = open_step(STEPS, record)
    asked = items_of(STEPS[throw.pick % 8] if step is None or throw.pick % 3 == 0 else step, record)
    return asked[throw.pick % len(asked)]


def pick_qualifier(item: Item[Any], throw: Throw) -> str:
    offered = (*item.expected, *item.offered)
    if offered and throw.sensible:
        return offered[throw.where % len(offered)]
    return "" if throw.sensible else ("module=M99", "x", "round=1;round=2")[throw.where % 3]


def value_for(scene: Scene, item: Item[Any], qualifier: str, throw: Throw) -> tuple[str, Any]:
    """Give what the book would answer, where it can, else garbage."""
    if not throw.sensible:
        return qualifier, GARBAGE[throw.garbage]
    try:
        raw = answer_of(BOOK, scene, item, qualifier_parts(qualifier))
    except (Stuck, KeyError, ValueError, StopIteration):
        return qualifier, GARBAGE[throw.garbage]
    if isinstance(raw, At):
        return raw.qualifier, raw.raw
    return qualifier, True if isinstance(raw, Pass) else raw


def act_value(record: Record, throw: Throw) -> Any:
    """Give the value of an act that is no entry: mostly one that fits some step."""
    if not throw.sensible:
        return GARBAGE[throw.garbage]
    step = open_step(STEPS, record) or STEPS[-1]
    if throw.pick % 3 == 0:
        step = STEPS[throw.pick % 8]
    holds = [hold.slug for hold in step.holds(record, step.assess(record))]
    live = [entry.key for entries in record.live.values() for entry in entries]
    return {
        "step": step.slug,
        "outcome": "not_needed" if throw.where % 4 == 0 else "done",
        "hold": holds[throw.where % len(holds)] if holds else "none",
        "round": str(throw.where % 4),
        "cause": "keys_moved",
        "key": live[throw.pick % len(live)] if live else "none",
        "reason": "because",
        "received_by": "Somebody",
        "digest": "0" * 64,
        "revision": record.revision,
    }


def body_of(scene: Scene, record: Record, throw: Throw) -> dict[str, Any]:
    body = {
        "key": scene.new_key(),
        "job": scene.job,
        "kind": throw.kind,
        "person": scene.shop.people.get(throw.other, ""),
        "pin": throw.pin,
    }
    if throw.kind != Kind.VALUE:
        return {**body, "value": act_value(record, throw)}
    item = pick_item(record, throw)
    qualifier, raw = value_for(scene, item, pick_qualifier(item, throw), throw)
    return {**body, "item": item.key, "qualifier": qualifier, "value": raw}


def value_was_allowed(before: Record, entry: Entry) -> bool:
    found = find_item(STEPS, before, entry.item)
    if found is None:
        return False
    step, item = found
    if item.anytime:
        return True
    passed = {h.slug: hold_passed(before, step, h) for h in step.holds(before, step.assess(before))}
    return open_step(STEPS, before) is step and (not item.hold or passed.get(item.hold, True))


def sign_was_allowed(before: Record, entry: Entry) -> bool:
    step = open_step(STEPS, before)
    if step is None or entry.value["step"] != step.slug:
        return False
    if entry.value["outcome"] == "not_needed":
        return step.skip(before) is not None
    return gate(STEPS, before, step) == ()


def close_was_allowed(before: Record, _entry: Entry) -> bool:
    return open_step(STEPS, before) is None and not before.pack_open


ALLOWED: dict[Kind, Callable[[Record, Entry], bool]] = {
    Kind.VALUE: value_was_allowed,
    Kind.SIGN: sign_was_allowed,
    Kind.CLOSE: close_was_allowed,
}


def assert_possible(before: Record, after: Record) -> None:
    """See that an act wrote one allowed entry at most, and that signatures are in order."""
    added = after.entries[len(before.entries) :]
    assert len(added) <= 1
    assert before.closed is None or not added
    for entry in added:
        assert entry.kind not in ALLOWED or ALLOWED[entry.kind](before, entry)
    signed = [step.slug in after.signatures for step in STEPS]
    assert signed == sorted(signed, reverse=True)


@contextmanager
def taken_back() -> Iterator[None]:
    """Undo in the database what an example did."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@pytest.mark.parametrize("step", [*(step.slug for step in STEPS), "closed"])
def test_random_drafts_are_answered_and_never_break_the_record(step: str) -> None:
    @given(st.lists(throws, min_size=12, max_size=12))
    @settings(
        max_examples=EXAMPLES, phases=[Phase.generate], suppress_health_check=list(HealthCheck)
    )
    def throw_all(drawn: list[Throw]) -> None:
        with taken_back(), a_job_at(step) as scene:
            tablets = {name: Tablet(scene.shop.people[name], "2580") for name in PEOPLE}
            for throw in drawn:
                scene.wait(minutes=throw.minutes)
                before = scene.record()
                answered = tablets[throw.person]
                status, answers = answered.send(body_of(scene, before, throw))
                if status == 401:
                    answered.sign_on()
                    continue
                assert status in ANSWERED, answers
                scene.kept, scene.head = None, ""
                assert_possible(before, scene.record())
            assert verify_job(uuid.UUID(scene.job)) == ()

    throw_all()
