from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from workshop import actions, clock, queries
from workshop.clock import FixedClock
from workshop.details import PersonDetails

PIN = "4826"
CUSTOMER = {"name": "Alba Quill", "phone": "555 0101", "note": "<b>calls & late</b>"}
TabletOf = Callable[[str], Client]


def pin_page(person_id: str) -> str:
    return f"/shop/sign-on/{person_id}/"


@pytest.mark.django_db
@pytest.mark.usefixtures("time")
def test_the_first_start_leads_to_the_first_manager_who_is_then_signed_on(client: Client) -> None:
    asked = client.get("/shop/people/")
    assert asked["Location"].startswith("/shop/first-run/")
    typed = {"display_name": "Wren Example", "short_name": "Wren", "pin": PIN, "pin_again": PIN}
    assert client.post("/shop/first-run/", typed)["Location"] == "/shop/settings/"
    assert client.get("/shop/people/").status_code == 200
    assert client.get("/shop/first-run/")["Location"] == "/shop/sign-on/"


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"pin": "1234", "pin_again": "1234"}, "too easy"),
        ({"pin_again": "4827"}, "differ"),
        ({"pin": "48\x0026"}, "Null"),
        ({"display_name": ""}, "required"),
    ],
)
def test_a_faulty_first_manager_keeps_what_was_typed(
    client: Client, changes: dict[str, str], says: str
) -> None:
    typed = {"display_name": "Wren Example", "short_name": "Wren", "pin": PIN, "pin_again": PIN}
    answer = client.post("/shop/first-run/", typed | changes)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert 'value="Wren"' in answer.content.decode()
    assert not queries.has_people()


@pytest.mark.usefixtures("wren")
def test_two_taps_and_a_pin_lead_to_the_page_asked_for(client: Client, sorrel: str) -> None:
    asked = client.get("/shop/equipment/?x=1")
    tiles = client.get(asked["Location"]).content.decode()
    assert f"{pin_page(sorrel)}?next=%2Fshop%2Fequipment%2F%3Fx%3D1" in tiles
    answer = client.post(pin_page(sorrel), {"pin": PIN, "next": "/shop/equipment/?x=1"})
    assert answer["Location"] == "/shop/equipment/?x=1"
    assert client.get("/shop/equipment/").status_code == 200


@pytest.mark.parametrize(
    "address",
    ["https://example.org/", "//example.org", "javascript:alert(1)", "/\\example.org", "/a\r\nb"],
)
def test_sign_on_leads_to_no_foreign_address(client: Client, sorrel: str, address: str) -> None:
    answer = client.post(pin_page(sorrel), {"pin": PIN, "next": address})
    assert answer["Location"] == "/"


def test_a_wrong_pin_is_counted_and_said(client: Client, sorrel: str) -> None:
    answers = [client.post(pin_page(sorrel), {"pin": "9999"}) for _ in range(5)]
    assert {answer.status_code for answer in answers} == {422}
    assert "Tries left: 4" in answers[0].content.decode()
    assert "locked until 08:01" in answers[4].content.decode()
    assert client.get("/shop/equipment/").status_code == 302


def test_somebody_without_a_pin_is_told_what_to_do(client: Client, wren: str) -> None:
    details = PersonDetails(display_name="Moss Example", short_name="Moss", role="technician")
    moss = actions.add_person(details=details, by=wren)
    answer = client.post(pin_page(moss), {"pin": PIN})
    assert "No PIN is set yet" in answer.content.decode()


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["nobody", "1", "00000000-0000-0000-0000-000000000000"])
def test_an_unknown_person_has_no_pin_page(client: Client, path: str) -> None:
    assert client.get(pin_page(path)).status_code == 404


def test_signing_on_changes_the_session_key_and_the_form_token(
    client: Client, sorrel: str, wren: str
) -> None:
    client.post(pin_page(sorrel), {"pin": PIN})
    first = client.cookies["coldbus_session"].value
    client.post(pin_page(wren), {"pin": PIN})
    assert client.cookies["coldbus_session"].value != first
    assert client.get("/shop/people/").status_code == 200


def test_signing_off_takes_a_post_and_forgets(tablet_of: TabletOf, sorrel: str) -> None:
    client = tablet_of(sorrel)
    assert client.get("/shop/sign-off/").status_code == 405
    assert "Sign Sorrel off" in client.get("/shop/sign-on/").content.decode()
    client.post("/shop/sign-off/")
    assert client.get("/shop/equipment/").status_code == 302


def test_a_form_without_its_token_is_refused(sorrel: str) -> None:
    client = Client(enforce_csrf_checks=True)
    assert client.post(pin_page(sorrel), {"pin": PIN}).status_code == 403


def test_a_touch_now_and_then_keeps_a_person_signed_on(
    tablet_of: TabletOf, sorrel: str, time: FixedClock
) -> None:
    client = tablet_of(sorrel)
    for _ in range(4):
        time.advance(timedelta(minutes=4))
        assert client.get("/shop/equipment/").status_code == 200


def test_what_a_page_asks_by_itself_keeps_nobody_signed_on(
    tablet_of: TabletOf, sorrel: str, time: FixedClock
) -> None:
    tablet = tablet_of(sorrel)
    for _ in range(4):
        time.advance(timedelta(minutes=1))
        assert tablet.get("/", headers={"X-By-Itself": "1"}).status_code == 200
    time.advance(timedelta(minutes=2))
    quiet = tablet.get("/", headers={"X-By-Itself": "1", "HX-Request": "true"})
    assert (quiet.status_code, quiet.content) == (204, b"")
    assert tablet.get("/").status_code == 302


def test_after_idling_the_page_of_that_person_asks_for_the_pin(
    tablet_of: TabletOf, sorrel: str, time: FixedClock
) -> None:
    client = tablet_of(sorrel)
    time.advance(timedelta(minutes=6))
    answer = client.get("/shop/equipment/")
    assert answer["Location"].startswith(pin_page(sorrel))


def test_what_was_typed_before_idling_goes_on_with_the_pin(
    tablet_of: TabletOf, ivy: str, time: FixedClock
) -> None:
    client = tablet_of(ivy)
    time.advance(timedelta(minutes=6))
    kept = client.post("/shop/customers/add/", CUSTOMER)
    assert kept.status_code == 401
    assert 'name="note" value="&lt;b&gt;calls &amp; late&lt;/b&gt;"' in kept.content.decode()
    assert queries.customers() == ()
    wrong = client.post("/shop/customers/add/", CUSTOMER | {"unlock_pin": "9999"})
    assert wrong.status_code == 401
    assert "Alba Quill" in wrong.content.decode()
    right = client.post("/shop/customers/add/", CUSTOMER | {"unlock_pin": PIN})
    assert right.status_code == 302
    assert [each.name for each in queries.customers()] == ["Alba Quill"]


def test_a_pin_is_not_kept_on_the_page_that_asks(
    tablet_of: TabletOf, sorrel: str, time: FixedClock
) -> None:
    client = tablet_of(sorrel)
    time.advance(timedelta(minutes=6))
    kept = client.post("/shop/my-pin/", {"pin_now": PIN, "pin": "7391", "pin_again": "7391"})
    assert PIN not in kept.content.decode()
    assert "7391" not in kept.content.decode()


def test_a_fragment_is_sent_to_sign_on_as_a_whole_page(client: Client, sorrel: str) -> None:
    answer = client.get("/shop/equipment/", headers={"HX-Request": "true"})
    assert answer.status_code == 401
    assert answer["HX-Redirect"].startswith("/shop/sign-on/")
    assert sorrel


def test_changing_ones_own_pin_needs_the_old_one(tablet_of: TabletOf, sorrel: str) -> None:
    client = tablet_of(sorrel)
    typed = {"pin_now": "9999", "pin": "7391", "pin_again": "7391"}
    assert client.post("/shop/my-pin/", typed).status_code == 422
    assert client.post("/shop/my-pin/", typed | {"pin_now": PIN}).status_code == 302
    assert actions.check_pin(sorrel, "7391", clock.now()).state == "right"
    assert client.get("/shop/equipment/").status_code == 200


def test_a_pin_set_elsewhere_ends_the_session(tablet_of: TabletOf, wren: str, sorrel: str) -> None:
    client = tablet_of(sorrel)
    actions.set_pin(person_id=sorrel, pin="7391", by=wren)
    assert client.get("/shop/equipment/").status_code == 302


@pytest.mark.parametrize("held", [{"person": 7, "mark": []}, {"person": "x", "mark": "y"}, {}])
def test_a_session_that_makes_no_sense_is_nobodys(
    client: Client, sorrel: str, held: dict[str, object]
) -> None:
    session = client.session
    session.update(held)
    session.save()
    assert client.get("/shop/equipment/").status_code == 302
    assert sorrel
