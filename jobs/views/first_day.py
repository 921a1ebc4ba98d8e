"""What a new workshop still has to enter before its first job can go beyond intake."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.utils.translation import gettext

from packs import queries as packs
from workshop import queries as shop
from workshop.people import MANAGER

__all__ = ["ToEnter", "to_enter"]

NEEDED_KINDS: Final = ("two_pole_indicator", "proving_unit", "gloves", "meter", "insulation_tester")
"""Equipment without which no circuit is proven dead and no isolation read."""

TWO: Final = 2
"""Live work needs two people."""


@dataclass(frozen=True, slots=True)
class ToEnter:
    """One thing that is missing, and the name of the page where it is entered."""

    what: str
    page: str


def _missing(today: date) -> Iterator[ToEnter]:
    if not shop.shop().name:
        yield ToEnter(gettext("The workshop's name and address"), "shop:settings")
    able = [
        each
        for each in shop.people()
        if any(q.code in {"live_work", "second_person"} for q in each.qualifications)
    ]
    if len(able) < TWO:
        yield ToEnter(gettext("Two people qualified for live work"), "shop:people")
    kinds = {piece.kind for piece in shop.all_equipment(today)}
    if not kinds.issuperset(NEEDED_KINDS):
        yield ToEnter(
            gettext("Meters, indicator, proving unit, gloves, with their tests"), "shop:equipment"
        )
    if not packs.packs_list():
        yield ToEnter(gettext("A pack definition"), "packs:packs")


def to_enter(role: str, today: date) -> tuple[ToEnter, ...]:
    """Give what is missing, for a manager; nothing for others, who cannot enter it.

    Parameters
    ----------
    role : str
        Who looks.
    today : date
        The workshop's day.

    Returns
    -------
    tuple[ToEnter, ...]
        In the order in which it is best entered; empty once a workshop is set up.
    """
    return tuple(_missing(today)) if role == MANAGER else ()
