"""The instruments and protective equipment a job was worked with, as its entries keep them."""

from datetime import date
from typing import Any

from django.utils.translation import gettext

from jobs.core.item import Shape
from jobs.core.order import items_of
from jobs.core.record import Record
from jobs.steps import STEPS
from workshop import figures_text
from workshop.equipment import KINDS

__all__ = ["instrument_rows"]


def instrument_rows(record: Record) -> tuple[tuple[str, str, str, str], ...]:
    """Give each piece once: kind, label and serial, until when it is in date, in which steps.

    Parameters
    ----------
    record : Record
        The job; a piece stands with what was known of it when it was picked last.

    Returns
    -------
    tuple
        Rows of words, by kind and label.
    """
    used: dict[str, tuple[Any, dict[str, None]]] = {}
    for step in STEPS:
        for item in items_of(step, record):
            if item.shape is not Shape.EQUIPMENT:
                continue
            for entry in record.live.get(item.key, ()):
                piece = entry.value
                steps = used.get(piece["id"], (piece, {}))[1]
                used[piece["id"]] = (piece, {**steps, gettext(step.title): None})
    rows = (_row(piece, tuple(steps)) for piece, steps in used.values())
    return tuple(sorted(rows))


def _row(piece: Any, steps: tuple[str, ...]) -> tuple[str, str, str, str]:
    kind = KINDS.get(piece["kind"])
    named = ", ".join(filter(None, (piece.get("label"), piece.get("serial"))))
    due = piece.get("due_on")
    until = figures_text.day(date.fromisoformat(due)) if due else gettext("no date named")
    return gettext(kind.title) if kind else piece["kind"], named, until, ", ".join(steps)
