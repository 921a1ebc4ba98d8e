"""Which step is open and what each step asks; the order of the eight steps.

Pure, like everything in this package: a record and the steps go in. Not here: what stands
against an act (`jobs.core.entering`, `flow`, `closing`).
"""

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from jobs.core.item import Item, free_note, free_photo
from jobs.core.once import once_a_record
from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.core.refusals import (
    CLOSED,
    EARLIER,
    ENDED,
    SIGNED,
)
from jobs.core.step import Hold, Step

__all__ = [
    "Steps",
    "closed_blockers",
    "find_item",
    "hold_passed",
    "holds_of",
    "items_of",
    "open_step",
    "order_blockers",
    "signed_blockers",
    "step_state",
]

Steps = Sequence[Step[Any]]


def items_of(step: Step[Any], record: Record) -> tuple[Item[Any], ...]:
    """Give what the step asks now, with the note and the photo that every step takes."""
    return (*step.items(record), free_note(step.slug), free_photo(step.slug))


def find_item(steps: Steps, record: Record, key: str) -> tuple[Step[Any], Item[Any]] | None:
    """Find the item of a key and its step; None when no step asks it now."""
    slug = key.partition(".")[0]
    for step in steps:
        if step.slug == slug:
            for item in items_of(step, record):
                if item.key == key:
                    return step, item
    return None


def open_step(steps: Steps, record: Record) -> Step[Any] | None:
    """Give the step that is open: the first that is not signed; None when all are or it ended."""
    for step in steps:
        signature = record.signatures.get(step.slug)
        if signature is None:
            return step
        if signature.ends:
            return None
    return None


def step_state(steps: Steps, record: Record, step: Step[Any]) -> str:
    """Give the state of a step: "done", "not_needed", "open", "reopened" or "waiting"."""
    signature = record.signatures.get(step.slug)
    if signature is not None:
        return "not_needed" if signature.outcome == "not_needed" else "done"
    if step.slug in record.reopened:
        return "reopened"
    return "open" if open_step(steps, record) is step else "waiting"


def order_blockers(steps: Steps, record: Record, step: Step[Any]) -> tuple[Blocker, ...]:
    """Say which earlier step is not signed, or has ended the job."""
    for earlier in steps:
        if earlier.slug == step.slug:
            return ()
        signature = record.signatures.get(earlier.slug)
        if signature is None:
            return (EARLIER(earlier=earlier.title),)
        if signature.ends:
            return (ENDED(earlier=earlier.title),)
    return ()


def signed_blockers(record: Record, step: Step[Any]) -> tuple[Blocker, ...]:
    """Say that the step is signed already."""
    return (SIGNED(),) if step.slug in record.signatures else ()


def closed_blockers(record: Record) -> tuple[Blocker, ...]:
    """Say that the job is closed."""
    return (CLOSED(),) if record.closed is not None else ()


@once_a_record
def holds_of(step: Step[Any], record: Record) -> tuple[Hold, ...]:
    """Give the hold points of a step as they stand now."""
    return step.holds(record, step.assess(record))


def hold_passed(record: Record, step: Step[Any], hold: Hold) -> bool:
    """Tell whether a hold point is passed and, where it lapses, not too long ago.

    Where anything it was passed on is lost, the record no longer has it: it is passed again.
    """
    entry = record.holds.get((step.slug, hold.slug))
    if entry is None:
        return False
    return hold.valid_h is None or record.now - entry.at <= timedelta(hours=hold.valid_h)
