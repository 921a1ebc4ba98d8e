"""A quotation through the one door: a new version is one act, sent twice it is one version."""

import json
import uuid
from collections.abc import Iterator
from typing import Any

import pytest

from jobs.core.entry import Kind
from jobs.core.item import qualifier_of
from jobs.core.quoted import versions
from jobs.practice.player import advance
from jobs.practice.scene import DESK, Draft, Scene
from jobs.queries.records import record_of
from jobs.steps import STEPS
from jobs.steps.fault_localisation.items import (
    AMOUNT,
    ANSWER,
    QUOTATION,
    QUOTE_HOW,
    QUOTE_WHO,
    answered,
)
from jobs.sync import Malformed, answer_batch, read_sent
from tests.play import a_job_at
from workshop import clock, queries
from workshop.models import Shop

pytestmark = pytest.mark.django_db

STEP = next(step for step in STEPS if step.slug == "fault_localisation")
LINE = {"kind": "part", "text": "Module", "quantity": "2", "unit_price": "10,50"}


@pytest.fixture
def scene() -> Iterator[Scene]:
    """A job whose quotation is written and not answered."""
    with a_job_at("fault_localisation") as played:
        while not played.record().has(QUOTATION):
            advance(played, STEP)
        yield played


def act(scene: Scene, value: Any = None, reason: str = "Cheaper part") -> list[dict[str, Any]]:
    """Write the strike and the new value as the page sends them."""
    given = scene.record().given(QUOTATION)
    assert given is not None
    of = {"job": scene.job, "kind": "value"}
    return [
        {
            **of,
            "key": str(uuid.uuid4()),
            "kind": "strike",
            "value": {"key": given.entry.key, "reason": reason},
        },
        {
            **of,
            "key": str(uuid.uuid4()),
            "item": QUOTATION.key,
            "value": value or {"lines": [LINE], "total": "21.00"},
        },
    ]


def send(scene: Scene, entries: list[dict[str, Any]]) -> list[str]:
    sent = read_sent(json.dumps({"entries": entries}).encode())
    assert not isinstance(sent, Malformed)
    person = queries.person(scene.shop.people[DESK])
    _, answers = answer_batch(sent.batch, signed_on=person, now=clock.now())
    return [
        each["verdict"] if each["verdict"] != "refused" else each["reasons"][0]["code"]
        for each in answers
    ]


def numbers(scene: Scene) -> list[tuple[int, bool]]:
    record = record_of(scene.job, now=clock.now())
    assert record is not None
    return [(each.number, each.in_force) for each in versions(record, QUOTATION)]


def test_the_front_desk_changes_it_in_one_act(scene: Scene) -> None:
    assert send(scene, act(scene)) == ["applied", "applied"]
    assert numbers(scene) == [(1, False), (2, True)]
    record = record_of(scene.job, now=clock.now())
    assert record is not None
    newest = versions(record, QUOTATION)[-1].given.value
    assert (str(newest.total), newest.currency) == ("21.00", "EUR")


def test_the_same_act_sent_twice_is_one_version(scene: Scene) -> None:
    entries = act(scene)
    assert send(scene, entries) == send(scene, entries) == ["applied", "applied"]
    assert numbers(scene) == [(1, False), (2, True)]


def test_an_act_without_a_reason_changes_nothing(scene: Scene) -> None:
    assert send(scene, act(scene, reason=" ")) == ["reason_needed", "later"]
    assert numbers(scene) == [(1, True)]


def test_a_second_quotation_beside_the_first_is_refused(scene: Scene) -> None:
    assert send(scene, act(scene)[1:]) == ["already_recorded"]
    assert numbers(scene) == [(1, True)]


def test_after_a_refused_value_the_value_alone_is_sent_again(scene: Scene) -> None:
    entries = act(scene, {"lines": [{**LINE, "quantity": "-1"}]})
    assert send(scene, entries) == ["applied", "quotation_quantity"]
    mended = {**entries[1], "key": str(uuid.uuid4()), "value": {"lines": [LINE]}}
    assert send(scene, [mended]) == ["applied"]
    assert numbers(scene) == [(1, False), (2, True)]


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"valid_until": "2026-03-01"}, "quotation_past"),
        ({"currency": "NZD"}, "quotation_currency"),
        ({"total": "20.99"}, "quotation_mismatch"),
    ],
)
def test_what_cannot_stand_is_refused(scene: Scene, more: dict[str, str], code: str) -> None:
    assert send(scene, act(scene, {"lines": [LINE], **more})) == ["applied", code]


def test_today_is_early_enough_and_the_shops_currency_is_kept(scene: Scene) -> None:
    Shop.objects.update(currency="NZD")
    more = {"valid_until": queries.local_day(clock.now()).isoformat(), "currency": "NZD"}
    assert send(scene, act(scene, {"lines": [LINE], **more})) == ["applied", "applied"]


def test_an_amount_alone_is_asked_no_more(scene: Scene) -> None:
    reply = scene.send(Draft(kind=Kind.VALUE, by=DESK, item=AMOUNT.key, value="1450"))
    assert reply.verdict == "refused"
    assert "unknown_item" in reply.codes


def an_answer(scene: Scene, version: int, **more: str) -> dict[str, Any]:
    """Write an approval as the page of that version sends it."""
    at = qualifier_of(version=str(version))
    return {
        "key": str(uuid.uuid4()), "job": scene.job, "kind": "value", "item": ANSWER.key,
        "qualifier": at, "value": "approved", **more,
    }  # fmt: skip


def test_an_approval_sent_late_never_approves_the_version_made_meanwhile(scene: Scene) -> None:
    late = an_answer(scene, 1, seen_head=scene.head)
    assert send(scene, act(scene)) == ["applied", "applied"]
    assert send(scene, [late]) == ["not_offered"]
    record = record_of(scene.job, now=clock.now())
    assert record is not None
    assert answered(record) == ""


def test_an_approval_of_the_version_in_force_is_taken(scene: Scene) -> None:
    assert send(scene, act(scene)) == ["applied", "applied"]
    assert send(scene, [an_answer(scene, 2)]) == ["localise_quote_nobody"]
    for item, value in ((QUOTE_HOW, "phone"), (QUOTE_WHO, "The owner, at nine")):
        scene.enter(item, value, by=DESK)
    assert send(scene, [an_answer(scene, 2)]) == ["applied"]
    record = record_of(scene.job, now=clock.now())
    assert record is not None
    assert answered(record) == "approved"
