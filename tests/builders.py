"""Plain typed functions that make people, packs and entries for tests."""

import uuid
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from jobs.core.entry import Entry, Json, Kind
from jobs.core.item import Item, PersonUsed, Shape, effect_of, qualifier_of
from jobs.core.limits import Limits
from jobs.core.parsing import parse
from jobs.core.record import Record, fold
from jobs.core.seal import sealed
from packs.definition import PackDefinition, from_toml

FIXTURES = Path(__file__).parent.parent / "fixtures"
MORNING = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
REVISION = "00000000-0000-4000-8000-00000000000f"

ASTER = "00000000-0000-4000-8000-000000000001"
MUNK = "00000000-0000-4000-8000-000000000002"
THORNE = "00000000-0000-4000-8000-000000000003"
LORNE = "00000000-0000-4000-8000-000000000004"


@cache
def a_pack(name: str = "delivery-van") -> PackDefinition:
    """Give one of the three demo pack definitions."""
    return from_toml((FIXTURES / "packs" / f"{name}.toml").read_text(encoding="utf-8"))


def a_snapshot(person_id: str, role: str, *codes: str) -> Json:
    """Give the snapshot of a person whose qualifications do not expire."""
    held = [{"code": code, "expires_on": None} for code in codes]
    return {"id": person_id, "role": role, "qualifications": held}


PEOPLE: dict[str, Json] = {
    ASTER: a_snapshot(ASTER, "technician", "live_work", "second_person"),
    MUNK: a_snapshot(MUNK, "technician", "live_work", "second_person"),
    THORNE: a_snapshot(THORNE, "manager", "live_work", "release", "countersign", "second_person"),
    LORNE: a_snapshot(LORNE, "front_desk"),
}
"""R. Aster repairs, J. Munk stands by, M. Thorne releases, D. Lorne is at the desk."""


def a_person(person_id: str = ASTER) -> PersonUsed:
    """Give one of the four people as the flow sees them."""
    snapshot = PEOPLE[person_id]
    held = {row["code"]: None for row in snapshot["qualifications"]}
    return PersonUsed(person_id, snapshot["role"], held)


def an_equipment(kind: str, *, due_on: str | None = "2026-09-01", **ratings: Any) -> Json:
    """Give the snapshot of a piece of equipment, in date in March 2026."""
    return {
        "id": str(uuid.uuid5(uuid.NAMESPACE_OID, kind)),
        "kind": kind,
        "label": kind.upper(),
        "serial": f"{kind}-1",
        "ratings": ratings,
        "tested_on": "2026-02-01",
        "due_on": due_on,
        "issued": True,
        "cycles": 0,
        "withdrawn": False,
    }


def a_quotation(price: str = "1450", *, tax_percent: str = "0", **more: Any) -> Json:
    """Give a quotation of one line as it is sent."""
    line = {"kind": "part", "text": "Module M3, tested spare", "quantity": "1", "unit": "piece"}
    return {"lines": [{**line, "unit_price": price, "tax_percent": tax_percent}], **more}


@dataclass
class Bench:
    """Collects entries of a job one by one on a clock that only moves when told."""

    now: datetime = MORNING
    pack: PackDefinition | None = None
    limits: Limits = field(default_factory=Limits)
    entries: list[Entry] = field(default_factory=list)

    def wait(self, **time: float) -> None:
        """Move the clock on."""
        self.now += timedelta(**time)

    def add(self, kind: Kind, value: Json = None, *, by: str = ASTER, **more: Any) -> Entry:
        """Add an entry of any kind without asking a gate."""
        entry = Entry(
            key=str(uuid.uuid4()),
            seq=len(self.entries) + 1,
            kind=kind,
            value=value,
            person=by,
            at=self.now,
            **more,
        )
        self.entries.append(entry)
        return entry

    def put(self, item: Item[Any], raw: Json = True, *, by: str = ASTER, **parts: str) -> Entry:
        """Enter a value for an item, checked by its parser, without asking a gate.

        People are given by id, equipment and spares by their snapshot, whose numbers the record
        keeps as text.
        """
        value = sealed(raw)
        if item.shape in {Shape.PERSON, Shape.SIGNATURE}:
            value = PEOPLE[by if item.shape is Shape.SIGNATURE else raw]
        elif item.shape in {Shape.PERSONAL, Shape.DRAWN}:
            value = {"ref": str(uuid.uuid4()), "sha256": "0" * 64}
        elif item.shape not in {Shape.EQUIPMENT, Shape.SPARE}:
            value = parse(item, raw)
        return self.add(
            Kind.VALUE,
            value,
            by=by,
            item=item.key,
            qualifier=qualifier_of(**parts),
            effect=str(effect_of(item, value)),
        )

    def hold(self, slug: str, hold: str) -> Entry:
        """Pass a hold point without asking its gate; it rests on all that the step has so far."""
        values = (entry for entries in self.record().live.values() for entry in entries)
        keys = [entry.key for entry in values if entry.belongs_to(slug)]
        return self.add(Kind.HOLD, {"step": slug, "hold": hold, "rests_on": keys})

    def sign(self, slug: str, *, by: str = ASTER, outcome: str = "done", ends: str = "") -> Entry:
        """Sign a step without asking its gate."""
        value = {"step": slug, "outcome": outcome, "by": PEOPLE[by], "ends": ends, "seal": None}
        return self.add(Kind.SIGN, value, by=by)

    def prove(self, *, hours: float = 4.0, by: str = ASTER, second: str = MUNK) -> Entry:
        """Write a proof of absence of voltage without asking its gate."""
        until = (self.now + timedelta(hours=hours)).isoformat()
        return self.add(Kind.PROOF, {"until": until, "second": second, "round": "1"}, by=by)

    def record(self) -> Record:
        """Fold the entries."""
        packs = {} if self.pack is None else {REVISION: self.pack}
        entries = list(self.entries)
        if self.pack is not None and not any(e.kind is Kind.REVISION for e in entries):
            first = Entry(
                key=str(uuid.uuid4()),
                seq=0,
                kind=Kind.REVISION,
                value={"revision": REVISION},
                person=ASTER,
                at=MORNING,
            )
            entries.insert(0, first)
        return fold(entries, now=self.now, limits=self.limits, packs=packs)


def a_bench(name: str = "delivery-van") -> Bench:
    """Give an empty bench with a demo pack definition in force."""
    return Bench(pack=a_pack(name))
