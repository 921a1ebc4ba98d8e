"""The pages of a watch: what each role may, what is kept when it is refused, what stands first."""

import re
import uuid
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse

from jobs.models import QuarantineCheck, QuarantineWatch
from jobs.practice.scene import Scene
from jobs.queries.quarantine import due_checks, watch
from workshop import clock

pytestmark = pytest.mark.django_db

Visit = Callable[[str], Client]
LEAVE = "Get everybody away. Call the fire brigade. Do not go back."
TAGS = re.compile(r"<[^>]+>")


@pytest.fixture
def watch_id(scene: Scene) -> str:
    return str(QuarantineWatch.objects.get().id)


def sent(**more: object) -> dict[str, object]:
    fields = {
        "key": str(uuid.uuid4()),
        "ambient_c": "10",
        "point_0_name": "Top",
        "point_0_c": "11,5",
        "point_1_name": "Left",
        "point_1_c": "",
    }
    return {**fields, **more}


def page(client: Client, watch_id: str) -> str:
    answer = client.get(reverse("jobs:watch", args=(watch_id,)))
    assert answer.status_code == 200
    return answer.content.decode()


def words(text: str) -> str:
    return " ".join(TAGS.sub(" ", text).replace("&nbsp;", " ").replace("\xa0", " ").split())


def enter(client: Client, watch_id: str, **more: object) -> tuple[int, str]:
    answer = client.post(reverse("jobs:watch_check", args=(watch_id,)), sent(**more), follow=True)
    return answer.status_code, answer.content.decode()


@pytest.mark.parametrize("role", ["technician", "manager", "front_desk"])
def test_everybody_enters_a_check_and_sees_it(
    role: str, watch_id: str, as_role: Visit, closed_templates: None
) -> None:
    status, text = enter(as_role(role), watch_id)
    assert status == 200
    assert "Calm" in words(text)
    assert "Top 11.5 °C" in words(text)
    assert QuarantineCheck.objects.count() == 1


def test_a_double_tap_is_one_check(watch_id: str, as_role: Visit) -> None:
    client, key = as_role("technician"), str(uuid.uuid4())
    assert [enter(client, watch_id, key=key)[0] for _ in range(2)] == [200, 200]
    assert QuarantineCheck.objects.count() == 1


@pytest.mark.parametrize(
    ("more", "field", "said"),
    [
        ({"ambient_c": ""}, "check_ambient_c", "Measure the air around too"),
        ({"ambient_c": "cold"}, "check_ambient_c", "“cold” is not a temperature"),
        ({"point_0_c": ""}, "check_point_0_c", "Measure at least one point"),
        ({"point_1_name": "Top", "point_1_c": "12"}, "check_point_1_name", "stands here twice"),
        ({"point_1_name": "", "point_1_c": "12"}, "check_point_1_name", "Say where"),
        ({"note": "x" * 1001}, "check_note", "Keep it under 1000 characters"),
    ],
)
def test_a_refused_check_is_kept_and_said_at_its_field(
    more: dict[str, str], field: str, said: str, watch_id: str, as_role: Visit
) -> None:
    given = {"note": "by the east wall", **more}
    status, text = enter(as_role("technician"), watch_id, **given)
    assert status == 422
    fault = re.search(rf'<p class="fault" id="{field}_error">(.*?)</p>', text)
    assert fault is not None
    assert said in fault[1]
    assert all(str(value) in text for value in given.values())
    assert not QuarantineCheck.objects.exists()


def test_the_names_of_the_points_are_remembered(watch_id: str, as_role: Visit) -> None:
    client = as_role("technician")
    assert 'value="Positive terminal"' in page(client, watch_id)
    enter(client, watch_id, point_0_name="Under the cable")
    text = page(client, watch_id)
    assert 'value="Under the cable"' in text
    assert 'value="Positive terminal"' not in text


def test_smoke_sends_everybody_away_before_anything_else(watch_id: str, as_role: Visit) -> None:
    fields = {"ambient_c": "", "point_0_c": "", "signs": ["smoke"]}
    status, text = enter(as_role("front_desk"), watch_id, **fields)
    assert status == 200
    main = words(text[text.index("<main") :])
    assert main.startswith(f"Quarantine {LEAVE}")
    assert LEAVE not in page(as_role("technician"), watch_id).replace(LEAVE, "", 1)


def test_a_calm_module_sends_nobody_away(watch_id: str, as_role: Visit) -> None:
    assert LEAVE not in enter(as_role("technician"), watch_id)[1]


def test_an_escalation_says_why_and_when_to_check_again(
    scene: Scene, watch_id: str, as_role: Visit
) -> None:
    _, text = enter(as_role("technician"), watch_id, point_0_c="25")
    at = clock.now() + timedelta(minutes=15)
    assert "Top: 15.0 K above the air around, 10 K are allowed." in words(text)
    assert f"{at:%H:%M}" in words(text)
    assert LEAVE not in text


def test_a_missed_check_stays_in_the_history(scene: Scene, watch_id: str, as_role: Visit) -> None:
    scene.wait(minutes=3)
    enter(as_role("technician"), watch_id)
    scene.wait(minutes=40)
    text = words(page(as_role("technician"), watch_id))
    assert "1 check missed." in text
    assert "Missed" in text
    assert "Nobody checked." in text


def end(client: Client, scene: Scene, watch_id: str, **more: str) -> tuple[int, str]:
    fields = {"key": str(uuid.uuid4()), "how": "handed_over", "to": "Carrier, receipt 12",
              "note": "Fetched early", "pin": scene.shop.pin}  # fmt: skip
    address = reverse("jobs:watch_end", args=(watch_id,))
    answer = client.post(address, {**fields, **more}, follow=True)
    return answer.status_code, answer.content.decode()


@pytest.mark.parametrize("role", ["technician", "manager"])
def test_the_qualified_hand_a_module_over(
    role: str, scene: Scene, watch_id: str, as_role: Visit
) -> None:
    status, text = end(as_role(role), scene, watch_id)
    assert status == 200
    assert "Handed over before its time : Carrier, receipt 12." in words(text)
    assert "Enter a check" not in text


def test_the_front_desk_is_offered_no_end_and_refused_one(
    scene: Scene, watch_id: str, as_role: Visit
) -> None:
    client = as_role("front_desk")
    assert reverse("jobs:watch_end", args=(watch_id,)) not in page(client, watch_id)
    status, text = end(client, scene, watch_id)
    assert status == 422
    assert "qualified for work on live high-voltage systems ends a watch" in text
    assert QuarantineWatch.objects.get().ended_at is None


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"note": ""}, "Say why it is handed over before its time."),
        ({"to": ""}, "This field is required."),
        ({"pin": "0000"}, "The PIN is not right."),
        ({"how": "disposal"}, "Select a valid choice."),
    ],
)
def test_a_refused_end_is_kept_and_said_at_its_field(
    more: dict[str, str], said: str, scene: Scene, watch_id: str, as_role: Visit
) -> None:
    given = {"to": "Carrier Brask", **more}
    status, text = end(as_role("technician"), scene, watch_id, **given)
    assert status == 422
    assert said in text
    assert given["to"] in text
    assert scene.shop.pin not in re.findall(r'value="(\d+)"', text)
    assert QuarantineWatch.objects.get().ended_at is None


def test_the_list_keeps_state_and_search_in_its_address(
    scene: Scene, watch_id: str, as_role: Visit, closed_templates: None
) -> None:
    client, address = as_role("front_desk"), reverse("jobs:quarantine")

    def shown(**asked: str) -> bool:
        return (
            reverse("jobs:watch", args=(watch_id,)) in client.get(address, asked).content.decode()
        )

    assert shown()
    assert shown(q="m9")
    assert not shown(q="m8")
    assert not shown(state="ended")
    end(as_role("technician"), scene, watch_id)
    assert shown(state="ended")
    assert shown(state="ended", q="carrier")
    assert not shown()


def test_notices_say_what_is_due_and_link_to_its_form(scene: Scene, watch_id: str) -> None:
    info = watch(watch_id, clock.now())
    assert info is not None
    text = render_to_string("jobs/quarantine_due.html", {"checks": due_checks(clock.now())})
    assert f"Quarantine check due {info.started_at:%H:%M}" in text
    assert f"removed module M9, job {info.job_number}" in text
    assert f"{reverse('jobs:watch', args=(watch_id,))}#check" in text
    scene.wait(minutes=8)
    text = render_to_string("jobs/quarantine_due.html", {"checks": due_checks(clock.now())})
    assert "Quarantine check overdue since" in text


def test_no_notice_stands_where_nothing_is_due() -> None:
    assert render_to_string("jobs/quarantine_due.html", {"checks": ()}).strip() == ""


def test_a_strike_in_the_job_is_said(scene: Scene, watch_id: str, as_role: Visit) -> None:
    QuarantineWatch.objects.update(struck=True)
    assert "Struck in the job." in page(as_role("technician"), watch_id)
