"""A shop on a fixed morning with three people: Wren manages, Sorrel repairs, Ivy is at the desk."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from functools import cache

import pytest
from django.conf import settings
from django.test import Client

from workshop import clock, pins, queries
from workshop.clock import FixedClock
from workshop.models import Person
from workshop.people import FRONT_DESK, MANAGER, TECHNICIAN

MORNING = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
PIN = "4826"


@cache
def stored_pin() -> str:
    return pins.hash_pin(PIN, settings.COLDBUS_PEPPER)


@pytest.fixture
def time() -> Iterator[FixedClock]:
    with clock.use_fixed(MORNING) as fixed:
        yield fixed


def a_row(name: str, role: str) -> str:
    row = Person.objects.create(
        display_name=f"{name} Example",
        short_name=name,
        role=role,
        pin_hash=stored_pin(),
        created_at=MORNING,
    )
    return str(row.id)


@pytest.fixture
def wren(db: None, time: FixedClock) -> str:
    return a_row("Wren", MANAGER)


@pytest.fixture
def sorrel(db: None, time: FixedClock) -> str:
    return a_row("Sorrel", TECHNICIAN)


@pytest.fixture
def ivy(db: None, time: FixedClock) -> str:
    return a_row("Ivy", FRONT_DESK)


@pytest.fixture
def tablet_of() -> Callable[[str], Client]:
    """Give a client at which a person is signed on already."""

    def sign(person_id: str) -> Client:
        client = Client()
        session = client.session
        session["person"] = person_id
        session["mark"] = queries.session_mark(person_id)
        session["seen_s"] = clock.now().timestamp()
        session.save()
        return client

    return sign
