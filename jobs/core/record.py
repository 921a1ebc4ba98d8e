"""What the entries of a job add up to.

Here: `Record` and `fold`. A record knows values, signatures, passed holds, the proof of absence
of voltage, whether the lid is off, and nothing of any particular step. Not here: what is
missing or allowed (`jobs.core.flow`).
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, Generic, TypeVar

from jobs.core.entry import Entry, Json, Kind
from jobs.core.item import Effect, Item, PersonUsed, qualifier_parts, read_person
from jobs.core.limits import Limits
from jobs.core.misrated import without_misrated
from packs.definition import PackDefinition

__all__ = ["Closing", "Given", "Proof", "Record", "Signature", "fold"]

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Given(Generic[T]):
    """A value now in force, with the entry that carries it."""

    value: T
    entry: Entry

    @property
    def at(self) -> datetime:
        """Server time at which it was accepted, in the workshop's zone."""
        return self.entry.at

    @property
    def person(self) -> str:
        """Identifier of the person who entered it."""
        return self.entry.person

    @property
    def seq(self) -> int:
        """Place in the chain."""
        return self.entry.seq

    def part(self, name: str) -> str:
        """Give one part of the qualifier; empty when it has none of that name."""
        return qualifier_parts(self.entry.qualifier).get(name, "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """A step signed: by whom, when, and what was sealed."""

    step: str
    outcome: str
    by: PersonUsed
    second: str
    at: datetime
    seq: int
    ends: str
    seal: Json
    superseded: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """The absence of voltage on the circuit outside the pack, proven by two people.

    `rests_on` are the keys of the entries it was written on: where one of them is struck or
    voided, or the equipment it picked is withdrawn, the proof ends.
    """

    at: datetime
    until: datetime
    technician: str
    second: str
    round: str
    rests_on: frozenset[str] = frozenset()
    ended_at: datetime | None = None
    ended_by: str = ""

    def holds_at(self, now: datetime) -> bool:
        """Tell whether the proof is in force."""
        return self.ended_at is None and now < self.until


@dataclass(frozen=True, slots=True)
class Closing:
    """How the job was closed."""

    how: str
    at: datetime
    person: str
    value: Json


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """A job as it stands at `now`.

    Attributes
    ----------
    now : datetime
        The server's time for which the record is made, in the workshop's zone: its day is the
        workshop's day.
    entries : tuple[Entry, ...]
        All entries, in the order of the chain.
    pack : PackDefinition | None
        The pack definition in force; None until one is chosen.
    revision : str
        Identifier of the pack revision in force.
    limits : Limits
        The shop's limits in force.
    live : Mapping[str, tuple[Entry, ...]]
        Values in force by item key, oldest first.
    gone : Mapping[str, str]
        Keys of values struck or voided, with the reason.
    signatures : Mapping[str, Signature]
        Standing signature of each signed step.
    superseded : tuple[Signature, ...]
        Signatures that a re-opening has superseded.
    reopened : Mapping[str, Entry]
        Last re-opening of each step that was re-opened.
    holds : Mapping[tuple[str, str], Entry]
        Last passing of each hold point (step, hold), while all that it rests on is in force.
    countersigned : tuple[Entry, ...]
        What a manager accepted with a reason.
    proof : Proof | None
        The last proof of absence of voltage, in force or not.
    lid_events : tuple[Entry, ...]
        When the lid came off and went on again; a strike removes one, a re-opening does not.
    withdrawn : Mapping[str, str]
        Equipment withdrawn while in use, with the reason.
    misrated : Mapping[str, str]
        Picks of signed steps whose ratings were corrected since; gone once it is re-opened.
    closed : Closing | None
        Set when the job is closed.
    """

    now: datetime
    limits: Limits
    entries: tuple[Entry, ...] = ()
    pack: PackDefinition | None = None
    revision: str = ""
    live: Mapping[str, tuple[Entry, ...]] = field(default_factory=dict)
    gone: Mapping[str, str] = field(default_factory=dict)
    signatures: Mapping[str, Signature] = field(default_factory=dict)
    superseded: tuple[Signature, ...] = ()
    reopened: Mapping[str, Entry] = field(default_factory=dict)
    holds: Mapping[tuple[str, str], Entry] = field(default_factory=dict)
    countersigned: tuple[Entry, ...] = ()
    proof: Proof | None = None
    lid_events: tuple[Entry, ...] = ()
    withdrawn: Mapping[str, str] = field(default_factory=dict)
    misrated: Mapping[str, str] = field(default_factory=dict)
    closed: Closing | None = None

    def given(self, item: Item[T], qualifier: str = "") -> Given[T] | None:
        """Give the newest value in force of an item, with its entry."""
        for entry in reversed(self.live.get(item.key, ())):
            if not qualifier or entry.qualifier == qualifier:
                return Given(item.read(entry.value), entry)
        return None

    def get(self, item: Item[T], qualifier: str = "") -> T | None:
        """Give the newest value in force of an item; None when it has none."""
        given = self.given(item, qualifier)
        return None if given is None else given.value

    def all(self, item: Item[T]) -> tuple[Given[T], ...]:
        """Give every value in force of a collection item, oldest first."""
        return tuple(Given(item.read(entry.value), entry) for entry in self.live.get(item.key, ()))

    def has(self, item: Item[Any]) -> bool:
        """Tell whether an item has a value in force."""
        return bool(self.live.get(item.key))

    @property
    def pack_open(self) -> bool:
        """Whether the lid is off now."""
        return bool(self.lid_events) and self.lid_events[-1].effect == Effect.OPENS_PACK

    @property
    def lid_was_off(self) -> bool:
        """Whether the lid came off at any time in this job."""
        return any(event.effect == Effect.OPENS_PACK for event in self.lid_events)

    def proof_holds(self) -> bool:
        """Tell whether the circuit outside the pack is proven dead now."""
        return self.proof is not None and self.proof.holds_at(self.now)


def _value(record: Record, entry: Entry) -> Record:
    live = {**record.live, entry.item: (*record.live.get(entry.item, ()), entry)}
    record = replace(record, live=live)
    if entry.effect in {Effect.OPENS_PACK, Effect.CLOSES_PACK}:
        return replace(record, lid_events=(*record.lid_events, entry))
    if entry.effect in {Effect.ENDS_PROOF, Effect.DOUBTS_PROOF}:
        return _ended(record, entry, entry.item)
    return record


def _ended(record: Record, entry: Entry, cause: str) -> Record:
    if record.proof is None or record.proof.ended_at is not None:
        return record
    return replace(record, proof=replace(record.proof, ended_at=entry.at, ended_by=cause))


def _undermined(record: Record, entry: Entry, lost: Collection[str], cause: str) -> Record:
    """End the proof and the passed hold points where entries that they rest on are lost."""
    holds = {
        place: passed
        for place, passed in record.holds.items()
        if frozenset(lost).isdisjoint(passed.value.get("rests_on", ()))
    }
    record = replace(record, holds=holds)
    if record.proof is None or record.proof.rests_on.isdisjoint(lost):
        return record
    return _ended(record, entry, cause)


def _without(
    live: Mapping[str, tuple[Entry, ...]], keep: Callable[[Entry], bool]
) -> dict[str, tuple[Entry, ...]]:
    kept = {item: tuple(filter(keep, values)) for item, values in live.items()}
    return {item: values for item, values in kept.items() if values}


def _strike(record: Record, entry: Entry) -> Record:
    target = entry.value["key"]
    live = _without(record.live, lambda value: value.key != target)
    lid_events = tuple(event for event in record.lid_events if event.key != target)
    gone = {**record.gone, target: entry.value["reason"]}
    record = replace(record, live=live, gone=gone, lid_events=lid_events)
    return _undermined(record, entry, (target,), "struck")


def _sign(record: Record, entry: Entry) -> Record:
    value = entry.value
    signature = Signature(
        step=value["step"],
        outcome=value["outcome"],
        by=read_person(value["by"]),
        second=value.get("second", ""),
        at=entry.at,
        seq=entry.seq,
        ends=value.get("ends", ""),
        seal=value.get("seal"),
    )
    return replace(record, signatures={**record.signatures, signature.step: signature})


def _hold(record: Record, entry: Entry) -> Record:
    place = (entry.value["step"], entry.value["hold"])
    return replace(record, holds={**record.holds, place: entry})


def _reopen(record: Record, entry: Entry) -> Record:
    value = entry.value
    void_items, steps = frozenset(value["voids"]), frozenset(value["supersedes"])
    voided = [e for key in void_items for e in record.live.get(key, ())]
    gone = {**record.gone, **{e.key: value["reason"] for e in voided}}
    kept = {slug: sig for slug, sig in record.signatures.items() if slug not in steps}
    lost = (sig for slug, sig in record.signatures.items() if slug in steps)
    record = _undermined(record, entry, {each.key for each in voided}, "reopened")
    accepted = (e for e in record.countersigned if e.value["item"].partition(".")[0] not in steps)
    record = replace(
        record,
        countersigned=tuple(accepted),
        live={item: v for item, v in record.live.items() if item not in void_items},
        gone=gone,
        signatures=kept,
        superseded=(*record.superseded, *(replace(sig, superseded=True) for sig in lost)),
        reopened={**record.reopened, **dict.fromkeys(steps, entry)},
        holds={place: e for place, e in record.holds.items() if place[0] not in steps},
    )
    return _unpicked(record, record.misrated)


def _proof(record: Record, entry: Entry) -> Record:
    value = entry.value
    proof = Proof(
        at=entry.at,
        until=datetime.fromisoformat(value["until"]),
        technician=entry.person,
        second=value["second"],
        round=value["round"],
        rests_on=frozenset(value.get("rests_on", ())),
    )
    return replace(record, proof=proof)


def _proof_end(record: Record, entry: Entry) -> Record:
    return _ended(record, entry, entry.value["cause"])


def _countersign(record: Record, entry: Entry) -> Record:
    return replace(record, countersigned=(*record.countersigned, entry))


def _withdraw(record: Record, entry: Entry) -> Record:
    value = entry.value
    picked = {
        each.key
        for values in record.live.values()
        for each in values
        if isinstance(each.value, dict) and each.value.get("id") == value["id"]
    }
    if value.get("corrected"):
        record = _unpicked(record, {**record.misrated, **dict.fromkeys(picked, value["reason"])})
        return _undermined(record, entry, picked, "corrected")
    record = replace(record, withdrawn={**record.withdrawn, value["id"]: value["reason"]})
    return _undermined(record, entry, picked, "withdrawn")


def _unpicked(record: Record, misrated: Mapping[str, str]) -> Record:
    """Take picks out of force whose ratings were corrected; a signed step keeps its own."""
    live, out = without_misrated(record.live, misrated, signed=record.signatures)
    gone = {**record.gone, **{key: misrated[key] for key in out}}
    left = {key: why for key, why in misrated.items() if key not in out}
    return replace(record, live=live, gone=gone, misrated=left)


def _close(record: Record, entry: Entry) -> Record:
    return replace(record, closed=Closing(entry.value["how"], entry.at, entry.person, entry.value))


def _revise(record: Record, entry: Entry, packs: Mapping[str, PackDefinition]) -> Record:
    """Put a pack definition in force; what was proven or passed on another one counts no more."""
    revision = entry.value["revision"]
    record = replace(record, revision=revision, pack=packs[revision], holds={})
    return _ended(record, entry, "revision")


def _nothing(record: Record, _entry: Entry) -> Record:
    return record


_FOLDS: dict[Kind, Callable[[Record, Entry], Record]] = {
    Kind.OPEN: _nothing,
    Kind.VALUE: _value,
    Kind.STRIKE: _strike,
    Kind.SIGN: _sign,
    Kind.HOLD: _hold,
    Kind.REFUSAL: _nothing,
    Kind.REOPEN: _reopen,
    Kind.PROOF: _proof,
    Kind.PROOF_END: _proof_end,
    Kind.COUNTERSIGN: _countersign,
    Kind.WITHDRAW: _withdraw,
    Kind.CLOSE: _close,
}


def fold(
    entries: Sequence[Entry],
    *,
    now: datetime,
    limits: Limits,
    packs: Mapping[str, PackDefinition],
    onto: Record | None = None,
) -> Record:
    """Add the entries of a job up to its record.

    Parameters
    ----------
    entries : Sequence[Entry]
        All entries, in the order of the chain; those that follow it, where it goes on from one.
    now : datetime
        The server's time (UTC).
    limits : Limits
        The shop's limits in force.
    packs : Mapping[str, PackDefinition]
        The pack definitions the entries name, by revision.
    onto : Record | None
        The record of the entries before these.

    Returns
    -------
    Record
        The job as it stands.

    Notes
    -----
    A pure function of its arguments: the same entries always give the same record, at once or
    in parts.
    """
    record = Record(now=now, limits=limits)
    if onto is not None:
        record = replace(onto, now=now, limits=limits)
    for entry in entries:
        if entry.kind is Kind.REVISION:
            record = _revise(record, entry, packs)
        else:
            record = _FOLDS[entry.kind](record, entry)
    return replace(record, entries=(*record.entries, *entries))
