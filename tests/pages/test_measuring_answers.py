"""What the tablet is told while somebody measures: computed by the server, stored nowhere."""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from jobs.models import Entry
from jobs.practice.scene import Scene
from jobs.steps.isolation_readings.items import PACK, VEHICLE
from tests.pages.addresses import address_of

pytestmark = pytest.mark.django_db

Visit = Callable[[str], Client]


def asked(client: Client, name: str, scene: Scene, **query: str) -> dict[str, Any]:
    before = Entry.objects.count()
    answer = client.get(address_of(name, scene), query)
    assert answer.status_code == 200
    assert Entry.objects.count() == before
    told: dict[str, Any] = answer.json()
    return told


def test_a_number_that_is_typed_is_shown_back_with_its_unit(scene: Scene, as_role: Visit) -> None:
    client = as_role("technician")
    told = asked(client, "jobs:reading", scene, item=VEHICLE.reading.key, typed=">450k")
    assert (told["verdict"], told["means"].replace("\u00a0", " ")) == (
        "taken", "more than 450 kΩ",
    )  # fmt: skip
    assert told["doubts"] == []


def test_a_slip_is_said_before_it_is_sent(scene: Scene, as_role: Visit) -> None:
    client = as_role("technician")
    told = asked(client, "jobs:reading", scene, item=VEHICLE.reading.key, typed="450")
    assert "Were kΩ or MΩ meant?" in told["doubts"][0]


@pytest.mark.parametrize("typed", ["1.000,5", "3 mV", "nan", "", "9" * 500])
def test_what_is_no_number_is_refused_with_what_is_wrong(
    typed: str, scene: Scene, as_role: Visit
) -> None:
    client = as_role("technician")
    told = asked(client, "jobs:reading", scene, item=PACK.reading.key, typed=typed)
    assert told["verdict"] == "refused"
    assert told["text"]


def test_an_item_that_is_not_asked_is_refused_too(scene: Scene, as_role: Visit) -> None:
    client = as_role("technician")
    assert asked(client, "jobs:reading", scene, item="x.y", typed="5")["verdict"] == "refused"
    assert not asked(client, "jobs:settling", scene, item="x.y", rows="0; 5")["enough"]


def test_a_settling_is_fitted_and_drawn(scene: Scene, as_role: Visit) -> None:
    client = as_role("technician")
    rows = "\n".join(f"{5 * n}; {24 + 60 * 0.3**n:.2f}" for n in range(9))
    told = asked(client, "jobs:settling", scene, item=PACK.settling.key, rows=rows)
    assert told["enough"]
    assert told["kind"] == "standing"
    assert "standing" in told["text"]
    assert told["picture"].startswith("<svg")
    assert "time constant" in told["tau"]


@pytest.mark.parametrize("rows", ["x", "0; 5\n5", "0; 5 V\n1; 1e5", "0; 5\n0; 4\n0; 3"])
def test_rows_that_are_none_decide_nothing(rows: str, scene: Scene, as_role: Visit) -> None:
    client = as_role("technician")
    assert not asked(client, "jobs:settling", scene, item=PACK.settling.key, rows=rows)["enough"]


def test_a_code_names_its_piece_and_an_unknown_one_says_so(scene: Scene, as_role: Visit) -> None:
    client = as_role("technician")
    told = asked(client, "jobs:scanned", scene, code="vm-4410")
    assert told["text"] == "V1"
    assert told["id"] in {str(each) for each in scene.shop.equipment.values()}
    unknown = asked(client, "jobs:scanned", scene, code="NO-SUCH")
    assert unknown["id"] == ""
    assert "NO-SUCH" in unknown["text"]
    assert asked(client, "jobs:scanned", scene, code="")["id"] == ""


def test_only_people_who_are_signed_on_are_answered(scene: Scene, as_role: Visit) -> None:
    for name in ("jobs:reading", "jobs:settling", "jobs:scanned"):
        assert as_role("").get(address_of(name, scene)).status_code in {302, 401}
