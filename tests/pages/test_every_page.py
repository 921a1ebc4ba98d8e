"""Every address of every app, for every role: who may see it, and that nothing breaks."""

import re
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import resolve

from jobs.practice.scene import Scene
from jobs.steps import STEPS
from tests.pages.addresses import ONLY_POSTED, address_of, names, unknown, wants_something

pytestmark = pytest.mark.django_db

Visit = Callable[[str], Client]

ROLES = ("technician", "manager", "front_desk")
MANAGERS = {
    "jobs:customer_erase",
    "jobs:equipment_correct",
    "jobs:person_erase",
    "jobs:set_aside",
    "packs:draft_section",
    "packs:publish_draft",
    "packs:start_draft",
    "packs:upload",
    "shop:backup_file",
    "shop:backup_key",
    "shop:backups",
    "shop:device",
    "shop:devices",
    "shop:equipment_add",
    "shop:equipment_test",
    "shop:limit",
    "shop:people",
    "shop:person",
    "shop:person_add",
    "shop:person_change",
    "shop:person_pin",
    "shop:person_pin_clear",
    "shop:person_retire",
    "shop:person_return",
    "shop:qualification_remove",
    "shop:settings",
    "shop:sign_ins",
}
DESK_AND_MANAGERS = {
    "jobs:accounting",
    "jobs:accounting_file",
    "jobs:customer_jobs",
    "jobs:job_accounting",
    "jobs:disposals_csv",
    "jobs:vehicle_jobs",
    "jobs:week",
    "jobs:week_csv",
    "shop:customer",
    "shop:customer_add",
    "shop:customer_change",
    "shop:customers",
    "shop:own_password",
    "shop:vehicle",
    "shop:vehicle_add",
    "shop:vehicle_change",
    "shop:vehicle_owner",
    "shop:vehicles",
}
FLOOR = {
    "jobs:withdraw",
    "packs:add_spare",
    "packs:add_unit",
    "packs:correct_unit",
    "packs:move_spare",
    "packs:removed_modules",
    "packs:test_spare",
}
OPEN_TO_ALL = {
    "jobs:app_manifest",
    "jobs:not_reachable",
    "jobs:tablet",
    "jobs:tablet_state",
    "jobs:worker",
    "shop:enrol",
    "shop:first_run",
    "shop:logo",
    "shop:sign_on",
    "shop:sign_on_person",
    "start",
    "start_certificate",
}
# Nothing is stored under the digest that is asked for, the shop's first run is over, and a real
# job has no practice bench.
NOT_THERE = {
    "jobs:attachment",
    "jobs:log_columns",
    "jobs:practice_bench",
    "jobs:practice_cards",
    "jobs:practice_result",
    "shop:backup_file",
    "shop:equipment_certificate",
    "shop:logo",
    "shop:person_certificate",
}
ASKED = [name for name in names() if name not in ONLY_POSTED]
JUNK = ("?q=%00%ff%F0%9F%92%A9&step=../..", "?next=//elsewhere.example/", "?q=" + "x" * 5000)
NOWHERE = ("/jobs/7/", "/jobs/%00/", "/jobs/../../etc/", "/packs/kinds/%F0%9F%92%A9/", "/x" * 500)
LINK = re.compile(r'<a\b[^>]*\shref="([^"#?]+)')


def text_of(client: Client, page: str) -> str:
    """Give the text of a page; nothing of a PDF or a file."""
    answer = client.get(page)
    return answer.content.decode() if answer["Content-Type"].startswith("text/html") else ""


def allowed(name: str) -> set[str]:
    """Name the roles that may see a page."""
    if name in MANAGERS:
        return {"manager"}
    if name in DESK_AND_MANAGERS:
        return {"manager", "front_desk"}
    return {"manager", "technician"} if name in FLOOR else set(ROLES)


@pytest.mark.parametrize("role", ROLES)
def test_each_role_sees_its_pages_and_no_other(
    role: str, scene: Scene, as_role: Visit, closed_templates: None
) -> None:
    client, wrong = as_role(role), {}
    for name in set(ASKED) - OPEN_TO_ALL - NOT_THERE:
        status = client.get(address_of(name, scene)).status_code
        seen = status in {200, 302}
        if seen != (role in allowed(name)) or (not seen and status != 403):
            wrong[name] = status
    assert wrong == {}


@pytest.mark.parametrize("role", ROLES)
def test_every_step_of_a_job_shows_itself_to_each_role(
    role: str, scene: Scene, as_role: Visit, closed_templates: None
) -> None:
    client = as_role(role)
    for step in STEPS:
        answer = client.get(address_of("jobs:step", scene, slug=step.slug))
        assert answer.status_code == 200
        assert step.title in answer.content.decode()


def test_whoever_is_not_signed_on_is_asked_who_it_is(scene: Scene, as_role: Visit) -> None:
    nobody = as_role("")
    seen = []
    for name in set(ASKED) - OPEN_TO_ALL:
        answer = nobody.get(address_of(name, scene))
        if answer.status_code != 302 or "/shop/sign-on/" not in answer["Location"]:
            seen.append(name)
    assert seen == []


@pytest.mark.parametrize("role", ROLES)
def test_no_page_links_to_what_its_reader_may_not_open(
    role: str, scene: Scene, as_role: Visit
) -> None:
    client = as_role(role)
    shown = set(ASKED) - NOT_THERE - {"jobs:report"}
    pages = [address_of(name, scene) for name in shown if role in allowed(name)]
    pages += [address_of("jobs:step", scene, slug=step.slug) for step in STEPS]
    forbidden = {
        link: page
        for page in pages
        for link in LINK.findall(text_of(client, page))
        if link.startswith("/") and role not in allowed(resolve(link).view_name)
    }
    assert forbidden == {}


def test_what_is_not_there_is_not_found(scene: Scene, as_role: Visit) -> None:
    client = as_role("manager")
    named = [name for name in ASKED if wants_something(name)]
    found = {name: client.get(unknown(name, scene)).status_code for name in named}
    assert {name: status for name, status in found.items() if status != 404} == {}


@pytest.mark.parametrize("junk", JUNK)
def test_nonsense_behind_an_address_breaks_nothing(junk: str, scene: Scene, as_role: Visit) -> None:
    client = as_role("manager")
    for name in set(ASKED) - {"jobs:report"}:
        assert client.get(address_of(name, scene) + junk).status_code < 500


@pytest.mark.parametrize("address", NOWHERE)
def test_a_nonsense_address_is_not_found(address: str, as_role: Visit) -> None:
    assert as_role("manager").get(address).status_code == 404


def test_a_page_that_only_takes_says_so_when_it_is_opened(scene: Scene, as_role: Visit) -> None:
    client = as_role("manager")
    answers = {name: client.get(address_of(name, scene)).status_code for name in ONLY_POSTED}
    assert set(answers.values()) == {405}
