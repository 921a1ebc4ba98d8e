"""Draws the pictures of a report for the PDF; its twin on the page is `packs.svg`.

Here too: the inks, which the rest of the PDF shares.
"""

import math
from collections.abc import Callable
from typing import Any, Final

from reportlab.graphics.shapes import Circle, Drawing, Group, Polygon, PolyLine, String
from reportlab.graphics.shapes import Line as DrawnLine
from reportlab.graphics.shapes import Rect as DrawnRect
from reportlab.lib.colors import Color, HexColor
from reportlab.lib.units import mm

from jobs.report.pdf.lettering import BOLD, PLAIN, drawable
from packs.picture import Disc, Label, Line, Picture, Rect, Stroke

__all__ = ["INKS", "drawing"]

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
            drawable(shape.text),
            fontName=BOLD if shape.bold else PLAIN,
            fontSize=shape.size * mm,
            fillColor=INKS[shape.ink],
            textAnchor=shape.anchor,
        )
    )


def _draw_stroke(group: Group, shape: Stroke, height: float) -> None:
    points = [each for x, y in shape.points for each in (x * mm, (height - y) * mm)]
    if len(shape.points) > 1:
        group.add(
            PolyLine(
                points,
                strokeColor=INKS[shape.ink],
                strokeWidth=shape.width * mm,
                strokeLineCap=1,
                strokeLineJoin=1,
            )
        )


_DRAW: dict[type, Callable[[Group, Any, float], None]] = {
    Line: _draw_line,
    Rect: _draw_rect,
    Disc: _draw_disc,
    Label: _draw_label,
    Stroke: _draw_stroke,
}


def drawing(picture: Picture, width: float, largest: float = 1.0) -> Drawing:
    """Draw a picture, made smaller where it is wider than there is room.

    Parameters
    ----------
    picture : Picture
        The picture, in millimetres.
    width : float
        Room [points].
    largest : float
        How many times larger than its own size it may become [1].

    Returns
    -------
    Drawing
        What goes into the flow of the page.
    """
    scale = min(width / (picture.width_mm * mm), largest)
    group = Group()
    for shape in picture.shapes:
        _DRAW[type(shape)](group, shape, picture.height_mm)
    group.scale(scale, scale)
    drawing = Drawing(picture.width_mm * mm * scale, picture.height_mm * mm * scale)
    drawing.add(group)
    return drawing
