"""Two tablets at one item: the first that arrives is recorded, the second is told.

A tablet says which entry it had seen last. Where the value in force was recorded after that and
on another tablet, a value for the same place does not silently take its place: whoever sent it
drops it, or strikes the other with a reason.
"""

import json
from typing import Any

from jobs.actions.context import Act
from jobs.core.entry import Entry, Json
from jobs.core.item import Item, Shape
from jobs.core.order import find_item
from jobs.core.reason import Blocker, Reason
from jobs.models import Entry as EntryRow
from jobs.steps import STEPS

__all__ = ["ELSEWHERE", "recorded_elsewhere"]

ELSEWHERE = Reason(
    "recorded_elsewhere",
    "{person} recorded this at {at} on another tablet, which this one had not seen: {value}. "
    "Drop yours, or record yours instead and say why.",
)
_GROWING = frozenset({Shape.TORQUE, Shape.SAMPLE, Shape.PHOTO, Shape.LOG})
"""Shapes of which each entry adds to those before."""


def _words(item: Item[Any], value: Json) -> str:
    """Write a value as it was typed, for whoever decides between two."""
    if isinstance(value, dict):
        typed = value.get("typed") or value.get("label") or value.get("serial")
        return f"{typed} {item.unit if value.get('typed') else ''}".strip() if typed else "…"
    if isinstance(value, bool):
        return "✓"
    label = next((each.label for each in item.choices if each.value == value), value)
    return str(label)[:80] if isinstance(label, str) else "…"


def _device_of(entry: Entry) -> str:
    row = EntryRow.objects.filter(pk=entry.key).values_list("canonical", flat=True).first()
    return "" if row is None else str(json.loads(bytes(row)).get("device", ""))


def _in_force(act: Act, item: Item[Any]) -> Entry | None:
    """Give the newest value of the same item and place."""
    there = act.record.live.get(item.key, ())
    same = [entry for entry in there if entry.qualifier == act.draft.qualifier]
    return same[-1] if same else None


def recorded_elsewhere(act: Act) -> Blocker | None:
    """Say that another tablet was first; None where nothing is taken the place of unseen.

    Parameters
    ----------
    act : Act
        A value as it was sent, with the record as it stands.

    Returns
    -------
    Blocker | None
        Who recorded what and when, and the key of that entry.
    """
    draft = act.draft
    if not draft.device or not draft.seen_head or draft.paper is not None:
        return None
    found = find_item(STEPS, act.record, draft.item)
    if found is None or found[1].many == "free" or found[1].shape in _GROWING:
        return None
    first = _in_force(act, found[1])
    if first is None:
        return None
    seen = EntryRow.objects.filter(job=act.job, hash=draft.seen_head).values_list("seq", flat=True)
    if first.seq <= next(iter(seen), 0) or _device_of(first) == draft.device:
        return None
    return ELSEWHERE(
        draft.item,
        draft.qualifier,
        person=first.person,
        at=first.at.isoformat(),
        value=_words(found[1], first.value),
        key=first.key,
    )
