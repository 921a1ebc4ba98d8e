"""Draws a report as PDF: blocks to paragraphs and tables, pages with head and foot.

Sizes and the escaping of texts are in `look`, the typeface in `lettering`, pictures in `drawing`,
what only a quotation has in `priced`, only a technical record in `evidence`; nothing outside this
package knows reportlab.
"""

import io
import math
from collections.abc import Callable
from typing import Any, Final

from django.utils.translation import gettext, override
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    KeepTogether,
    ListFlowable,
    PageBreak,
    PageTemplate,
    Spacer,
    TableStyle,
)
from reportlab.platypus import Paragraph as Set
from reportlab.platypus import Table as Tabled
from typing_extensions import override as overrides

from jobs.report.blocks import (
    AnswerLines,
    Block,
    Boxes,
    Bullets,
    Grid,
    Heading,
    NewPage,
    Paragraph,
    Parties,
    Photos,
    Pictures,
    Priced,
    Proof,
    ProofRow,
    Report,
    Together,
    Working,
)
from jobs.report.pdf.drawing import INKS, drawing
from jobs.report.pdf.evidence import photos, working
from jobs.report.pdf.lettering import BOLD, PLAIN, drawable, register_fonts, spelling_out
from jobs.report.pdf.look import MARGIN, WIDTH, draw_logo, ruled, set_text
from jobs.report.pdf.priced import answer_lines, parties, priced
from packs.picture import Disc, Picture, Stroke

__all__ = ["render_pdf"]

NARROW, LONG = 3, 9
"""Columns up to which, and rows from which, a table is set in two halves."""
ROOM_MM: Final = {1: 60.0, 2: 50.0, 3: 36.0, 4: 26.0}
"""Room that a heading of each level needs at the foot of a page, with what follows it."""
ALONE_LARGER = 1.2
"""How many times larger than its own size a picture is drawn that stands alone [1]."""
VERDICT_FORMS: Final = {
    "pass": ("disc", "ok"),
    "fail": ("octagon", "no"),
    "undecided": ("diamond", "maybe"),
}
SIGNS: Final = {
    "pass": (((1.2, 2.1), (1.8, 2.7), (2.8, 1.4)),),
    "fail": (((1.3, 1.3), (2.7, 2.7)), ((1.3, 2.7), (2.7, 1.3))),
    "undecided": (),
}
"""A tick and a cross inside the mark [mm]: a print in grey tells them apart."""


def _verdict_words(verdict: str) -> str:
    words = {
        "pass": gettext("passed"),
        "fail": gettext("failed"),
        "undecided": gettext("undecided"),
    }
    return words.get(verdict, "")


def _mark(verdict: str) -> Flowable | str:
    if verdict not in VERDICT_FORMS:
        return ""
    form, ink = VERDICT_FORMS[verdict]
    disc = Disc(x=2, y=2, radius=1.5, form=form, ink=ink)  # type: ignore[arg-type]
    signs = (Stroke(points=points, ink="paper", width=0.35) for points in SIGNS[verdict])
    shape = Picture(width_mm=4, height_mm=4, title="", description="", shapes=(disc, *signs))
    return drawing(shape, 4 * mm)


# --- blocks --------------------------------------------------------------------------------


def _boxes(block: Boxes) -> list[Flowable]:
    cells = [
        [set_text(question, "small"), set_text(answer, "box"), set_text(remark, "small")]
        for question, answer, remark in block.boxes
    ]
    width = WIDTH / len(cells)
    table = Tabled([cells], colWidths=[width] * len(cells))
    table.setStyle(
        TableStyle(
            [("BOX", (column, 0), (column, 0), 0.6, INKS["line"]) for column in range(len(cells))]
            + [("VALIGN", (0, 0), (-1, -1), "TOP"), ("PADDING", (0, 0), (-1, -1), 8)]
        )
    )
    return [Spacer(0, 6), table, Spacer(0, 8)]


def _pictures(block: Pictures) -> list[Flowable]:
    """Set pictures two and two; one alone may be larger."""
    alone = len(block.pictures) == 1
    width, largest = (WIDTH, ALONE_LARGER) if alone else (WIDTH / 2 - 6, 1.0)
    flow: list[Flowable] = []
    for first in range(0, len(block.pictures), 2):
        pair = block.pictures[first : first + 2]
        titles = [set_text(picture.title, "h3") for picture in pair]
        drawn = [drawing(picture, width, largest) for picture in pair]
        widths = [WIDTH / (1 if alone else 2)] * len(drawn)
        table = Tabled([titles, drawn], colWidths=widths, hAlign="LEFT")
        table.setStyle(
            TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0)])
        )
        flow += [KeepTogether([table]), Spacer(0, 6)]
    return flow


def _proof_cells(row: ProofRow, *, limits: bool) -> list[Any]:
    verdict = [_mark(row.verdict), set_text(_verdict_words(row.verdict), "cell")]
    limit = [set_text(row.limit, "small")] if limits else []
    return [set_text(row.label, "cell"), set_text(row.value, "bold"), *limit, *verdict]


def _proof(block: Proof) -> list[Flowable]:
    """Set the proof as one table; each step's title stands in a row of its own."""
    named = (gettext("Reading"), gettext("Value"), gettext("Limit and its source"))
    heads = (*named, "", "") if block.limits else ()
    rows: list[list[Any]] = [[set_text(text, "small") for text in heads]] if heads else []
    shares = (0.27, 0.26, 0.31, 0.04, 0.12) if block.limits else (0.30, 0.54, 0.04, 0.12)
    titles = []
    for title, lines in block.parts:
        if title:
            titles.append(len(rows))
            rows.append([set_text(title, "h3"), *[""] * (len(shares) - 1)])
        rows += [_proof_cells(row, limits=block.limits) for row in lines]
    if len(rows) == len(heads[:1]):
        return []
    table = ruled(rows, [WIDTH * share for share in shares], heads=len(heads[:1]))
    spans = [("SPAN", (0, row), (-1, row)) for row in titles]
    kept = [("NOSPLIT", (0, row), (-1, row + 1)) for row in titles]
    table.setStyle(TableStyle([*spans, *kept]))
    return [table, Spacer(0, 6)]


def _grid(block: Grid) -> list[Flowable]:
    """Set a table; a long narrow one in two halves side by side."""
    heads, rows = block.headings, [list(row) for row in block.rows]
    shares = block.shares or (1 / len(heads),) * len(heads)
    if len(heads) <= NARROW and len(rows) > LONG:
        half = math.ceil(len(rows) / 2)
        beside = [*rows[half:], *[[""] * len(heads)] * (2 * half - len(rows))]
        rows = [left + right for left, right in zip(rows[:half], beside, strict=True)]
        heads, shares = (*heads, *heads), tuple(share / 2 for share in (*shares, *shares))
    cells: list[list[Any]] = [[set_text(text, "small") for text in heads]]
    cells += [[set_text(cell, "cell") for cell in row] for row in rows]
    return [ruled(cells, [WIDTH * share for share in shares]), Spacer(0, 4)]


def _bullets(block: Bullets) -> list[Flowable]:
    lines = [set_text(line, "body") for line in block.lines]
    return [ListFlowable(lines, bulletType="bullet", bulletFontSize=10, leftIndent=12, start="•")]


def _heading(block: Heading) -> list[Flowable]:
    """Set a heading that the outline of the file leads to."""
    heading = set_text(block.text, f"h{block.level}")
    heading.outlined = (drawable(block.text), block.level - 1)
    return [CondPageBreak(ROOM_MM[block.level] * mm), heading]


_BLOCKS: dict[type, Callable[[Any], list[Flowable]]] = {
    Heading: _heading,
    Photos: photos,
    Working: working,
    Paragraph: lambda block: [set_text(block.text, "soft" if block.soft else "body"), Spacer(0, 4)],
    Bullets: _bullets,
    Boxes: _boxes,
    Pictures: _pictures,
    Proof: _proof,
    Parties: parties,
    Priced: priced,
    AnswerLines: answer_lines,
    Grid: _grid,
    NewPage: lambda block: [
        CondPageBreak(block.unless_mm * mm) if block.unless_mm else PageBreak()
    ],
    Together: lambda block: [KeepTogether(_loose(_flow(block.blocks)))],
}


def _loose(flow: list[Flowable]) -> list[Flowable]:
    """Open what is kept together within: one such thing in another never fits any page.

    A heading within needs no room of its own kept for what follows it.
    """
    loose = []
    for each in flow:
        if isinstance(each, CondPageBreak):
            continue
        kept = isinstance(each, KeepTogether)
        loose += _loose(each._content) if kept else [each]  # noqa: SLF001 - no other way in
    return loose


def _flow(blocks: tuple[Block, ...]) -> list[Flowable]:
    return [flowable for block in blocks for flowable in _BLOCKS[type(block)](block)]


# --- pages ---------------------------------------------------------------------------------


class _CountedCanvas(Canvas):  # type: ignore[misc] # reportlab has no types
    """Writes "page 1 of 4", which is known only when the last page is done."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._pages: list[dict[str, Any]] = []
        self.report: Report | None = None

    def showPage(self) -> None:  # noqa: N802 - reportlab's name
        """Keep the page until the number of pages is known."""
        self._pages.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        """Write every page with its foot."""
        for number, page in enumerate(self._pages, start=1):
            self.__dict__.update(page)
            self._foot(number, len(self._pages))
            super().showPage()
        super().save()

    def _foot(self, number: int, count: int) -> None:
        report = self.report
        if report is None:
            return
        self.setStrokeColor(INKS["line"])
        self.line(MARGIN, 14 * mm, A4[0] - MARGIN, 14 * mm)
        self.setFont(PLAIN, 8)
        self.setFillColor(INKS["soft"])
        head = gettext("Record head {head}").format(head=report.head[:12]) if report.head else ""
        page = gettext("page {number} of {count}").format(number=number, count=count)
        right = " · ".join(filter(None, (head, page)))
        room = WIDTH - pdfmetrics.stringWidth(right, PLAIN, 8) - 6 * mm
        self.drawString(MARGIN, 10 * mm, _fitted(drawable(report.signed), PLAIN, 8, room))
        self.drawRightString(A4[0] - MARGIN, 10 * mm, right)


def _fitted(text: str, font: str, size: float, width: float) -> str:
    """Cut a text off where it would run into what stands beside it [points]."""
    if pdfmetrics.stringWidth(text, font, size) <= width:
        return text
    while text and pdfmetrics.stringWidth(f"{text}…", font, size) > width:
        text = text[:-1]
    return f"{text.rstrip()}…"


def _head(canvas: Canvas, report: Report) -> None:
    top, gap = A4[1] - 14 * mm, 6 * mm
    taken = 0.0 if report.logo is None else draw_logo(canvas, report.logo) + gap
    width, right_end = WIDTH - taken, A4[0] - MARGIN - taken
    address = ", ".join(report.address.splitlines())
    lines = (
        (top, BOLD, 12.0, "ink", report.author, report.title),
        (top - 5 * mm, PLAIN, 9.0, "soft", address, f"{report.subject}, {report.date}"),
    )
    for y, font, size, ink, left, right in lines:
        canvas.setFillColor(INKS[ink])
        canvas.setFont(font, size)
        shown = _fitted(drawable(right), font, size, width * 0.6)
        room = width - pdfmetrics.stringWidth(shown, font, size) - gap
        canvas.drawString(MARGIN, y, _fitted(drawable(left), font, size, room))
        canvas.drawRightString(right_end, y, shown)
    canvas.setStrokeColor(INKS["ink"])
    canvas.setLineWidth(1.2)
    canvas.line(MARGIN, top - 8 * mm, A4[0] - MARGIN, top - 8 * mm)


class _Outlined(BaseDocTemplate):  # type: ignore[misc] # reportlab has no types
    """Gives the file an outline of its headings, by which a reader finds the way."""

    _marks = 0
    _deepest = -1

    @overrides
    def afterFlowable(self, flowable: Flowable) -> None:
        """Mark a heading that was just drawn; an outline goes down one level at a time."""
        if not hasattr(flowable, "outlined"):
            return
        text, level = flowable.outlined
        self._marks, self._deepest = self._marks + 1, min(level, self._deepest + 1)
        key = f"heading-{self._marks}"
        self.canv.bookmarkPage(key)
        self.canv.addOutlineEntry(text, key, self._deepest, 0)


def _spelled_out() -> Set:
    """Say what the brackets mean that stand for letters without a drawing."""
    return set_text(
        gettext(
            "[U+…]: letters that the typeface of this document does not have, written by their "
            "numbers in Unicode."
        ),
        "small",
    )


def _document(report: Report, file: io.BytesIO) -> BaseDocTemplate:
    document = _Outlined(
        file,
        pagesize=A4,
        title=f"{report.title}, {report.subject}",
        author=report.author,
        subject=report.subject,
        creator="Coldbus",
        lang=report.language,
        displayDocTitle=1,
        invariant=1,
    )
    frame = Frame(MARGIN, 17 * mm, WIDTH, A4[1] - 44 * mm, 0, 0, 0, 0, id="page")

    def on_page(canvas: _CountedCanvas, _template: BaseDocTemplate) -> None:
        canvas.report = report
        _head(canvas, report)

    document.addPageTemplates([PageTemplate(id="page", frames=[frame], onPage=on_page)])
    return document


def render_pdf(report: Report) -> bytes:
    """Draw a report.

    Parameters
    ----------
    report : Report
        The report as data; its texts are plain and are escaped here.

    Returns
    -------
    bytes
        The PDF, its own words in the report's language; the same report always gives the same
        bytes.
    """
    register_fonts()
    written = io.BytesIO()
    with override(report.language), spelling_out() as missed:
        flow = _flow(report.blocks)
        for text in (report.author, report.address, report.title, report.subject, report.signed):
            drawable(text)
        if missed:
            flow += [Spacer(0, 6), _spelled_out()]
        _document(report, written).build(flow, canvasmaker=_CountedCanvas)
    return written.getvalue()
