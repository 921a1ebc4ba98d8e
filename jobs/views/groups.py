"""How the cards of a step stand together: headings, hold points, runs of alike cards, what is next.

What was entered and what is locked stands in compact runs, so that the open cards stand out.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext

from jobs.core.flow import hold_gate
from jobs.core.item import Item
from jobs.core.order import hold_passed, holds_of, items_of
from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.core.refusals import HOLD
from jobs.core.section import Section
from jobs.core.step import Step
from jobs.steps import STEPS
from jobs.views.cards import Bench, Card, cards_of

__all__ = ["Group", "Run", "groups_of", "runs_of", "with_next"]

LAST = "when=after"
"""Part of a qualifier that is entered after everything else of its group."""
PROPOSED = "proposed"
"""Stands for the act of a hold point that the next reading waits for."""


@dataclass(frozen=True, slots=True)
class Run:
    """Cards that follow one another and stand alike; `why` says what locks all of them."""

    kind: str
    cards: tuple[Card, ...]
    why: str = ""


@dataclass(frozen=True, slots=True)
class Group:
    """Cards under one heading; `hold` names the hold point that stands before them.

    A heading or hold point that already stands further up is not repeated: it is empty then.
    `proposed` is the card in it that the readings ask for next, by item and qualifier; `act` the
    hold point's act, where everything before it is there.
    """

    title: str
    hold: str
    cards: tuple[Card, ...]
    runs: tuple[Run, ...] = ()
    proposed: tuple[str, str] = ("", "")
    act: str = ""

    @property
    def entered(self) -> int:
        """How many values stand in it."""
        return sum(len(card.given) for card in self.cards)

    @property
    def settled(self) -> bool:
        """Whether no more of it is asked and the step went on since, so that it may be folded."""
        asked = any(card.kind != "done" and not card.optional for card in self.cards)
        last = any(given.newest for card in self.cards for given in card.given)
        return bool(self.title) and self.entered > 0 and not asked and not last


def _titled(item: Item[Any]) -> str:
    return item.group or ("" if item.needed else gettext("Notes and pictures"))


def _ready(step: Step[Any], record: Record, section: Section) -> dict[str, str]:
    """Give the hold points that can be passed now, each with its act; an empty act is not asked."""
    wanted = {one.first_hold for one in section.proposals[:1]}
    found = {}
    for hold in holds_of(step, record):
        if not hold_passed(record, step, hold) and not hold_gate(STEPS, record, step, hold.slug):
            found[hold.slug] = PROPOSED if hold.slug in wanted else hold.act
    return found


def _proposed(section: Section) -> tuple[str, str]:
    """Give the card that the readings ask for next: the reading, or what comes before it."""
    for one in section.proposals[:1] if not section.suspects else ():
        if one.first is None:
            return one.item, one.qualifier
        return one.first_item, one.first_qualifier
    return "", ""


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
        The groups in order.
    """
    section = step.section(bench.record, step.assess(bench.record))
    suspects = {(one.item, one.qualifier): bench.words.said(one.text) for one in section.suspects}
    bench = replace(bench, suspects=suspects)
    ready = _ready(step, bench.record, section)
    groups: list[Group] = []
    title, hold, seen = "", "", set[str]()
    for item in items_of(step, bench.record):
        cards = cards_of(bench, item)
        same = groups and (_titled(item), item.hold) == (title, hold)
        if same:
            groups[-1] = replace(groups[-1], cards=(*groups[-1].cards, *cards))
            continue
        shown = "" if groups and _titled(item) == title else _titled(item)
        title, hold = _titled(item), item.hold
        if groups and not shown and hold in {"", *seen}:
            groups[-1] = replace(groups[-1], cards=(*groups[-1].cards, *cards))
            continue
        groups.append(Group(shown, "" if hold in seen else hold, cards))
        seen.add(hold)
    return tuple(
        replace(group, act=ready.get(group.hold, ""), proposed=_proposed(section))
        for group in groups
    )


def runs_of(cards: Iterable[Card]) -> tuple[Run, ...]:
    """Put cards that follow one another and stand alike into runs.

    Parameters
    ----------
    cards : Iterable[Card]
        Cards of a group.

    Returns
    -------
    tuple[Run, ...]
        Runs of open, done and locked cards, in order.
    """
    runs: list[Run] = []
    for card in cards:
        why = card.locked if card.kind == "locked" else ""
        if runs and (runs[-1].kind, runs[-1].why) == (card.kind, why):
            runs[-1] = replace(runs[-1], cards=(*runs[-1].cards, card))
        else:
            runs.append(Run(card.kind, (card,), why))
    return tuple(runs)


def _wanted(card: Card, missing: set[tuple[str, str]]) -> bool:
    if not card.open or (card.given and not card.parts and not card.unfinished):
        return False
    if (card.item.key, card.qualifier) in missing:
        return True
    # Where a collection is found wanting as a whole, what is only offered of it may be what lacks.
    whole = (card.item.key, "") in missing and card.item.needed
    return whole or (bool(card.parts) and card.item.key in {key for key, _ in missing})


def _now(card: Card, group: Group) -> bool:
    """Tell whether the readings ask for this card next."""
    item, qualifier = group.proposed
    return card.open and card.item.key == item and (bool(card.parts) or card.qualifier == qualifier)


def _before_hold(groups: tuple[Group, ...], acts: set[str]) -> tuple[Group, ...]:
    """Give the groups before the first hold point that is asked and can be passed now."""
    for index, group in enumerate(groups):
        if group.act == PROPOSED or (group.act and group.act in acts):
            return groups[:index]
    return groups


def with_next(
    groups: tuple[Group, ...], missing: Iterable[Blocker], last: str
) -> tuple[tuple[Group, ...], Card | None]:
    """Mark the card that is to be done next and put the cards into runs.

    Parameters
    ----------
    groups : tuple[Group, ...]
        The groups of a step.
    missing : Iterable[Blocker]
        What is missing before the step can be signed or a hold point passed.
    last : str
        Key of the item that is done last whatever its place; empty for none.

    Returns
    -------
    tuple
        The groups with their runs, and the card marked, if there is one.
    """
    points = tuple(missing)
    asked = {(each.item, each.qualifier) for each in points if each.item}
    acts = {str(each.params.get("act")) for each in points if each.code == HOLD.code}
    before = _before_hold(groups, acts)
    cards = [
        card
        for group in before
        for card in sorted(group.cards, key=lambda each: LAST in each.qualifier)
        if _wanted(card, asked) or _now(card, group)
    ]
    found = next((card for card in cards if card.item.key != last), cards[0] if cards else None)
    if len(before) < len(groups) and found is not None and found.item.key == last:
        found = None
    marked = []
    for group in groups:
        turned = tuple(replace(each, next=True) if each is found else each for each in group.cards)
        marked.append(replace(group, cards=turned, runs=runs_of(turned)))
    return tuple(marked), None if found is None else replace(found, next=True)
