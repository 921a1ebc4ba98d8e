"""The list of equipment: in what state a piece stands, and which pieces a filter means.

Pure: the rows are read by ``workshop.queries`` and ``today`` is an argument.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from workshop.registers import EquipmentInfo

SOON_DAYS: Final = 14
"""Days ahead in which a piece that lapses is called lapsing."""

IN_USE: Final = ""
USABLE: Final = "usable"
LAPSING: Final = "lapsing"
NOT_USABLE: Final = "not_usable"
WITHDRAWN: Final = "withdrawn"

STATES: Final = {
    IN_USE: "All in use",
    USABLE: "Usable",
    LAPSING: "Lapsing within 14 days",
    NOT_USABLE: "Not usable",
    WITHDRAWN: "Withdrawn",
}
"""State to filter by, with its title."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a list of equipment is to show."""

    search: str = ""
    kind: str = ""
    state: str = IN_USE


def is_lapsing(piece: EquipmentInfo, today: date) -> bool:
    """Say whether a piece that may be used today lapses within 14 days."""
    last = today + timedelta(days=SOON_DAYS)
    return piece.usable and piece.due_on is not None and piece.due_on <= last


def state_of(piece: EquipmentInfo, today: date) -> str:
    """Give the one state that a row shows."""
    if piece.withdrawn_at is not None:
        return WITHDRAWN
    if not piece.usable:
        return NOT_USABLE
    return LAPSING if is_lapsing(piece, today) else USABLE


def _is_meant(piece: EquipmentInfo, wanted: Wanted, today: date) -> bool:
    state = state_of(piece, today)
    # What lapses soon may be used today.
    states = {USABLE: {USABLE, LAPSING}, IN_USE: {USABLE, LAPSING, NOT_USABLE}}
    text = f"{piece.label} {piece.serial} {piece.kind_title} {piece.certificate}".casefold()
    return (
        wanted.kind in {"", piece.kind}
        and state in states.get(wanted.state, {wanted.state})
        and all(word in text for word in wanted.search.casefold().split())
    )


def _due(piece: EquipmentInfo) -> tuple[bool, date, str]:
    """Sort what cannot be used for want of a date first, what needs none last."""
    undated = date.max if piece.usable or piece.withdrawn_at else date.min
    return piece.usable and piece.due_on is None, piece.due_on or undated, piece.label


def meant(
    pieces: Iterable[EquipmentInfo], wanted: Wanted, today: date
) -> tuple[EquipmentInfo, ...]:
    """Give the pieces that are wanted, due soonest first.

    Parameters
    ----------
    pieces : Iterable of EquipmentInfo
        Every piece, withdrawn ones too.
    wanted : Wanted
        Search text, kind and state; an unknown state finds nothing.
    today : date
        Local date in the workshop's zone.

    Returns
    -------
    tuple of EquipmentInfo
        Those that fit.
    """
    return tuple(sorted((p for p in pieces if _is_meant(p, wanted, today)), key=_due))
