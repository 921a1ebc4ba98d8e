"""The quotation on the pages: its editor, its versions, the answer that is asked again."""

import json
from collections.abc import Callable, Iterator
from html.parser import HTMLParser
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from typing_extensions import override

from jobs.core.entry import Kind
from jobs.core.item import qualifier_of
from jobs.practice.player import advance
from jobs.practice.scene import DESK, TECHNICIAN, Draft, Scene
from jobs.steps import STEPS
from jobs.steps.fault_localisation.items import ANSWER, QUOTATION, QUOTE_HOW, QUOTE_WHO
from tests.play import a_job_at
from workshop.models import Shop

pytestmark = pytest.mark.django_db

Visit = Callable[[str], Client]
SLUG = "fault_localisation"
STEP = next(step for step in STEPS if step.slug == SLUG)
LINE = {"kind": "part", "text": "<b>Module</b> M9", "quantity": "1", "unit_price": "12,50"}


@pytest.fixture
def scene(db: None) -> Iterator[Scene]:
    """A job in which the quotation is about to be written."""
    with a_job_at(SLUG) as played:
        while ANSWER.key not in {item.key for item in STEP.items(played.record())}:
            advance(played, STEP)
        yield played


class Editors(HTMLParser):
    """Collects what the editors of a page start with, and which entries forms strike."""

    def __init__(self) -> None:
        super().__init__()
        self.starts: list[str] = []
        self.suggested: list[Any] = []
        self.targets: list[list[str]] = []
        self.inside = False

    @override
    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.inside = tag == "textarea" and given.get("name") == "value"
        if self.inside:
            self.starts.append("")
        if "data-suggested" in given:
            self.suggested.append(json.loads(given["data-suggested"]))
        if "data-targets" in given:
            self.targets.append(given["data-targets"].split())

    @override
    def handle_endtag(self, tag: str) -> None:
        self.inside = False

    @override
    def handle_data(self, data: str) -> None:
        if self.inside:
            self.starts[-1] += data


def address_of(name: str, scene: Scene, **more: str) -> str:
    return reverse(name, kwargs={"job_id": scene.job, **more})


def page_of(client: Client, scene: Scene) -> tuple[str, Editors]:
    answer = client.get(address_of("jobs:step", scene, slug=SLUG))
    assert answer.status_code == 200
    text, editors = answer.content.decode(), Editors()
    editors.feed(text)
    return text, editors


def starts(editors: Editors) -> list[Any]:
    return [json.loads(each) for each in editors.starts if each.startswith("{")]


def quote_again(scene: Scene, *lines: dict[str, str]) -> None:
    scene.strike(QUOTATION, "Another part")
    value = {"lines": list(lines or (LINE,))}
    scene.do(Draft(kind=Kind.VALUE, by=DESK, item=QUOTATION.key, value=value))


def answer(scene: Scene) -> None:
    for item, value in ((QUOTE_HOW, "phone"), (QUOTE_WHO, "The owner"), (ANSWER, "approved")):
        at = qualifier_of(version="1") if item is ANSWER else ""
        scene.do(Draft(kind=Kind.VALUE, by=DESK, item=item.key, qualifier=at, value=value))


def test_the_editor_of_the_next_version_starts_with_the_lines_of_this_one(
    scene: Scene, as_role: Visit, closed_templates: None
) -> None:
    text, editors = page_of(as_role("front_desk"), scene)
    (start,) = starts(editors)
    assert [line["unit_price"] for line in start["lines"]][:2] == ["96.00", "1640.00"]
    assert "total" not in start
    given = scene.record().given(QUOTATION)
    assert given is not None
    assert editors.targets == [[given.entry.key]]
    assert "Change the quotation" in text
    assert "4\xa0014.00\xa0EUR" in text


def test_once_it_is_struck_the_editor_is_open_and_what_was_struck_is_readable(
    scene: Scene, as_role: Visit
) -> None:
    scene.strike(QUOTATION, "Wrong vehicle")
    text, editors = page_of(as_role("technician"), scene)
    (start,) = starts(editors)
    assert len(start["lines"]) == 7
    assert "Save version 2" in text
    assert "Version 1, struck" in text


def test_lines_are_proposed_from_the_readings_and_prices_never_are(
    scene: Scene, as_role: Visit
) -> None:
    Shop.objects.update(tax_percent="5.50")
    _, editors = page_of(as_role("technician"), scene)
    (lines,) = editors.suggested
    assert any("M9" in line["text"] for line in lines)
    assert {line["unit_price"] for line in lines} == {""}
    assert {line["tax_percent"] for line in lines} == {"5.5"}


def test_an_answer_to_an_earlier_version_is_offered_to_be_struck_in_one_act(
    scene: Scene, as_role: Visit
) -> None:
    answer(scene)
    text, editors = page_of(as_role("front_desk"), scene)
    assert "Approved, By telephone" in text
    assert len(editors.targets) == 1
    quote_again(scene)
    text, editors = page_of(as_role("front_desk"), scene)
    assert "The customer answered version 1; version 2 is open." in text
    assert sorted(len(each) for each in editors.targets) == [1, 3]
    record = scene.record()
    keys = {e.key for item in (QUOTE_HOW, QUOTE_WHO, ANSWER) for e in record.live[item.key]}
    assert keys in [set(each) for each in editors.targets]


def test_what_is_typed_is_never_markup(scene: Scene, as_role: Visit) -> None:
    quote_again(scene, {**LINE, "text": "</textarea><script>alert(1)</script>"})
    text, editors = page_of(as_role("front_desk"), scene)
    assert "<script>alert" not in text
    assert starts(editors)[0]["lines"][0]["text"].startswith("</textarea>")


def test_the_record_shows_every_version_with_its_lines(scene: Scene, as_role: Visit) -> None:
    quote_again(scene)
    text = as_role("technician").get(address_of("jobs:record", scene)).content.decode()
    assert text.count("Its lines") == 2
    assert text.count("quote-crossed") == 1
    assert "&lt;b&gt;Module&lt;/b&gt; M9" in text


@pytest.mark.parametrize(
    ("query", "status"), [("", 200), ("?version=1", 200), ("?version=2", 404), ("?version=x", 404)]
)
def test_the_pdf_is_given_for_a_version_that_there_is(
    scene: Scene, as_role: Visit, query: str, status: int
) -> None:
    found = as_role("technician").get(address_of("jobs:quotation", scene) + query)
    assert found.status_code == status
    assert status == 404 or found.content.startswith(b"%PDF")


def test_prices_on_the_page_carry_the_shops_currency(scene: Scene, as_role: Visit) -> None:
    Shop.objects.update(currency="NZD")
    client = as_role("technician")
    text = client.get(address_of("jobs:step", scene, slug="intake")).content.decode()
    assert "480.00\xa0NZD" in text
    text, _ = page_of(client, scene)
    assert "4\xa0014.00\xa0EUR" in text


def test_a_billed_diagnosis_above_the_cap_is_said_with_the_currency(scene: Scene) -> None:
    scene.do(Draft(kind=Kind.VALUE, by=DESK, item=QUOTE_HOW.key, value="phone"))
    scene.do(Draft(kind=Kind.VALUE, by=DESK, item=QUOTE_WHO.key, value="The owner"))
    declined = Draft(kind=Kind.VALUE, by=DESK, item=ANSWER.key, qualifier="version=1",
                     value="declined")  # fmt: skip
    scene.do(declined)
    scene.do(Draft(kind=Kind.VALUE, by=DESK, item=f"{SLUG}.billed", value="900"))
    sign = {"step": SLUG, "outcome": "done"}
    reply = scene.send(Draft(kind=Kind.SIGN, by=TECHNICIAN, value=sign))
    assert "localise_over_price_cap" in reply.codes
