"""Draws a report as PDF: blocks to paragraphs and tables, pages with head and foot.

Every text that comes from people is escaped on its way into a paragraph. Pictures are drawn in
`jobs.report.pdf.drawing`; nothing else knows reportlab.
"""

import io
import math
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, Final
from xml.sax.saxutils import escape

import font_source_sans_pro
from reportlab.lib.enums import TA_LEFT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
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

from jobs.report.document import (
    Block,
    Boxes,
    Bullets,
    Grid,
    Heading,
    NewPage,
    Paragraph,
    Pictures,
    Proof,
    ProofRow,
    Report,
)
from jobs.report.pdf.drawing import BOLD, INKS, PLAIN, drawing
from packs.picture import Disc, Picture

__all__ = ["render_pdf"]

FONT_FILES: Final = {PLAIN: "SourceSansPro-Regular.ttf", BOLD: "SourceSansPro-Bold.ttf"}
MARGIN: Final = 16 * mm
WIDTH: Final = A4[0] - 2 * MARGIN
NARROW, LONG = 3, 9
"""Columns up to which, and rows from which, a table is set in two halves."""
VERDICT_FORMS: Final = {
    "pass": ("disc", "ok"),
    "fail": ("octagon", "no"),
    "undecided": ("diamond", "maybe"),
}
VERDICT_WORDS: Final = {"pass": "passed", "fail": "failed", "undecided": "undecided"}


@cache
def _register_fonts() -> None:
    folder = Path(font_source_sans_pro.__file__).parent / "files"
    for name, file in FONT_FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(folder / file)))
    pdfmetrics.registerFontFamily(PLAIN, normal=PLAIN, bold=BOLD, italic=PLAIN, boldItalic=BOLD)


def _style(name: str, size: float, **more: Any) -> ParagraphStyle:
    settings = {"fontName": PLAIN, "leading": size * 1.3, "textColor": INKS["ink"]}
    return ParagraphStyle(name, fontSize=size, alignment=TA_LEFT, **(settings | more))


@cache
def _styles() -> dict[str, ParagraphStyle]:
    soft = INKS["soft"]
    return {
        "body": _style("body", 10),
        "soft": _style("soft", 9.5, textColor=soft),
        "small": _style("small", 8.5, textColor=soft),
        "cell": _style("cell", 9),
        "bold": _style("bold", 9, fontName=BOLD),
        "box": _style("box", 12, fontName=BOLD),
        "h1": _style("h1", 19, fontName=BOLD, leading=23, spaceAfter=6),
        "h2": _style("h2", 12.5, fontName=BOLD, spaceBefore=14, spaceAfter=4, keepWithNext=1),
        "h3": _style("h3", 10.5, fontName=BOLD, spaceBefore=8, spaceAfter=3, keepWithNext=1),
    }


def _set(text: str, style: str) -> Set:
    """Set a text; whatever it holds, it is never markup."""
    plain = text.replace("\u2011", "-").replace("\u2126", "\u03a9")
    return Set(escape(plain).replace("\n", "<br/>"), _styles()[style])


def _mark(verdict: str) -> Flowable | str:
    if verdict not in VERDICT_FORMS:
        return ""
    form, ink = VERDICT_FORMS[verdict]
    disc = Disc(x=2, y=2, radius=1.5, form=form, ink=ink)  # type: ignore[arg-type]
    shape = Picture(width_mm=4, height_mm=4, title="", description="", shapes=(disc,))
    return drawing(shape, 4 * mm)


# --- blocks --------------------------------------------------------------------------------


def _boxes(block: Boxes) -> list[Flowable]:
    cells = [
        [_set(question, "small"), _set(answer, "box"), _set(remark, "small")]
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
    width = WIDTH / 2 - 6
    titles = [_set(picture.title, "h3") for picture in block.pictures]
    drawn = [drawing(picture, width) for picture in block.pictures]
    table = Tabled([titles, drawn], colWidths=[WIDTH / 2] * len(drawn), hAlign="LEFT")
    table.setStyle(
        TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0)])
    )
    return [KeepTogether([table]), Spacer(0, 6)]


def _ruled(rows: list[list[Any]], widths: list[float], heads: int = 1) -> Tabled:
    table = Tabled(rows, colWidths=widths, repeatRows=heads, hAlign="LEFT")
    table.setStyle(
        TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LINEBELOW", (0, 0), (-1, -1), 0.4, INKS["line"]),
                ("LEFTPADDING", (0, 0), (0, -1), 0),
                ("TOPPADDING", (0, 0), (-1, -1), 3),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
            ]
        )
    )
    return table


def _proof_cells(row: ProofRow, *, limits: bool) -> list[Any]:
    verdict = [_mark(row.verdict), _set(VERDICT_WORDS.get(row.verdict, ""), "cell")]
    limit = [_set(row.limit, "small")] if limits else []
    return [_set(row.label, "cell"), _set(row.value, "bold"), *limit, *verdict]


def _proof(block: Proof) -> list[Flowable]:
    """Set the proof as one table; each step's title stands in a row of its own."""
    heads = ("Reading", "Value", "Limit and its source", "", "") if block.limits else ()
    rows: list[list[Any]] = [[_set(text, "small") for text in heads]] if heads else []
    shares = (0.27, 0.26, 0.31, 0.04, 0.12) if block.limits else (0.30, 0.54, 0.04, 0.12)
    titles = []
    for title, lines in block.parts:
        titles.append(len(rows))
        rows.append([_set(title, "h3"), *[""] * (len(shares) - 1)])
        rows += [_proof_cells(row, limits=block.limits) for row in lines]
    if len(rows) == len(heads[:1]):
        return []
    table = _ruled(rows, [WIDTH * share for share in shares], heads=len(heads[:1]))
    table.setStyle(TableStyle([("SPAN", (0, row), (-1, row)) for row in titles]))
    return [table, Spacer(0, 6)]


def _grid(block: Grid) -> list[Flowable]:
    """Set a table; a long narrow one in two halves side by side."""
    heads, rows = block.headings, [list(row) for row in block.rows]
    if len(heads) <= NARROW and len(rows) > LONG:
        half = math.ceil(len(rows) / 2)
        beside = [*rows[half:], *[[""] * len(heads)] * (2 * half - len(rows))]
        rows = [left + right for left, right in zip(rows[:half], beside, strict=True)]
        heads = (*heads, *heads)
    cells: list[list[Any]] = [[_set(text, "small") for text in heads]]
    cells += [[_set(cell, "cell") for cell in row] for row in rows]
    return [_ruled(cells, [WIDTH / len(heads)] * len(heads)), Spacer(0, 4)]


def _bullets(block: Bullets) -> list[Flowable]:
    lines = [_set(line, "body") for line in block.lines]
    return [ListFlowable(lines, bulletType="bullet", bulletFontSize=10, leftIndent=12, start="•")]


def _new_page(block: NewPage) -> list[Flowable]:
    return [CondPageBreak(block.unless_mm * mm) if block.unless_mm else PageBreak()]


_BLOCKS: dict[type, Callable[[Any], list[Flowable]]] = {
    Heading: lambda block: [_set(block.text, f"h{block.level}")],
    Paragraph: lambda block: [_set(block.text, "soft" if block.soft else "body"), Spacer(0, 4)],
    Bullets: _bullets,
    Boxes: _boxes,
    Pictures: _pictures,
    Proof: _proof,
    Grid: _grid,
    NewPage: lambda block: (
        [CondPageBreak(block.unless_mm * mm)] if block.unless_mm else [PageBreak()]
    ),
}


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
        self.drawString(MARGIN, 10 * mm, report.signed)
        right = f"Record head {report.head[:12]} · page {number} of {count}"
        self.drawRightString(A4[0] - MARGIN, 10 * mm, right)


def _head(canvas: Canvas, report: Report) -> None:
    top = A4[1] - 14 * mm
    canvas.setFillColor(INKS["ink"])
    canvas.setFont(BOLD, 12)
    canvas.drawString(MARGIN, top, report.author)
    canvas.drawRightString(A4[0] - MARGIN, top, report.title)
    canvas.setFont(PLAIN, 9)
    canvas.setFillColor(INKS["soft"])
    canvas.drawString(MARGIN, top - 5 * mm, ", ".join(report.address.splitlines()))
    canvas.drawRightString(A4[0] - MARGIN, top - 5 * mm, f"{report.subject}, {report.date}")
    canvas.setStrokeColor(INKS["ink"])
    canvas.setLineWidth(1.2)
    canvas.line(MARGIN, top - 8 * mm, A4[0] - MARGIN, top - 8 * mm)


def render_pdf(report: Report) -> bytes:
    """Draw a report.

    Parameters
    ----------
    report : Report
        The report as data; its texts are plain and are escaped here.

    Returns
    -------
    bytes
        The PDF; the same report always gives the same bytes.
    """
    _register_fonts()
    written = io.BytesIO()
    template = BaseDocTemplate(
        written,
        pagesize=A4,
        title=f"{report.title}, {report.subject}",
        author=report.author,
        subject=report.subject,
        lang=report.language,
        invariant=1,
    )
    frame = Frame(MARGIN, 17 * mm, WIDTH, A4[1] - 44 * mm, 0, 0, 0, 0, id="page")

    def on_page(canvas: _CountedCanvas, _template: BaseDocTemplate) -> None:
        canvas.report = report
        _head(canvas, report)

    template.addPageTemplates([PageTemplate(id="page", frames=[frame], onPage=on_page)])
    template.build(_flow(report.blocks), canvasmaker=_CountedCanvas)
    return written.getvalue()
