"""Wrong PINs count at the place where they are typed as well, and everything is logged."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import DatabaseError, transaction
from django.test import Client

from jobs.triggers import create_triggers, missing_triggers
from workshop import actions, pins, place
from workshop.clock import FixedClock
from workshop.models import PlaceTries, SignIn

PIN = "4826"
HERE, THERE = "browser:here", "browser:there"
TabletOf = Callable[[str], Client]


def try_pin(person: str, pin: str, time: FixedClock, where: str = HERE) -> actions.PinResult:
    with place.at(where):
        return actions.check_pin(person, pin, time.now())


def kinds() -> list[str]:
    return list(SignIn.objects.order_by("id").values_list("kind", flat=True))


def test_wrong_pins_for_several_people_lock_the_place(
    sorrel: str, ivy: str, wren: str, time: FixedClock
) -> None:
    tried = [try_pin(who, "9999", time) for who in (sorrel, ivy, sorrel, ivy, wren)]
    assert [each.state for each in tried] == ["wrong"] * 4 + ["locked"]
    shut = try_pin(wren, PIN, time)
    assert shut.state == "locked"
    assert shut.until == time.now() + pins.LOCKS[0]
    assert try_pin(wren, PIN, time, THERE).state == "right"


def test_each_further_wrong_pin_locks_the_place_for_longer(
    sorrel: str, ivy: str, time: FixedClock
) -> None:
    for who in (sorrel, ivy, sorrel, ivy, sorrel):
        try_pin(who, "9999", time)
    for who, lock in ((ivy, pins.LOCKS[1]), (sorrel, pins.LOCKS[2])):
        time.advance(timedelta(minutes=20))
        assert try_pin(who, "9999", time).until == time.now() + lock


def test_a_right_pin_forgives_only_the_wrong_ones_of_that_person(
    sorrel: str, ivy: str, time: FixedClock
) -> None:
    for _ in range(2):
        try_pin(sorrel, "9999", time)
        try_pin(ivy, "9999", time)
    assert try_pin(ivy, PIN, time).state == "right"
    assert PlaceTries.objects.get(pk=HERE).people == [sorrel, sorrel]


def test_an_hour_without_a_wrong_pin_begins_anew(sorrel: str, ivy: str, time: FixedClock) -> None:
    for who in (sorrel, ivy, sorrel, ivy):
        try_pin(who, "9999", time)
    time.advance(timedelta(hours=1, seconds=1))
    assert try_pin(sorrel, "9999", time).state == "wrong"
    assert PlaceTries.objects.get(pk=HERE).people == [sorrel]


def test_a_manager_unlocks_the_person_and_the_place(
    wren: str, sorrel: str, time: FixedClock
) -> None:
    for _ in range(5):
        try_pin(sorrel, "9999", time)
    assert try_pin(wren, PIN, time).state == "locked"
    actions.unlock_pin(person_id=sorrel, by=wren)
    assert try_pin(sorrel, PIN, time).state == "right"
    assert kinds() == ["pin_wrong"] * 4 + ["locked", "unlocked"]


def test_outside_of_a_request_there_is_no_place_to_count(sorrel: str, time: FixedClock) -> None:
    actions.check_pin(sorrel, "9999", time.now())
    assert not PlaceTries.objects.exists()


def test_an_unknown_browser_counts_by_its_address_which_is_not_kept(
    client: Client, sorrel: str, ivy: str, wren: str
) -> None:
    for who in (sorrel, ivy, sorrel, ivy, sorrel):
        Client().post(f"/shop/sign-on/{who}/", {"pin": "9999"})
    answer = client.post(f"/shop/sign-on/{wren}/", {"pin": PIN})
    assert answer.status_code == 422
    assert "locked until 08:01" in answer.content.decode()
    stored = [*SignIn.objects.values_list("place", flat=True), PlaceTries.objects.get().place]
    assert all(each.startswith("address:") for each in stored)
    assert not any("127.0.0.1" in each for each in stored)
    other = Client(REMOTE_ADDR="192.0.2.7")
    assert other.post(f"/shop/sign-on/{wren}/", {"pin": PIN}).status_code == 302


def test_a_browser_at_which_somebody_signed_on_has_a_count_of_its_own(
    sorrel: str, ivy: str, wren: str
) -> None:
    known = Client()
    known.post(f"/shop/sign-on/{wren}/", {"pin": PIN})
    for who in (sorrel, ivy, sorrel, ivy, sorrel):
        Client().post(f"/shop/sign-on/{who}/", {"pin": "9999"})
    assert known.post(f"/shop/sign-on/{wren}/", {"pin": PIN}).status_code == 302
    cookie = known.cookies[place.COOKIE]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"


def test_signing_on_and_off_is_logged_with_who_and_where(client: Client, sorrel: str) -> None:
    client.post(f"/shop/sign-on/{sorrel}/", {"pin": PIN})
    client.post("/shop/sign-off/")
    on, off = SignIn.objects.order_by("id")
    assert (on.kind, off.kind) == ("signed_on", "signed_off")
    assert {str(on.person_id), str(off.person_id)} == {sorrel}
    assert off.place.startswith("browser:")


@pytest.mark.parametrize("act", ["update", "delete"])
def test_the_log_is_only_added_to(act: str, client: Client, sorrel: str) -> None:
    client.post(f"/shop/sign-on/{sorrel}/", {"pin": PIN})
    rows = SignIn.objects.all()
    with pytest.raises(DatabaseError, match="only added to"), transaction.atomic():
        rows.delete() if act == "delete" else rows.update(kind="signed_off")
    assert kinds() == ["signed_on"]


@pytest.mark.django_db
def test_the_guard_knows_the_triggers_of_the_log() -> None:
    create_triggers()
    assert missing_triggers() == ()
