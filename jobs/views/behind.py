"""What may be typed in the next step while the signature before it is still on its way.

A tablet without the network cannot ask what comes next. So the page of the step that follows the
open one carries its cards up to its first hold point; the page shows them only while the tablet
holds that signature. The door still refuses them before the signature is applied.
"""

from dataclasses import dataclass, replace
from itertools import takewhile
from typing import Any

from jobs.core.item import PersonUsed
from jobs.core.order import open_step
from jobs.core.record import Record, Signature
from jobs.core.step import Step
from jobs.steps import STEPS
from jobs.views.cards import Bench
from jobs.views.groups import Group, groups_of, runs_of

__all__ = ["Behind", "behind_sign"]


@dataclass(frozen=True, slots=True)
class Behind:
    """The step whose signature is waited for, and what may be typed behind it."""

    slug: str
    title: str
    groups: tuple[Group, ...]


def _as_signed(record: Record, step: Step[Any], by: PersonUsed) -> Record:
    """Give the record as it stands when the step is signed; it is written nowhere."""
    signature = Signature(
        step=step.slug,
        outcome="done",
        by=by,
        second="",
        at=record.now,
        seq=len(record.entries),
        ends="",
        seal={},
    )
    return replace(record, signatures={**record.signatures, step.slug: signature})


def behind_sign(step: Step[Any], bench: Bench) -> Behind | None:
    """Give what may be typed behind the signature of the step before.

    Parameters
    ----------
    step : Step
        The step of the page.
    bench : Bench
        The record, who looks at it, what can be picked, and the words.

    Returns
    -------
    Behind | None
        Its open cards before the first hold point; None where the step is not the next one, is
        skipped, or has nothing that can be entered by then.
    """
    record = bench.record
    first = open_step(STEPS, record)
    if first is None or record.closed is not None or first.ends(record):
        return None
    after = STEPS.index(first) + 1
    if STEPS[after : after + 1] != (step,):
        return None
    signed = _as_signed(record, first, bench.by)
    if step.skip(signed) is not None:
        return None
    groups = []
    for group in takewhile(
        lambda each: not each.hold, groups_of(step, replace(bench, record=signed))
    ):
        cards = tuple(card for card in group.cards if card.open and not card.item.hold)
        if cards:
            groups.append(replace(group, cards=cards, runs=runs_of(cards)))
    return Behind(first.slug, first.title, tuple(groups)) if groups else None
