"""The printed quotation: every version, what it says, and that nothing in it is markup."""

import io
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from pypdf import PdfReader

from jobs.core.entry import Kind
from jobs.core.item import qualifier_of
from jobs.practice.player import advance
from jobs.practice.scene import DESK, Draft, Scene
from jobs.queries.records import JobInfo, job_info
from jobs.report.blocks import Priced, Report, Together
from jobs.report.pdf import render_pdf
from jobs.report.quotation import quotation_document
from jobs.steps import STEPS
from jobs.steps.fault_localisation.items import ANSWER, QUOTATION, QUOTE_HOW, QUOTE_WHO
from tests.play import a_job_at
from workshop.models import Shop

pytestmark = pytest.mark.django_db

MARKUP = '<b>bold</b> <img src="/etc/passwd"/> &lt; </para>'
STEP = next(step for step in STEPS if step.slug == "fault_localisation")


@pytest.fixture
def scene() -> Iterator[Scene]:
    """A job whose quotation is written and not answered."""
    with a_job_at("fault_localisation") as played:
        while not played.record().has(QUOTATION):
            advance(played, STEP)
        yield played


def text_of(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


def squeezed(text: str) -> str:
    return "".join(text.split())


def document(scene: Scene, number: int | None = None) -> Report:
    info = job_info(scene.job)
    assert isinstance(info, JobInfo)
    found = quotation_document(info, scene.record(), number)
    assert found is not None
    return found


def line(**changed: str) -> dict[str, str]:
    return {
        "kind": "part",
        "text": "Module",
        "quantity": "1",
        "unit": "piece",
        "unit_price": "100",
        "tax_percent": "0",
        **changed,
    }


def quote_again(scene: Scene, **raw: Any) -> None:
    if scene.record().has(QUOTATION):
        scene.strike(QUOTATION, "The customer wants another part")
    value = {"lines": [line()], **raw}
    scene.do(Draft(kind=Kind.VALUE, by=DESK, item=QUOTATION.key, value=value))


def test_it_says_who_what_how_much_until_when_and_how_to_answer(scene: Scene) -> None:
    pdf = render_pdf(document(scene))
    text = text_of(pdf).replace("\xa0", " ")
    info = job_info(scene.job)
    assert info is not None
    for words in (
        f"Quotation {info.number}-Q1",
        info.customer.name,
        info.plate,
        "Quay Street High-Voltage Workshop",
        "7 Quay Street",
        "4 014.00 EUR",
        "Tax 20 % on 3 345.00 EUR",
        "Valid until",
        "not driven",
        "What is not included",
        "I accept quotation",
        "Signature",
        f"Record head {info.head[:12]} · page 1 of",
        "not answered yet",
    ):
        assert words in text, words
    assert "safe" not in text.lower()


def test_title_language_and_bytes(scene: Scene) -> None:
    once, twice = render_pdf(document(scene)), render_pdf(document(scene))
    assert once == twice
    reader = PdfReader(io.BytesIO(once))
    assert reader.metadata is not None
    assert str(reader.metadata.title).startswith("Quotation Q")
    assert str(reader.root_object["/Lang"]) == "en"


def test_an_earlier_version_says_what_replaced_it_and_cannot_be_accepted(scene: Scene) -> None:
    quote_again(scene)
    first, second = (text_of(render_pdf(document(scene, n))) for n in (1, 2))
    assert "Replaced by version 2" in first
    assert "I accept" not in first
    assert "I accept quotation" in second
    assert "replaced by version 2: The customer wants another part" in squeezed_spaces(second)
    assert document(scene).title == document(scene, 2).title


def squeezed_spaces(text: str) -> str:
    return " ".join(text.split())


def test_an_answer_is_told_with_how_and_when_and_is_not_asked_again(scene: Scene) -> None:
    for item, value in ((QUOTE_HOW, "phone"), (QUOTE_WHO, "The owner"), (ANSWER, "approved")):
        at = qualifier_of(version="1") if item is ANSWER else ""
        scene.do(Draft(kind=Kind.VALUE, by=DESK, item=item.key, qualifier=at, value=value))
    text = squeezed_spaces(text_of(render_pdf(document(scene))))
    assert "Approved, By telephone, The owner, 2 Mar 2026" in text
    assert "I accept" not in text


def test_there_is_no_version_that_was_never_written(scene: Scene) -> None:
    info = job_info(scene.job)
    assert info is not None
    assert quotation_document(info, scene.record(), 2) is None
    assert quotation_document(info, scene.record(), 0) is None


def test_markup_in_every_field_is_shown_and_never_obeyed(scene: Scene) -> None:
    Shop.objects.update(name=MARKUP, address=MARKUP)
    quote_again(
        scene,
        lines=[line(text=MARKUP, unit="<b>h</b>")],
        not_included=MARKUP,
        notes=MARKUP,
    )
    info = job_info(scene.job)
    assert info is not None
    marked = replace(info, customer=replace(info.customer, name=MARKUP, address=MARKUP))
    found = quotation_document(marked, scene.record())
    assert found is not None
    shown = squeezed(text_of(render_pdf(found)))
    # Customer, its address, the line, two notes; the head is cut off where it does not fit.
    assert shown.count(squeezed(MARKUP)) >= 5
    assert "<b>h</b>" in shown


def test_sixty_lines_go_over_pages_with_the_headings_on_each(scene: Scene) -> None:
    long = "A long text about a module and everything around it that nobody could cut short. " * 3
    quote_again(scene, lines=[line(text=f"{n} {long}") for n in range(60)], notes=long * 8)
    reader = PdfReader(io.BytesIO(render_pdf(document(scene))))
    pages = [page.extract_text() for page in reader.pages]
    assert len(pages) > 3
    assert sum("Price of one" in page for page in pages) >= 3
    assert f"page {len(pages)} of {len(pages)}" in pages[-1]
    assert "6 000.00 EUR" in "".join(pages).replace("\xa0", " ")


def test_without_tax_there_is_no_word_of_it(scene: Scene) -> None:
    quote_again(scene)
    blocks = document(scene).blocks
    (table,) = [block for block in blocks if isinstance(block, Priced)]
    assert "Tax" not in table.headings
    kept = [each for block in blocks if isinstance(block, Together) for each in block.blocks]
    (sums,) = [block for block in kept if isinstance(block, Priced)]
    assert [label for label, _ in sums.sums] == ["Total"]
