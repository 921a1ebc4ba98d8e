"""Real jobs in the database, played to any step: for tests that need more than pure entries.

``a_job("van-coolant")`` gives a scene at the beginning of intake, ``a_job_at("reassembly")`` one in
which that step is open. What was played once is kept as rows and put back for the next test.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from copy import deepcopy
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

import pytest
from argon2 import PasswordHasher
from django.db.models import Model

from jobs import models as jobs
from jobs.practice.player import book_in, play
from jobs.practice.scenario import recipe, scenario
from jobs.practice.scene import Scene
from jobs.practice.shop import Shop, open_shop
from jobs.practice.tablet import Straight
from jobs.steps import STEPS
from packs import models as packs
from workshop import clock as shop_clock
from workshop import models as workshop
from workshop import pins

MORNING = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
VAN = "van-coolant"

# In the order in which a row needs another; the shop's own row is there from the migrations.
TABLES: tuple[type[Model], ...] = (
    workshop.Person,
    workshop.Qualification,
    workshop.Customer,
    workshop.Vehicle,
    workshop.Equipment,
    workshop.Certificate,
    workshop.RegisterEvent,
    packs.Pack,
    packs.PackRevision,
    packs.PhysicalPack,
    packs.PhysicalPackEvent,
    packs.Spare,
    packs.SpareEvent,
    jobs.Job,
    jobs.ChainHead,
    jobs.Entry,
    jobs.Verdict,
    jobs.PersonalDatum,
    jobs.Attachment,
    jobs.QuarantineWatch,
    jobs.QuarantineCheck,
)


@dataclass(frozen=True)
class Kept:
    """A database and a scene as they stood."""

    rows: tuple[tuple[Any, ...], ...]
    shop_row: dict[str, Any]
    scene: Scene
    moment: datetime


_KEPT: dict[tuple[str, str], Kept] = {}


@contextmanager
def light_pins() -> Iterator[None]:
    """Hash PINs with little work, so that a job with its thirty signatures stays quick."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pins, "_HASHER", PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
        yield


def a_practice_shop() -> Shop:
    """Enter the invented workshop."""
    return open_shop(scenario(), now=shop_clock.now())


@contextmanager
def a_job(slug: str = VAN) -> Iterator[Scene]:
    """Give a job that is booked in, on a clock that stands still until something is done."""
    with light_pins(), shop_clock.use_fixed(MORNING) as clock:
        scene = book_in(a_practice_shop(), recipe(slug), clock)
        scene.hand = Straight
        yield scene


@contextmanager
def a_job_at(step: str, slug: str = VAN) -> Iterator[Scene]:
    """Give a job in which a step is open, or the whole job where ``step`` is "closed"."""
    slugs = [*(each.slug for each in STEPS), "closed"]
    with light_pins(), shop_clock.use_fixed(MORNING) as clock:
        for place in range(slugs.index(step), -1, -1):
            if (slug, slugs[place]) in _KEPT:
                scene = _put_back(_KEPT[slug, slugs[place]], clock)
                break
        else:
            place, scene = 0, book_in(a_practice_shop(), recipe(slug), clock)
            scene.hand = Straight
        for wanted in slugs[place + 1 : slugs.index(step) + 1]:
            play(scene, until=wanted)
            _KEPT[slug, wanted] = _keep(scene)
        yield scene


def _keep(scene: Scene) -> Kept:
    quiet = replace(scene, bench=deepcopy(scene.bench), tablets={}, kept=None)
    return Kept(
        rows=tuple(tuple(table._default_manager.all()) for table in TABLES),
        shop_row=dict(workshop.Shop.objects.values().get()),
        scene=quiet,
        moment=scene.clock.moment,
    )


def _put_back(kept: Kept, clock: shop_clock.FixedClock) -> Scene:
    clock.moment = kept.moment
    workshop.Shop.objects.update(**kept.shop_row)
    for table, rows in zip(TABLES, kept.rows, strict=True):
        table._default_manager.bulk_create(deepcopy(rows))
    return replace(kept.scene, bench=deepcopy(kept.scene.bench), clock=clock, tablets={})
