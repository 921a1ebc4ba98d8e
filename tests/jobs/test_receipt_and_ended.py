"""The receipt of the intake, and the papers of jobs that end without a repair."""

import io
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from django.core.management import call_command
from django.test import Client
from pypdf import PdfReader

from jobs.core.record import Record
from jobs.core.section import Quantity
from jobs.practice.player import play
from jobs.practice.scene import Scene
from jobs.queries.records import JobInfo, job_info
from jobs.report.blocks import Report
from jobs.report.document import report_of
from jobs.report.ended import ended_blocks
from jobs.report.parts import parts_of
from jobs.report.pdf import render_pdf
from jobs.report.receipt import receipt_document
from jobs.report.summary import summary_of
from jobs.report.wording import wording_of
from jobs.steps import STEPS
from jobs.steps.isolation_readings import STEP
from jobs.steps.isolation_readings.assessment import isolation_limit
from tests.jobs.test_accounting import visitor
from tests.play import a_job, a_job_at
from workshop.models import Shop

pytestmark = pytest.mark.django_db

MARKUP = '<b>bold</b> <img src="/etc/passwd"/> </para>'


def text_of(report: Report) -> str:
    pages = PdfReader(io.BytesIO(render_pdf(report))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).replace("\xa0", " ").split())


def told(scene: Scene) -> tuple[JobInfo, Record]:
    info = job_info(scene.job)
    assert info is not None
    return info, scene.record()


@pytest.fixture
def taken_in() -> Iterator[Scene]:
    """A job whose intake is signed."""
    with a_job_at("de_energise_check") as scene:
        yield scene


def test_a_receipt_says_what_came_what_was_said_and_what_may_be_spent(taken_in: Scene) -> None:
    info, record = told(taken_in)
    text = text_of(receipt_document(info, record))
    for words in (
        f"Receipt {info.number}",
        info.customer.name,
        info.plate,
        "What you told us",
        "Where its keys are",
        "Odometer",
        "up to 480.00 EUR",
        "You agreed that we keep your name",
        "moved by tow only",
        "fire brigade",
        "Authority for the diagnosis up to the price cap",
        "Taken in and looked at by",
        Shop.objects.get().phone,
        f"Record head {info.head[:12]} · page 1 of",
    ):
        assert words in text, words
    assert "Photos of its condition" in text


def test_a_receipt_before_anything_is_signed_leaves_room_to_sign_and_promises_nothing() -> None:
    with a_job() as scene:
        text = text_of(receipt_document(*told(scene)))
    assert "No price cap is agreed yet" in text
    assert "consent that we keep your name and contact is not recorded yet" in text
    assert "none taken on arrival" in text
    assert "Customer: handed over as described" in text


def test_a_receipt_has_title_language_and_the_same_bytes_each_time(taken_in: Scene) -> None:
    once, twice = (render_pdf(receipt_document(*told(taken_in))) for _ in range(2))
    assert once == twice
    reader = PdfReader(io.BytesIO(once))
    assert reader.metadata is not None
    assert str(reader.metadata.title).startswith("Receipt Q")
    assert str(reader.root_object["/Lang"]) == "en"


def test_markup_in_the_receipt_is_shown_and_never_obeyed(taken_in: Scene) -> None:
    Shop.objects.update(name=MARKUP, phone=MARKUP[:40])
    info, record = told(taken_in)
    marked = replace(info, customer=replace(info.customer, name=MARKUP, address=MARKUP))
    text = text_of(receipt_document(marked, record)).replace(" ", "")
    assert text.count(MARKUP.replace(" ", "")) >= 3


@pytest.mark.parametrize("role", ["technician", "front_desk", "manager"])
def test_everybody_signed_on_gets_the_receipt_and_nobody_else(taken_in: Scene, role: str) -> None:
    page = f"/jobs/{taken_in.job}/receipt.pdf"
    answer = visitor(taken_in, role).get(page)
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    assert Client().get(page).status_code == 302


@pytest.mark.parametrize(("option", "begins"), [("receipt", "Receipt"), ("technical", "Technical")])
def test_the_command_writes_the_document_that_is_asked(
    taken_in: Scene, tmp_path: Path, option: str, begins: str
) -> None:
    wanted = tmp_path / "one.pdf"
    number = told(taken_in)[0].number
    call_command("report", number, output=wanted, **{option: True})
    metadata = PdfReader(wanted).metadata
    assert metadata is not None
    assert str(metadata.title).startswith(begins)


def test_the_command_says_that_a_job_has_no_quotation(
    taken_in: Scene, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        call_command("report", told(taken_in)[0].number, output=tmp_path / "q.pdf", quotation=True)
    assert "has no quotation" in capsys.readouterr().err


def test_a_declined_job_says_what_it_means_how_it_leaves_what_is_owed_and_what_to_watch() -> None:
    with a_job("hatchback-declined") as scene:
        play(scene)
        text = text_of(report_of(*told(scene)))
    for words in (
        "What we measured",
        "A second one, anywhere, closes a circuit",
        "How it leaves us",
        "Pack closed, connectors capped",
        "Left de-energised and labelled",
        "Goes by tow only; the customer knows",
        "The battery was not opened",
        "The diagnosis: 440.00 EUR, within the 480.00 EUR that you agreed to",
        "Declined, By message or e-mail, kept",
        "Nothing of it is owed",
        "call the fire brigade",
        "Whoever tows, stores or repairs it next",
    ):
        assert words in text, words
    assert "is safe" not in text.lower()


def test_a_fault_not_found_is_no_clearance_and_says_how_it_was_looked_for() -> None:
    with a_job("minibus-not-found") as scene:
        play(scene)
        text = text_of(report_of(*told(scene)))
    for words in (
        "Read again",
        "after 24 h",
        "How it was read again",
        "this is no clearance",
        "Customer told",
        "Left de-energised and labelled",
        "The diagnosis: 440.00 EUR",
        "Note when a warning returns",
    ):
        assert words in text, words
    assert "Nothing of it is owed" not in text


def test_a_fault_not_found_names_one_limit_of_the_isolation_and_how_sure_each_figure_is() -> None:
    with a_job("minibus-not-found") as scene:
        play(scene)
        info, record = told(scene)
        text = text_of(report_of(info, record))
        limit = isolation_limit(record)
        summary = summary_of(record, {step.slug: step.assess(record) for step in STEPS})
    assert summary.limit == limit
    assert set(re.findall(r"([0-9.]+ k?Ω/V) \(vehicle maker", text)) == {"500 Ω/V"}
    (again,) = [
        table
        for table in STEP.section(record, STEP.assess(record)).tables
        if table.title == "Read again"
    ]
    for _condition, figure, against, _when in again.rows:
        assert isinstance(figure, Quantity)
        assert figure.low is not None
        assert figure.high is not None
        assert figure.low < figure.value < figure.high
        assert against == Quantity(limit.value, "ohm/V")


def test_a_job_that_goes_on_has_none_of_it(taken_in: Scene) -> None:
    record = taken_in.record()
    words = wording_of(taken_in.job, record)
    assert list(ended_blocks(record, parts_of(record), words)) == []
