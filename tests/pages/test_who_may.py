"""Every address by every method as everybody: the answers are what ``who_may.TABLE`` declares."""

from collections.abc import Callable
from http.cookies import SimpleCookie
from itertools import product
from uuid import uuid4

import pytest
from django.db import transaction
from django.http import HttpResponse, HttpResponseBase
from django.test import Client
from django.urls import reverse

from jobs.practice.scene import Scene
from tests.pages.addresses import all_addresses, names
from tests.pages.conftest import ROLES
from tests.pages.who_may import METHODS, OFFICE, TABLE
from workshop import actions, clock, queries, sign_on
from workshop.people import SECOND_PERSON

pytestmark = pytest.mark.django_db

Visit = Callable[[str], Client]
PASSWORD = "lid torque 9 wet"

OUTSIDE = ("nobody", "left", "locked", "shut out")
"""Nobody signed on, who has left the shop since, whom idling has locked, a manager at a device that
the shop does not know."""
VISITORS = (*OUTSIDE, *ROLES, SECOND_PERSON)
ASKED_TO_SIGN_ON = ("/shop/sign-on/", "/shop/first-run/", "/shop/enrol/")


@pytest.fixture
def visitor(scene: Scene, as_role: Visit) -> Visit:
    """Give a client for each kind of visitor."""

    def come(kind: str) -> Client:
        if kind in ROLES:
            return as_role(kind)
        if kind == "nobody":
            return as_role("")
        if kind == "shut out":
            token = actions.enrol_here(name="8", by=scene.shop.people["Thorne"], now=clock.now())
            client = as_role("manager")
            actions.let_only_enrolled(only=True, by=scene.shop.people["Thorne"], token=token)
            return client
        client = as_role("technician")
        person, manager = scene.shop.people[ROLES["technician"]], scene.shop.people["Thorne"]
        if kind == "left":
            actions.retire_person(person_id=person, by=manager)
        elif kind == "locked":
            session = client.session
            session[sign_on.SEEN_KEY] = clock.now().timestamp() - 3600
            session.save()
        else:
            _only_second_person(person, manager)
        return client

    return come


def _only_second_person(person: str, manager: str) -> None:
    """Leave a technician with no qualification but that of the second person."""
    info = queries.person(person)
    assert info is not None
    for each in info.qualifications:
        actions.remove_qualification(person_id=person, code=each.code, by=manager)
    actions.set_qualification(
        person_id=person, code=SECOND_PERSON, expires_on=None, certificate="", by=manager
    )


def role_of(kind: str) -> str:
    """Give the role by which a visitor is judged: a qualification opens no page."""
    if kind in OUTSIDE:
        return ""
    return "technician" if kind == SECOND_PERSON else kind


def ask(client: Client, address: str, method: str, scene: Scene) -> HttpResponseBase:
    """Ask an address and undo what that did; an empty form does little, but some do much."""
    with transaction.atomic():
        if method == "POST" and address == reverse("jobs:entries"):
            entry = {"key": str(uuid4()), "job": scene.job, "kind": "value", "item": "none"}
            answer = client.post(address, entry, content_type="application/json")
        else:
            answer = client.post(address) if method == "POST" else client.generic(method, address)
        transaction.set_rollback(True)
    return answer


@pytest.fixture
def addresses(scene: Scene) -> dict[str, str]:
    """Every address by its name."""
    return all_addresses(scene)


LEAD_THERE = {"shop:sign_off", "shop:first_run", "shop:password", "start_plain"}
"""They ask who is there by what they are for."""
LED_ON = {"shop:sign_on", "shop:sign_on_person"}
"""A device that is shut out is led from these to the page for a code."""


def what(answer: HttpResponseBase) -> str:
    """Name an answer by what it means for who asked."""
    if answer.status_code >= 500:
        return "broken"
    if answer.status_code in {401, 403, 405}:
        return {401: "asked", 403: "refused", 405: "no method"}[answer.status_code]
    led = answer.headers.get("Location", "").startswith(ASKED_TO_SIGN_ON)
    return "asked" if answer.status_code == 302 and led else "served"


def declared(name: str, method: str, kind: str) -> set[str]:
    """Give what the table allows as an answer."""
    row, role = TABLE[name], role_of(kind)
    if method not in row.methods.split():
        return {"no method"}
    if kind == "shut out" and name in LED_ON:
        return {"asked"}
    if role in row.roles:
        return {"served", "asked"} if name in LEAD_THERE else {"served"}
    return {"refused"} if role else {"asked"}


def test_every_address_is_declared_and_nothing_else() -> None:
    assert sorted(TABLE) == sorted(names())


@pytest.mark.parametrize("kind", VISITORS)
def test_every_address_answers_everybody_as_declared(
    kind: str, scene: Scene, addresses: dict[str, str], visitor: Visit
) -> None:
    client, wrong = visitor(kind), {}
    kept = {name: morsel.value for name, morsel in client.cookies.items()}
    for name, method in product(sorted(TABLE), METHODS):
        client.cookies = SimpleCookie(kept)
        found = what(ask(client, addresses[name], method, scene))
        if found not in declared(name, method, kind):
            wrong[name, method] = found
    assert wrong == {}


@pytest.mark.parametrize("role", ["manager", "front_desk"])
def test_what_only_the_office_does_asks_for_the_password_and_nothing_else_does(
    role: str, scene: Scene, addresses: dict[str, str], as_role: Visit
) -> None:
    manager = scene.shop.people["Thorne"]
    actions.set_password(password=PASSWORD, by=manager)
    actions.ask_office_password(ask=True, by=manager)
    client = as_role(role)
    mine = {name for name, row in TABLE.items() if role in row.roles} - LEAD_THERE
    asking = set[str]()
    for name, method in product(sorted(mine), ("GET", "POST")):
        if method in TABLE[name].methods.split():
            answer = ask(client, addresses[name], method, scene)
            asking |= {name} if what(answer) == "asked" else set()
    assert asking == OFFICE & mine


def test_every_address_that_takes_something_wants_the_token_of_its_form(
    scene: Scene, addresses: dict[str, str], as_role: Visit
) -> None:
    client = as_role("manager")
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = client.cookies
    taking = [name for name, row in TABLE.items() if "POST" in row.methods.split()]
    taken = {}
    for name in taking:
        answer = ask(strict, addresses[name], "POST", scene)
        if answer.status_code != 403:
            taken[name] = answer.status_code
    assert taken == {}
    assert len(taking) > 50


def test_the_measure_tells_answers_apart() -> None:
    said = [what(HttpResponse(status=each)) for each in (200, 302, 404, 401, 403, 405, 500)]
    assert said == ["served"] * 3 + ["asked", "refused", "no method", "broken"]
    led = HttpResponse(status=302, headers={"Location": "/shop/sign-on/?next=/"})
    assert what(led) == "asked"
