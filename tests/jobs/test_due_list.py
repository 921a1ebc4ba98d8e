"""The due list as PDF, certificates under a name of their own, and what leaves quarantine."""

import io
import uuid
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from jobs.steps.module_swap.items import REMOVED_SERIAL
from packs import actions, queries
from packs.spare_tests import SpareTest
from packs.spares import IN_STOCK, QUARANTINED, NewSpare, SpareInfo
from tests.jobs.conftest import MORNING, Shop
from tests.yard import M9, Yard, a_yard
from workshop import queries as shop_queries
from workshop import sign_on
from workshop.models import Equipment

pytestmark = pytest.mark.django_db


def words_of(content: bytes) -> str:
    return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)


def test_the_due_list_is_a_document_with_every_piece_and_its_state(
    shop: Shop, client_of: Callable[[str], Client]
) -> None:
    for label, tested_on, due_on in (
        ("GL-1", "2025-01-10", "2025-07-10"),
        ("GL-<b>2", "2026-02-01", "2026-08-01"),
    ):
        Equipment.objects.create(
            kind="gloves", label=label, serial="S1", ratings={"class": "0"}, tested_on=tested_on,
            due_on=due_on, issued=True, created_at=MORNING,
        )  # fmt: skip
    address = reverse("jobs:due_list_pdf")
    assert Client().get(address).status_code == 302
    answers = [client_of(name).get(address) for name in ("lorne", "aster", "thorne")]
    for answer in answers:
        assert answer.headers["Content-Type"] == "application/pdf"
        assert 'filename="equipment-due-2026-03-02.pdf"' in answer.headers["Content-Disposition"]
    words = words_of(answers[0].content)
    assert "GL-1" in words
    assert "GL-<b>2" in words
    assert "not usable" in words
    assert "Record head" not in words
    found = words_of(client_of("aster").get(f"{address}?q=GL-1").content)
    assert "GL-<b>2" not in found


def client_in(yard: Yard, name: str) -> Client:
    client = Client()
    session = client.session
    session[sign_on.PERSON_KEY] = yard.scene.shop.people[name]
    session[sign_on.MARK_KEY] = shop_queries.session_mark(yard.scene.shop.people[name])
    session[sign_on.SEEN_KEY] = yard.now().timestamp()
    session.save()
    return client


def released(yard: Yard, spare: SpareInfo) -> tuple[int, str]:
    """Ask on the page that a spare leaves quarantine; give the answer's status and words."""
    address = reverse("packs:move_spare", args=(spare.id,))
    sent = {"state": IN_STOCK, "place": "Rack 1", "note": "Calm for 7 days, tested, M. Thorne"}
    answer = client_in(yard, "Thorne").post(address, sent)
    return answer.status_code, answer.content.decode()


def test_a_removed_module_becomes_a_spare_only_after_its_watch_and_with_tests() -> None:
    with a_yard() as yard:
        yard.scene.enter(REMOVED_SERIAL, "RM-9", at=M9)
        by = uuid.UUID(yard.scene.shop.people["Aster"])
        new = NewSpare(serial="RM-9", part="P", chemistry="nmc", cells=6, provenance="Job",
                       state=QUARANTINED)  # fmt: skip
        spare = actions.add_spare(new=new, by=by, now=yard.now())
        status, page = released(yard, spare)
        assert status == 422
        assert "Its temperature watch still runs" in page
        yard.keep(days=7.01)
        yard.end("kept")
        status, page = released(yard, spare)
        assert status == 422
        assert "have to be measured here" in page
        test = SpareTest(capacity_ah=118.0, cell_v=3.61, insulation_ohm=5.5e8)
        actions.add_spare_test(spare_id=spare.id, test=test, by=by, now=yard.now())
        assert released(yard, spare)[0] == 302
        assert queries.spare(spare.id).state == IN_STOCK
