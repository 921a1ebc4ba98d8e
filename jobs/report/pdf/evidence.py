"""Draws what only a technical record has: photos, and calculations with the numbers put in."""

import io
import re
from collections.abc import Sequence
from typing import Any, Final

from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.platypus import Flowable, Image, KeepTogether, Spacer, TableStyle
from reportlab.platypus import Table as Tabled

from jobs.report.blocks import Photo, Photos, Working, WorkingLine
from jobs.report.pdf.drawing import INKS
from jobs.report.pdf.lettering import PLAIN, register_fonts
from jobs.report.pdf.look import WIDTH, ruled, set_text

__all__ = ["fitted", "photos", "room_of", "working"]

BESIDE: Final = 2
PHOTO_MM: Final = (84.0, 52.0)
"""The largest a photo is drawn; three rows of two fill a page."""
SHARES: Final = (0.05, 0.41, 0.54)
"""Number, words and arithmetic of a step."""
ON_ONE_LINE: Final = 74
"""Letters up to which formula, numbers and result of a step stand on one line."""
FINE: Final = 7.5
"""Size of the letters of a step, as in the style of that name [points]."""
INSIDE: Final = 6.0
"""Between the columns of a small table inside a step [points]."""
COLUMNS: Final = re.compile(r" {2,}")
"""What parts them in its text."""
FIGURE: Final = re.compile(r"(?<![\w.])(-?\d[\d.e+-]*) (?=[^\W\d_]|[%°])")
"""A number, before the space between it and its unit."""


def _drawn(photo: Photo) -> Flowable:
    """Set a photo as large as its place allows, or an empty place of its size."""
    if photo.content is None:
        empty = Tabled([[set_text(photo.title, "cell")]], colWidths=[PHOTO_MM[0] * mm])
        empty.setStyle(TableStyle([("BOX", (0, 0), (-1, -1), 0.8, INKS["no"])]))
        return empty
    width_px, height_px = ImageReader(io.BytesIO(photo.content)).getSize()
    scale = min(PHOTO_MM[0] * mm / width_px, PHOTO_MM[1] * mm / height_px)
    picture = Image(io.BytesIO(photo.content), width_px * scale, height_px * scale)
    picture.hAlign = "LEFT"
    return picture


def _photo(photo: Photo) -> list[Flowable]:
    words = [] if photo.content is None else [set_text(photo.title, "cell")]
    return [_drawn(photo), Spacer(0, 3), *words, *(set_text(line, "fine") for line in photo.lines)]


def photos(block: Photos) -> list[Flowable]:
    """Set photos two and two, each with its words under it; a row is not torn apart."""
    flow: list[Flowable] = []
    for first in range(0, len(block.photos), BESIDE):
        cells: list[Any] = [_photo(each) for each in block.photos[first : first + BESIDE]]
        cells += [""] * (BESIDE - len(cells))
        row = Tabled([cells], colWidths=[WIDTH / BESIDE] * BESIDE, hAlign="LEFT")
        row.setStyle(
            TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0)])
        )
        flow += [KeepTogether([row]), Spacer(0, 4)]
    return flow


def _table(text: str) -> Tabled:
    """Set the small table inside a step; a number stands beside its unit where there is room."""
    room = WIDTH * SHARES[2] - 2 * INSIDE
    rows, columns = _cells(FIGURE.sub("\\1\u00a0", text))
    if sum(map(_least, columns)) > room:
        rows, columns = _cells(text)
    alone = [place for place, row in enumerate(rows) if len(row) == 1 < len(columns)]
    rows = [row + [""] * (len(columns) - len(row)) for row in rows]
    widths = fitted(columns, room)
    cells = [[set_text(cell, "fine") for cell in row] for row in rows]
    table = Tabled(cells, colWidths=widths, hAlign="LEFT")
    table.setStyle(
        TableStyle(
            [
                *(("SPAN", (0, place), (-1, place)) for place in alone),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (-1, -1), INSIDE),
                ("TOPPADDING", (0, 0), (-1, -1), 0),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
            ]
        )
    )
    return table


def _cells(text: str) -> tuple[list[list[str]], list[tuple[str, ...]]]:
    """Part a table into its rows, and into columns, without the words that stand below it."""
    rows = [COLUMNS.split(row.strip(" ")) for row in text.splitlines()]
    most = max(map(len, rows))
    beside = [row + [""] * (most - len(row)) for row in rows if most == 1 or len(row) > 1]
    return rows, list(zip(*beside, strict=True))


def _least(column: Sequence[str]) -> float:
    """Give the room of a column's longest word [points]."""
    return max(map(room_of, " ".join(column).split(" ")))


def fitted(columns: Sequence[Sequence[str]], room: float) -> list[float]:
    """Give each column its room: what is short of it is taken where words can go on below.

    Parameters
    ----------
    columns : Sequence[Sequence[str]]
        The cells of each.
    room : float
        For all of them [points].

    Returns
    -------
    widths : list[float]
        At most `room` together; no word is broken while the longest of each column fit in.
    """
    whole = [max(map(room_of, column)) for column in columns]
    least = list(map(_least, columns))
    spare = room - sum(least)
    if spare <= 0.0:
        return [width * room / sum(least) for width in least]
    more = sum(whole) - sum(least)
    share = min(1.0, spare / more) if more else 0.0
    return [low + share * (high - low) for low, high in zip(least, whole, strict=True)]


def room_of(cell: str) -> float:
    """Give the room that a cell needs without a break [points]."""
    register_fonts()
    return float(pdfmetrics.stringWidth(cell, PLAIN, FINE)) + INSIDE + 1.0


def _arithmetic(line: WorkingLine) -> list[Flowable]:
    """Set formula, numbers and result after each other, each after its sign of equality."""
    if "\n" in line.numbers:
        around = (line.formula, f"= {line.value}" if line.value else "")
        before, after = ([set_text(text, "fine")] if text else [] for text in around)
        return [*before, _table(line.numbers), *after]
    given = [part for part in (line.formula, line.numbers, line.value) if part]
    one = " = ".join(given)
    return [set_text(one if len(one) <= ON_ONE_LINE else "\n= ".join(given), "fine")]


def working(block: Working) -> list[Flowable]:
    """Set the steps of a calculation as a table of number, words and arithmetic."""
    rows: list[list[Any]] = []
    number, alone = 0, []
    for line in block.lines:
        if not (line.formula or line.numbers or line.value):
            alone.append(len(rows))
            rows.append([set_text(line.what, "fine"), "", ""])
            continue
        number += 1
        words = [set_text(cell, "fine") for cell in (str(number), line.what)]
        rows.append([*words, _arithmetic(line)])
    if not rows:
        return []
    table = ruled(rows, [WIDTH * share for share in SHARES], heads=0)
    table.setStyle(
        TableStyle(
            [
                *(("SPAN", (0, row), (-1, row)) for row in alone),
                ("TOPPADDING", (0, 0), (-1, -1), 1.5),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
            ]
        )
    )
    return [table, Spacer(0, 4)]
