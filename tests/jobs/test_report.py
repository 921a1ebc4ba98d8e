"""The report: what it says, that nothing in it is markup, that it is the same each time."""

import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from django.core.management import call_command
from django.test import Client
from pypdf import PdfReader
from reportlab.pdfbase.pdfmetrics import stringWidth

from jobs.core.picture import before_after
from jobs.queries.records import job_info
from jobs.report.blocks import Bullets, Grid, Heading, Paragraph, Proof, ProofRow, Report, Together
from jobs.report.document import report_of
from jobs.report.pdf import render_pdf
from packs.pack_map import pack_map
from packs.picture import Disc, Label, Line, Picture
from packs.svg import svg
from tests.builders import a_pack
from tests.jobs.conftest import Shop
from workshop.models import Customer, Vehicle

MARKUP = [
    "<b>bold",
    '<img src="/etc/passwd"/>',
    "</para><para>",
    "&lt;&amp;&#x41;",
    "<script>alert(1)</script>",
    "a < b > c & d",
    '<font name="nosuch">x',
]
GLYPHS = "Ω µ ° ² ³ · – − ≤ ≥ é ü ß ñ ø å ł č € … ½ „“”’ ±"


def a_report(*blocks: Heading | Paragraph | Bullets | Grid | Proof | Together) -> Report:
    return Report(
        title="Report W000001",
        author="Quay Street High-Voltage Workshop",
        address="14 Quay Street\nPort Ferrin",
        number="W000001",
        subject="Halden Orrin, MK-4471",
        date="2 Mar 2026",
        signed="Last signed by M. Thorne",
        head="9f3c71a05be2" + "0" * 52,
        language="en",
        blocks=blocks or (Heading("The answer", 1),),
    )


def text_of(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


@pytest.mark.parametrize("words", MARKUP)
def test_markup_is_shown_and_never_obeyed(words: str) -> None:
    report = a_report(
        Heading(words),
        Paragraph(words),
        Bullets((words,)),
        Grid((words, words), ((words, words),)),
        Proof(((words, (ProofRow(words, words, words, "pass"),)),)),
    )
    shown = "".join(text_of(render_pdf(replace(report, subject=words, author=words))).split())
    assert shown.count("".join(words.split())) >= 8


def test_the_same_report_is_the_same_file() -> None:
    assert render_pdf(a_report()) == render_pdf(a_report())


def test_every_sign_the_reports_use_is_in_the_embedded_font() -> None:
    pdf = render_pdf(a_report(Paragraph(GLYPHS)))
    assert GLYPHS in text_of(pdf).replace("\n", " ")
    assert b"SourceSansPro" in pdf


def test_title_language_and_foot_are_there() -> None:
    pdf = render_pdf(a_report())
    reader = PdfReader(io.BytesIO(pdf))
    assert reader.metadata is not None
    assert reader.metadata.title == "Report W000001, Halden Orrin, MK-4471"
    assert str(reader.root_object["/Lang"]) == "en"
    assert "Record head 9f3c71a05be2 · page 1 of 1" in text_of(pdf)


@pytest.mark.parametrize(
    "picture",
    [
        pack_map(a_pack(), shares={"M9": 0.61, "M8": 0.3}),
        pack_map(a_pack("minibus"), replaced=("M4",)),
        before_after(84.0, 12400.0, 500.0),
        before_after(None, 3.0, 500.0),
    ],
    ids=["shares", "replaced", "both", "after"],
)
def test_a_picture_is_the_same_shapes_on_the_page_and_speaks(picture: Picture) -> None:
    drawn = svg(picture)
    assert drawn.count("<text") == sum(type(s).__name__ == "Label" for s in picture.shapes)
    assert f"<title>{picture.title}</title>" in drawn
    assert picture.description in drawn
    inside = [s for s in picture.shapes if type(s).__name__ == "Rect"]
    assert all(s.x >= 0 and s.x + s.width <= picture.width_mm for s in inside)  # type: ignore[union-attr]


def test_a_figure_inside_the_line_is_marked_where_it_belongs() -> None:
    picture = before_after(79.0, 614_960.0, 500.0)
    marks = [shape.x for shape in picture.shapes if isinstance(shape, Disc)]
    words = [shape.text for shape in picture.shapes if isinstance(shape, Label)]
    assert marks[1] < picture.width_mm - 6
    assert "after: 615\u202f000" in words


@pytest.mark.parametrize("limit", [100.0, 500.0, 1000.0])
@pytest.mark.parametrize("figure", [79.0, 201.0, 420.0, 501.0, 900.0, 1500.0, 614_960.0])
def test_the_line_of_the_limit_crosses_no_words(figure: float, limit: float) -> None:
    picture = before_after(figure, None, limit)
    (line,) = [shape for shape in picture.shapes if isinstance(shape, Line) and shape.dashed]
    (said,) = [s for s in picture.shapes if isinstance(s, Label) and s.text.startswith("before")]
    width_mm = stringWidth(said.text, "Helvetica-Bold", said.size)
    left = said.x - {"start": 0.0, "middle": width_mm / 2, "end": width_mm}[said.anchor]
    assert left >= 0
    assert not left < line.x1 < left + width_mm


def test_a_heading_and_its_lines_leave_a_page_only_for_want_of_room() -> None:
    def fit(*last: Heading | Bullets | Together) -> int:
        """Count the paragraphs that fit on one page before the last blocks."""
        line = Paragraph("Filled to here.")
        return next(
            count - 1
            for count in range(1, 99)
            if len(PdfReader(io.BytesIO(render_pdf(a_report(*[line] * count, *last)))).pages) > 1
        )

    lines = Bullets(("Version 1, approved",))
    together = fit(Together((Heading("Versions and answers"), lines)))
    assert fit(Heading("Versions and answers"), lines) < together
    assert fit(lines) - together <= 3


def test_a_job_just_booked_has_a_report_that_says_it_is_not_finished(shop: Shop) -> None:
    Customer.objects.update(name="<i>Rowan</i>")
    Vehicle.objects.update(model='"><img src="/etc/passwd">')
    shop.enter("intake.complaint", "<b>red lamp & water", by="lorne")
    job = job_info(shop.job)
    assert job is not None
    pdf = render_pdf(report_of(job, shop.record()))
    shown = text_of(pdf)
    # Nothing was read yet: no heading of a proof without a figure, and no page for it.
    assert len(PdfReader(io.BytesIO(pdf)).pages) == 1
    assert "The proof" not in shown
    assert "No step is signed yet" in shown
    assert "Interim report" in shown
    assert "the work is not finished" in shown
    assert "<b>red lamp & water" in shown
    assert "not signed" in shown
    assert job.head[:12] in shown
    for promise in ("safe", "like new", "waterproof"):
        assert promise not in shown.lower()


def test_the_command_writes_it_and_says_when_it_cannot(
    shop: Shop,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    file = tmp_path / "report.pdf"
    call_command("report", "W000001", "-o", str(file))
    assert file.read_bytes().startswith(b"%PDF")
    for number, place in (("nowhere", file), ("W000001", tmp_path / "no" / "x.pdf")):
        with pytest.raises(SystemExit) as stopped:
            call_command("report", number, "-o", str(place))
        assert stopped.value.code == 1
    assert "There is no job nowhere." in capsys.readouterr().err


def test_the_page_gives_the_pdf(shop: Shop, client_of: Callable[[str], Client]) -> None:
    answer = client_of("lorne").get(f"/jobs/{shop.job}/report.pdf")
    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")
