"""Answers of the road test: bonding, drive, and the reading a day later where it was wet."""

import io
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, Final

from jobs.actions.logs import keep_log
from jobs.core.entry import Json
from jobs.core.item import Item
from jobs.practice.answers.bolts import torque_book
from jobs.practice.answers.sides import vehicle_side_book
from jobs.practice.book import Book, Pass, said
from jobs.practice.log import COLUMNS_SOURCE, LogPlan, lasts_s, log_columns, simulated_log
from jobs.practice.scene import TECHNICIAN, Scene
from jobs.steps.road_test.assessment import assess
from jobs.steps.road_test.items import (
    AFTER_24H,
    BONDING,
    CHARGED,
    DRIVE_KM,
    HOT,
    LOG,
    MOUNTS,
    REVISIT_ON,
    SPREADS,
    VEHICLE,
    logs,
)

__all__ = ["BOOK"]

_MONITOR_OHM = 2.4e6
"""What the vehicle's own monitor shows when all is well [ohm]."""


def _bonding(scene: Scene, item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return {row: scene.bench.near(0.012, 30.0, 4) for row in item.rows}


def _drive_km(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    scene.wait(minutes=26)
    return scene.bench.near(21.0, 10.0, 1)


def _charged(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    scene.wait(hours=5)
    return True


def _log(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    """Record drive and charge of the simulated pack, and send the file."""
    if not scene.record().has(CHARGED):
        return Pass.LATER
    pack, plan = scene.pack, LogPlan(began=scene.clock.now(), seed=scene.recipe.seed)
    began = scene.record().now - timedelta(seconds=lasts_s(pack, plan))
    content = simulated_log(pack, replace(plan, began=began))
    sha256 = keep_log(
        job_id=scene.job,
        file=io.BytesIO(content),
        by=scene.shop.people[TECHNICIAN],
        now=scene.clock.now(),
    )
    return {
        "sha256": sha256,
        "name": "drive and charge.csv",
        "source": COLUMNS_SOURCE,
        "columns": log_columns(pack),
        "current_sign": "charge_positive",
        "clock": "",
    }


def _spread(scene: Scene, item: Item[Any], _parts: Mapping[str, str]) -> Json:
    """Type a spread only where no log was read in."""
    if logs(scene.record()):
        return Pass.LEAVE
    words = said(scene, item)
    return Pass.LEAVE if words is None else words


def _hot(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return scene.bench.near(_MONITOR_OHM, 5.0, 0)


def _after_24h(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    record = scene.record()
    found = assess(record)
    if not found.wet or not record.has(HOT):
        return Pass.LEAVE
    scene.wait_until(datetime.fromisoformat(found.again_from))
    return scene.bench.near(_MONITOR_OHM, 5.0, 0)


def _revisit(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    record = scene.record()
    if assess(record).wet or not record.has(HOT):
        return Pass.LEAVE
    return (record.now.date() + timedelta(days=28)).isoformat()


BOOK: Final[Book] = {
    **vehicle_side_book(VEHICLE),
    **torque_book(MOUNTS, lambda pack: pack.mounts),
    BONDING.key: _bonding,
    DRIVE_KM.key: _drive_km,
    CHARGED.key: _charged,
    LOG.key: _log,
    **{item.key: _spread for item in SPREADS.values()},
    HOT.key: _hot,
    AFTER_24H.key: _after_24h,
    REVISIT_ON.key: _revisit,
}
