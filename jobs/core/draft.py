"""What somebody sends, before it is an entry, and what is answered to it."""

from dataclasses import dataclass, field

from jobs.core.entry import Json, Kind
from jobs.core.reason import Blocker

__all__ = ["Answer", "Draft"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """One entry as it was sent.

    Attributes
    ----------
    key : str
        Identifier made by the sender (UUID); the same key is never applied twice.
    job : str
        The job's identifier.
    kind : Kind
        What it is to do.
    item, qualifier : str
        The item it answers and which one of it.
    value : Json
        Raw input.
    person : str
        Who does it; empty for whoever is signed on.
    pin : str
        That person's PIN, where the act needs one. Never stored, no part of the content.
    seen_head : str
        Hash of the chain's head that the sender had seen.
    device : str
        Which tablet.
    device_seq : int
        The tablet's own running number.
    tablet_time : str
        The tablet's time; kept, never used by a gate.
    clock_offset_s : int | None
        How far the server's clock was ahead of the tablet's at their last contact [s]; kept, never
        used by a gate.
    paper : Json
        The sheet it was written on before (`jobs.core.paper`); None for what is entered here.
    ticket : str
        The server's word for who was signed on when it was made; no part of the content.
    sealed : Json
        The PIN sealed for this very entry (`jobs.actions.sealed_pin`), for what waited on the
        tablet; no part of the content.
    """

    key: str
    job: str
    kind: Kind
    item: str = ""
    qualifier: str = ""
    value: Json = None
    person: str = ""
    pin: str = field(default="", repr=False)
    seen_head: str = ""
    device: str = ""
    device_seq: int = 0
    tablet_time: str = ""
    clock_offset_s: int | None = None
    paper: Json = None
    ticket: str = field(default="", repr=False)
    sealed: Json = field(default=None, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What was done with a draft.

    Attributes
    ----------
    key : str
        The draft's key.
    verdict : str
        "applied", "refused", "pin", "auth" or "later". Only the first two are final.
    blockers : tuple[Blocker, ...]
        Why it was refused.
    head : str
        Hash of the chain's head afterwards.
    seq : int
        Place of the entry in the chain; 0 when none was written.
    tries_left : int | None
        For "pin": tries before the person is locked out for a while.
    locked_until : str
        For "pin": ISO time until which the person is locked out.
    """

    key: str
    verdict: str
    blockers: tuple[Blocker, ...] = ()
    head: str = ""
    seq: int = 0
    tries_left: int | None = None
    locked_until: str = ""
