"""The list of tests and calibrations due, as a document for an inspector."""

from collections.abc import Iterable
from datetime import date

from django.utils.translation import gettext

from jobs.report.blocks import Grid, Paragraph, Report
from workshop import figures_text
from workshop import queries as shop
from workshop.registers import EquipmentInfo
from workshop.shelf import LAPSING, USABLE, state_of

__all__ = ["due_list_of"]

_WORDS = {USABLE: "usable", LAPSING: "usable, lapses soon", "withdrawn": "withdrawn"}
_SHARES = (0.11, 0.15, 0.2, 0.13, 0.11, 0.17, 0.13)


def _state(piece: EquipmentInfo, today: date) -> str:
    words = _WORDS.get(state_of(piece, today))
    if words is not None:
        return gettext(words)
    return f"{gettext('not usable')}: {piece.reason}" if piece.reason else gettext("not usable")


def _row(piece: EquipmentInfo, today: date) -> tuple[str, ...]:
    return (
        figures_text.day(piece.due_on),
        piece.label,
        gettext(piece.kind_title),
        piece.serial or figures_text.NONE,
        figures_text.day(piece.tested_on),
        _state(piece, today),
        "",
    )


def due_list_of(pieces: Iterable[EquipmentInfo], today: date) -> Report:
    """Make the list of tests and calibrations due.

    Parameters
    ----------
    pieces : Iterable[EquipmentInfo]
        As they are to stand, due soonest first.
    today : date
        The workshop's day.

    Returns
    -------
    Report
        One row a piece, with room for who sent or tested it.
    """
    here, rows = shop.shop(), tuple(_row(piece, today) for piece in pieces)
    headings = ("Due", "Label", "Kind", "Serial", "Last test", "State", "Sent or tested, by")
    nothing = Paragraph(gettext("Nothing fits."))
    table = Grid(tuple(gettext(each) for each in headings), rows, _SHARES) if rows else nothing
    note = gettext(
        "What the list does not show is not thereby good: the register counts days, it does not "
        "look at the piece. Look at each piece before each use."
    )
    return Report(
        title=gettext("Tests and calibrations due"),
        author=here.name,
        address=here.address,
        number="",
        subject=gettext("Equipment"),
        date=figures_text.day(today),
        signed="",
        head="",
        language="en",
        blocks=(table, Paragraph(note, soft=True)),
    )
