"""The invented workshop with one job, and visitors of every role."""

from collections.abc import Callable, Iterator
from copy import deepcopy
from typing import Any

import pytest
from django.test import Client
from pytest_django import Settings

from jobs.practice.scene import Scene
from jobs.steps.module_swap.items import WATCH_STARTED
from tests.pages.engine import BACKEND
from tests.play import a_job_at
from workshop import clock, queries, sign_on

ROLES = {"technician": "Aster", "manager": "Thorne", "front_desk": "Lorne"}

Visit = Callable[[str], Client]


@pytest.fixture
def scene(db: None) -> Iterator[Scene]:
    """A job in the middle: the pack is open, the module out of it stands in quarantine."""
    with a_job_at("module_swap") as played:
        played.enter(WATCH_STARTED, at="module=M9", raw=True)
        yield played


@pytest.fixture
def as_role(scene: Scene) -> Visit:
    """Give a client at which somebody of that role is signed on; "" gives nobody."""

    def visit(role: str) -> Client:
        client = Client(raise_request_exception=True)
        if not role:
            return client
        person = scene.shop.people[ROLES[role]]
        session = client.session
        session[sign_on.PERSON_KEY] = person
        session[sign_on.MARK_KEY] = queries.session_mark(person)
        session[sign_on.SEEN_KEY] = clock.now().timestamp()
        session.save()
        return client

    return visit


@pytest.fixture
def closed_templates(settings: Settings) -> None:
    """Let no template ask the database."""
    engines: list[dict[str, Any]] = deepcopy(settings.TEMPLATES)
    engines[0]["BACKEND"] = BACKEND
    settings.TEMPLATES = engines
