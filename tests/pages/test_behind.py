"""What may be typed behind a signature that waits: the next step's cards before its first hold."""

import re
from collections.abc import Iterator

import pytest
from django.test import Client

from jobs.core.entry import Kind
from jobs.practice.player import Stopped, play
from jobs.practice.scene import TECHNICIAN, Draft, Scene
from jobs.steps import STEPS
from tests.play import a_job
from workshop import clock, queries, sign_on

pytestmark = pytest.mark.django_db
FIRST, NEXT = STEPS[0].slug, STEPS[1].slug
ITEM = re.compile(r'data-kind="value" data-item="([a-z_.0-9]+)"')


def stop(_scene: Scene) -> None:
    """Leave the job before what would be done next."""
    raise Stopped


@pytest.fixture
def scene() -> Iterator[Scene]:
    """A job whose intake waits for nothing but its signature."""
    with a_job() as played:
        played.mishaps = {f"sign {FIRST}": stop}
        play(played)
        yield played


def behind(scene: Scene, slug: str) -> str | None:
    """Give the part of a step's page that is shown while a signature waits; None without one."""
    client, person = Client(), scene.shop.people[TECHNICIAN]
    session = client.session
    session[sign_on.PERSON_KEY] = person
    session[sign_on.MARK_KEY] = queries.session_mark(person)
    session[sign_on.SEEN_KEY] = clock.now().timestamp()
    session.save()
    page = client.get(f"/jobs/{scene.job}/{slug}/").content.decode()
    _, there, rest = page.partition("data-behind")
    return rest.partition("</template>")[0] if there else None


def test_the_next_step_carries_its_cards_up_to_the_first_hold_point(scene: Scene) -> None:
    shown = behind(scene, NEXT)
    assert shown is not None
    items = ITEM.findall(shown)
    assert items
    assert {item.partition(".")[0] for item in items} == {NEXT}
    holds = {hold.slug for hold in STEPS[1].holds(scene.record(), STEPS[1].assess(scene.record()))}
    assert not any(f'data-hold="{hold}"' in shown for hold in holds)
    assert 'data-kind="proof"' not in shown


def test_no_other_step_carries_any(scene: Scene) -> None:
    others = [step.slug for step in STEPS if step.slug != NEXT]
    assert [behind(scene, slug) for slug in others] == [None] * len(others)


def test_the_door_takes_none_of_it_before_the_signature(scene: Scene) -> None:
    shown = behind(scene, NEXT)
    assert shown is not None
    item = ITEM.findall(shown)[0]
    reply = scene.send(Draft(kind=Kind.VALUE, by=TECHNICIAN, item=item, value=True))
    assert (reply.verdict, reply.codes) == ("refused", frozenset({"earlier_step_open"}))


def test_after_the_signature_the_cards_stand_in_their_step(scene: Scene) -> None:
    scene.do(Draft(kind=Kind.SIGN, by=TECHNICIAN, value={"step": FIRST, "outcome": "done"}))
    assert behind(scene, NEXT) is None
