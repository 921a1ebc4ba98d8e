"""What a step's forms offer from the registers: people, equipment, spares, pack definitions."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext

from jobs.core.item import Item, Shape, qualifier_parts
from jobs.core.record import Record
from jobs.core.spare_match import SHOP_RULES, matched, wanted_for
from jobs.core.step import Step
from jobs.queries import practice_shelf as bench
from jobs.steps.module_swap.items import SPARES
from jobs.views.cards import Pick, Picks
from packs import queries as packs
from packs.definition_parts import Module
from packs.physics.instrument import Message
from packs.physics.match import MatchResult, SpareModule
from packs.spares import SpareInfo, bars, days_since
from packs.words import translated
from workshop import queries as shop
from workshop.registers import EquipmentInfo

__all__ = ["SparePick", "people_picks", "picks_for", "revision_picks"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SparePick(Pick):
    """A spare to choose: its points against the string, and a line for each reason.

    `points` is empty where it is excluded or was not compared; `advice` stands with the first.
    """

    serial: str
    points: str = ""
    excluded: bool = False
    reasons: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()


def people_picks(record: Record) -> tuple[Pick, ...]:
    """Give everybody who works in the shop; in practice the simulated colleagues before them."""
    simulated = () if bench.opening_of(record) is None else bench.COLLEAGUES
    people = (*simulated, *shop.people())
    return tuple(Pick(each.id, each.short_name, usable=True) for each in people)


def _pieces(record: Record, kind: str, today: date) -> tuple[EquipmentInfo, ...]:
    """Give the shop's equipment of a kind, or that of the practice bench."""
    opening = bench.opening_of(record)
    if opening is None:
        return shop.equipment_of_kind(kind, today)
    return bench.pieces_of_kind(opening, kind, today)


def _shelf(record: Record) -> tuple[SpareInfo, ...]:
    """Give the shop's spares, or those of the practice bench."""
    opening = bench.opening_of(record)
    return packs.spares() if opening is None else bench.spares_for(opening, record.pack)


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
                f"{each.label} ({gettext(each.kind_title)})",
                each.usable,
                "" if each.usable else str(each.reason),
            )
            for each in _pieces(record, kind, today)
        )
        for kind in sorted(kinds)
    }
    spare = next((item for item in items if item.shape is Shape.SPARE), None)
    return Picks(
        equipment=equipment, spares=() if spare is None else _spares(spare, record), people=people
    )


_Kind = tuple[str, str, int]
"""Part, chemistry and cells."""


def _places(item: Item[Any], record: Record) -> dict[_Kind, Module]:
    """Give the kinds of places that a spare is asked for, each with one place of it."""
    pack = record.pack
    names = {qualifier_parts(each).get("module", "") for each in item.expected}
    if pack is None:
        return {}
    places = [module for module in pack.modules if module.name in names]
    return {(place.part, pack.chemistry, place.cells): place for place in reversed(places)}


def _why_not(info: SpareInfo, record: Record, wanted: Mapping[_Kind, Module]) -> str:
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


def _module(info: SpareInfo, today: date) -> SpareModule:
    """Give a spare of the register as match takes it."""
    days, test = days_since(info.test, today), info.test
    return SpareModule(
        serial=info.serial,
        chemistry=info.chemistry,
        part=info.part,
        cells=info.cells,
        capacity_ah=test.capacity_ah,
        resistance_mohm=test.resistance_mohm,
        cell_v=test.cell_v,
        days_since_test=None if days is None else float(max(days, 0)),
        quarantined=info.quarantined,
    )


def _label(info: SpareInfo, *, place: bool) -> str:
    where = f", {info.place}" if info.place and place else ""
    return f"{info.serial}, {info.part}{where}"


def _said(messages: Iterable[Message]) -> tuple[str, ...]:
    """Say what match told."""
    return tuple(translated(each.text, gettext) for each in messages)


def _in_order(
    found: MatchResult, infos: Mapping[str, SpareInfo], advice: tuple[str, ...]
) -> list[SparePick]:
    """Give the spares best first, then those that do not match; a manager may accept some."""
    picks = list[SparePick]()
    for each in found.ranked:
        info, points = infos[each.serial], f"{each.score:g}"
        label = gettext("{spare}: {points} of 100").format(
            points=points, spare=_label(info, place=True)
        )
        reasons = _said(each.reasons)
        picks.append(
            SparePick(str(info.id), label, usable=True, serial=info.serial, points=points,
                      reasons=reasons, advice=() if picks else advice)
        )  # fmt: skip
    for out in found.excluded:
        info, reasons = infos[out.serial], _said(out.reasons)
        acceptable = {reason.code for reason in out.reasons} <= SHOP_RULES
        label = _label(info, place=acceptable)
        picks.append(
            SparePick(str(info.id), label, usable=acceptable, why=gettext("does not match"),
                      serial=info.serial, excluded=True, reasons=reasons,
                      advice=() if picks else advice)
        )  # fmt: skip
    return picks


def _spares(item: Item[Any], record: Record) -> tuple[Pick, ...]:
    """Give the spares: those of the right kind in the order of match, the others say why not."""
    pack, wanted, barred = record.pack, _places(item, record), list[Pick]()
    out = frozenset(qualifier_parts(each).get("module", "") for each in item.expected)
    fits: dict[_Kind, dict[str, SpareInfo]] = {kind: {} for kind in wanted}
    for each in _shelf(record):
        why, kind = _why_not(each, record, wanted), (each.part, each.chemistry, each.cells)
        if why or kind not in fits:
            barred.append(Pick(str(each.id), _label(each, place=not why), not why, why))
        else:
            fits[kind][each.serial] = each
    if pack is None:
        return tuple(barred)
    today, picks = shop.local_day(record.now), list[Pick]()
    for kind, infos in fits.items():
        modules = tuple(_module(info, today) for info in infos.values())
        needs = wanted_for(record, SPARES, pack, wanted[kind], out)
        found = matched(needs, modules, record.limits)
        picks += _in_order(found, infos, _said(found.advice))
    return (*picks, *sorted(barred, key=lambda pick: not pick.usable))


def revision_picks(record: Record) -> tuple[Pick, ...]:
    """Give the newest revision of each pack definition, save the one in use."""
    found = []
    for pack in packs.packs_list():
        info = packs.latest_revision(pack.slug)
        if str(info.id) != record.revision:
            label = gettext("{name}, revision {number}").format(name=pack.name, number=info.number)
            found.append(Pick(str(info.id), label, usable=True))
    return tuple(found)
