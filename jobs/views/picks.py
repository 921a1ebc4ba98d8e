"""What a step's forms offer from the registers: people, equipment, spares, pack definitions."""

from typing import Any

from django.utils.translation import gettext

from jobs.core.item import Shape
from jobs.core.record import Record
from jobs.core.step import Step
from jobs.views.cards import Pick, Picks
from packs import queries as packs
from workshop import queries as shop

__all__ = ["people_picks", "picks_for", "revision_picks"]


def people_picks() -> tuple[Pick, ...]:
    """Give everybody who works in the shop."""
    return tuple(Pick(each.id, each.short_name, usable=True) for each in shop.people())


def picks_for(step: Step[Any], record: Record, people: tuple[Pick, ...]) -> Picks:
    """Ask the registers for what this step's items may pick.

    Parameters
    ----------
    step : Step
        The step.
    record : Record
        The job as it stands.
    people : tuple[Pick, ...]
        Everybody who works in the shop.

    Returns
    -------
    Picks
        Equipment by kind, spares and people; what may not be used says why.
    """
    items = step.items(record)
    today = shop.local_day(record.now)
    kinds = {kind for item in items for kind in item.kinds}
    equipment = {
        kind: tuple(
            Pick(
                each.id,
                f"{each.label} ({each.kind_title})",
                each.usable,
                "" if each.usable else str(each.reason),
            )
            for each in shop.equipment_of_kind(kind, today)
        )
        for kind in sorted(kinds)
    }
    wants_spare = any(item.shape is Shape.SPARE for item in items)
    return Picks(equipment=equipment, spares=_spares() if wants_spare else (), people=people)


def _spares() -> tuple[Pick, ...]:
    return tuple(
        Pick(
            str(each.id),
            f"{each.serial}, {each.part}",
            usable=not each.quarantined,
            why=gettext("quarantined") if each.quarantined else "",
        )
        for each in packs.spares()
    )


def revision_picks(record: Record) -> tuple[Pick, ...]:
    """Give the newest revision of each pack definition, save the one in use."""
    found = []
    for pack in packs.packs_list():
        info = packs.latest_revision(pack.slug)
        if str(info.id) != record.revision:
            label = gettext("{name}, revision {number}").format(name=pack.name, number=info.number)
            found.append(Pick(str(info.id), label, usable=True))
    return tuple(found)
