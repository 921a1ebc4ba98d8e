"""A new workshop is told what to enter before its first job; one that is set up is not."""

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from django.test import Client

from jobs.practice.scene import Scene
from jobs.views.first_day import to_enter
from workshop import clock

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def pages(role: str) -> list[str]:
    return [each.page for each in to_enter(role, NOW.date())]


def test_an_empty_workshop_lacks_everything_that_live_work_needs() -> None:
    lacking = ["shop:settings", "shop:people", "shop:equipment", "packs:packs"]
    assert pages("manager") == lacking
    assert pages("front_desk") == []
    assert pages("technician") == []


def test_a_new_manager_sees_it_on_today(client: Client) -> None:
    with clock.use_fixed(NOW):
        typed = {"display_name": "Wren Example", "short_name": "Wren"}
        client.post("/shop/first-run/", typed | {"pin": "4826", "pin_again": "4826"})
        text = client.get("/").content.decode()
    assert "Before the first job" in text
    assert "Two people qualified for live work" in text


def test_a_workshop_that_is_set_up_is_not_told(
    scene: Scene, as_role: Callable[[str], Client]
) -> None:
    assert to_enter("manager", scene.clock.now().date()) == ()
    assert "Before the first job" not in as_role("manager").get("/").content.decode()
