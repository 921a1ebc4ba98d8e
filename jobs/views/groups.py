"""How the cards of a step stand together: headings, hold points, runs of alike cards, what is next.

What was entered and what is locked stands in compact runs, so that the open cards stand out.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext

from jobs.core.item import Item
from jobs.core.order import items_of
from jobs.core.reason import Blocker
from jobs.core.step import Step
from jobs.views.cards import Bench, Card, cards_of

__all__ = ["Group", "Run", "groups_of", "runs_of", "with_next"]


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
    """

    title: str
    hold: str
    cards: tuple[Card, ...]
    runs: tuple[Run, ...] = ()

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
    return tuple(groups)


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
    whole = (card.item.key, "") in missing and not card.optional
    return whole or (bool(card.parts) and card.item.key in {key for key, _ in missing})


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
    asked = {(each.item, each.qualifier) for each in missing if each.item}
    cards = [card for group in groups for card in group.cards if _wanted(card, asked)]
    found = next((card for card in cards if card.item.key != last), cards[0] if cards else None)
    marked = []
    for group in groups:
        turned = tuple(replace(each, next=True) if each is found else each for each in group.cards)
        marked.append(replace(group, cards=turned, runs=runs_of(turned)))
    return tuple(marked), None if found is None else replace(found, next=True)
