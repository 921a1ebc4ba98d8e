"""The look that all blocks of a PDF share: fonts, sizes, margins, the one way to set a text.

Every text that comes from people is escaped in `set_text` on its way into a paragraph; what the
typeface cannot draw is spelled out on the same way (`lettering`).
"""

import io
from functools import cache
from typing import Any, Final
from xml.sax.saxutils import escape

from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph as Set
from reportlab.platypus import Table as Tabled
from reportlab.platypus import TableStyle

from jobs.report.pdf.drawing import INKS
from jobs.report.pdf.lettering import BOLD, PLAIN, drawable

__all__ = ["LOGO_MM", "MARGIN", "WIDTH", "draw_logo", "ruled", "set_text"]

MARGIN: Final = 16 * mm
WIDTH: Final = A4[0] - 2 * MARGIN
LOGO_MM: Final = (40.0, 16.0)
"""The largest a logo is drawn: width and height."""
TOP: Final = A4[1] - 9 * mm
"""Where the top of a logo lies [points]."""


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
        "fine": _style("fine", 7.5),
        "bold": _style("bold", 9, fontName=BOLD),
        "amount": _style("amount", 9, alignment=TA_RIGHT),
        "amount head": _style("amount head", 8.5, textColor=soft, alignment=TA_RIGHT),
        "sum": _style("sum", 11, fontName=BOLD, alignment=TA_RIGHT),
        "box": _style("box", 12, fontName=BOLD),
        "h1": _style("h1", 19, fontName=BOLD, leading=23, spaceAfter=6),
        "h2": _style("h2", 12.5, fontName=BOLD, spaceBefore=14, spaceAfter=4),
        "h4": _style("h4", 9, fontName=BOLD, spaceBefore=5, spaceAfter=2),
        "h3": _style("h3", 10.5, fontName=BOLD, spaceBefore=8, spaceAfter=3),
    }


def set_text(text: str, style: str) -> Set:
    """Set a text; whatever it holds, it is never markup."""
    return Set(escape(drawable(text)).replace("\n", "<br/>"), _styles()[style])


def draw_logo(canvas: Canvas, logo: bytes) -> float:
    """Draw a logo at the top right, as large as its place allows.

    Parameters
    ----------
    canvas : Canvas
        The page.
    logo : bytes
        A PNG or JPEG that was checked when it was taken in.

    Returns
    -------
    float
        The width it takes [points].
    """
    picture = ImageReader(io.BytesIO(logo))
    width_px, height_px = picture.getSize()
    scale = min(LOGO_MM[0] * mm / width_px, LOGO_MM[1] * mm / height_px)
    width, height = width_px * scale, height_px * scale
    place = (A4[0] - MARGIN - width, TOP - height, width, height)
    canvas.drawImage(picture, *place, mask="auto")
    return float(width)


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
