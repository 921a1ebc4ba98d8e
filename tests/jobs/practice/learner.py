"""A learner who plays a practice job with nothing but its addresses."""

import json
import re
import uuid
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from django.test import Client
from django.urls import reverse
from typing_extensions import override

from jobs.core.entry import Kind
from jobs.core.item import Item, qualifier_parts
from jobs.practice.bench import Bench
from jobs.practice.player import renew_proof
from jobs.practice.room.looking import MODES
from jobs.practice.scenario import recipe, scenario
from jobs.practice.scene import DESK, MANAGER, SECOND, TECHNICIAN, Draft, Scene, Stuck
from jobs.practice.shop import Shop, Vehicle
from jobs.practice.tablet import Reply, Tablet
from jobs.queries.practice import PracticeInfo, practice_of
from jobs.queries.practice_shelf import (
    COLLEAGUE_PIN,
    COLLEAGUES,
    VIN,
    opening_of,
    pieces_of_kind,
    spares_for,
)
from jobs.queries.records import grounds_in_force, job_info, record_of
from jobs.steps.de_energise_check.items import DEAD, proof_points
from jobs.steps.module_swap.items import SPARE
from packs.queries import latest_revision
from tests.play import MORNING, a_practice_shop, light_pins
from workshop import clock as shop_clock
from workshop.queries import local_day

FACTORS = {"": 1.0, "k": 1e3, "M": 1e6, "G": 1e9}
PINS = {person.id: COLLEAGUE_PIN for person in COLLEAGUES}


def typed_from(text: str) -> str:
    """Type what stands on a display."""
    plain = text.replace("\u00a0", " ")
    found = re.fullmatch(r"(>?) ?(-?[0-9.]+) ?([kMG]?)Ω", plain)
    if found is None:
        return plain
    return f"{found[1]}{float(found[2]) * FACTORS[found[3]]:.0f}"


@dataclass
class Learner(Scene):
    """A practice job in the hands of somebody who knows only what the screen shows."""

    own_pin: str = field(default="", kw_only=True)
    looks: int = field(default=0, kw_only=True)

    @property
    def client(self) -> Client:
        hand = self.hands()
        return hand.client

    def hands(self) -> Tablet:
        if TECHNICIAN not in self.tablets:
            self.tablets[TECHNICIAN] = Tablet(self.shop.people[TECHNICIAN], self.own_pin)
        hand = self.tablets[TECHNICIAN]
        assert isinstance(hand, Tablet)
        return hand

    @property
    def uuid(self) -> uuid.UUID:
        return uuid.UUID(self.job)

    def info(self) -> PracticeInfo:
        info = practice_of(self.job)
        assert info is not None
        return info

    def ask(self, name: str, **values: object) -> tuple[int, dict[str, Any]]:
        """Send something to an address of the practice job."""
        address = reverse(f"jobs:practice_{name}", args=(self.job,))
        sent = json.dumps(values)
        answer = self.client.post(address, data=sent, content_type="application/json")
        if answer.status_code == 302:  # idle for too long: sign on again
            self.hands().sign_on()
            answer = self.client.post(address, data=sent, content_type="application/json")
        return answer.status_code, answer.json()

    @override
    def record(self) -> Any:
        record = record_of(self.job, now=self.clock.now())
        assert record is not None
        return record

    @override
    def wait(self, **time: float) -> None:
        """Let time pass in this job alone; a few seconds are the shop's own."""
        seconds = sum(
            float(value) * {"seconds": 1, "minutes": 60, "hours": 3600}[name]
            for name, value in time.items()
        )
        if seconds <= 60:
            super().wait(seconds=seconds)
            return
        address = reverse("jobs:practice_time", args=(self.job,))
        for _ in range(2):
            answer = self.client.post(address, {"seconds": f"{seconds:.0f}"})
            if answer.status_code == 302 and "/sign-on" not in answer["Location"]:
                return
            self.hands().sign_on()
        raise Stuck("time does not pass")

    @override
    def wait_until(self, moment: datetime) -> None:
        missing_s = (moment - self.record().now).total_seconds() + 60.0
        if missing_s > 0:
            self.wait(seconds=max(61.0, missing_s))

    @override
    def entry(self, draft: Draft, key: str) -> dict[str, Any]:
        sent = super().entry(draft, key)
        person = self.shop.people[draft.by]
        others = draft.by != TECHNICIAN and (draft.kind is not Kind.VALUE or bool(draft.at))
        return sent | {
            "person": person if others else "",
            "pin": PINS.get(person, self.own_pin) if sent["pin"] else "",
        }

    @override
    def tablet(self, draft: Draft) -> Tablet:
        return self.hands()

    @override
    def send(self, draft: Draft, key: str = "") -> Reply:
        """Type what an instrument shows; leave the rest to the colleague where that is offered."""
        if draft.kind is Kind.VALUE and draft.item in MODES:
            value = self.read(draft.item, draft.qualifier)
            draft = Draft(
                kind=draft.kind,
                by=draft.by,
                item=draft.item,
                qualifier=draft.qualifier,
                value=value,
            )
        elif draft.kind is Kind.VALUE and self.piece(draft) is not None:
            draft = replace(draft, value=self.piece(draft))
        elif draft.kind is Kind.VALUE:
            super().wait(seconds=25)
            place = {"item": draft.item, "qualifier": draft.qualifier}
            status, answer = self.ask("take", key=str(uuid.uuid4()), **place)
            if status == 200:
                info = job_info(self.job)
                return Reply(200, "applied", head="" if info is None else info.head)
            if "yours" not in answer["said"] and "nothing to take" not in answer["said"]:
                raise Stuck(f"take {place}: {answer['said']}")
        return super().send(draft, key)

    def piece(self, draft: Draft) -> str | None:
        """Pick from the practice bench what stands where the shop's own piece would be."""
        labels = {each: label for label, each in self.shop.equipment.items()}
        if not isinstance(draft.value, str) or draft.value not in labels:
            return None
        opening = opening_of(self.record())
        assert opening is not None
        label, today = labels[draft.value], local_day(self.record().now)
        kind = next(e.kind for e in scenario().equipment if e.label == label)
        pieces = pieces_of_kind(opening, kind, today)
        # Of two alike the second is the better guess: stickers and batteries fail on the first.
        wanted = label if kind in {"torque_tool", "pressure_gauge"} else pieces[-1].label
        return next(each.id for each in pieces if each.label.endswith(wanted))

    def look(self, item: str, qualifier: str, **leads: object) -> list[list[Any]]:
        """Put the leads somewhere and give what the display shows over time."""
        self.looks += 1
        status, shown = self.ask("look", item=item, qualifier=qualifier, **leads)
        if status != 200 or not shown["frames"]:
            raise Stuck(f"look {item} {qualifier} {leads}: {shown['said']}")
        frames: list[list[Any]] = shown["frames"]
        return frames

    def leads(self, item: str, qualifier: str) -> dict[str, object]:
        """Say where the leads of a card belong."""
        parts, record = qualifier_parts(qualifier), self.record()
        if item == DEAD.key:
            points = [point.name for point in proof_points(record)]
            at = points.index(parts["point"])
            ends = [
                f"proof:{at}:{end}" if end != "chassis" else end for end in parts["pair"].split("-")
            ]
            return {"red": ends[0], "black": ends[1]}
        if MODES[item] == "proof":
            return {"red": "unit", "black": "unit"}
        if MODES[item] == "ohms":
            unplugged = parts.get("unplugged", "nothing")
            pole = f"cable:{parts.get('pole', 'pos')}"
            return {"red": pole, "black": "chassis", "unplugged": unplugged}
        module, pole = parts.get("module", ""), parts.get("pole", "")
        if "point" in parts:
            point = next(p for p in self.pack.isolation_points if p.name == parts["point"])
            module, pole = point.module, point.pole
        shunt = parts["shunt"] == "fitted"
        return {"red": f"pole:{module}:{pole}", "black": "enclosure", "shunt": shunt}

    def read(self, item: str, qualifier: str) -> Any:
        """Read what a card asks, as it is typed."""
        if item.endswith("lead_proof"):
            places = {"Leads shorted": "leads", "Check resistor, read": "resistor"}
            read = {
                row: typed_from(self.look(item, qualifier, red=at, black=at)[-1][1])
                for row, at in places.items()
            }
            return {**read, "Check resistor, marked": "1000000"}
        if MODES[item] == "ohms" and not self.record().proof_holds():
            renew_proof(self)
        frames = self.look(item, qualifier, **self.leads(item, qualifier))
        if item.endswith("settling"):
            return [[f"{t:.2f}", text] for t, text in frames]
        return typed_from(frames[-1][1])


def begin(client: Client, slug: str, fault: str, seed: int) -> str:
    """Begin a practice and give its job."""
    key = str(uuid.uuid4())
    sent = {"slug": slug, "asked": fault, "seed": str(seed), "key": key}
    answer = client.post(reverse("jobs:practice_begin"), sent)
    assert answer.status_code == 302, answer.content.decode()
    return key


def as_learner(shop: Shop, name: str) -> Tablet:
    """Give a tablet at which a learner is signed on."""
    tablet = Tablet(shop.people[name], shop.pin)
    tablet.sign_on()
    return tablet


@contextmanager
def a_learner(
    fault: str, *, slug: str = "delivery-van", seed: int = 7, name: str = "Pell"
) -> Iterator[Learner]:
    """Give somebody at the beginning of a practice job with a kind of fault."""
    with light_pins(), shop_clock.use_fixed(MORNING) as clock:
        shop = a_practice_shop()
        tablet = as_learner(shop, name)
        job = begin(tablet.client, slug, fault, seed)
        yield learner_of(shop, name, tablet, job, slug, clock)


def learner_of(
    shop: Shop, name: str, tablet: Tablet, job: str, slug: str, clock: shop_clock.FixedClock
) -> Learner:
    """Give a learner's hands in a practice job."""
    second, manager, desk = (each.id for each in COLLEAGUES)
    people = {TECHNICIAN: shop.people[name], SECOND: second, MANAGER: manager, DESK: desk}
    info = latest_revision(slug)
    # What a learner types from a recipe says nothing of this vehicle.
    words = recipe("minibus-not-found").model_copy(update={"plate": VIN, "pack": slug})
    own = Shop(
        pin=COLLEAGUE_PIN, people=people, names={}, equipment=shop.equipment,
        vehicles={VIN: Vehicle("", "", "The customer", VIN, "")}, spares={},
        packs={slug: info.definition}, revisions={slug: str(info.id)},
    )  # fmt: skip
    bench = Bench(words, info.definition)
    learner = Learner(
        shop=own, job=job, recipe=words, clock=clock, bench=bench, grounds=grounds_in_force(),
        own_pin=shop.pin,
    )  # fmt: skip
    learner.tablets[TECHNICIAN] = tablet
    return learner


def pick_spare(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> str:
    """Pick the first practice spare of the part that is not in the job already."""
    record = scene.record()
    opening = opening_of(record)
    assert opening is not None
    part = scene.pack.module_named(parts["module"]).part
    taken = {given.value.id for given in record.all(SPARE)}
    fits = (str(s.id) for s in spares_for(opening, record.pack) if s.part == part)
    return next(each for each in fits if each not in taken)
