"""A job being played: who is there, with which tablets, on which clock, at which vehicle.

Here: reading the record, sending one act, letting time pass. Not here: what is answered
(`answers`), in which order (`player`).
"""

import uuid
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any, Protocol

from jobs.core.entry import Json, Kind
from jobs.core.item import EquipmentUsed, Item
from jobs.core.order import open_step
from jobs.core.record import Record
from jobs.core.step import Step
from jobs.practice.bench import Bench
from jobs.practice.scenario import Recipe
from jobs.practice.shop import Shop
from jobs.practice.tablet import Hand, Reply, Tablet
from jobs.queries.folding import Grounds
from jobs.queries.records import fold_job, job_info
from jobs.steps import STEPS
from packs.definition import PackDefinition
from workshop import queries as shop_queries
from workshop.clock import FixedClock
from workshop.registers import EquipmentInfo

__all__ = ["DESK", "MANAGER", "SECOND", "TECHNICIAN", "Draft", "Scene", "Silent", "Stuck", "Teller"]

TECHNICIAN, SECOND, MANAGER, DESK = "Aster", "Munk", "Thorne", "Lorne"
"""Short names of who plays: repairs, stands by, releases, is at the desk."""
ENTRY_S = 25.0
"""How long an act takes before it is entered [s]."""


class Stuck(Exception):
    """The job does not go on: what was wanted, and what the door answered."""

    def __init__(self, wanted: str, reply: Reply | None = None) -> None:
        points = [] if reply is None else [f"{r.code}: {r.text}" for r in reply.reasons]
        said = "" if reply is None else f" ({reply.status} {reply.verdict})"
        super().__init__("\n  ".join([f"{wanted}{said}", *points]))
        self.reply = reply


class Teller(Protocol):
    """Whoever is told what happens in a job."""

    def acted(self, scene: "Scene", draft: "Draft", reply: Reply) -> None:
        """Hear of an act and what was answered to it."""

    def said(self, sentence: str) -> None:
        """Hear a sentence about what is tried."""


class Silent:
    """Nobody listens."""

    def acted(self, scene: "Scene", draft: "Draft", reply: Reply) -> None:
        """Say nothing."""

    def said(self, sentence: str) -> None:
        """Say nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """An act about to be sent; `by` is a short name, `at` the tablet where it is not that one's."""

    kind: Kind
    by: str
    item: str = ""
    qualifier: str = ""
    value: Json = None
    at: str = ""
    pin: str | None = None


_WITH_PIN = {Kind.SIGN, Kind.HOLD, Kind.PROOF, Kind.REOPEN, Kind.COUNTERSIGN, Kind.CLOSE}


@dataclass
class Scene:
    """One job in play."""

    shop: Shop
    job: str
    recipe: Recipe
    clock: FixedClock
    bench: Bench
    grounds: Grounds
    tablets: dict[str, Hand] = field(default_factory=dict)
    hand: Callable[[str, str], Hand] = Tablet
    teller: Teller = field(default_factory=Silent)
    mishaps: dict[str, Callable[["Scene"], None]] = field(default_factory=dict)
    stop: str = ""
    sent: int = 0
    refused: int = 0
    head: str = ""
    kept: Record | None = None
    shelves: dict[tuple[str, date], tuple[EquipmentInfo, ...]] = field(default_factory=dict)

    @property
    def plays(self) -> bool:
        """Whether nobody else lets time pass: readings then wait for their moment."""
        return True

    @property
    def pack(self) -> PackDefinition:
        """The definition of the pack that is worked on."""
        return self.bench.pack

    def record(self) -> Record:
        """Give the job as it stands now; read again after each act."""
        if self.kept is None:
            self.kept = self._read()
        return replace(self.kept, now=self.clock.now().astimezone(self.kept.now.tzinfo))

    def _read(self) -> Record:
        """Read the job as far as the last answer says it goes."""
        if not self.head:
            info = job_info(self.job)
            self.head = "" if info is None else info.head
        job = uuid.UUID(self.job)
        return fold_job(job, head_hash=self.head, now=self.clock.now(), grounds=self.grounds)

    def open_step(self) -> Step[Any] | None:
        """Give the step that is open."""
        return open_step(STEPS, self.record())

    def wait(self, **time: float) -> None:
        """Let time pass."""
        self.clock.advance(timedelta(**time))

    def wait_until(self, moment: datetime) -> None:
        """Let time pass until a minute after a moment; nothing where that is over."""
        self.clock.moment = max(self.clock.moment, moment + timedelta(minutes=1))

    def new_key(self) -> str:
        """Give the next entry's identifier, the same in every run of the same job."""
        self.sent += 1
        return str(uuid.uuid5(uuid.UUID(self.job), f"entry {self.sent}"))

    def entry(self, draft: Draft, key: str) -> dict[str, Any]:
        """Write an act as a tablet sends it."""
        with_pin = draft.kind in _WITH_PIN or bool(draft.at)
        pin = draft.pin if draft.pin is not None else self.shop.pin if with_pin else ""
        return {
            "key": key,
            "job": self.job,
            "kind": str(draft.kind),
            "item": draft.item,
            "qualifier": draft.qualifier,
            "value": draft.value,
            "person": self.shop.people[draft.by] if draft.at else "",
            "pin": pin,
            "device": f"tablet of {draft.at or draft.by}",
            "device_seq": self.sent,
        }

    def tablet(self, draft: Draft) -> Hand:
        """Give the tablet from which an act is sent."""
        name = draft.at or draft.by
        if name not in self.tablets:
            self.tablets[name] = self.hand(self.shop.people[name], self.shop.pin)
        return self.tablets[name]

    def send(self, draft: Draft, key: str = "") -> Reply:
        """Send an act, whatever is answered."""
        self.wait(seconds=ENTRY_S)
        self.kept = None
        reply = self.tablet(draft).post(self.entry(draft, key or self.new_key()))
        self.head = reply.head or self.head
        self.refused += reply.verdict == "refused"
        self.teller.acted(self, draft, reply)
        return reply

    def do(self, draft: Draft) -> Reply:
        """Send an act that has to be taken.

        Raises
        ------
        Stuck
            With the reasons, where it is not.
        """
        reply = self.send(draft)
        if reply.verdict != "applied":
            raise Stuck(f"{draft.kind} {draft.item} {draft.qualifier} {draft.value!r}", reply)
        return reply

    def enter(self, item: Item[Any], raw: Json, *, by: str = TECHNICIAN, at: str = "") -> None:
        """Enter a value for an item of which there is one."""
        self.do(Draft(kind=Kind.VALUE, by=by, item=item.key, qualifier=at, value=raw))

    def strike(self, item: Item[Any], reason: str, *, at: str = "") -> None:
        """Strike the value in force of an item."""
        given = self.record().given(item, at)
        if given is None:
            raise Stuck(f"There is nothing to strike for {item.key}")
        value = {"key": given.entry.key, "reason": reason}
        self.do(Draft(kind=Kind.STRIKE, by=TECHNICIAN, value=value))

    def shelf(self, kind: str) -> tuple[EquipmentInfo, ...]:
        """Give the equipment of a kind, as it stands on that day."""
        day = shop_queries.local_day(self.clock.now())
        if (kind, day) not in self.shelves:
            self.shelves[kind, day] = shop_queries.equipment_of_kind(kind, day)
        return self.shelves[kind, day]

    def picked(self, item: Item[EquipmentUsed], at: str = "") -> EquipmentUsed:
        """Give the equipment that was picked."""
        used = self.record().get(item, at)
        if used is None:
            raise Stuck(f"Nothing was picked for {item.key}")
        return used
