"""Answers of the isolation readings: both sides, and the outcome that follows from them."""

from collections.abc import Mapping
from typing import Any, Final

from jobs.core.entry import Json
from jobs.core.item import Item
from jobs.core.vehicle_side import NOTHING
from jobs.practice.answers.sides import pack_side_book, vehicle_side_book
from jobs.practice.book import Book, Pass
from jobs.practice.scene import Scene
from jobs.steps.isolation_readings.assessment import assess
from jobs.steps.isolation_readings.items import OUTCOME, PACK, REPEAT, VEHICLE

__all__ = ["BOOK"]


def _not_excluded(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    """Sign it where the readings decide nothing."""
    decided = assess(scene.record()).pack.verdict in {"pass", "fail"}
    return Pass.LEAVE if decided else True


def _outcome(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    """Say where the leak is, as the readings have it."""
    found = assess(scene.record())
    sides = (found.pack.verdict == "fail", found.vehicle.verdict == "fail")
    words = {(True, False): "pack", (False, True): "vehicle_part", (True, True): "both"}
    return words.get(sides, "not_found")


def _repeat(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
    """Read again: wet, warm, loaded within the day, the last one a day after the first."""
    record = scene.record()
    if parts["condition"] == "after_24h":
        scene.wait_until(min(given.at for given in record.all(PACK.reading)))
        scene.wait(hours=24)
    else:
        scene.wait(minutes=40)
    return scene.bench.vehicle_ohm(record, NOTHING, scene.picked(VEHICLE.tester))


BOOK: Final[Book] = {
    **pack_side_book(PACK),
    **vehicle_side_book(VEHICLE),
    PACK.not_excluded.key: _not_excluded,
    OUTCOME.key: _outcome,
    REPEAT.key: _repeat,
}
