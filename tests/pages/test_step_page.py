"""A job's screen: what is next stands out, lists lead to their cards, nothing is asked twice."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.core.entry import Kind
from jobs.practice.scene import TECHNICIAN, Draft, Scene
from jobs.steps import STEPS
from jobs.steps.module_swap.items import REMOVED_SERIAL
from tests.pages.addresses import address_of, names, wants_something
from tests.pages.reading import read
from tests.pages.test_every_page import ASKED, NOT_THERE, allowed
from workshop.models import Vehicle

pytestmark = pytest.mark.django_db

Visit = Callable[[str], Client]
SWAP, NOTE = "module_swap", "module_swap.note"


def swap_page(client: Client, scene: Scene) -> str:
    answer = client.get(address_of("jobs:step", scene, slug=SWAP))
    assert answer.status_code == 200
    return answer.content.decode()


def add_note(scene: Scene, number: int) -> None:
    scene.do(Draft(kind=Kind.VALUE, by=TECHNICIAN, item=NOTE, value=f"Note {number}"))


def test_the_page_asks_the_database_no_more_when_there_is_more_to_show(
    scene: Scene, as_role: Visit
) -> None:
    client = as_role("technician")
    swap_page(client, scene)
    with CaptureQueriesContext(
        connection,
    ) as before:
        swap_page(client, scene)
    for number in range(12):
        add_note(scene, number)
    swap_page(client, scene)
    with CaptureQueriesContext(connection) as after:
        text = swap_page(client, scene)
    assert "Note 11" in text
    assert len(after) <= len(before)


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.slug)
def test_every_link_on_the_page_leads_to_a_place_on_it(
    step: object, scene: Scene, as_role: Visit
) -> None:
    slug = getattr(step, "slug", "")
    text = as_role("technician").get(address_of("jobs:step", scene, slug=slug)).content.decode()
    seen = read(text)
    assert [href for href in seen.hrefs if href not in seen.ids] == []


@pytest.mark.parametrize("role", ["technician", "manager", "front_desk"])
def test_fields_have_names_and_identifiers_are_used_once(
    role: str, scene: Scene, as_role: Visit
) -> None:
    client, faults = as_role(role), {}
    shown = [n for n in ASKED if n not in NOT_THERE | {"jobs:report"} and role in allowed(n)]
    for name in shown:
        answer = client.get(address_of(name, scene))
        if answer.status_code != 200 or not answer["Content-Type"].startswith("text/html"):
            continue
        seen = read(answer.content.decode())
        twice = {each for each in seen.ids if seen.ids.count(each) > 1}
        if seen.bare or twice or seen.headings.count(1) != 1:
            faults[name] = (seen.bare, twice, seen.headings.count(1))
    assert faults == {}


def test_one_thing_is_next_and_the_panel_leads_there(scene: Scene, as_role: Visit) -> None:
    text = swap_page(as_role("technician"), scene)
    assert text.count("card-next") == 1
    assert 'class="next"' in text


def test_what_waits_offers_nothing_to_enter_and_says_when_it_opens(
    scene: Scene, as_role: Visit
) -> None:
    answer = as_role("technician").get(address_of("jobs:step", scene, slug="reassembly"))
    text = answer.content.decode()
    assert "This step opens when the one before it is signed." in text
    assert "card-next" not in text
    assert 'data-kind="sign"' not in text


def test_a_hold_point_lists_what_is_missing_and_offers_no_button_before(
    scene: Scene, as_role: Visit
) -> None:
    text = swap_page(as_role("technician"), scene)
    assert "Still missing before this act" in text
    assert 'data-kind="hold"' not in text


def test_a_value_that_was_struck_stays_readable_with_its_reason(
    scene: Scene, as_role: Visit
) -> None:
    for number in range(2):
        add_note(scene, number)
    given = scene.record().live[NOTE][0]
    strike = {"key": given.key, "reason": "Wrong vehicle"}
    scene.do(Draft(kind=Kind.STRIKE, by=TECHNICIAN, value=strike))
    text = swap_page(as_role("technician"), scene)
    assert "<s>Note 0</s>" in text
    assert "struck: Wrong vehicle" in text
    assert f'data-target="{given.key}"' not in text


def test_a_signed_step_shows_its_hold_points_as_passed_however_old_they_are(
    scene: Scene, as_role: Visit
) -> None:
    scene.clock.advance(timedelta(days=3))
    text = (
        as_role("manager")
        .get(address_of("jobs:step", scene, slug="isolation_readings"))
        .content.decode()
    )
    assert "hold-passed" in text
    assert "Not yet. Still missing" not in text
    assert REMOVED_SERIAL.label not in text


def test_a_refresh_gets_the_step_once(scene: Scene, as_role: Visit) -> None:
    client = as_role("technician")
    answer = client.get(address_of("jobs:step", scene, slug=SWAP), headers={"hx-request": "true"})
    assert answer.content.decode().count('id="step"') == 1
    assert "HX-Request" in answer["Vary"]


def test_a_refresh_after_idling_sends_the_whole_page_to_the_pin(
    scene: Scene, as_role: Visit
) -> None:
    client = as_role("technician")
    scene.clock.advance(timedelta(minutes=30))
    address = address_of("jobs:step", scene, slug=SWAP)
    answer = client.get(address, headers={"hx-request": "true"})
    assert answer.status_code == 401
    assert "/shop/sign-on/" in answer["HX-Redirect"]


def test_names_of_addresses_say_whether_they_name_something() -> None:
    assert "jobs:today" in names()
    assert not wants_something("jobs:today")
    assert wants_something("jobs:step")


def test_a_vin_that_is_not_the_one_booked_is_said_at_once(scene: Scene, as_role: Visit) -> None:
    address = address_of("jobs:step", scene, slug="intake")
    text = as_role("technician").get(address).content.decode()
    assert "Booked as:" in text
    assert "not the one it was booked under" not in text
    Vehicle.objects.update(vin="WXYZZZ12Z00123457")
    text = as_role("technician").get(address).content.decode()
    assert "not the one it was booked under" in text
