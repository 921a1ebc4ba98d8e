"""What a step's forms offer from the registers: people, equipment, spares, pack definitions."""

from typing import Any

from django.utils.translation import gettext

from jobs.core.item import Item, Shape, qualifier_parts
from jobs.core.record import Record
from jobs.core.step import Step
from jobs.views.cards import Pick, Picks
from packs import queries as packs
from packs.spares import SpareInfo, bars
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
    spare = next((item for item in items if item.shape is Shape.SPARE), None)
    return Picks(
        equipment=equipment, spares=() if spare is None else _spares(spare, record), people=people
    )


def _wanted(item: Item[Any], record: Record) -> set[tuple[str, str, int]]:
    """Give part, chemistry and cells of the places that a spare is asked for."""
    pack = record.pack
    names = {qualifier_parts(each).get("module", "") for each in item.expected}
    if pack is None:
        return set()
    places = [module for module in pack.modules if module.name in names]
    return {(place.part, pack.chemistry, place.cells) for place in places}


def _why_not(info: SpareInfo, record: Record, wanted: set[tuple[str, str, int]]) -> str:
    """Say why a spare may not be picked here; empty where it may."""
    opened = record.entries[0].value if record.entries else None
    number = str(opened.get("number", "")) if isinstance(opened, dict) else ""
    found = [gettext(bar.text).format(job=bar.job) for bar in bars(info, job=number)]
    if not found and info.held and info.reserved_for == number:
        found = [gettext("picked for {module}").format(module=info.module)]
    if wanted and (info.part, info.chemistry, info.cells) not in wanted:
        parts = ", ".join(sorted({part for part, _, _ in wanted}))
        found.insert(0, gettext("does not fit, {part} is needed").format(part=parts))
    return ", ".join(found)


def _spares(item: Item[Any], record: Record) -> tuple[Pick, ...]:
    """Give the spares, those that may be used here first; the others say why not."""
    wanted = _wanted(item, record)
    found = []
    for each in packs.spares():
        why = _why_not(each, record, wanted)
        place = f", {each.place}" if each.place and not why else ""
        found.append(Pick(str(each.id), f"{each.serial}, {each.part}{place}", not why, why))
    return tuple(sorted(found, key=lambda pick: not pick.usable))


def revision_picks(record: Record) -> tuple[Pick, ...]:
    """Give the newest revision of each pack definition, save the one in use."""
    found = []
    for pack in packs.packs_list():
        info = packs.latest_revision(pack.slug)
        if str(info.id) != record.revision:
            label = gettext("{name}, revision {number}").format(name=pack.name, number=info.number)
            found.append(Pick(str(info.id), label, usable=True))
    return tuple(found)
