"""The desk of a job, its messages, the one search, the notes from shift to shift: what pages do."""

import re
import uuid
from collections.abc import Callable
from datetime import timedelta
from urllib.parse import unquote

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.actions import desk as acts
from jobs.models import DeskEvent, Job
from jobs.practice.player import book_in, play
from jobs.practice.scenario import recipe
from jobs.practice.scene import Scene
from jobs.practice.tablet import Straight
from jobs.queries.desk import desk_now
from tests.pages.addresses import known
from workshop import actions as registers
from workshop.models import Customer

pytestmark = pytest.mark.django_db

Visit = Callable[[str], Client]
KEY = str(uuid.UUID(int=7))


def desk_address(scene: Scene) -> str:
    return reverse("jobs:desk", args=(scene.job,))


def send(client: Client, scene: Scene, kind: str, status: int = 302, **typed: str) -> str:
    address = reverse("jobs:desk_act", args=(scene.job, kind))
    answer = client.post(address, {"key": KEY, **typed})
    assert answer.status_code == status
    return answer.content.decode()


def section(text: str, name: str) -> str:
    after = text[text.index(f'data-section="{name}"') :]
    return after[: after.index("</section>")]


def page(client: Client, name: str, *args: str, **asked: str) -> str:
    answer = client.get(reverse(name, args=args), asked)
    assert answer.status_code == 200
    return answer.content.decode()


def test_a_move_is_written_down_and_stands_on_every_row(
    scene: Scene, as_role: Visit, closed_templates: None
) -> None:
    client = as_role("front_desk")
    send(client, scene, "move", place="bay", spot="lift 2")
    assert "bay, lift 2" in page(client, "jobs:desk", scene.job)
    assert "bay, lift 2" in page(client, "jobs:open_jobs")
    assert "bay, lift 2" in section(page(client, "jobs:today"), "unsafe")
    assert "Desk: bay, lift 2" in client.get(reverse("jobs:job", args=(scene.job,)), follow=True
                                             ).content.decode()  # fmt: skip
    number = Job.objects.get().number
    assert f'data-job="{number}"' in page(client, "jobs:open_jobs", q="lift")
    assert f'data-job="{number}"' not in page(client, "jobs:open_jobs", q="quarantine")


def test_keys_that_are_locked_away_are_said_so_and_not_asked(scene: Scene, as_role: Visit) -> None:
    text = page(as_role("front_desk"), "jobs:desk", scene.job)
    assert "keys locked away" in text
    assert 'name="hook"' not in text
    assert "keys locked away" in page(as_role("front_desk"), "jobs:open_jobs")


def test_what_is_refused_is_said_at_its_field_and_nothing_typed_is_lost(
    scene: Scene, as_role: Visit
) -> None:
    client, past = as_role("front_desk"), scene.clock.now().date() - timedelta(days=2)
    Job.objects.update(arrives_on=None)
    text = send(
        client,
        scene,
        "promise",
        422,
        promised_on=past.isoformat(),
        why="parts",
        told="no",
        note="the carrier",
    )
    assert "It cannot be promised for a day that is over." in text
    assert past.isoformat() in text
    assert 'value="the carrier"' in text
    assert 'value="parts" selected' in text
    text = send(client, scene, "call", 422, way="we", text="")
    assert "Not written down yet" in text
    assert not DeskEvent.objects.exists()


def test_somebody_who_left_is_not_offered_and_named_where_still_assigned(
    scene: Scene, as_role: Visit
) -> None:
    client, munk = as_role("front_desk"), scene.shop.people["Munk"]
    send(client, scene, "assign", person=munk)
    assert "Munk" in page(client, "jobs:open_jobs")
    registers.retire_person(person_id=munk, by=scene.shop.people["Thorne"])
    text = page(client, "jobs:desk", scene.job)
    assert "has left the workshop" in text
    assert f'value="{munk}"' not in text
    text = send(client, scene, "assign", 422, person=munk)
    assert 'id="id_assign_person_error"' in text


def test_a_job_assigned_to_a_technician_is_theirs(scene: Scene, as_role: Visit) -> None:
    thorne, number = as_role("manager"), Job.objects.get().number
    assert f'data-job="{number}"' not in page(thorne, "jobs:open_jobs", mine="1")
    send(as_role("front_desk"), scene, "assign", person=scene.shop.people["Thorne"])
    assert f'data-job="{number}"' in page(thorne, "jobs:open_jobs", mine="1")
    assert "yours" in section(page(thorne, "jobs:today"), "unsafe")


def test_a_call_due_and_a_promise_untold_stand_under_to_call(scene: Scene, as_role: Visit) -> None:
    client, today = as_role("front_desk"), scene.clock.now().date()
    assert 'data-section="to-call"' not in page(client, "jobs:today")
    next_on = (today + timedelta(days=1)).isoformat()
    send(client, scene, "call", way="we", text="Will ask", next_on=next_on, next_about="Colour")
    assert 'data-section="to-call"' not in page(client, "jobs:today")
    scene.wait(hours=24)
    due = section(page(as_role("front_desk"), "jobs:today"), "to-call")
    assert "Colour" in due
    assert "tel:" in due


def test_a_note_stands_first_until_somebody_has_read_it(scene: Scene, as_role: Visit) -> None:
    desk, manager = as_role("front_desk"), as_role("manager")
    desk.post(reverse("jobs:hand_over"), {"key": KEY, "text": "Gate 2 sticks <b>"})
    text = page(manager, "jobs:today")
    assert text.index('data-section="hand-over"') < text.index('data-section="unsafe"')
    assert "Gate 2 sticks &lt;b&gt;" in section(text, "hand-over")
    assert "I have read it" in section(text, "hand-over")
    assert "Take back" in section(page(desk, "jobs:today"), "hand-over")
    manager.post(reverse("jobs:desk_settle", args=(KEY,)), {"key": str(uuid.UUID(int=8))})
    text = page(manager, "jobs:today")
    assert 'data-section="hand-over"' not in text
    assert "Read by Thorne" in text
    assert "Read by Thorne" in page(desk, "jobs:hand_over")


def test_an_empty_note_is_refused(scene: Scene, as_role: Visit) -> None:
    answer = as_role("front_desk").post(reverse("jobs:hand_over"), {"key": KEY, "text": " "})
    assert answer.status_code == 422
    assert not DeskEvent.objects.exists()


def test_what_the_customer_asks_is_answered_by_name(scene: Scene, as_role: Visit) -> None:
    client = as_role("front_desk")
    send(client, scene, "ask", text="May he keep the old module?")
    assert "May he keep" in page(client, "jobs:desk", scene.job)
    done = {"key": str(uuid.UUID(int=8)), "job": scene.job}
    answer = client.post(reverse("jobs:desk_settle", args=(KEY,)), done)
    assert answer["Location"] == desk_address(scene)
    assert desk_now(scene.job).open_asks == ()
    assert "answered: May he keep" in page(client, "jobs:desk", scene.job)


def test_no_message_says_what_is_not_true(scene: Scene, as_role: Visit) -> None:
    client = as_role("front_desk")
    assert "No message fits yet" in page(client, "jobs:desk", scene.job)
    assert "the vehicle is not ready" in page(client, "jobs:message", scene.job, kind="ready")
    answer = client.get(reverse("jobs:message", args=(scene.job,)), {"kind": "invented"})
    assert answer.status_code == 404


def test_a_moved_day_is_told_in_words_that_may_be_changed_and_are_kept(
    scene: Scene, as_role: Visit
) -> None:
    client, today = as_role("front_desk"), scene.clock.now().date()
    Customer.objects.update(phone="0131 496 0021", email="desk@ferrin.example")
    Job.objects.update(promised_on=today + timedelta(days=1))
    day = (today + timedelta(days=3)).isoformat()
    send(client, scene, "promise", promised_on=day, why="parts", told="no")
    address = reverse("jobs:message", args=(scene.job,))
    text = page(client, "jobs:message", scene.job, kind="moved")
    assert "parts are late" in text
    links = re.findall(r'href="((?:sms|mailto):[^"]+)"', text)
    assert [each.partition(":")[0] for each in links] == ["sms", "mailto"]
    assert links[0].startswith("sms:01314960021?body=")
    assert "parts are late" in unquote(links[0])
    changed = {"key": str(uuid.UUID(int=9)), "kind": "moved", "words": "Friday, & sorry"}
    text = client.post(address, {**changed, "do": "show"}).content.decode()
    assert "sms:01314960021?body=Friday%2C%20%26%20sorry" in text
    assert client.post(address, {**changed, "do": "sent"}).status_code == 422
    assert client.post(address, {**changed, "do": "sent", "way": "sms"}).status_code == 302
    assert "Friday, &amp; sorry" in page(client, "jobs:desk", scene.job)
    assert desk_now(scene.job).untold is None


def test_one_search_finds_by_all_that_is_said_on_the_telephone(
    scene: Scene, as_role: Visit, closed_templates: None
) -> None:
    vehicle, client = scene.shop.vehicles[scene.recipe.plate], as_role("front_desk")
    Customer.objects.filter(pk=vehicle.customer_id).update(phone="0131 496 0021")
    facts = {"claim": "QM-20771"}
    by, now = scene.shop.people["Lorne"], scene.clock.now()
    acts.set_facts(job_id=scene.job, key=KEY, facts=facts, by=by, now=now)
    number, plate = Job.objects.get().number, scene.recipe.plate
    asked = (
        plate,
        plate.replace(" ", "").lower(),
        vehicle.vin[-6:],
        vehicle.customer,
        "+44 131 4960021",
        "0131-4960 021",
        number[1:],
        "qm-20771",
    )
    job = f'href="{reverse("jobs:job", args=(scene.job,))}"'
    missed = [each for each in asked if job not in page(client, "jobs:find", q=each)]
    assert missed == []
    assert job not in page(client, "jobs:find", q="nothing like it")
    answer = client.get(reverse("jobs:find"), {"q": f" {number.lower()} "})
    assert answer["Location"] == reverse("jobs:job", args=(scene.job,))
    customer = reverse("shop:customer", args=(vehicle.customer_id,))
    assert customer in page(client, "jobs:find", q="01314960021")
    assert customer not in page(as_role("technician"), "jobs:find", q="01314960021")
    assert job in page(as_role("technician"), "jobs:find", q="01314960021")
    assert f'data-job="{number}"' in page(client, "jobs:open_jobs", q="+44 131 4960021")


def test_the_telephone_has_to_be_one(scene: Scene, as_role: Visit) -> None:
    client, customer = as_role("front_desk"), str(known(scene)["customer_id"])
    address = reverse("shop:customer_change", args=(customer,))
    answer = client.post(address, {"name": "Brightwater", "phone": "ask for Jo", "note": "keep me"})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "Enter a telephone number" in text
    assert 'value="ask for Jo"' in text
    assert "keep me" in text


def test_who_pays_and_who_works_are_booked_with_the_job(scene: Scene, as_role: Visit) -> None:
    client, vehicle = as_role("front_desk"), scene.shop.vehicles[scene.recipe.plate]
    typed = {
        "key": str(uuid.UUID(int=21)),
        "customer": vehicle.customer_id,
        "vehicle": vehicle.id,
        "arrives": "today",
        "another": "on",
        "payer": "insurer",
        "insurer": "Quayside Mutual",
        "claim": "QM-1",
        "warranty": "none",
        "recall": "",
        "person": scene.shop.people["Aster"],
    }
    past = {"promised": "other", "promised_on": "2026-01-01"}
    text = client.post(reverse("jobs:book"), {**typed, **past}).content.decode()
    assert "It cannot be promised before it arrives." in text
    assert 'value="QM-1"' in text
    assert client.post(reverse("jobs:book"), typed).status_code == 302
    state = desk_now(typed["key"])
    assert (state.payer, state.insurer, state.claim) == ("insurer", "Quayside Mutual", "QM-1")
    assert state.assigned == scene.shop.people["Aster"]


def test_a_lid_that_was_off_overnight_says_so_first(scene: Scene, as_role: Visit) -> None:
    assert "Lid off overnight" not in page(as_role("manager"), "jobs:today")
    scene.wait(hours=24)
    assert "Lid off overnight" in section(page(as_role("manager"), "jobs:today"), "unsafe")


def test_a_quotation_that_nobody_answers_says_for_how_long(scene: Scene, as_role: Visit) -> None:
    waits = book_in(scene.shop, recipe("hatchback-waits"), scene.clock)
    waits.hand = Straight
    play(waits, until="fault_localisation.quote_how")
    deciding = section(page(as_role("front_desk"), "jobs:today"), "deciding")
    assert "Quotation open" in deciding
    assert "unanswered for" not in deciding
    scene.wait(hours=49)
    deciding = section(page(as_role("front_desk"), "jobs:today"), "deciding")
    assert "unanswered for 2 d" in deciding.replace("\xa0", " ")


def test_the_lists_ask_for_the_desk_once(scene: Scene, as_role: Visit) -> None:
    client = as_role("manager")
    send(as_role("front_desk"), scene, "call", way="we", text="x", next_on="2199-01-01")
    for name in ("jobs:today", "jobs:open_jobs"):
        page(client, name)
        with CaptureQueriesContext(connection) as seen:
            page(client, name)
        assert len([e for e in seen if "jobs_deskevent" in e["sql"]]) == 1
