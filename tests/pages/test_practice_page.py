"""The Practice page: who sees what of it, and what a practice job prints."""

import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from django.test import Client
from django.urls import reverse

from jobs.models import Practice
from jobs.practice.scene import Scene
from jobs.steps import STEPS
from tests.jobs.practice.learner import begin
from tests.pages.addresses import ONLY_POSTED, address_of, names

pytestmark = pytest.mark.django_db

Visit = Callable[[str], Client]
SEED = "123456"


@contextmanager
def a_practice(client: Client) -> Iterator[str]:
    yield begin(client, "city-hatchback", "soft_leak", int(SEED))


@pytest.mark.parametrize("role", ["technician", "manager", "front_desk"])
def test_everybody_reaches_it_and_may_begin_one(role: str, as_role: Visit) -> None:
    client = as_role(role)
    assert reverse("jobs:practice") in client.get(reverse("jobs:today")).content.decode()
    with a_practice(client) as job:
        text = client.get(reverse("jobs:practice")).content.decode()
        assert "PRACTICE-000001" in text
        step = client.get(reverse("jobs:job", args=(job,)), follow=True).content.decode()
        assert "PRACTICE: simulated vehicle" in step
        # Whoever learns works as a technician here: nothing of intake is locked by a role.
        assert "This may not be entered by" not in step


def test_its_pages_ask_the_database_nothing_while_they_are_drawn(
    as_role: Visit, closed_templates: None
) -> None:
    client = as_role("technician")
    with a_practice(client) as job:
        for step in STEPS:
            assert client.get(reverse("jobs:step", args=(job, step.slug))).status_code == 200
        asked = {"item": "de_energise_check.proof_before", "qualifier": "round=1"}
        bench = client.get(reverse("jobs:practice_bench", args=(job,)), asked)
        assert "Proving unit" in bench.content.decode()
        assert client.get(reverse("jobs:practice")).status_code == 200
        client.post(reverse("jobs:practice_end", args=(job,)))
        assert client.get(reverse("jobs:practice_result", args=(job,))).status_code == 200


def test_the_number_is_for_managers_until_it_is_over(as_role: Visit) -> None:
    learner, manager, other = as_role("technician"), as_role("manager"), as_role("front_desk")
    with a_practice(learner) as job:
        page = reverse("jobs:practice")
        assert SEED not in learner.get(page).content.decode()
        assert SEED in manager.get(page).content.decode()
        assert "PRACTICE-000001" not in other.get(page).content.decode()
        learner.post(reverse("jobs:practice_end", args=(job,)))
        assert SEED in learner.get(page).content.decode()


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("slug", "no-such-pack", "Choose a kind of pack."),
        ("seed", "12345678", "one to six digits"),
        ("seed", "-4", "one to six digits"),
    ],
)
def test_what_cannot_be_begun_is_said(field: str, value: str, said: str, as_role: Visit) -> None:
    sent = {"slug": "minibus", "asked": "", "seed": "", "key": str(uuid.uuid4()), field: value}
    answer = as_role("technician").post(reverse("jobs:practice_begin"), sent)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Practice.objects.exists()


def test_begun_twice_with_one_key_is_one(as_role: Visit) -> None:
    client, key = as_role("technician"), str(uuid.uuid4())
    sent = {"slug": "minibus", "asked": "easy", "seed": "", "key": key}
    for _ in range(2):
        assert client.post(reverse("jobs:practice_begin"), sent).status_code == 302
    assert Practice.objects.count() == 1


def test_no_other_page_knows_of_it(scene: Scene, as_role: Visit) -> None:
    client = as_role("manager")
    with a_practice(client):
        own = {name for name in names() if name.startswith("jobs:practice")}
        asked = (name for name in names() if name not in ONLY_POSTED | own)
        told = [name for name in asked if "PRACTICE-" in _text(client, address_of(name, scene))]
        assert told == []


def _text(client: Client, address: str) -> str:
    answer = client.get(address)
    if answer.streaming or "text" not in answer.headers.get("Content-Type", ""):
        return ""
    return answer.content.decode()


def test_every_page_and_print_of_it_is_marked(as_role: Visit) -> None:
    client = as_role("technician")
    with a_practice(client) as job:
        for name in ("record", "step", "sheet"):
            arguments = (job,) if name == "record" else (job, "intake")
            text = client.get(reverse(f"jobs:{name}", args=arguments)).content.decode()
            assert "PRACTICE: simulated vehicle" in text
        step = client.get(reverse("jobs:step", args=(job, "intake"))).content.decode()
        report = reverse("jobs:report", args=(job,))
        assert report not in step
        assert client.get(report).status_code == 404
