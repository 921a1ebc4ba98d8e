"""Draws a report as PDF; the only module that knows reportlab.

Every text that comes from people is escaped on its way into a paragraph. The twin of the
pictures on the page is `jobs.report.svg`.
"""

import io
import math
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, Final
from xml.sax.saxutils import escape

import font_source_sans_pro
from reportlab.graphics.shapes import Circle, Drawing, Group, Polygon, String
from reportlab.graphics.shapes import Line as DrawnLine
from reportlab.graphics.shapes import Rect as DrawnRect
from reportlab.lib.colors import Color, HexColor
from reportlab.lib.enums import TA_LEFT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
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

from jobs.core.picture import Disc, Label, Line, Picture, Rect
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

__all__ = ["render_pdf"]

PLAIN: Final = "Coldbus"
BOLD: Final = "Coldbus-Bold"
FONT_FILES: Final = {PLAIN: "SourceSansPro-Regular.ttf", BOLD: "SourceSansPro-Bold.ttf"}
INKS: Final = {
    "ink": HexColor("#1b2327"),
    "soft": HexColor("#5d676b"),
    "line": HexColor("#d3ccbd"),
    "petrol": HexColor("#0d5868"),
    "hv": HexColor("#e0660b"),
    "ok": HexColor("#1e6b3a"),
    "no": HexColor("#a3231b"),
    "maybe": HexColor("#8a5a00"),
    "paper": HexColor("#ffffff"),
}
MARGIN: Final = 16 * mm
WIDTH: Final = A4[0] - 2 * MARGIN
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
        "h1": _style("h1", 19, fontName=BOLD, spaceAfter=6),
        "h2": _style("h2", 12.5, fontName=BOLD, spaceBefore=12, spaceAfter=4),
        "h3": _style("h3", 10.5, fontName=BOLD, spaceBefore=8, spaceAfter=3),
    }


def _set(text: str, style: str) -> Set:
    """Set a text; whatever it holds, it is never markup."""
    plain = text.replace("\u2011", "-").replace("\u2126", "\u03a9")
    return Set(escape(plain).replace("\n", "<br/>"), _styles()[style])


# --- pictures ------------------------------------------------------------------------------


def _points(shape: Disc, count: int, turn: float, height: float) -> list[float]:
    points: list[float] = []
    for corner in range(count):
        angle = turn + 2 * math.pi * corner / count
        points += [
            (shape.x + shape.radius * math.cos(angle)) * mm,
            (height - shape.y - shape.radius * math.sin(angle)) * mm,
        ]
    return points


def _draw_disc(group: Group, shape: Disc, height: float) -> None:
    ink = INKS[shape.ink]
    if shape.form in {"octagon", "diamond"}:
        sides, turn = (8, math.pi / 8) if shape.form == "octagon" else (4, 0.0)
        filled = ink if shape.form == "octagon" else None
        points = _points(shape, sides, turn, height)
        group.add(Polygon(points, fillColor=filled, strokeColor=ink, strokeWidth=0.6 * mm))
        return
    fill = INKS["paper"] if shape.form == "ring" else ink
    place = (shape.x * mm, (height - shape.y) * mm, shape.radius * mm)
    group.add(Circle(*place, fillColor=fill, strokeColor=ink, strokeWidth=0.3 * mm))


def _draw_line(group: Group, shape: Line, height: float) -> None:
    ends = (shape.x1 * mm, (height - shape.y1) * mm, shape.x2 * mm, (height - shape.y2) * mm)
    dashes = [1.4 * mm, 1.2 * mm] if shape.dashed else None
    ink = INKS[shape.ink]
    group.add(
        DrawnLine(*ends, strokeColor=ink, strokeWidth=shape.width * mm, strokeDashArray=dashes)
    )


def _draw_rect(group: Group, shape: Rect, height: float) -> None:
    fill: Color | None = None if shape.fill is None else INKS[shape.fill]
    group.add(
        DrawnRect(
            shape.x * mm,
            (height - shape.y - shape.height) * mm,
            shape.width * mm,
            shape.height * mm,
            rx=shape.radius * mm,
            ry=shape.radius * mm,
            fillColor=fill,
            strokeColor=INKS[shape.ink],
            strokeWidth=shape.stroke * mm,
        )
    )


def _draw_label(group: Group, shape: Label, height: float) -> None:
    group.add(
        String(
            shape.x * mm,
            (height - shape.y) * mm,
            shape.text,
            fontName=BOLD if shape.bold else PLAIN,
            fontSize=shape.size * mm,
            fillColor=INKS[shape.ink],
            textAnchor=shape.anchor,
        )
    )


_DRAW: dict[type, Callable[[Group, Any, float], None]] = {
    Line: _draw_line,
    Rect: _draw_rect,
    Disc: _draw_disc,
    Label: _draw_label,
}


def _drawing(picture: Picture, width: float) -> Drawing:
    scale = min(width / (picture.width_mm * mm), 1.0)
    group = Group()
    for shape in picture.shapes:
        _DRAW[type(shape)](group, shape, picture.height_mm)
    group.scale(scale, scale)
    drawing = Drawing(picture.width_mm * mm * scale, picture.height_mm * mm * scale)
    drawing.add(group)
    return drawing


def _mark(verdict: str) -> Flowable | str:
    if verdict not in VERDICT_FORMS:
        return ""
    form, ink = VERDICT_FORMS[verdict]
    disc = Disc(x=2, y=2, radius=1.5, form=form, ink=ink)  # type: ignore[arg-type]
    shape = Picture(width_mm=4, height_mm=4, title="", description="", shapes=(disc,))
    return _drawing(shape, 4 * mm)


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
    drawn = [_drawing(picture, width) for picture in block.pictures]
    table = Tabled([titles, drawn], colWidths=[WIDTH / 2] * len(drawn), hAlign="LEFT")
    table.setStyle(
        TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0)])
    )
    return [KeepTogether([table]), Spacer(0, 6)]


def _ruled(rows: list[list[Any]], widths: list[float]) -> Tabled:
    table = Tabled(rows, colWidths=widths, repeatRows=1, hAlign="LEFT")
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


def _proof_cells(row: ProofRow) -> list[Any]:
    word = VERDICT_WORDS.get(row.verdict, "")
    return [
        _set(row.label, "cell"),
        _set(row.value, "bold"),
        _set(row.limit, "small"),
        _mark(row.verdict),
        _set(word, "cell"),
    ]


def _proof(block: Proof) -> list[Flowable]:
    head = [_set(text, "small") for text in ("Reading", "Value", "Limit and its source", "", "")]
    rows = [head, *(_proof_cells(row) for row in block.rows)]
    shares = (0.27, 0.26, 0.31, 0.04, 0.12)
    return [_ruled(rows, [WIDTH * share for share in shares])]


def _grid(block: Grid) -> list[Flowable]:
    rows: list[list[Any]] = [[_set(text, "small") for text in block.headings]]
    rows += [[_set(cell, "cell") for cell in row] for row in block.rows]
    return [_ruled(rows, [WIDTH / len(block.headings)] * len(block.headings))]


def _bullets(block: Bullets) -> list[Flowable]:
    lines = [_set(line, "body") for line in block.lines]
    return [ListFlowable(lines, bulletType="bullet", bulletFontSize=7, leftIndent=12, start="•")]


_BLOCKS: dict[type, Callable[[Any], list[Flowable]]] = {
    Heading: lambda block: [_set(block.text, f"h{block.level}")],
    Paragraph: lambda block: [_set(block.text, "soft" if block.soft else "body"), Spacer(0, 4)],
    Bullets: _bullets,
    Boxes: _boxes,
    Pictures: _pictures,
    Proof: _proof,
    Grid: _grid,
    NewPage: lambda _block: [PageBreak()],
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
