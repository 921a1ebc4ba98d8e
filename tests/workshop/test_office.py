"""The office's password: set, asked again, counted, kept forms, and the way back in."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.test import Client

from workshop import actions, clock, passwords, queries
from workshop.clock import FixedClock
from workshop.errors import InputRefused, NotAllowed
from workshop.models import Person, SignIn

PIN, PASSWORD, OTHER = "4826", "lid torque 9 wet", "four blue trolleys"
ADDRESS = "/shop/people/add/"
ADDED = {"display_name": "Tern Vale", "short_name": "Tern", "role": "technician", "language": ""}


def at_desk(person: str) -> Client:
    client = Client()
    assert client.post(f"/shop/sign-on/{person}/", {"pin": PIN}).status_code == 302
    return client


@pytest.fixture
def asking(wren: str) -> str:
    """A manager with a password in a shop that asks for it."""
    actions.set_password(password=PASSWORD, by=wren)
    actions.ask_office_password(ask=True, by=wren)
    return wren


@pytest.mark.parametrize(
    ("password", "code"),
    [
        ("short", "password_length"),
        ("x" * 129, "password_length"),
        ("password123", "password_common"),
        ("8301946625", "password_common"),
        ("aaaaaaaaaaaa", "password_common"),
        ("wren-and-more", "password_name"),
    ],
)
def test_a_password_that_is_guessed_first_is_refused(wren: str, password: str, code: str) -> None:
    with pytest.raises(InputRefused) as refused:
        actions.set_password(password=password, by=wren)
    assert refused.value.code == code
    assert passwords.fault_of(PASSWORD, ["Wren Example"]) is None


def test_it_is_kept_as_a_slow_hash_and_the_pin_stays(asking: str) -> None:
    row = Person.objects.get(pk=asking)
    assert row.password_hash.startswith("$argon2id$")
    assert PASSWORD not in row.password_hash
    assert actions.check_password(asking, PASSWORD, clock.now()).state == "right"
    assert actions.check_password(asking, PIN, clock.now()).state == "wrong"
    assert actions.check_pin(asking, PIN, clock.now()).state == "right"


def test_only_the_office_has_one(sorrel: str, ivy: str) -> None:
    with pytest.raises(NotAllowed):
        actions.set_password(password=PASSWORD, by=sorrel)
    actions.set_password(password=PASSWORD, by=ivy)
    info = queries.person(ivy)
    assert info is not None
    assert info.has_password


def test_without_the_switch_nothing_is_asked(wren: str) -> None:
    actions.set_password(password=PASSWORD, by=wren)
    assert at_desk(wren).get(ADDRESS).status_code == 200


def test_nobody_turns_it_on_who_has_none(wren: str) -> None:
    client = at_desk(wren)
    answer = client.post("/shop/settings/office/", {"ask": "1"})
    assert answer.status_code == 422
    assert "shut yourself out" in answer.content.decode()
    assert not queries.shop().office_password
    actions.set_password(password=PASSWORD, by=wren)
    assert client.post("/shop/settings/office/", {"ask": "1"}).status_code == 302
    assert queries.shop().office_password


def test_a_page_asks_and_goes_on(asking: str, time: FixedClock) -> None:
    client = at_desk(asking)
    asked = client.get(ADDRESS + "?x=1")
    assert asked.status_code == 401
    assert f'value="{ADDRESS}?x=1"' in asked.content.decode()
    wrong = client.post("/shop/password/", {"office_password": OTHER, "next": ADDRESS})
    assert wrong.status_code == 401
    assert "Tries left: 4" in wrong.content.decode()
    right = client.post("/shop/password/", {"office_password": PASSWORD, "next": ADDRESS})
    assert right.headers["Location"] == ADDRESS
    assert client.get(ADDRESS).status_code == 200
    for _ in range(2):
        time.advance(timedelta(minutes=4, seconds=50))
        assert client.get(ADDRESS).status_code == 200
    time.advance(timedelta(minutes=1))
    assert client.get(ADDRESS).status_code == 401


def test_no_other_site_is_gone_on_to(asking: str) -> None:
    sent = {"office_password": PASSWORD, "next": "https://elsewhere.example/"}
    assert at_desk(asking).post("/shop/password/", sent).headers["Location"] == "/"


def test_a_form_is_kept_and_goes_on_with_the_password(asking: str) -> None:
    client = at_desk(asking)
    asked = client.post(ADDRESS, ADDED)
    assert asked.status_code == 401
    assert 'value="Tern Vale"' in asked.content.decode()
    assert len(queries.people()) == 1
    again = client.post(ADDRESS, {**ADDED, "office_password": OTHER})
    assert again.status_code == 401
    assert 'value="Tern Vale"' in again.content.decode()
    assert OTHER not in again.content.decode()
    assert client.post(ADDRESS, {**ADDED, "office_password": PASSWORD}).status_code == 302
    assert len(queries.people()) == 2


def test_wrong_ones_count_with_wrong_pins_and_are_logged(asking: str) -> None:
    for _ in range(3):
        actions.check_password(asking, OTHER, clock.now())
    actions.check_pin(asking, "1111", clock.now())
    assert actions.check_password(asking, OTHER, clock.now()).state == "locked"
    assert actions.check_password(asking, PASSWORD, clock.now()).state == "locked"
    kinds = list(SignIn.objects.order_by("id").values_list("kind", flat=True))
    assert kinds == ["password_set", *["password_wrong"] * 3, "pin_wrong", "locked"]


def test_signing_off_or_a_new_password_ends_what_was_typed(asking: str) -> None:
    client, elsewhere = at_desk(asking), at_desk(asking)
    for each in (client, elsewhere):
        each.post("/shop/password/", {"office_password": PASSWORD})
        assert each.get(ADDRESS).status_code == 200
    sent = {"current": PASSWORD, "password": OTHER, "password_again": OTHER}
    assert client.post("/shop/my-password/", sent).status_code == 302
    assert client.get(ADDRESS).status_code == 200
    assert elsewhere.get(ADDRESS).status_code == 401
    client.post("/shop/sign-off/")
    assert client.post(f"/shop/sign-on/{asking}/", {"pin": PIN}).status_code == 302
    assert client.get(ADDRESS).status_code == 401


def test_somebody_without_one_is_led_to_set_it_by_pin(asking: str, ivy: str) -> None:
    client = at_desk(ivy)
    asked = client.get("/jobs/accounting.csv?first=2026-01-01&last=2026-02-01")
    assert asked.status_code == 401
    assert "/shop/my-password/" in asked.content.decode()
    sent = {"current": "0000", "password": OTHER, "password_again": OTHER}
    assert client.post("/shop/my-password/", sent).status_code == 422
    assert not queries.password_hash(ivy)
    assert client.post("/shop/my-password/", {**sent, "current": PIN}).status_code == 302
    assert queries.password_hash(ivy)
    assert client.get("/jobs/accounting/").status_code == 200


def test_two_that_differ_and_the_old_one_are_refused(asking: str) -> None:
    client = at_desk(asking)
    sent = {"current": PASSWORD, "password": OTHER, "password_again": OTHER + "x"}
    assert "differ" in client.post("/shop/my-password/", sent).content.decode()
    same = {"current": PASSWORD, "password": PASSWORD, "password_again": PASSWORD}
    assert "differs from the old one" in client.post("/shop/my-password/", same).content.decode()


def test_a_manager_takes_one_out_of_use(asking: str, ivy: str) -> None:
    actions.set_password(password=OTHER, by=ivy)
    client = at_desk(asking)
    client.post("/shop/password/", {"office_password": PASSWORD})
    assert "A password is set." in client.get(f"/shop/people/{ivy}/").content.decode()
    assert client.post(f"/shop/people/{ivy}/password/clear/").status_code == 302
    assert not queries.password_hash(ivy)


def test_the_last_manager_gets_in_again_from_the_server(
    asking: str, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("office_password", clear="Wren")
    assert not queries.password_hash(asking)
    call_command("office_password", off=True)
    assert not queries.shop().office_password
    assert "nobody is asked" in capsys.readouterr().out
    assert at_desk(asking).get(ADDRESS).status_code == 200


def test_somebody_who_left_and_came_back_sets_another(asking: str, ivy: str) -> None:
    actions.set_password(password=OTHER, by=ivy)
    actions.retire_person(person_id=ivy, by=asking)
    actions.return_person(person_id=ivy, by=asking)
    assert not queries.password_hash(ivy)
    actions.retire_person(person_id=ivy, by=asking)
    actions.erase_person(person_id=ivy, by=asking)
    assert not queries.password_hash(ivy)
