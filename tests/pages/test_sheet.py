"""The printed sheet ends at the next hold point, and what is typed in from it says so."""

import uuid
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from jobs.practice.player import play
from jobs.practice.scene import MANAGER, Scene
from jobs.queries.records import job_info, record_of
from jobs.report.document import report_of
from jobs.steps.module_swap.items import LIVE
from tests.pages.addresses import address_of
from tests.pages.reading import read
from workshop import actions, clock, queries
from workshop.details import ShopDetails

pytestmark = pytest.mark.django_db

Visit = Callable[[str], Client]
SWAP, NOTE = "module_swap", "module_swap.note"


def sheet_text(client: Client, scene: Scene, slug: str = SWAP) -> str:
    answer = client.get(address_of("jobs:sheet", scene, slug=slug))
    assert answer.status_code == 200
    return answer.content.decode()


def the_sheet(scene: Scene) -> dict[str, str]:
    info = job_info(scene.job)
    assert info is not None
    return {
        "sheet": f"{info.number}-5-{info.count}",
        "written_at": clock.now().isoformat(),
        "by": scene.shop.people["Munk"],
    }


def test_the_sheet_carries_its_number_and_the_cautions_and_stops(
    scene: Scene, as_role: Visit
) -> None:
    text = sheet_text(as_role("technician"), scene)
    assert the_sheet(scene)["sheet"] in text
    assert 'class="cautions"' in text
    assert "Paper never passes a hold point" in text


def test_nothing_behind_the_hold_point_is_printed(scene: Scene, as_role: Visit) -> None:
    printed = sheet_text(as_role("technician"), scene)
    assert LIVE.gloves.label in printed
    for behind in ("Tie bolts", "Module and plates seated"):
        assert behind not in printed


def test_a_step_that_is_signed_or_waits_has_nothing_to_write(scene: Scene, as_role: Visit) -> None:
    for slug in ("intake", "road_test"):
        text = sheet_text(as_role("technician"), scene, slug)
        assert "there is nothing to write" in text
        assert "paper-lines" not in text


def test_the_page_for_typing_in_asks_sheet_time_and_writer(scene: Scene, as_role: Visit) -> None:
    address = address_of("jobs:step", scene, slug=SWAP)
    plain = as_role("technician").get(address).content.decode()
    typing = as_role("technician").get(address, {"paper": "1"}).content.decode()
    assert "data-paper" not in plain
    assert 'data-paper="' in typing
    assert read(typing).hrefs


def test_what_came_from_paper_is_marked_on_the_page_in_the_record_and_in_the_report(
    scene: Scene, as_role: Visit
) -> None:
    client = as_role("technician")
    entry = {
        "key": str(uuid.uuid4()),
        "job": scene.job,
        "kind": "value",
        "item": NOTE,
        "value": "Seen",
        "paper": the_sheet(scene),
    }
    reply = client.post(reverse("jobs:entries"), entry, content_type="application/json")
    assert [each["verdict"] for each in reply.json()["answers"]] == ["applied"]
    for name in ("jobs:step", "jobs:record"):
        text = client.get(address_of(name, scene, slug=SWAP)).content.decode()
        assert "from paper, sheet" in text
    info, record = job_info(scene.job), record_of(scene.job, now=clock.now())
    assert info is not None
    assert record is not None
    assert "1 value was written on a printed sheet first" in str(report_of(info, record))


def test_what_is_typed_from_paper_names_the_unit_printed_on_its_sheet(
    scene: Scene, as_role: Visit
) -> None:
    play(scene, until="module_swap.tie_torque")
    address = address_of("jobs:step", scene, slug=SWAP)
    by = scene.shop.people[MANAGER]
    shop = queries.shop()
    kept = {name: getattr(shop, name) for name in ShopDetails.__dataclass_fields__}
    actions.update_shop(details=ShopDetails(**{**kept, "torque_unit": "ftlb"}), by=by)
    client = as_role("technician")
    typing = client.get(address, {"paper": "1"}).content.decode()
    assert 'data-choose="Nm"' in typing
    assert 'data-choose="ftlb" aria-pressed="true"' in typing
    plain = client.get(address).content.decode()
    assert 'name="in" value="ftlb"' in plain
    assert 'data-choose="Nm"' not in plain
    printed = client.get(address_of("jobs:sheet", scene, slug=SWAP)).content.decode()
    assert "ft·lb" in printed
    assert '<span class="paper-blank">N·m' not in printed
