"""The invented workshop served from this very process, so that a test may move its clock.

The database is a file of its own: what is played commits, and entries cannot be deleted again.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.core.management import call_command
from django.db import connections
from django.test.testcases import LiveServerThread

from jobs.practice.scenario import scenario
from jobs.practice.shop import Shop, open_shop
from tests.play import light_pins
from workshop import clock as shop_clock
from workshop.clock import FixedClock

MONDAY = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
HOST = "127.0.0.1"


@dataclass(frozen=True)
class Floor:
    """The workshop, where it answers, and the clock that hangs in it."""

    address: str
    shop: Shop
    clock: FixedClock


@contextmanager
def own_database(file: Path) -> Iterator[None]:
    """Let every connection of this process go to a file, inside the block."""
    with pytest.MonkeyPatch.context() as patch:
        # The browser is driven through an event loop of this thread; nothing runs at once in it.
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        patch.setitem(connections.settings["default"], "NAME", str(file))
        connections.close_all()
        try:
            call_command("migrate", interactive=False, verbosity=0)
            call_command("guard")
            yield
        finally:
            connections.close_all()


@contextmanager
def served() -> Iterator[str]:
    """Serve the pages on a free port inside the block, and give the address."""
    thread = LiveServerThread(HOST, StaticFilesHandler)
    thread.daemon = True
    thread.start()
    thread.is_ready.wait()
    if thread.error is not None:
        raise thread.error
    try:
        yield f"http://{HOST}:{thread.port}"
    finally:
        thread.terminate()


@contextmanager
def a_floor(folder: Path) -> Iterator[Floor]:
    """Open the invented workshop on a Monday morning and serve it."""
    with (
        light_pins(),
        own_database(folder / "floor.sqlite3"),
        shop_clock.use_fixed(MONDAY) as clock,
        served() as address,
    ):
        yield Floor(address, open_shop(scenario(), now=clock.now()), clock)
