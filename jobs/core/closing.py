"""Going back to a step, and closing the job."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from jobs.core.order import Steps, closed_blockers, find_item
from jobs.core.reason import Blocker
from jobs.core.record import Record, Signature
from jobs.core.refusals import (
    NOT_SIGNED_YET,
    PACK_OPEN,
    STEP_OPEN,
)
from jobs.core.step import Step

__all__ = ["Reopening", "close_gate", "plan_reopen", "reopen_gate"]


@dataclass(frozen=True, slots=True)
class Reopening:
    """What re-opening a step voids and supersedes."""

    voids: tuple[str, ...]
    supersedes: tuple[str, ...]


def _voidable(steps: Steps, record: Record, slugs: Sequence[str]) -> set[str]:
    """Give the items of some steps with a value in force, asked now or not.

    Not among them, since they stay whatever is re-opened: notes, photos, readings open at any time.
    """
    keys = {key for key, values in record.live.items() if values and key.partition(".")[0] in slugs}
    found = {key: find_item(steps, record, key) for key in keys}
    return {key for key, asked in found.items() if asked is None or not asked[1].anytime}


def plan_reopen(steps: Steps, record: Record, step: Step[Any], items: Sequence[str]) -> Reopening:
    """Name what re-opening a step voids.

    Parameters
    ----------
    steps : Steps
        The steps in order.
    record : Record
        The job as it stands.
    step : Step
        The step to re-open.
    items : Sequence[str]
        Keys of the items of that step that have to be done again; none means all of them.

    Returns
    -------
    Reopening
        Voided items: the named ones of the step, the signature of its second person, and every
        value of the later steps; superseded signatures: the step's own and all later ones.
    """
    order = [candidate.slug for candidate in steps]
    later = order[order.index(step.slug) :]
    own = _voidable(steps, record, [step.slug])
    second = set() if step.signers.second is None else {step.signers.second.key}
    chosen = own & {*items, *second} if items else own
    after = _voidable(steps, record, later[1:])
    supersedes = tuple(slug for slug in later if slug in record.signatures)
    return Reopening(tuple(sorted(chosen | after)), supersedes)


def reopen_gate(record: Record, step: Step[Any]) -> tuple[Blocker, ...]:
    """Say what stands against re-opening a step."""
    unsigned = () if step.slug in record.signatures else (NOT_SIGNED_YET(),)
    return (*closed_blockers(record), *unsigned)


def _ending(steps: Steps, record: Record) -> Signature | None:
    for step in steps:
        signature = record.signatures.get(step.slug)
        if signature is None or signature.ends:
            return signature
    return None


def close_gate(steps: Steps, record: Record) -> tuple[str, tuple[Blocker, ...]]:
    """Say how the job would close and what stands against it.

    Returns
    -------
    tuple[str, tuple[Blocker, ...]]
        "handed_over" or the ending that a signed step gave, and the blockers.
    """
    ending = _ending(steps, record)
    if ending is not None:
        how = ending.ends
        unsigned: tuple[Blocker, ...] = ()
    else:
        how = "handed_over"
        unsigned = tuple(
            STEP_OPEN(step=step.title) for step in steps if step.slug not in record.signatures
        )
    lid = (PACK_OPEN(),) if record.pack_open else ()
    return how, (*closed_blockers(record), *unsigned, *lid)
