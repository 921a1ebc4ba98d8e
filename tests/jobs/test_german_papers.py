"""Every paper of a job is made in German: its words, and the language that its file names."""

import io
from collections.abc import Callable
from typing import Final

import pytest
from django.utils.translation import override
from pypdf import PdfReader

from jobs.core.record import Record
from jobs.practice.player import play
from jobs.queries.records import JobInfo, job_info
from jobs.report.blocks import Report
from jobs.report.document import report_of
from jobs.report.pdf import render_pdf
from jobs.report.quotation import quotation_document
from jobs.report.receipt import receipt_document
from jobs.report.technical import technical_record_of
from jobs.views.reasons import sentence_of
from tests.play import a_job

pytestmark = pytest.mark.django_db

Paper = Callable[[JobInfo, Record], Report | None]

PAPERS: Final[dict[str, tuple[Paper, tuple[str, ...]]]] = {
    "report": (report_of, ("Was nicht in Ordnung war", "Darf es benutzt werden?")),
    "technical": (
        lambda job, record: technical_record_of(job, record, sentence_of),
        ("Freischalten und Prüfen", "Alle Einträge"),
    ),
    "receipt": (receipt_document, ("Annahmebeleg",)),
    "quotation": (quotation_document, ("Kostenvoranschlag",)),
}
ENGLISH: Final = ("What was wrong", "Who signed", "What to do now", "Receipt for")


@pytest.mark.parametrize("recipe", ["minibus-module", "hatchback-heater", "hatchback-declined"])
def test_every_paper_of_a_job_is_german(recipe: str) -> None:
    with a_job(recipe) as scene:
        play(scene)
        job, record = job_info(scene.job), scene.record()
        assert job is not None
        for name, (paper, said) in PAPERS.items():
            with override("de"):
                document = paper(job, record)
                assert document is not None, name
            file = PdfReader(io.BytesIO(render_pdf(document)))
            text = " ".join(" ".join(page.extract_text() for page in file.pages).split())
            assert str(file.root_object["/Lang"]) == "de", name
            assert [each for each in said if each not in text] == [], name
            assert [each for each in ENGLISH if each in text] == [], name
