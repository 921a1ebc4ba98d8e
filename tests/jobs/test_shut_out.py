"""Entries from a device that was turned away wait there, until it is one of ours again."""

import json
from uuid import uuid4

import pytest
from django.test import Client

from jobs.models import Entry, Verdict
from tests.play import a_job_at
from workshop import actions, clock, devices, queries
from workshop.people import MANAGER
from workshop.tickets import ticket_for

pytestmark = pytest.mark.django_db


def test_what_waits_on_a_device_turned_away_is_taken_after_it_is_enrolled_again() -> None:
    with a_job_at("intake") as scene:
        manager = next(each.id for each in queries.people() if each.role == MANAGER)
        person = scene.shop.people["Munk"]
        token = actions.enrol_here(name="Bay 1", by=manager, now=clock.now())
        ticket = ticket_for(person, queries.session_mark(person), clock.now())
        entry = {
            "key": str(uuid4()),
            "job": scene.job,
            "kind": "value",
            "item": "intake.note",
            "value": "wet",
            "person": person,
            "ticket": ticket,
        }

        def sent(token: str) -> tuple[int, dict[str, object]]:
            tablet = Client()
            if token:
                tablet.cookies[devices.COOKIE] = token
            answer = tablet.post("/entries/", json.dumps(entry), content_type="application/json")
            return answer.status_code, answer.json()["answers"][0]

        found = queries.device_of_token(token)
        assert found is not None
        actions.revoke_device(device_id=found.id, by=manager, now=clock.now())
        before = Entry.objects.count()
        status, answer = sent(token)
        assert (status, answer["verdict"], answer["shut_out"]) == (401, "auth", True)
        assert answer["key"] == entry["key"]
        assert Entry.objects.count() == before
        assert not Verdict.objects.filter(key=entry["key"]).exists()

        again = actions.enrol_here(name="Bay 1", by=manager, now=clock.now())
        actions.let_only_enrolled(only=True, by=manager, token=again)
        assert sent("")[1]["verdict"] == "auth"
        assert sent("never given")[1]["verdict"] == "auth"
        status, answer = sent(again)
        assert (status, answer["verdict"]) == (200, "applied")
        assert Entry.objects.count() == before + 1


def test_pictures_from_a_device_that_is_shut_out_are_not_kept() -> None:
    with a_job_at("intake") as scene:
        manager = next(each.id for each in queries.people() if each.role == MANAGER)
        token = actions.enrol_here(name="Bay 1", by=manager, now=clock.now())
        actions.let_only_enrolled(only=True, by=manager, token=token)
        answer = Client().post(f"/jobs/{scene.job}/photo/", {})
        assert (answer.status_code, answer.json()["verdict"]) == (401, "auth")
