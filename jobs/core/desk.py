"""What the front desk keeps of a job beside its record: payer, who works, where car and keys are.

Events in, the desk's state out; the newest word counts and the earlier ones stay readable. Nothing
here opens or bars a step. Not here: the record, which alone says whether keys are locked away.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any, Final

__all__ = [
    "ASKED",
    "ASSIGNED",
    "CALL",
    "CALLS",
    "DONE",
    "FACTS",
    "LINES",
    "MOVED",
    "NOTE",
    "PAYERS",
    "PLACES",
    "PROMISED",
    "PROMISE_REASONS",
    "TEXT",
    "TEXTS",
    "WARRANTIES",
    "WAYS_SENT",
    "Desk",
    "DeskEvent",
    "Due",
    "Note",
    "desk_of",
    "notes_of",
]

FACTS: Final = "facts"
PROMISED: Final = "promised"
ASSIGNED: Final = "assigned"
MOVED: Final = "moved"
CALL: Final = "call"
ASKED: Final = "asked"
TEXT: Final = "text"
NOTE: Final = "note"
DONE: Final = "done"

LINES: Final = {
    FACTS: "Insurer, payer, warranty",
    PROMISED: "Promised day",
    ASSIGNED: "Assigned",
    MOVED: "Vehicle and keys",
    CALL: "Call",
    ASKED: "Customer asks",
    TEXT: "Message",
    NOTE: "Hand-over note",
    DONE: "Done",
}
"""Kind of an event to its title."""

PAYERS: Final = {
    "customer": "the customer",
    "insurer": "the insurer",
    "maker": "the vehicle maker",
    "shop": "this workshop",
}
"""Who pays."""

WARRANTIES: Final = {
    "none": "no warranty",
    "maker": "vehicle maker's warranty",
    "ours": "warranty of an earlier repair of ours",
}
"""Which warranty the job falls under."""

PLACES: Final = {
    "yard": "yard",
    "bay": "bay",
    "quarantine": "quarantine place outdoors",
    "away": "away",
}
"""Where a vehicle stands."""

PROMISE_REASONS: Final = {
    "parts": "parts are late",
    "longer": "the work takes longer",
    "found": "more was found",
    "customer": "the customer asked for it",
    "other": "another reason",
}
"""Why a promised day was moved; each is said to the customer as it stands."""

CALLS: Final = {
    "we": "we called the customer",
    "they": "the customer called us",
    "visit": "the customer came by",
}
"""Who called whom."""

TEXTS: Final = {
    "ready": "Ready to collect",
    "quotation": "A quotation is waiting",
    "moved": "The promised day has moved",
}
"""Messages that are made from a job."""

WAYS_SENT: Final = {"sms": "text message", "mail": "mail", "said": "read out by telephone"}
"""How a message went."""

_OF_FACTS: Final = ("payer", "warranty", "insurer", "claim", "recall")
_OF_MOVES: Final = ("place", "spot", "hook")


@dataclass(frozen=True, slots=True, kw_only=True)
class DeskEvent:
    """One thing that was written at the desk.

    Attributes
    ----------
    key : str
        Its identifier.
    job : str
        The job's identifier; empty for a note to the whole next shift.
    kind : str
        One of `LINES`.
    at : datetime
        When it was written.
    person : str
        Who wrote it.
    values : Mapping[str, str]
        Codes, days and places.
    words : Mapping[str, str]
        Words that may be about a person; empty once they are erased.
    due_on : date | None
        The day of the next call.
    about : str
        The event that this one settles.
    erased : bool
        Whether its words were erased.
    """

    key: str
    kind: str
    at: datetime
    person: str
    job: str = ""
    values: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    due_on: date | None = None
    about: str = ""
    erased: bool = False


@dataclass(frozen=True, slots=True)
class Due:
    """A call that is still to be made: until when, and what it is about."""

    on: date
    about: str
    key: str


@dataclass(frozen=True, slots=True)
class Note:
    """A note or question that stands, and who settled it, if anybody did."""

    event: DeskEvent
    done: DeskEvent | None = None

    @property
    def text(self) -> str:
        """The words; empty once they were erased."""
        return self.event.words.get("text", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """How a job stands at the desk.

    Attributes
    ----------
    payer, warranty, insurer, claim, recall : str
        Facts of the job; empty where nobody said.
    assigned : str
        Whose job it is: a person's identifier.
    place, spot, hook : str
        Where the vehicle stands (one of `PLACES`, and more closely), where its keys hang.
    moved : DeskEvent | None
        The last move of either.
    due : Due | None
        The next call.
    untold : DeskEvent | None
        The last move of the promised day, while the customer was not told of it.
    asks, notes : tuple[Note, ...]
        What the customer asks and what the next shift has to know, settled or not.
    """

    payer: str = ""
    warranty: str = ""
    insurer: str = ""
    claim: str = ""
    recall: str = ""
    assigned: str = ""
    place: str = ""
    spot: str = ""
    hook: str = ""
    moved: DeskEvent | None = None
    due: Due | None = None
    untold: DeskEvent | None = None
    asks: tuple[Note, ...] = ()
    notes: tuple[Note, ...] = ()

    @property
    def open_asks(self) -> tuple[Note, ...]:
        """Questions of the customer that nobody answered."""
        return tuple(each for each in self.asks if each.done is None)

    @property
    def open_notes(self) -> tuple[Note, ...]:
        """Notes of this job that nobody has read."""
        return tuple(each for each in self.notes if each.done is None)


def _changes(state: Desk, event: DeskEvent) -> dict[str, Any]:
    """Give what an event changes, as fields of the state; questions and notes come apart."""
    said, told = {**event.values, **event.words}, event.values.get("told") == "yes"
    changed: dict[str, Any] = {}
    if event.kind == FACTS:
        changed = {name: said[name] for name in _OF_FACTS if name in said}
    elif event.kind == ASSIGNED:
        changed = {"assigned": said.get("person", "")}
    elif event.kind == MOVED:
        changed = {name: said[name] for name in _OF_MOVES if name in said} | {"moved": event}
    elif event.kind == PROMISED:
        changed = {"untold": None if told else event}
    elif event.kind == TEXT:
        told = event.values.get("text") == "moved"
        changed = {"untold": None if told else state.untold}
    elif event.kind == CALL:
        due = None if event.due_on is None else Due(event.due_on, said.get("next", ""), event.key)
        changed = {"due": due, "untold": None if told else state.untold}
    return changed


def notes_of(events: Iterable[DeskEvent], kind: str) -> tuple[Note, ...]:
    """Give the events of a kind, each with the first one that settled it.

    Parameters
    ----------
    events : Iterable[DeskEvent]
        In the order in which they were written.
    kind : str
        Such as `NOTE`.

    Returns
    -------
    tuple[Note, ...]
        In the same order.
    """
    known = tuple(events)
    done: dict[str, DeskEvent] = {}
    for each in known:
        if each.kind == DONE:
            done.setdefault(each.about, each)
    return tuple(Note(each, done.get(each.key)) for each in known if each.kind == kind)


def desk_of(events: Iterable[DeskEvent]) -> Desk:
    """Give how a job stands at the desk.

    Parameters
    ----------
    events : Iterable[DeskEvent]
        Everything that was written of one job, in order.

    Returns
    -------
    Desk
        The newest word of each.

    Examples
    --------
    >>> from datetime import UTC
    >>> at = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
    >>> bay = DeskEvent(key="1", kind=MOVED, at=at, person="p", values={"place": "bay"})
    >>> keys = DeskEvent(key="2", kind=MOVED, at=at, person="p", values={"hook": "7"})
    >>> desk_of([bay, keys]).place, desk_of([bay, keys]).hook
    ('bay', '7')
    """
    known, state = tuple(events), Desk()
    for each in known:
        state = replace(state, **_changes(state, each))
    return replace(state, asks=notes_of(known, ASKED), notes=notes_of(known, NOTE))
