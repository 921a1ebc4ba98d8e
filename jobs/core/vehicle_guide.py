"""Leads from readings at the vehicle's cables to the part that leaks: what to unplug next.

Not here: how the vehicle's side is judged (`jobs.core.vehicle_side_check`).
"""

from dataclasses import replace

from jobs.core.item import qualifier_of
from jobs.core.record import Record
from jobs.core.section import Proposal, Said
from jobs.core.vehicle_side import NOTHING, VehicleSide, undischarged
from jobs.core.vehicle_side_check import VehicleSideResult

__all__ = ["vehicle_proposals"]

MOST_PROPOSALS = 3
_POLE_WORDS = {"pos": "Positive", "neg": "Negative"}


def _lower_pole(record: Record, items: VehicleSide) -> str:
    """Give the cable that read less with nothing unplugged: the one nearer to the leak."""
    read = {
        given.part("pole"): given.value.value
        for given in record.all(items.reading)
        if given.part("unplugged") == NOTHING
    }
    return min(read, key=lambda pole: read[pole], default="pos")


def _proposal(items: VehicleSide, part: str, pole: str) -> Proposal:
    return Proposal(
        item=items.reading.key,
        qualifier=qualifier_of(pole=pole, unplugged=part),
        what=Said("{pole_word} cable to chassis", {"pole_word": _POLE_WORDS[pole]}),
        how=(Said("{part} unplugged, everything else plugged in", {"part": part}),),
        why=Said("If it rises above the limit now, {part} leaks.", {"part": part}),
    )


def vehicle_proposals(
    record: Record, items: VehicleSide, result: VehicleSideResult
) -> tuple[Proposal, ...]:
    """Propose which part to unplug next, until one is found without which the rest is sound.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : VehicleSide
        The step's own items.
    result : VehicleSideResult
        What the readings say so far.

    Returns
    -------
    tuple[Proposal, ...]
        In the order of the definition; before each, the discharge that is still missing.
    """
    if record.pack is None or result.verdict != "fail" or result.leaking:
        return ()
    read = {given.part("unplugged") for given in record.all(items.reading)}
    pole, left = _lower_pole(record, items), undischarged(record, items)
    found = []
    for part in record.pack.vehicle_parts:
        if part in read:
            continue
        proposal = _proposal(items, part, pole)
        if left:
            proposal = replace(
                proposal,
                first=Said("First: discharge the cable and tick it."),
                first_item=left[0].item,
                first_qualifier=left[0].qualifier,
            )
        found.append(proposal)
    return tuple(found[:MOST_PROPOSALS])
