"""The invented workshop served from this very process, so that a test may move its clock.

The database is a file of its own: what is played commits, and entries cannot be deleted again.
"""

from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.core.management import call_command
from django.db import connections
from django.http import FileResponse, HttpRequest, HttpResponse
from typing_extensions import override

from jobs.practice.player import book_in, play
from jobs.practice.scenario import recipe, scenario
from jobs.practice.scene import DESK, Scene
from jobs.practice.shop import Shop, open_shop
from jobs.practice.tablet import Straight
from tests.browser.encrypted import EncryptedThread, PlainThread
from tests.play import light_pins
from workshop import actions
from workshop import clock as shop_clock
from workshop.clock import FixedClock
from workshop.details import VehicleDetails
from workshop.serving import data_folder
from workshop.serving.authority.keeping import Kept

MONDAY = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
HOST = "127.0.0.1"
NAME = "bench.test"
"""A name of this computer for the browser alone: by it plain http is no secure context."""


@dataclass(frozen=True)
class Floor:
    """The workshop, where it answers, and the clock that hangs in it.

    ``address`` is https where this computer can trust a certificate; ``plain`` is http beside it,
    by a name that the browser does not hold for safe.
    """

    address: str
    plain: str
    shop: Shop
    clock: FixedClock
    plates: Iterator[int] = field(default_factory=lambda: count(501))

    def another(self, plate: str) -> str:
        """Enter another vehicle of the same kind and customer; give its plate."""
        number, known = next(self.plates), self.shop.vehicles[plate]
        each = next(v for c in scenario().customers for v in c.vehicles if v.plate == plate)
        vin, new = f"{known.vin[:-3]}{number}", f"PF {number} {plate[-3:]}"
        details = VehicleDetails(**{**each.model_dump(), "plate": new, "vin": vin})
        by = self.shop.people[DESK]
        entered = actions.add_vehicle(details=details, customer_id=known.customer_id, by=by)
        self.shop.vehicles[new] = replace(known, id=entered, vin=vin)
        return new

    def job(self, slug: str, until: str = "", *, promised_days: int = 3) -> Scene:
        """Play a job without a browser as far as a step or an item, or to its hand-over.

        Its vehicle is nobody else's, so that no test meets the job of another.
        """
        own = recipe(slug).model_copy(update={"plate": self.another(recipe(slug).plate)})
        scene = book_in(self.shop, own, self.clock, promised_days=promised_days)
        scene.hand = Straight
        play(scene, until=until, closing=False)
        return scene


@contextmanager
def own_database(file: Path) -> Iterator[None]:
    """Let every connection of this process go to a file, inside the block."""
    with pytest.MonkeyPatch.context() as patch:
        # The browser is driven through an event loop of this thread; nothing runs at once in it.
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        patch.setitem(connections.settings["default"], "NAME", str(file))
        patch.setattr(settings, "COLDBUS_DATA", file.parent)
        patch.setattr(settings, "COLDBUS_BACKUPS", file.parent / data_folder.BACKUPS_NAME)
        patch.setattr(settings, "MEDIA_ROOT", file.parent / data_folder.ATTACHMENTS_NAME)
        data_folder.prepare(file.parent)
        data_folder.begin_epoch(file.parent)
        connections.close_all()
        try:
            call_command("migrate", interactive=False, verbosity=0)
            call_command("guard")
            yield
        finally:
            connections.close_all()


class KeptStatic(StaticFilesHandler):
    """Lets a browser keep scripts and style sheets, as the workshop's own server does."""

    @override
    def serve(self, request: HttpRequest) -> HttpResponse | FileResponse:
        answer = super().serve(request)
        answer["Cache-Control"] = "max-age=600"
        return answer


@contextmanager
def served(kept: Kept | None = None) -> Iterator[str]:
    """Serve the pages on a free port inside the block, and give the address."""
    thread = (
        PlainThread(HOST, KeptStatic) if kept is None else EncryptedThread(HOST, KeptStatic, kept)
    )
    thread.daemon = True
    thread.start()
    thread.is_ready.wait()
    if thread.error is not None:
        raise thread.error
    try:
        yield f"{'http' if kept is None else 'https'}://{HOST}:{thread.port}"
    finally:
        thread.terminate()


@contextmanager
def a_floor(folder: Path, kept: Kept | None) -> Iterator[Floor]:
    """Open the invented workshop on a Monday morning and serve it; https with a certificate."""
    with (
        light_pins(),
        own_database(folder / data_folder.DATABASE_NAME),
        pytest.MonkeyPatch.context() as patch,
        shop_clock.use_fixed(MONDAY) as clock,
        served() as plain,
        nullcontext(plain) if kept is None else served(kept) as address,
    ):
        patch.setattr(settings, "ALLOWED_HOSTS", [*settings.ALLOWED_HOSTS, NAME])
        named = plain.replace(HOST, NAME)
        yield Floor(address, named, open_shop(scenario(), now=clock.now()), clock)
