"""A shop with four people, one customer with a van, and a job that is booked in."""

import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cache
from typing import Any

import pytest
from django.conf import settings
from django.test import Client

from jobs.actions.booking import Booking, book_job
from jobs.actions.door import post
from jobs.core.draft import Answer, Draft
from jobs.core.entry import Kind
from jobs.core.record import Record
from jobs.queries.records import record_of
from workshop import clock as shop_clock
from workshop import pins, queries, sign_on
from workshop.clock import FixedClock
from workshop.models import Customer, Person, Qualification, Vehicle

MORNING = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
PIN = "4826"
SKILLS = {
    "aster": ("technician", ("live_work", "second_person")),
    "munk": ("technician", ("live_work", "second_person")),
    "thorne": ("manager", ("live_work", "second_person", "release", "countersign")),
    "lorne": ("front_desk", ()),
}


@cache
def stored_pin() -> str:
    return pins.hash_pin(PIN, settings.COLDBUS_PEPPER)


@dataclass
class Shop:
    """A job in a shop, and a hand that sends entries through the door."""

    clock: FixedClock
    people: dict[str, str]
    job: str
    sent: list[str] = field(default_factory=list)

    def draft(self, kind: Kind, value: Any = None, **more: Any) -> Draft:
        fields = {"key": str(uuid.uuid4()), "job": self.job, "pin": PIN, **more}
        return Draft(kind=kind, value=value, **fields)

    def post(self, draft: Draft, by: str = "aster") -> Answer:
        signed_on = queries.person(self.people[by]) if by else None
        return post(draft, signed_on=signed_on, now=self.clock.now())

    def send(self, kind: Kind, value: Any = None, *, by: str = "aster", **more: Any) -> Answer:
        return self.post(self.draft(kind, value, **more), by=by)

    def enter(self, item: str, value: Any = True, *, by: str = "aster", **more: Any) -> Answer:
        return self.send(Kind.VALUE, value, by=by, item=item, **more)

    def record(self) -> Record:
        record = record_of(self.job, now=self.clock.now())
        assert record is not None
        return record


def a_person_row(name: str) -> str:
    role, skills = SKILLS[name]
    row = Person.objects.create(
        display_name=f"{name.title()} Example",
        short_name=name.title(),
        role=role,
        pin_hash=stored_pin(),
        created_at=MORNING,
    )
    for code in skills:
        Qualification.objects.create(person=row, code=code)
    return str(row.id)


@pytest.fixture
def time() -> Iterator[FixedClock]:
    with shop_clock.use_fixed(MORNING) as fixed:
        yield fixed


@pytest.fixture
def shop(db: None, time: FixedClock) -> Shop:
    people = {name: a_person_row(name) for name in SKILLS}
    customer = Customer.objects.create(name="Ferrin Dairy", created_at=MORNING)
    van = Vehicle.objects.create(
        plate="MK-4471", make="Halden", model="Orrin", customer=customer, created_at=MORNING
    )
    booking = Booking(key=str(uuid.uuid4()), customer_id=str(customer.id), vehicle_id=str(van.id))
    job = book_job(booking=booking, by=people["lorne"], now=time.now())
    return Shop(time, people, job)


@pytest.fixture
def client_of(shop: Shop) -> Callable[[str], Client]:
    """Give a client signed on as one of the people."""

    def signed_on(name: str) -> Client:
        client = Client()
        session = client.session
        session[sign_on.PERSON_KEY] = shop.people[name]
        session[sign_on.MARK_KEY] = queries.session_mark(shop.people[name])
        session[sign_on.SEEN_KEY] = shop.clock.now().timestamp()
        session.save()
        return client

    return signed_on
