"""Every word of ours in a report and a technical record goes through translation."""

import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest
from django.core.management import call_command
from django.utils import translation
from pypdf import PdfReader

from jobs.core.record import Record
from jobs.practice.player import play
from jobs.practice.scene import Scene
from jobs.queries.records import JobInfo, job_info
from jobs.report.blocks import Report
from jobs.report.document import report_of
from jobs.report.pdf import render_pdf
from jobs.report.technical import technical_record_of
from jobs.report.wording import wording_of
from jobs.views.reasons import sentence_of
from packs.definition import CURVES
from packs.physics.ocv import curve_named
from tests.marking import MARK, SYMBOL, marking, texts_in, words_in
from tests.play import a_job, a_job_at
from workshop import queries as shop

pytestmark = pytest.mark.django_db

JOBS: Final = ("hatchback-charger", "minibus-module", "hatchback-charge", "hatchback-declined")
UNITS = (
    "min ml km Ah Wh kWh kΩ MΩ GΩ mΩ µΩ Ωm mV kV kPa Pa mbar Nm ohm kohm Mohm Gohm uohm mohm mV uV "
    "mA uA nS uS mS degC en SHA µA µS µV m³"
)
SYMBOLS: Final = frozenset(UNITS.split())
"""Units, and names of one language."""
DIGEST: Final = re.compile(r"\b[0-9a-f]{12,}\b")
WORD: Final = re.compile(rf"[^\W\d_{MARK}]{{2,}}")


@pytest.fixture(params=JOBS)
def scene(request: pytest.FixtureRequest) -> Iterator[Scene]:
    with a_job(request.param) as played:
        play(played)
        yield played


def whole(scene: Scene) -> tuple[JobInfo, Record]:
    info = job_info(scene.job)
    assert info is not None
    return info, scene.record()


def known_words(info: JobInfo, record: Record) -> set[str]:
    """Give the words that are data: what people entered, the definition, limits, names."""
    words = wording_of(info.id, record)
    entered = [(each.value, each.qualifier) for each in record.entries]
    sources = [curve_named(name).source for names in CURVES.values() for name in names]
    data = (
        sources,
        entered,
        record.pack,
        record.limits,
        info,
        shop.shop(),
        words.names,
        words.personal,
    )
    return {word for part in data for word in words_in(part)}


def escaped(document: Report, known: set[str]) -> dict[str, str]:
    """Give the words that no translation marked, each with the text it stands in."""
    return {
        word: text
        for text in texts_in(document)
        for word in WORD.findall(SYMBOL.sub("", DIGEST.sub("", text)))
        if word not in known | SYMBOLS
    }


def test_no_word_of_ours_escapes_translation(scene: Scene) -> None:
    info, record = whole(scene)
    known = known_words(info, record)
    with marking():
        report = report_of(info, record)
        technical = technical_record_of(info, record, sentence_of)
        found = escaped(report, known) | escaped(technical, known)
    assert found == {}
    assert len(report.blocks) > 8


def test_the_marks_find_a_sentence_that_was_put_together_first() -> None:
    with marking():
        whole_text = translation.gettext("What we found")
        put_together = translation.gettext(f"What we {whole_text and 'found'} today")
    assert WORD.findall(whole_text) == []
    assert WORD.findall(put_together) == ["What", "we", "found", "today"]


def test_a_document_is_made_in_the_language_given_to_it(tmp_path: Path) -> None:
    with a_job_at("closed", "hatchback-charger") as scene:
        info, record = whole(scene)
        with translation.override("en"):
            documents = (
                report_of(info, record, "de"),
                technical_record_of(info, record, sentence_of, "de"),
            )
            assert translation.get_language() == "en"
        assert [each.language for each in documents] == ["de", "de"]
        file = tmp_path / "report.pdf"
        call_command("report", info.number, "--language", "de", "-o", str(file))
        reader = PdfReader(io.BytesIO(file.read_bytes()))
        assert str(reader.root_object["/Lang"]) == "de"
        assert report_of(info, record).language == "en"


def test_the_words_that_the_pdf_adds_are_in_the_language_of_the_report() -> None:
    with a_job_at("closed", "hatchback-charger") as scene:
        info, record = whole(scene)
        with marking():
            pdf = render_pdf(report_of(info, record))
    page = PdfReader(io.BytesIO(pdf)).pages[1].extract_text()
    assert "passed" not in page
    assert "page 2 of" not in page
    assert f"2 {MARK * 2} " in page
