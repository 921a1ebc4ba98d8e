"""What the registers of packs show of jobs: who holds a spare, where a pack was, what came out."""

from collections.abc import Iterator

import pytest
from django.test import Client
from django.urls import reverse

from jobs.practice.scene import Scene
from jobs.queries.pack_jobs import jobs_by_number, jobs_of_packs, removed_modules
from jobs.queries.records import job_info
from packs import queries
from packs.spares import FITTED, QUARANTINED
from tests.packs.tablet import words
from tests.play import a_job_at
from workshop import clock, sign_on
from workshop import queries as shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def swapped() -> Iterator[Scene]:
    with a_job_at("reassembly") as scene:
        yield scene


def number(scene: Scene) -> str:
    info = job_info(scene.job)
    assert info is not None
    return info.number


def tablet_of(scene: Scene, name: str) -> Client:
    client = Client()
    session = client.session
    session[sign_on.PERSON_KEY] = scene.shop.people[name]
    session[sign_on.MARK_KEY] = shop.session_mark(scene.shop.people[name])
    session[sign_on.SEEN_KEY] = clock.now().timestamp()
    session.save()
    return client


def test_a_job_is_found_by_its_number_with_its_page(swapped: Scene) -> None:
    wanted = number(swapped)
    [found] = jobs_by_number([wanted, "Q999999"]).values()
    assert found.number == wanted
    assert found.address == reverse("jobs:job", args=[swapped.job])
    assert swapped.recipe.plate in found.title
    assert found.closed_at is None


def test_a_pack_knows_the_jobs_it_was_in_and_got_its_kind(swapped: Scene) -> None:
    [pack] = queries.physical_packs()
    assert pack.slug == swapped.recipe.pack
    assert [job.number for job in jobs_of_packs([pack.id])[pack.id]] == [number(swapped)]
    page = words(tablet_of(swapped, "Lorne").get(reverse("packs:unit", args=[pack.id])))
    assert number(swapped) in page
    assert "kind found" in page


def test_a_module_that_came_out_is_listed_with_where_it_stands(swapped: Scene) -> None:
    [found] = removed_modules()
    assert (found.module, found.part, found.job.number) == ("M9", "OB-M6-120", number(swapped))
    assert found.serial
    assert found.place
    assert removed_modules(number(swapped)) == (found,)
    assert removed_modules("Q999999") == ()


def test_it_is_registered_in_quarantine_with_its_origin_filled_in(swapped: Scene) -> None:
    client, [found] = tablet_of(swapped, "Aster"), removed_modules()
    page = words(client.get(reverse("packs:removed_modules")))
    assert f"?job={number(swapped)}&amp;module=M9" in page
    answer = client.get(
        reverse("packs:add_spare"), {"job": number(swapped), "module": found.module}
    )
    initial = answer.context["form"].initial
    assert (initial["serial"], initial["state"]) == (found.serial, QUARANTINED)
    assert number(swapped) in initial["provenance"]
    assert "M9" in initial["provenance"]
    sent = {name: value for name, value in initial.items() if value is not None}
    assert client.post(reverse("packs:add_spare"), sent).status_code == 302
    spare = queries.spare_with_serial(found.serial)
    assert spare is not None
    assert (spare.state, spare.place) == (QUARANTINED, found.place)
    assert "In the register" in words(client.get(reverse("packs:removed_modules")))


def test_a_fitted_spare_leads_to_its_job(swapped: Scene) -> None:
    [spare] = [each for each in queries.spares() if each.state == FITTED]
    page = words(tablet_of(swapped, "Lorne").get(reverse("packs:spare", args=[spare.id])))
    assert reverse("jobs:job", args=[swapped.job]) in page
    assert f"fitted in job {number(swapped)}" in page
    assert "M9" in page
