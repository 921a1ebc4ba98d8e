"""The look that all blocks of a PDF share: fonts, sizes, margins, the one way to set a text.

Every text that comes from people is escaped in `set_text` on its way into a paragraph.
"""

from functools import cache
from pathlib import Path
from typing import Any, Final
from xml.sax.saxutils import escape

import font_source_sans_pro
from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Paragraph as Set
from reportlab.platypus import Table as Tabled
from reportlab.platypus import TableStyle

from jobs.report.pdf.drawing import BOLD, INKS, PLAIN

__all__ = ["MARGIN", "WIDTH", "register_fonts", "ruled", "set_text"]

FONT_FILES: Final = {PLAIN: "SourceSansPro-Regular.ttf", BOLD: "SourceSansPro-Bold.ttf"}
MARGIN: Final = 16 * mm
WIDTH: Final = A4[0] - 2 * MARGIN


@cache
def register_fonts() -> None:
    """Make the fonts known, once."""
    folder = Path(font_source_sans_pro.__file__).parent / "files"
    for name, file in FONT_FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(folder / file)))
    pdfmetrics.registerFontFamily(PLAIN, normal=PLAIN, bold=BOLD, italic=PLAIN, boldItalic=BOLD)


def _style(name: str, size: float, **more: Any) -> ParagraphStyle:
    settings = {
        "fontName": PLAIN,
        "leading": size * 1.3,
        "textColor": INKS["ink"],
        "alignment": TA_LEFT,
    }
    return ParagraphStyle(name, fontSize=size, **(settings | more))


@cache
def _styles() -> dict[str, ParagraphStyle]:
    soft = INKS["soft"]
    return {
        "body": _style("body", 10),
        "soft": _style("soft", 9.5, textColor=soft),
        "small": _style("small", 8.5, textColor=soft),
        "cell": _style("cell", 9),
        "bold": _style("bold", 9, fontName=BOLD),
        "amount": _style("amount", 9, alignment=TA_RIGHT),
        "amount head": _style("amount head", 8.5, textColor=soft, alignment=TA_RIGHT),
        "sum": _style("sum", 11, fontName=BOLD, alignment=TA_RIGHT),
        "box": _style("box", 12, fontName=BOLD),
        "h1": _style("h1", 19, fontName=BOLD, leading=23, spaceAfter=6),
        "h2": _style("h2", 12.5, fontName=BOLD, spaceBefore=14, spaceAfter=4, keepWithNext=1),
        "h3": _style("h3", 10.5, fontName=BOLD, spaceBefore=8, spaceAfter=3, keepWithNext=1),
    }


def set_text(text: str, style: str) -> Set:
    """Set a text; whatever it holds, it is never markup."""
    plain = text.replace("\u2011", "-").replace("\u2126", "\u03a9")
    return Set(escape(plain).replace("\n", "<br/>"), _styles()[style])


def ruled(rows: list[list[Any]], widths: list[float], heads: int = 1) -> Tabled:
    """Lay out a table with a thin line under each row; widths in points."""
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
