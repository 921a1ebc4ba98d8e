"""The tablet's door over HTTP: well-formedness, order, status; never a redirect, never a 500."""

import json
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jobs.models import Entry
from jobs.sync import BATCH_LIMIT, Malformed, read_sent
from tests.jobs.conftest import PIN, Shop

ClientOf = Callable[[str], Client]


def send(client: Client, body: Any) -> tuple[int, list[dict[str, Any]]]:
    raw = body if isinstance(body, bytes) else json.dumps(body).encode()
    answer = client.post("/entries/", raw, content_type="application/json")
    assert answer.headers["Content-Type"] == "application/json"
    return answer.status_code, answer.json()["answers"]


def an_entry(shop: Shop, **more: Any) -> dict[str, Any]:
    entry = {
        "key": str(uuid.uuid4()),
        "job": shop.job,
        "kind": "value",
        "item": "intake.note",
        "value": "wet",
    }
    return {**entry, **more}


def test_one_entry_and_a_batch_are_taken_in_order(shop: Shop, client_of: ClientOf) -> None:
    client = client_of("aster")
    assert send(client, an_entry(shop))[0] == 200
    status, answers = send(client, {"entries": [an_entry(shop), an_entry(shop)]})
    assert (status, [answer["verdict"] for answer in answers]) == (200, ["applied", "applied"])
    assert answers[1]["seq"] == answers[0]["seq"] + 1


def test_without_sign_on_it_answers_401_as_json(shop: Shop) -> None:
    status, answers = send(Client(), an_entry(shop))
    assert (status, answers[0]["verdict"]) == (401, "auth")


def test_a_refusal_comes_with_code_parameters_and_a_sentence(
    shop: Shop, client_of: ClientOf
) -> None:
    entry = an_entry(shop, kind="sign", value={"step": "seal_test"}, pin=PIN, item="")
    _, answers = send(client_of("aster"), entry)
    [reason] = answers[0]["reasons"]
    assert reason["code"] == "earlier_step_open"
    assert reason["params"] == {"earlier": "Intake"}
    assert reason["text"] == "“Intake” has to be signed first."


def test_what_comes_after_a_refused_entry_of_the_job_waits(shop: Shop, client_of: ClientOf) -> None:
    batch = [an_entry(shop), an_entry(shop, item="intake.unknown"), an_entry(shop)]
    _, answers = send(client_of("aster"), {"entries": batch})
    assert [answer["verdict"] for answer in answers] == ["applied", "refused", "later"]
    _, answers = send(client_of("aster"), batch[2])
    assert answers[0]["verdict"] == "applied"


def test_a_used_key_with_other_content_answers_409(shop: Shop, client_of: ClientOf) -> None:
    client, entry = client_of("aster"), an_entry(shop)
    assert send(client, entry)[0] == 200
    assert send(client, {**entry, "value": "dry"})[0] == 409
    assert send(client, entry)[0] == 200
    assert Entry.objects.count() == 2


def test_the_pin_verdict_tells_the_tries_left(shop: Shop, client_of: ClientOf) -> None:
    entry = an_entry(shop, kind="sign", value={"step": "intake"}, pin="1111", item="")
    status, answers = send(client_of("aster"), entry)
    assert (status, answers[0]["verdict"], answers[0]["tries_left"]) == (200, "pin", 4)


@pytest.mark.parametrize(
    ("change", "path"),
    [
        ({"key": "1"}, "entries.0.key"),
        ({"key": None}, "entries.0.key"),
        ({"job": "../x"}, "entries.0.job"),
        ({"kind": "delete"}, "entries.0.kind"),
        ({"item": 5}, "entries.0.item"),
        ({"item": "x" * 500}, "entries.0.item"),
        ({"person": "me"}, "entries.0.person"),
        ({"device_seq": -1}, "entries.0.device_seq"),
        ({"device_seq": True}, "entries.0.device_seq"),
        ({"value": {"a": "\x00"}}, "entries.0.value"),
        ({"value": 2**80}, "entries.0.value"),
        ({"value": float("inf")}, "entries.0.value"),
        ({"more": 1}, "entries.0.more"),
    ],
)
def test_what_is_no_entry_is_refused_with_its_place(
    shop: Shop, client_of: ClientOf, change: dict[str, Any], path: str
) -> None:
    body = json.dumps(an_entry(shop, **change)).replace("Infinity", "1e999").encode()
    status, answers = send(client_of("aster"), body)
    assert status == 400
    assert answers[0]["reasons"][0]["params"]["path"] == path
    assert Entry.objects.count() == 1


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b"5",
        b"\xff",
        b'{"entries": []}',
        b'{"entries": 5}',
        b'{"a": NaN}',
        b'{"entries": [null]}',
        b"[" * 5000,
        b'{"entries": [[[[]]]]}',
    ],
)
def test_what_is_no_batch_answers_400(shop: Shop, client_of: ClientOf, body: bytes) -> None:
    assert send(client_of("aster"), body)[0] == 400


def test_a_batch_has_an_end() -> None:
    assert isinstance(
        read_sent(json.dumps({"entries": [{}] * (BATCH_LIMIT + 1)}).encode()), Malformed
    )


def test_other_methods_are_refused(shop: Shop, client_of: ClientOf) -> None:
    assert client_of("aster").get("/entries/").status_code == 405


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3)
    ),
    max_leaves=6,
)
KINDS = st.sampled_from(["value", "strike", "sign", "hold", "proof", "reopen", "close", "revision"])
ITEMS = st.sampled_from(
    ["intake.note", "intake.complaint", "intake.odometer_km", "road_test.x", ""]
)


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(JSON, KINDS, ITEMS, st.text(max_size=10))
def test_no_value_of_any_kind_breaks_the_door(
    shop: Shop, client_of: ClientOf, value: Any, kind: str, item: str, qualifier: str
) -> None:
    entry = an_entry(shop, kind=kind, item=item, value=value, qualifier=qualifier, pin=PIN)
    status, answers = send(client_of("aster"), entry)
    assert status in {200, 400}
    assert answers[0]["verdict"] in {"applied", "refused"}
