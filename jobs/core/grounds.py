"""What a signature, a proof or a passed hold point rests on, and whether that changed since.

Pure. Not here: what ends when its grounds are lost (`jobs.core.record`).
"""

from typing import Any

from jobs.core.entry import Kind
from jobs.core.record import Record
from jobs.core.step import Step

__all__ = ["changed_since", "grounds"]


def grounds(record: Record, step: Step[Any]) -> list[str]:
    """Give the keys of everything in force in a step, sorted.

    Notes
    -----
    Without the second person's signature where it comes last: it rests on the others, and it is
    given again after any of them is struck.
    """
    last = step.signers.second if step.signers.second_last else None
    values = (entry for entries in record.live.values() for entry in entries)
    mine = (entry for entry in values if entry.belongs_to(step.slug))
    return sorted(entry.key for entry in mine if last is None or entry.item != last.key)


def changed_since(record: Record, step: str, seq: int) -> bool:
    """Tell whether a value of a step was entered or struck after a place in the chain.

    Parameters
    ----------
    record : Record
        The job as it stands.
    step : str
        Slug of the step.
    seq : int
        Place in the chain.

    Returns
    -------
    bool
        Also where what was entered since is struck again: it was seen in force by nobody who
        signed before.
    """
    since = [entry for entry in record.entries if entry.seq > seq]
    struck = {entry.value["key"] for entry in since if entry.kind is Kind.STRIKE}
    gone = (entry for entry in record.entries if struck and entry.key in struck)
    entered = (entry for entry in since if entry.kind is Kind.VALUE)
    return any(entry.belongs_to(step) for entry in (*gone, *entered))
