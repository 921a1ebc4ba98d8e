"""One thing a person did, as it stands in the chain of a job.

Here: the kinds of entry and the frozen `Entry`. Not here: how an entry is hashed
(`jobs.core.seal`), what the entries of a job add up to (`jobs.core.record`).
"""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

__all__ = ["Entry", "Json", "Kind"]

Json = Any
"""A JSON value. Numbers that were measured are decimal strings inside it."""


class Kind(StrEnum):
    """What an entry does. The word is stored; it is never renamed."""

    OPEN = "open"
    VALUE = "value"
    STRIKE = "strike"
    SIGN = "sign"
    HOLD = "hold"
    REFUSAL = "refusal"
    REOPEN = "reopen"
    PROOF = "proof"
    PROOF_END = "proof_end"
    COUNTERSIGN = "countersign"
    WITHDRAW = "withdraw"
    REVISION = "revision"
    CLOSE = "close"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry of a job, in the order of the chain.

    Attributes
    ----------
    key : str
        Identifier made where the entry was made (UUID).
    seq : int
        Place in the chain of its job, counted from 1.
    kind : Kind
        What the entry does.
    item : str
        Key of the item it answers; empty for entries that answer none.
    qualifier : str
        Which one of a collection (``module=M7;pole=pos``); empty for a single item.
    value : Json
        What was entered, numbers as decimal strings, with snapshots of whatever it picks.
    person : str
        Identifier of the person who did it.
    at : datetime
        Server time of acceptance, in the workshop's zone. Waits and validity count from here.
    effect : str
        What it does to the vehicle (``jobs.core.item.Effect``), as known when it was entered.
    paper : Json
        The printed sheet it was typed in from; None for what was entered where it was done.
    """

    key: str
    seq: int
    kind: Kind
    item: str = ""
    qualifier: str = ""
    value: Json = None
    person: str = ""
    at: datetime
    effect: str = ""
    paper: Json = None

    def belongs_to(self, step: str) -> bool:
        """Tell whether it is a value of that step, and more than a note or a picture beside it."""
        return self.item.startswith(f"{step}.") and not self.item.endswith((".note", ".photo"))
