"""Who is signed on where, ending it from elsewhere, and the pages of the log."""

from collections.abc import Callable

import pytest
from django.test import Client

from workshop import actions, clock, queries
from workshop.errors import NotAllowed
from workshop.models import SignIn

PIN = "4826"
TabletOf = Callable[[str], Client]


def signed_on_at(person: str) -> Client:
    client = Client()
    assert client.post(f"/shop/sign-on/{person}/", {"pin": PIN}).status_code == 302
    return client


def session_of(person: str) -> str:
    return next(
        each.name for each in queries.open_sessions(clock.now()) if each.person_id == person
    )


def test_a_manager_sees_everybody_and_ends_any(wren: str, sorrel: str) -> None:
    manager, tablet = signed_on_at(wren), signed_on_at(sorrel)
    shown = manager.get("/shop/signed-on/").content.decode()
    assert "Wren Example" in shown
    assert "Sorrel Example" in shown
    answer = manager.post(f"/shop/signed-on/{session_of(sorrel)}/end/")
    assert answer.status_code == 302
    assert tablet.get("/shop/equipment/").status_code == 302
    assert manager.get("/shop/people/").status_code == 200
    last = SignIn.objects.first()
    assert last is not None
    assert (last.kind, str(last.person_id), str(last.by_id)) == ("ended", sorrel, wren)


def test_anybody_else_sees_and_ends_only_their_own(wren: str, sorrel: str) -> None:
    signed_on_at(wren)
    forgotten, tablet = signed_on_at(sorrel), signed_on_at(sorrel)
    shown = tablet.get("/shop/signed-on/").content.decode()
    assert "Wren Example" not in shown
    assert shown.count("Sorrel Example") >= 2
    with pytest.raises(NotAllowed):
        actions.end_session(name=session_of(wren), by=sorrel)
    actions.end_session(name=session_of(sorrel), by=sorrel)
    actions.end_session(name=session_of(sorrel), by=sorrel)
    assert forgotten.get("/shop/equipment/").status_code == 302


def test_a_refused_end_is_refused_at_the_page_as_well(wren: str, sorrel: str) -> None:
    signed_on_at(wren)
    answer = signed_on_at(sorrel).post(f"/shop/signed-on/{session_of(wren)}/end/")
    assert answer.status_code == 403
    assert len(queries.open_sessions(clock.now())) == 2


def test_a_session_that_is_gone_is_ended_twice_without_a_word(wren: str) -> None:
    assert not actions.end_session(name="0" * 16, by=wren)


def test_no_key_of_a_session_stands_on_a_page(wren: str) -> None:
    manager = signed_on_at(wren)
    key = manager.cookies["coldbus_session"].value
    assert key not in manager.get("/shop/signed-on/").content.decode()


def test_the_log_is_shown_by_person_and_place_in_pages(wren: str, sorrel: str) -> None:
    manager = signed_on_at(wren)
    for _ in range(51):
        actions.note_sign_in("signed_off", person_id=sorrel)
    first = manager.get("/shop/sign-ins/").content.decode()
    assert "Page 1 of 2" in first
    assert "Signed on" in manager.get("/shop/sign-ins/?page=2").content.decode()
    his = manager.get(f"/shop/sign-ins/?person={sorrel}").content.decode()
    assert "51 found" in his
    at = SignIn.objects.filter(kind="signed_on").values_list("place", flat=True).get()
    assert "1 found" in manager.get("/shop/sign-ins/", {"place": at}).content.decode()


def test_a_manager_who_unlocks_stands_beside_what_was_unlocked(wren: str, sorrel: str) -> None:
    manager = signed_on_at(wren)
    manager.post(f"/shop/people/{sorrel}/unlock/")
    shown = manager.get(f"/shop/sign-ins/?person={sorrel}").content.decode()
    assert "Unlocked, by Wren Example" in shown
