"""Draws what only a quotation has: the parties, the priced lines with their sums, room to sign."""

from typing import Any, Final

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Spacer, TableStyle
from reportlab.platypus import Table as Tabled

from jobs.report.blocks import AnswerLines, Parties, Priced
from jobs.report.pdf.drawing import INKS
from jobs.report.pdf.look import WIDTH, ruled, set_text

__all__ = ["answer_lines", "parties", "priced"]

SHARES: Final = {5: (0.06, 0.5, 0.14, 0.15, 0.15), 6: (0.06, 0.42, 0.14, 0.14, 0.1, 0.14)}
"""Share of each column in the width, without and with a column for the tax."""
WORDS: Final = 2
"""Columns that hold words; those after them hold amounts."""
SUM_SHARE: Final = 0.6
SIGN_MM, GAP_MM = 9, 6


def parties(block: Parties) -> list[Flowable]:
    """Set who it is for and what it is about beside each other."""
    cells = [
        [set_text(title, "small"), *(set_text(line, "body") for line in lines if line)]
        for title, lines in block.columns
    ]
    table = Tabled([cells], colWidths=[WIDTH / len(cells)] * len(cells), hAlign="LEFT")
    table.setStyle(
        TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (0, -1), 0)])
    )
    return [table, Spacer(0, 4)]


def _row(cells: tuple[str, ...], words: str, amounts: str) -> list[Any]:
    return [
        set_text(cell, words if column < WORDS else amounts) for column, cell in enumerate(cells)
    ]


def priced(block: Priced) -> list[Flowable]:
    """Set lines with right-aligned amounts, headings on every page, and the sums under them."""
    flow: list[Flowable] = []
    if block.rows:
        shares = SHARES[len(block.headings)]
        rows = [_row(block.headings, "small", "amount head")]
        rows += [_row(row, "cell", "amount") for row in block.rows]
        flow.append(ruled(rows, [WIDTH * share for share in shares]))
    return [*flow, *(_sums(block) if block.sums else ()), Spacer(0, 4)]


def _sums(block: Priced) -> list[Flowable]:
    last = len(block.sums) - 1
    sums = [
        [
            set_text(label, "sum" if place == last else "amount"),
            set_text(amount, "sum" if place == last else "amount"),
        ]
        for place, (label, amount) in enumerate(block.sums)
    ]
    under = Tabled(sums, colWidths=[WIDTH * (SUM_SHARE - 0.25), WIDTH * 0.25], hAlign="RIGHT")
    under.setStyle(
        TableStyle(
            [
                ("LINEABOVE", (0, last), (-1, last), 1.0, INKS["ink"]),
                ("TOPPADDING", (0, 0), (-1, -1), 3),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
            ]
        )
    )
    return [KeepTogether([Spacer(0, 4), under])]


def _tick_box() -> Tabled:
    box = Tabled([[""]], colWidths=[4 * mm], rowHeights=[4 * mm])
    box.setStyle(TableStyle([("BOX", (0, 0), (-1, -1), 0.8, INKS["ink"])]))
    return box


def answer_lines(block: AnswerLines) -> list[Flowable]:
    """Set a box to tick for each answer, and lines to write name, day and signature on."""
    ticks = [[_tick_box(), set_text(answer, "body")] for answer in block.answers]
    ticked = Tabled(ticks, colWidths=[9 * mm, WIDTH - 9 * mm], hAlign="LEFT")
    ticked.setStyle(
        TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (0, -1), 0)])
    )
    gaps = (GAP_MM * mm,) * (len(block.labels) - 1)
    width = (WIDTH - sum(gaps)) / len(block.labels)
    labels: list[Any] = [set_text(block.labels[0], "small")]
    for label in block.labels[1:]:
        labels += ["", set_text(label, "small")]
    lines = Tabled(
        [[""] * len(labels), labels],
        colWidths=[width, *(each for gap in gaps for each in (gap, width))],
        rowHeights=[SIGN_MM * mm, None],
        hAlign="LEFT",
    )
    under = [
        ("LINEBELOW", (column, 0), (column, 0), 0.8, INKS["ink"])
        for column in range(0, len(labels), 2)
    ]
    lines.setStyle(TableStyle([*under, ("LEFTPADDING", (0, 0), (-1, -1), 0)]))
    return [KeepTogether([ticked, lines]), Spacer(0, 6)]
