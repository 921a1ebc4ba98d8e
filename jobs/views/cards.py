"""The cards of a step: one for each thing asked, with what was entered and what locks it.

Plain data, made before the template runs, so that a template asks the database nothing.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.utils.translation import gettext

from jobs.core.entering import enter_gate
from jobs.core.entry import Entry, Kind
from jobs.core.item import Item, PersonUsed, Shape, qualifier_of
from jobs.core.order import items_of
from jobs.core.record import Record
from jobs.core.step import Step
from jobs.report.wording import Wording
from jobs.steps import STEPS

__all__ = ["Card", "Given", "Group", "Pick", "Picks", "groups_of"]


@dataclass(frozen=True, slots=True)
class Pick:
    """One thing to choose from a register."""

    id: str
    label: str
    usable: bool
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picks:
    """What the registers offer: equipment by kind, spares, people."""

    equipment: Mapping[str, tuple[Pick, ...]]
    spares: tuple[Pick, ...]
    people: tuple[Pick, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """A value that was entered, in force or struck."""

    key: str
    text: str
    unit: str
    number: str
    qualifier: str
    name: str
    at: datetime
    struck: str
    picture: str


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a qualifier that is chosen or typed when entering."""

    name: str
    label: str
    options: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One card.

    Attributes
    ----------
    anchor : str
        Where the gate list jumps to.
    item : Item
        What is asked.
    template : str
        Partial that renders its input.
    qualifier, which : str
        Which one of a collection, as data and in words.
    parts : tuple[Part, ...]
        Parts of the qualifier to choose, where it is not fixed.
    given : tuple[Given, ...]
        Values in force.
    struck : tuple[Given, ...]
        Values struck, crossed out.
    open : bool
        Whether a value can be entered now.
    locked : str
        Why not, in words.
    next : bool
        Whether it is the next thing to do.
    picks : tuple[Pick, ...]
        What can be picked.
    """

    anchor: str
    item: Item[Any]
    template: str
    qualifier: str = ""
    which: str = ""
    parts: tuple[Part, ...] = ()
    given: tuple[Given, ...] = ()
    struck: tuple[Given, ...] = ()
    open: bool = False
    locked: str = ""
    next: bool = False
    picks: tuple[Pick, ...] = ()


@dataclass(frozen=True, slots=True)
class Group:
    """Cards under one heading."""

    title: str
    cards: tuple[Card, ...]
    hold: str = ""


def anchor_of(key: str, qualifier: str = "") -> str:
    """Give the anchor of an item's card."""
    safe = "".join(letter if letter.isalnum() else "-" for letter in f"{key} {qualifier}".strip())
    return f"card-{safe}"


def _shown(item: Item[Any], entry: Entry, words: Wording, struck: str) -> Given:
    reading = item.shape in {Shape.READING, Shape.BOUNDED}
    return Given(
        key=entry.key,
        text=words.value(item, entry.value),
        unit=item.unit if reading else "",
        number=entry.value["number"] if reading else "",
        qualifier=words.qualifier(entry.qualifier),
        name=words.name(entry.person),
        at=entry.at,
        struck=struck,
        picture=entry.value["sha256"] if item.shape is Shape.PHOTO else "",
    )


def _parts(item: Item[Any]) -> tuple[Part, ...]:
    poles = {"pos": gettext("positive"), "neg": gettext("negative")}
    return tuple(
        Part(
            name,
            gettext(name),
            tuple((o, poles.get(o, o.replace("_", " "))) for o in item.options.get(name, ())),
        )
        for name in item.qualifiers
    )


def _picks(item: Item[Any], picks: Picks) -> tuple[Pick, ...]:
    match item.shape:
        case Shape.EQUIPMENT:
            return tuple(pick for kind in item.kinds for pick in picks.equipment.get(kind, ()))
        case Shape.SPARE:
            return picks.spares
        case Shape.PERSON | Shape.SIGNATURE:
            return picks.people
        case _:
            return ()


def _values(record: Record, key: str) -> tuple[tuple[Entry, ...], tuple[Entry, ...]]:
    """Give the values of an item: in force, and struck or voided."""
    gone = tuple(
        entry
        for entry in record.entries
        if entry.kind is Kind.VALUE and entry.item == key and entry.key in record.gone
    )
    return record.live.get(key, ()), gone


@dataclass(frozen=True, slots=True)
class Bench:
    """What making cards needs, beside the item."""

    record: Record
    by: PersonUsed
    picks: Picks
    words: Wording


def _locked(bench: Bench, item: Item[Any], qualifier: str) -> str:
    blockers = enter_gate(STEPS, bench.record, key=item.key, qualifier=qualifier, by=bench.by)
    return " ".join(bench.words.said(point) for point in blockers)


def _card(bench: Bench, item: Item[Any], qualifier: str) -> Card:
    """Make the card of a single item, or of one fixed member of a collection."""
    live, gone = _values(bench.record, item.key)
    mine = [entry for entry in live if entry.qualifier == qualifier]
    struck = [entry for entry in gone if entry.qualifier == qualifier]
    locked = "" if mine else _locked(bench, item, qualifier)
    return Card(
        anchor=anchor_of(item.key, qualifier),
        item=item,
        template=f"jobs/items/{item.shape}.html",
        qualifier=qualifier,
        which=bench.words.qualifier(qualifier),
        given=tuple(_shown(item, entry, bench.words, "") for entry in mine),
        struck=tuple(
            _shown(item, entry, bench.words, bench.record.gone[entry.key]) for entry in struck
        ),
        open=not mine and not locked,
        locked=locked,
        picks=_picks(item, bench.picks),
    )


def _sample_qualifier(item: Item[Any]) -> str:
    """Give a qualifier with which to ask whether a collection is open at all."""
    chosen = {name: (item.options.get(name) or ("-",))[0] for name in item.qualifiers}
    return qualifier_of(**chosen)


def _open_card(bench: Bench, item: Item[Any]) -> Card:
    """Make the card of a collection whose qualifier is chosen, or of a free one."""
    live, gone = _values(bench.record, item.key)
    asked = replace(item, many="free")
    locked = ""
    if item.many == "free":
        locked = _locked(bench, asked, "")
    else:
        blockers = enter_gate(
            STEPS, bench.record, key=item.key, qualifier=_sample_qualifier(item), by=bench.by
        )
        recorded = {"already_recorded"}
        locked = " ".join(bench.words.said(p) for p in blockers if p.code not in recorded)
    return Card(
        anchor=anchor_of(item.key),
        item=item,
        template=f"jobs/items/{item.shape}.html",
        parts=_parts(item),
        given=tuple(_shown(item, entry, bench.words, "") for entry in reversed(live)),
        struck=tuple(
            _shown(item, entry, bench.words, bench.record.gone[entry.key]) for entry in gone
        ),
        open=not locked,
        locked=locked,
        picks=_picks(item, bench.picks),
    )


def _cards(bench: Bench, item: Item[Any]) -> list[Card]:
    asked = (*item.expected, *(each for each in item.offered if each not in item.expected))
    if item.many == "one":
        return [_card(bench, item, "")]
    if not asked or item.options:
        return [_open_card(bench, item)]
    other = {entry.qualifier for entry in bench.record.live.get(item.key, ())} - set(asked)
    return [_card(bench, item, qualifier) for qualifier in (*asked, *sorted(other))]


def _with_next(groups: list[Group]) -> list[Group]:
    """Mark the first open, needed card that has no value as the next thing to do."""
    marked = False
    result = []
    for group in groups:
        cards = []
        for card in group.cards:
            wanted = card.open and not card.given and card.item.needed and not marked
            cards.append(replace(card, next=True) if wanted else card)
            marked = marked or wanted
        result.append(replace(group, cards=tuple(cards)))
    return result


def groups_of(step: Step[Any], bench: Bench) -> tuple[Group, ...]:
    """Make the cards of a step, in the order asked, under their headings.

    Parameters
    ----------
    step : Step
        The step.
    bench : Bench
        The record, who looks at it, what can be picked, and the words.

    Returns
    -------
    tuple[Group, ...]
        The groups, the next thing to do marked.
    """
    groups: list[Group] = []
    for item in items_of(step, bench.record):
        title = item.group or ("" if item.needed else gettext("Notes and pictures"))
        cards = tuple(_cards(bench, item))
        if groups and groups[-1].title == title and groups[-1].hold == item.hold:
            groups[-1] = replace(groups[-1], cards=(*groups[-1].cards, *cards))
        else:
            groups.append(Group(title, cards, item.hold))
    return tuple(_with_next(groups))
