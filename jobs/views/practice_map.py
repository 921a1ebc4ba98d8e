"""The pack map of a practice instrument as rows of modules with poles to tap, and its names."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, Final

from django.utils.translation import gettext

from jobs.core.item import qualifier_of
from jobs.core.vehicle_side import NOTHING
from jobs.practice.room.looking import MODES, Place, instrument_of
from jobs.practice.scene import Scene
from jobs.steps.de_energise_check.items import round_now
from packs.definition import PackDefinition
from packs.pack_map import pack_map, share_words
from packs.picture import Label, Picture

__all__ = ["Cell", "leak_map", "map_rows", "names_of"]

_DENSE: Final = 0.9
"""How densely a module that leaked is hatched [1]."""


@dataclass(frozen=True, slots=True)
class Cell:
    """A place of the map: a module with the poles that can be touched, or nothing."""

    module: str = ""
    poles: tuple[Place, ...] = ()


def map_rows(pack: PackDefinition, places: Iterable[Place]) -> tuple[tuple[Cell, ...], ...]:
    """Give the modules where they lie, each with the poles that can be touched now.

    Parameters
    ----------
    pack : PackDefinition
        The pack.
    places : Iterable[Place]
        Where a lead can be put.

    Returns
    -------
    tuple[tuple[Cell, ...], ...]
        Rows of the enclosure; empty where no pole of the string can be touched.
    """
    poles = [place for place in places if place.module]
    if not poles:
        return ()
    at = {(each.row, each.column): each.name for each in pack.modules}
    rows, columns = sorted({row for row, _ in at}), sorted({column for _, column in at})
    return tuple(
        tuple(
            Cell(at[row, column], tuple(p for p in poles if p.module == at[row, column]))
            if (row, column) in at
            else Cell()
            for column in range(columns[0], columns[-1] + 1)
        )
        for row in range(rows[0], rows[-1] + 1)
    )


def leak_map(pack: PackDefinition, leaking: Iterable[str]) -> Picture:
    """Draw the pack with the modules that really leaked, told in words."""
    modules = tuple(leaking)
    drawn = pack_map(pack, shares=dict.fromkeys(modules, _DENSE), title=gettext("What leaked"))
    words = share_words(_DENSE)
    shapes = (
        replace(each, text=gettext("leaked"), size=2.6)
        if isinstance(each, Label) and each.text == words
        else each
        for each in drawn.shapes
    )
    said = gettext("Leaked: {names}.").format(names=", ".join(modules))
    return replace(drawn, shapes=tuple(shapes), description=said)


def names_of(scene: Scene, key: str) -> dict[str, Any]:
    """Give what the page says of an instrument: its label, its shunt, the parts to unplug."""
    record = scene.record()
    used = instrument_of(record, key, qualifier_of(round=round_now(record)))
    unplugs = MODES[key] == "ohms" and not key.endswith("module_ohm")
    return {
        "label": "" if used is None else used.label,
        "has_shunt": MODES[key] == "volts",
        "unplugged": (NOTHING, *scene.pack.vehicle_parts) if unplugs else (),
    }
