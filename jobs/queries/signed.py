"""A signed step as its signature sealed it.

The entries before the signature, folded at its time under the limits it sealed, give again what
the signer saw; where today's program computes something else from them, `matches` says so.
"""

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from jobs.core.entry import Entry, Json
from jobs.core.limits import Limits
from jobs.core.record import Record, Signature, fold
from jobs.core.seal import same_sealed, sealed
from jobs.core.step import Step
from packs import queries as packs
from packs.definition import Figure, PackDefinition

__all__ = ["AsSigned", "as_signed", "record_after", "record_shown"]


@dataclass(frozen=True, slots=True)
class AsSigned:
    """The record as it stood when a step was signed, and whether figures are the sealed ones."""

    record: Record
    matches: bool


def _limits(stored: Json) -> Limits:
    rows = {
        name: Figure.model_validate({**row, "value": float(row["value"])})
        for name, row in stored.items()
        if name in Limits.model_fields
    }
    return Limits(**rows)


def _definitions(entries: tuple[Entry, ...]) -> dict[str, PackDefinition]:
    named = {e.value["revision"] for e in entries if e.kind == "revision"}
    return {each: packs.revision(UUID(each)).definition for each in named}


def record_after(record: Record, entry: Entry) -> Record:
    """Give the record as it stood just after one of its entries, under the limits of now."""
    then = tuple(each for each in record.entries if each.seq <= entry.seq)
    return fold(then, now=entry.at, limits=record.limits, packs=_definitions(then))


def as_signed(record: Record, step: Step[Any], signature: Signature) -> AsSigned:
    """Give the record as it stood when `step` was signed.

    Parameters
    ----------
    record : Record
        The job as it stands.
    step : Step
        The signed step.
    signature : Signature
        Its signature.

    Returns
    -------
    AsSigned
        The record then, and whether this program computes the sealed result from it.
    """
    before = tuple(entry for entry in record.entries if entry.seq < signature.seq)
    then = fold(
        before,
        now=signature.at,
        limits=_limits(signature.seal["limits"]),
        packs=_definitions(before),
    )
    return AsSigned(then, same_sealed(sealed(step.assess(then)), signature.seal["result"]))


def record_shown(record: Record, step: Step[Any]) -> AsSigned:
    """Give the record by which a step is shown: as sealed once it is signed, as of now before."""
    signature = record.signatures.get(step.slug)
    if signature is None or signature.seal is None:
        return AsSigned(record, matches=True)
    return as_signed(record, step, signature)
