"""Answers of the road test: bonding, drive, and the reading a day later where it was wet."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any, Final

from jobs.core.entry import Json
from jobs.core.item import Item
from jobs.practice.answers.bolts import torque_book
from jobs.practice.answers.sides import vehicle_side_book
from jobs.practice.book import Book, Pass
from jobs.practice.scene import Scene
from jobs.steps.road_test.assessment import assess
from jobs.steps.road_test.items import (
    AFTER_24H,
    BONDING,
    CHARGED,
    DRIVE_KM,
    HOT,
    MOUNTS,
    REVISIT_ON,
    VEHICLE,
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
    HOT.key: _hot,
    AFTER_24H.key: _after_24h,
    REVISIT_ON.key: _revisit,
}
