"""Today and Open jobs: what each role finds, filters of the address, two taps to anywhere."""

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.models import Job
from jobs.practice.player import book_in
from jobs.practice.scenario import recipe
from jobs.practice.scene import Scene
from tests.pages.addresses import address_of
from workshop import clock
from workshop.models import Customer

pytestmark = pytest.mark.django_db

Visit = Callable[[str], Client]
PLATE = "pf 12 bus"
ROLES = ("technician", "manager", "front_desk")
LINK = re.compile(r'<a\b[^>]*\shref="(/[^"#?]*)')
ROW = re.compile(r'<tr data-job="([^"]+)" data-waits="([^"]*)"')
SECTION = re.compile(r'data-section="(\w+)"')
FOR_ALL = {
    "jobs:today",
    "jobs:open_jobs",
    "jobs:quarantine",
    "packs:spares",
    "packs:packs",
    "packs:units",
    "shop:equipment",
    "shop:equipment_due",
    "shop:own_pin",
    "jobs:book",
}
FLOOR = {"packs:removed_modules"}
DESK = {"shop:customers", "shop:vehicles"}
MANAGES = {"shop:people", "shop:settings", "shop:backups"}


def listed(client: Client, **asked: str) -> list[str]:
    answer = client.get(reverse("jobs:open_jobs"), asked)
    assert answer.status_code == 200
    return [number for number, _ in ROW.findall(answer.content.decode())]


def book(scene: Scene, slug: str, *, arrives_days: int = 0, promised_days: int = 3) -> str:
    booked = book_in(scene.shop, recipe(slug), scene.clock)
    day = scene.clock.now().date()
    Job.objects.filter(pk=booked.job).update(
        arrives_on=day + timedelta(days=arrives_days),
        promised_on=day + timedelta(days=promised_days),
    )
    return booked.job


def section(text: str, name: str) -> str:
    after = text[text.index(f'data-section="{name}"') :]
    return after[: after.index("</section>")]


def today(client: Client) -> str:
    answer = client.get(reverse("jobs:today"))
    assert answer.status_code == 200
    return answer.content.decode()


def expected(role: str) -> set[str]:
    more = (DESK if role != "technician" else set()) | (FLOOR if role != "front_desk" else set())
    return FOR_ALL | more | (MANAGES if role == "manager" else set())


@pytest.mark.parametrize("role", ROLES)
def test_every_list_is_two_taps_from_today(role: str, scene: Scene, as_role: Visit) -> None:
    client = as_role(role)
    first = set(LINK.findall(today(client)))
    reached = {reverse("jobs:today"), *first}
    for page in first:
        if "report.pdf" not in page and "sign-off" not in page:
            answer = client.get(page)
            assert answer.status_code in {200, 302}, page
            reached |= set(LINK.findall(answer.content.decode()))
    missing = {name for name in expected(role) if address_of(name, scene) not in reached}
    assert missing == set()


def test_a_technician_finds_the_own_jobs_first(scene: Scene, as_role: Visit) -> None:
    text = today(as_role("technician"))
    assert SECTION.findall(text)[0] == "mine"
    assert "M9" in section(text, "mine")
    assert "mine" not in SECTION.findall(today(as_role("front_desk")))


@pytest.mark.parametrize("role", ["manager", "front_desk"])
def test_what_is_unsafe_stands_first(role: str, scene: Scene, as_role: Visit) -> None:
    text = today(as_role(role))
    assert SECTION.findall(text)[:2] == ["unsafe", "quarantine"]
    assert "Pack open: live parts cannot be switched off" in section(text, "unsafe")


def test_only_managers_see_qualifications_that_lapse(scene: Scene, as_role: Visit) -> None:
    assert "people" in SECTION.findall(today(as_role("manager")))
    assert "people" not in SECTION.findall(today(as_role("technician")))


@pytest.mark.parametrize(("days", "seen"), [(-1, True), (0, True), (1, True), (2, False)])
def test_arrivals_are_those_of_today_and_tomorrow_and_the_late_ones(
    days: int, seen: bool, scene: Scene, as_role: Visit
) -> None:
    job = book(scene, "minibus-module", arrives_days=days)
    arriving = section(today(as_role("front_desk")), "arriving")
    assert (reverse("jobs:job", args=(job,)) in arriving) == seen
    assert ("Nothing is booked" in arriving) != seen


def test_an_empty_section_takes_one_quiet_line(scene: Scene, as_role: Visit) -> None:
    overdue = section(today(as_role("manager")), "overdue")
    assert "No job is past its promised day." in overdue
    assert "<li>" not in overdue


def test_a_job_past_its_day_is_overdue_with_its_day(scene: Scene, as_role: Visit) -> None:
    book(scene, "minibus-module", promised_days=-1)
    assert "yesterday, late" in section(today(as_role("manager")), "overdue")


def test_a_proof_that_ends_today_runs_out_today(scene: Scene, as_role: Visit) -> None:
    assert "Proof of absence of voltage runs out" in section(today(as_role("manager")), "timers")


def test_search_step_waits_hazards_and_promised_narrow_the_list(
    scene: Scene, as_role: Visit, closed_templates: None
) -> None:
    client = as_role("manager")
    book(scene, "minibus-module", arrives_days=1, promised_days=0)
    book(scene, "hatchback-heater", arrives_days=2, promised_days=-3)
    van, bus, hatch = sorted(listed(client))
    assert listed(client, q=PLATE) == [bus]
    assert listed(client, q=van.lower()) == [van]
    assert listed(client, q="nothing like it") == []
    assert listed(client, step="module_swap") == [van]
    assert set(listed(client, waits="arrival")) == {bus, hatch}
    assert listed(client, waits="cure") == []
    assert listed(client, hazards="1") == [van]
    assert listed(client, promised="late") == [hatch]
    assert listed(client, promised="today") == [bus]
    assert set(listed(client, promised="week")) == {van, bus}
    assert listed(client, step="module_swap", hazards="1", q=PLATE) == []


def test_the_order_is_the_one_asked_for(scene: Scene, as_role: Visit) -> None:
    client = as_role("manager")
    scene.clock.moment += timedelta(hours=1)
    book(scene, "minibus-module", arrives_days=-3, promised_days=9)
    scene.clock.moment += timedelta(hours=1)
    book(scene, "hatchback-heater", arrives_days=2, promised_days=-3)
    client = as_role("manager")
    van, bus, hatch = sorted(listed(client))
    assert listed(client) == [hatch, bus, van]
    assert listed(client, sort="promised") == [hatch, van, bus]
    assert listed(client, sort="held") == [bus, van, hatch]
    assert listed(client, sort="nonsense") == [hatch, bus, van]


def test_the_summary_counts_what_is_waited_for(scene: Scene, as_role: Visit) -> None:
    client = as_role("manager")
    book(scene, "minibus-module", arrives_days=1)
    text = client.get(reverse("jobs:open_jobs")).content.decode()
    assert "2 open." in text
    assert "1 waits for arrival" in text


def test_words_of_a_customer_are_shown_as_they_are(scene: Scene, as_role: Visit) -> None:
    name = '<img src=x> "Donaudampfschifffahrtsgesellschaft" & Söhne'
    Customer.objects.update(name=name)
    client = as_role("manager")
    for page in (reverse("jobs:open_jobs"), reverse("jobs:today")):
        text = client.get(page).content.decode()
        assert "<img src=x>" not in text
    assert "&lt;img src=x&gt;" in client.get(reverse("jobs:open_jobs")).content.decode()


def queries(client: Client, page: str) -> int:
    client.get(page)
    with CaptureQueriesContext(connection) as seen:
        assert client.get(page).status_code == 200
    return len(seen)


@pytest.mark.parametrize("page", ["jobs:today", "jobs:open_jobs"])
def test_sixty_jobs_cost_no_more_queries_than_one(
    page: str, scene: Scene, as_role: Visit, closed_templates: None
) -> None:
    client, address = as_role("manager"), reverse(page)
    one = queries(client, address)
    for number in range(59):
        book(scene, "minibus-module", arrives_days=number % 5)
    assert queries(client, address) == one


def test_no_jobs_at_all_is_said_in_words(as_role: Visit, scene: Scene) -> None:
    text = as_role("manager").get(reverse("jobs:open_jobs"), {"q": "zzz"}).content.decode()
    assert "No open job fits." in text
    assert "0 shown." in text


def test_a_page_that_renews_itself_signs_nobody_on_again(scene: Scene, as_role: Visit) -> None:
    client = as_role("manager")
    scene.wait(hours=1)
    answer = client.get(reverse("jobs:open_jobs"), headers={"X-By-Itself": "1"})
    assert answer.status_code == 204


def test_closed_jobs_are_searched_by_number(scene: Scene, as_role: Visit) -> None:
    client = as_role("manager")
    Job.objects.update(closed_at=clock.now())
    number = Job.objects.get().number
    asked = {"closed": "1", "q": number}
    assert number in client.get(reverse("jobs:open_jobs"), asked).content.decode()
    asked["q"] = "Q999"
    assert "No closed job fits." in client.get(reverse("jobs:open_jobs"), asked).content.decode()
