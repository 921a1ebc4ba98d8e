"""What a step is: one frozen value with its functions. No base class, no registry.

Here: `Step[A]`, `Hold`, `Signers`, `ProofRound`. `A` is the room's own result type, so that
gate, hold points and section read what the room's assessment produced.
Not here: the rooms (`jobs.steps`) and the flow through them (`jobs.core.flow`).
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Generic, TypeVar

from jobs.core.item import Item, PersonUsed
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.section import Section

__all__ = ["Hold", "ProofRound", "Signers", "Step", "ends_never", "skip_never"]

A = TypeVar("A")


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """A hold point: the act it stands before, what it needs, and how long it counts.

    Attributes
    ----------
    slug : str
        Name within its step; items name it to stay locked until it is passed.
    act : str
        The act that cannot be taken back, in plain words ("the lid comes off").
    needs : tuple[Item, ...]
        Items that have to be entered before.
    blockers : tuple[Blocker, ...]
        What else stands against it now.
    valid_h : float | None
        Hours after which it has to be passed again [h]; None for no lapse.
    cautions : tuple[str, ...]
        What is said on the screen where it is asked.
    qualification : str | None
        What whoever passes it must hold; None for the same as the step's signers.
    """

    slug: str
    act: str
    needs: tuple[Item[Any], ...] = ()
    blockers: tuple[Blocker, ...] = ()
    valid_h: float | None = None
    cautions: tuple[str, ...] = ()
    qualification: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Signers:
    """Who may sign a step.

    Attributes
    ----------
    roles : tuple[str, ...]
        Roles of which the signer must have one.
    qualification : str
        Qualification the signer must hold; empty for none.
    second : Item | None
        Signature item of the second person; must be another person, qualified for it.
    second_qualifications : tuple[str, ...]
        Qualifications of which the second person must hold one.
    second_last : bool
        Whether the second person signs after everything else in the step.
    not_signer_of : tuple[str, ...]
        Steps whose signer may not sign this one.
    """

    roles: tuple[str, ...] = ("technician", "manager")
    qualification: str = ""
    second: Item[PersonUsed] | None = None
    second_qualifications: tuple[str, ...] = ("second_person", "live_work")
    second_last: bool = False
    not_signer_of: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofRound:
    """What the readings of one round say about the absence of voltage.

    Attributes
    ----------
    verdict : str
        "dead", "live" or "void".
    blockers : tuple[Blocker, ...]
        What stands against writing the proof; empty only when `verdict` is "dead".
    second : PersonUsed | None
        The second person who signed the round; None while nobody has.
    until : datetime | None
        End of its validity (UTC).
    seal : object
        The result to be sealed.
    """

    verdict: str
    blockers: tuple[Blocker, ...]
    second: PersonUsed | None
    until: datetime | None
    seal: object


def skip_never(_record: Record) -> Reason | None:
    """Say that the step is always needed."""
    return None


def ends_never(_record: Record) -> str:
    """Say that signing the step never ends the job."""
    return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step(Generic[A]):
    """One of the eight steps.

    Attributes
    ----------
    slug, title : str
        Stable name and the trade's name.
    signers : Signers
        Who signs.
    items : Callable[[Record], tuple[Item, ...]]
        What is asked now, in order; depends on the pack definition and earlier entries.
    assess : Callable[[Record], A]
        Readings to figures and verdict; total, never raises for a record.
    holds : Callable[[Record, A], tuple[Hold, ...]]
        Hold points of the step, in order.
    blockers : Callable[[Record, A], tuple[Blocker, ...]]
        What blocks the signature beyond missing items.
    section : Callable[[Record, A], Section]
        What the step says on the screen and in the report.
    reasons : tuple[Reason, ...]
        Every reason the room may give, so that a stored refusal can be said later.
    skip : Callable[[Record], Reason | None]
        Why the step does not apply; None when it does.
    ends : Callable[[Record], str]
        How the job ends once this step is signed ("declined", "not_found"); empty: it goes on.
    prove : Callable[[Record, str], ProofRound] | None
        Judges a round of the proof of absence of voltage; only the step that records it has one.
    entrants : tuple[str, ...]
        Roles that may enter items.
    retired : tuple[Item, ...]
        Items no longer asked, or asked only at times, so that what was entered for them can still
        be shown.
    gate_version : int
        Sealed by each signature; raised when what the gate asks changes.
    """

    slug: str
    title: str
    signers: Signers
    items: Callable[[Record], tuple[Item[Any], ...]]
    assess: Callable[[Record], A]
    holds: Callable[[Record, A], tuple[Hold, ...]]
    blockers: Callable[[Record, A], tuple[Blocker, ...]]
    section: Callable[[Record, A], Section]
    reasons: tuple[Reason, ...]
    skip: Callable[[Record], Reason | None] = skip_never
    ends: Callable[[Record], str] = ends_never
    prove: Callable[[Record, str], ProofRound] | None = None
    entrants: tuple[str, ...] = ("technician", "manager")
    retired: tuple[Item[Any], ...] = ()
    gate_version: int = 1
