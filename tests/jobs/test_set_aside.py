"""A gap that ends: a manager sets a lost tablet's entries aside, for good and with the reason."""

import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from jobs.actions.tablets import GivenUp, set_aside
from jobs.core.reason import InputRefused
from jobs.models import Entry, SetAside
from jobs.queries.tablets import all_set_aside, all_tablets, held_back
from tests.jobs.conftest import PIN, Shop
from tests.jobs.test_wire import Hand, ticket
from workshop.errors import NotAllowed
from workshop.models import Person

ClientOf = Callable[[str], Client]
WHY = "Dropped into the coolant bath; Munk took the readings again"
SHORTLY, LONG = timedelta(minutes=6), timedelta(days=1)


@pytest.fixture
def hand(shop: Shop, client_of: ClientOf) -> Hand:
    return Hand(shop, client_of("aster"))


@pytest.fixture
def late(hand: Hand) -> dict[str, Any]:
    """An entry that lies on a tablet whose later ones have arrived: numbers 1 and 4 came."""
    hand.send(hand.entry())
    late = hand.entry(ticket=ticket(hand.shop))
    hand.entry()
    hand.send(hand.entry())
    hand.shop.clock.advance(SHORTLY)
    return late


def page(device: str) -> str:
    return f"/tablets/{device}/set-aside/"


def form(**more: str) -> dict[str, str]:
    return {"key": str(uuid.uuid4()), "reason": WHY, "pin": PIN, **more}


def test_a_manager_ends_the_alarm_and_it_is_written_who_when_why_and_which(
    hand: Hand, late: dict[str, Any], client_of: ClientOf
) -> None:
    shop, manager = hand.shop, client_of("thorne")
    today = manager.get("/").content.decode()
    assert "4 entries made, 2 arrived" in today
    assert 'href="/tablets/"' in today
    assert page(hand.device) in manager.get("/tablets/").content.decode()
    assert "Signed on there last: Aster Example." in manager.get(page(hand.device)).content.decode()
    sent = form()
    assert manager.post(page(hand.device), sent).status_code == 302
    assert held_back(shop.clock.now() + LONG) == ()
    [kept] = all_set_aside()
    assert (kept.numbers, kept.reason, kept.person) == (((2, 3),), WHY, shop.people["thorne"])
    assert (kept.at, kept.came) == (shop.clock.now(), ())
    shown = manager.get("/tablets/").content.decode()
    for words in ("number 2 to 3", WHY, "Thorne Example", "4 made, 2 arrived, 2 set aside"):
        assert words in shown
    assert "Entries that have not arrived" not in manager.get("/").content.decode()
    # The same page sent once more is the same act.
    assert manager.post(page(hand.device), sent).status_code == 302
    assert SetAside.objects.count() == 1


@pytest.mark.parametrize("name", ["aster", "lorne"])
def test_nobody_else_may(hand: Hand, late: dict[str, Any], client_of: ClientOf, name: str) -> None:
    client, shop = client_of(name), hand.shop
    assert client.get(page(hand.device)).status_code == 403
    assert client.post(page(hand.device), form()).status_code == 403
    assert page(hand.device) not in client.get("/tablets/").content.decode()
    given = GivenUp(key=str(uuid.uuid4()), device=hand.device, reason=WHY)
    with pytest.raises(NotAllowed):
        set_aside(given, by=shop.people[name], pin=PIN, now=shop.clock.now())
    assert SetAside.objects.count() == 0
    assert len(held_back(shop.clock.now())) == 1


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"pin": "1111"}, "The PIN is not right."),
        ({"reason": " "}, "This field is required."),
        ({"reason": "x" * 1001}, "at most 1000 characters"),
        ({"key": "nonsense"}, "Not saved yet"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_set_aside(
    hand: Hand, late: dict[str, Any], client_of: ClientOf, change: dict[str, str], said: str
) -> None:
    answer = client_of("thorne").post(page(hand.device), form(**change))
    assert answer.status_code == 422
    shown = answer.content.decode()
    assert said in shown
    assert change.get("reason", WHY).strip() in shown
    assert (PIN in shown, SetAside.objects.count()) == (False, 0)


def test_a_wrong_pin_counts(hand: Hand, late: dict[str, Any], client_of: ClientOf) -> None:
    client_of("thorne").post(page(hand.device), form(pin="1111"))
    thorne = Person.objects.get(pk=hand.shop.people["thorne"])
    assert thorne.pin_failures == 1


def test_an_entry_that_arrives_after_all_is_taken_and_told(
    hand: Hand, late: dict[str, Any], client_of: ClientOf
) -> None:
    shop, manager = hand.shop, client_of("thorne")
    manager.post(page(hand.device), form())
    shop.clock.advance(timedelta(minutes=3))
    assert hand.verdicts(late) == ["applied"]
    assert Entry.objects.filter(pk=late["key"]).exists()
    [kept] = all_set_aside()
    assert kept.came == ((2, shop.clock.now()),)
    assert "Number 2 was set aside and has arrived after all." in manager.get("/").content.decode()
    shown = manager.get("/tablets/").content.decode()
    assert "Number 2 arrived after all" in shown
    assert "4 made, 3 arrived, 1 set aside" in shown
    # What was set aside is not taken back by it, and Today does not tell of it for ever.
    assert held_back(shop.clock.now() + LONG) == ()
    shop.clock.advance(timedelta(days=8))
    assert "has arrived after all" not in client_of("thorne").get("/").content.decode()
    assert "arrived after all" in client_of("thorne").get("/tablets/").content.decode()


def test_what_goes_missing_afterwards_is_told_of_again(
    hand: Hand, late: dict[str, Any], client_of: ClientOf
) -> None:
    client_of("thorne").post(page(hand.device), form())
    hand.client = client_of("aster")
    hand.entry()
    hand.send(hand.entry())
    hand.shop.clock.advance(SHORTLY)
    [told] = held_back(hand.shop.clock.now())
    assert (told.made, told.arrived, told.aside, told.missing) == (6, 3, 2, ((5, 5),))


def test_where_nothing_is_missing_nothing_can_be_set_aside(hand: Hand, client_of: ClientOf) -> None:
    hand.send(hand.entry())
    manager, shop = client_of("thorne"), hand.shop
    answer = manager.post(page(hand.device), form())
    assert answer.status_code == 422
    assert "Nothing is missing from this tablet any more." in answer.content.decode()
    assert manager.get(page(str(uuid.uuid4()))).status_code == 404
    given = GivenUp(key=str(uuid.uuid4()), device=str(uuid.uuid4()), reason=WHY)
    with pytest.raises(InputRefused) as refused:
        set_aside(given, by=shop.people["thorne"], pin=PIN, now=shop.clock.now())
    assert refused.value.blocker.code == "tablet_unknown"


def test_a_count_that_no_tablet_can_have_made_is_set_aside_as_well(
    hand: Hand, client_of: ClientOf
) -> None:
    hand.send(hand.entry())
    hand.made = 2**53 - 1
    hand.send()
    hand.shop.clock.advance(SHORTLY)
    assert client_of("thorne").post(page(hand.device), form()).status_code == 302
    assert held_back(hand.shop.clock.now() + LONG) == ()
    assert [each.missing for each in all_tablets()] == [()]


def test_what_was_set_aside_is_never_changed(
    hand: Hand, late: dict[str, Any], client_of: ClientOf
) -> None:
    client_of("thorne").post(page(hand.device), form())
    rows = SetAside.objects.all()
    for change in (lambda: rows.update(reason="another"), rows.delete):
        with pytest.raises(IntegrityError, match="stays written"), transaction.atomic():
            change()
    copy = rows.get()
    with pytest.raises(IntegrityError), transaction.atomic():
        SetAside.objects.bulk_create([copy])
    assert rows.get().reason == WHY


def test_the_tablet_hears_its_own_name(hand: Hand) -> None:
    asked = f"/tablet/state/?device={hand.device}"
    assert hand.client.get(asked).json()["name"] == ""
    hand.client.post("/tablet/", {"device": hand.device, "name": "bay 2"})
    assert hand.client.get(asked).json()["name"] == "bay 2"
    assert Client().get(asked).json()["name"] == ""
