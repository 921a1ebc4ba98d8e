"""Draws a picture as SVG for the page; its twin in the PDF belongs to the jobs. No Django."""

import math
from collections.abc import Iterator
from html import escape

from packs.picture import Disc, Label, Line, Picture, Rect, Stroke

__all__ = ["svg"]

MARGIN_MM = 0.6


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _line(shape: Line) -> str:
    dashes = ' stroke-dasharray="1.4 1.2"' if shape.dashed else ""
    return (
        f'<line x1="{_number(shape.x1)}" y1="{_number(shape.y1)}" x2="{_number(shape.x2)}" '
        f'y2="{_number(shape.y2)}" class="stroke-{shape.ink}" '
        f'stroke-width="{_number(shape.width)}"{dashes}/>'
    )


def _hatching(shape: Rect) -> Iterator[str]:
    """Draw diagonal lines inside a rectangle, the denser the higher the probability."""
    if shape.hatch <= 0:
        return
    gap = 3.4 - 2.4 * min(shape.hatch, 1.0)
    offset = gap
    while offset < shape.width + shape.height:
        x1, y1 = max(0.0, offset - shape.height), min(offset, shape.height)
        x2, y2 = min(offset, shape.width), max(0.0, offset - shape.width)
        yield _line(
            Line(
                x1=shape.x + x1,
                y1=shape.y + y1,
                x2=shape.x + x2,
                y2=shape.y + y2,
                ink="petrol",
                width=0.35,
            )
        )
        offset += gap


def _rect(shape: Rect) -> str:
    fill = f"fill-{shape.fill}" if shape.fill is not None else "fill-none"
    box = (
        f'<rect x="{_number(shape.x)}" y="{_number(shape.y)}" width="{_number(shape.width)}" '
        f'height="{_number(shape.height)}" rx="{_number(shape.radius)}" '
        f'class="stroke-{shape.ink} {fill}" stroke-width="{_number(shape.stroke)}"/>'
    )
    return box + "".join(_hatching(shape))


def _corners(shape: Disc, count: int, turn: float) -> str:
    angles = (turn + 2 * math.pi * corner / count for corner in range(count))
    return " ".join(
        f"{_number(shape.x + shape.radius * math.cos(angle))},"
        f"{_number(shape.y + shape.radius * math.sin(angle))}"
        for angle in angles
    )


def _disc(shape: Disc) -> str:
    if shape.form == "octagon":
        return f'<polygon points="{_corners(shape, 8, math.pi / 8)}" class="fill-{shape.ink}"/>'
    if shape.form == "diamond":
        points = _corners(shape, 4, 0.0)
        return (
            f'<polygon points="{points}" class="fill-none stroke-{shape.ink}" stroke-width="0.6"/>'
        )
    place = f'cx="{_number(shape.x)}" cy="{_number(shape.y)}" r="{_number(shape.radius)}"'
    if shape.form == "ring":
        return f'<circle {place} class="fill-paper stroke-{shape.ink}" stroke-width="0.6"/>'
    return f'<circle {place} class="fill-{shape.ink}"/>'


def _label(shape: Label) -> str:
    weight = ' font-weight="700"' if shape.bold else ""
    return (
        f'<text x="{_number(shape.x)}" y="{_number(shape.y)}" font-size="{_number(shape.size)}" '
        f'text-anchor="{shape.anchor}" class="fill-{shape.ink}"{weight}>'
        f"{escape(shape.text)}</text>"
    )


def _stroke(shape: Stroke) -> str:
    points = " ".join(f"{_number(x)},{_number(y)}" for x, y in shape.points)
    return (
        f'<polyline points="{points}" class="fill-none stroke-{shape.ink}" '
        f'stroke-width="{_number(shape.width)}" stroke-linecap="round"/>'
    )


def _drawn(shape: Line | Rect | Disc | Label | Stroke) -> str:
    match shape:
        case Line():
            return _line(shape)
        case Rect():
            return _rect(shape)
        case Disc():
            return _disc(shape)
        case Label():
            return _label(shape)
        case Stroke():
            return _stroke(shape)


def svg(picture: Picture) -> str:
    """Draw a picture as an SVG element with title and description for screen readers.

    Parameters
    ----------
    picture : Picture
        The picture, in millimetres.

    Returns
    -------
    str
        The element; every text in it is escaped.
    """
    width, height = picture.width_mm + 2 * MARGIN_MM, picture.height_mm + 2 * MARGIN_MM
    body = "".join(_drawn(shape) for shape in picture.shapes)
    return (
        f'<svg class="picture" role="img" viewBox="{-MARGIN_MM} {-MARGIN_MM} '
        f'{_number(width)} {_number(height)}" xmlns="http://www.w3.org/2000/svg">'
        f"<title>{escape(picture.title)}</title><desc>{escape(picture.description)}</desc>"
        f"{body}</svg>"
    )
