"""Answers of reassembly: coolant circuit, isolation before and after the lid, curing."""

from collections.abc import Mapping
from typing import Any, Final

from jobs.core.entry import Json
from jobs.core.item import Item
from jobs.practice.answers.bolts import link_book, torque_book
from jobs.practice.answers.sides import pack_side_book
from jobs.practice.book import Book
from jobs.practice.scene import Scene, Stuck
from jobs.steps.reassembly.assessment import assess
from jobs.steps.reassembly.items import (
    AFTER_LID,
    BEFORE_LID,
    COOLANT_END,
    COOLANT_MIN,
    COOLANT_START,
    LID,
    LID_ON,
    LINKS,
    SECOND,
    undone,
)

__all__ = ["BOOK"]

_OVER_KPA, _LOST_KPA = 2.0, 0.3


def _pressure(scene: Scene) -> float:
    asked = scene.pack.cooling.leak_test_kpa
    if asked is None:
        raise Stuck("The definition has no leak test of the coolant circuit")
    return asked.value + _OVER_KPA


def _minutes(scene: Scene) -> float:
    asked = scene.pack.cooling.leak_test_minutes
    return 1.0 if asked is None else asked.value + 1.0


def _start(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return f"{_pressure(scene):.1f}"


def _end(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    scene.wait(minutes=_minutes(scene))
    return f"{_pressure(scene) - _LOST_KPA:.1f}"


def _between(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return f"{_minutes(scene):g}"


def _second(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    """Sign last, after the sealant has cured."""
    record = scene.record()
    lid_on = record.given(LID_ON)
    cure_h = scene.pack.lid.cure_h
    if lid_on is not None and cure_h is not None and not assess(record).cured:
        scene.wait_until(lid_on.at)
        scene.wait(hours=cure_h.value)
    return True


BOOK: Final[Book] = {
    **link_book(LINKS, undone),
    COOLANT_START.key: _start,
    COOLANT_END.key: _end,
    COOLANT_MIN.key: _between,
    **pack_side_book(BEFORE_LID),
    **torque_book(LID, lambda pack: pack.lid.bolts),
    **pack_side_book(AFTER_LID),
    SECOND.key: _second,
}
