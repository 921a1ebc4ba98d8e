"""Answers of the seal test: settling, samples, caps."""

from collections.abc import Mapping
from typing import Any, Final

from jobs.core.entry import Json
from jobs.core.item import Item
from jobs.practice.book import Book
from jobs.practice.scene import Scene
from jobs.steps.seal_test.items import CAPS_IN, CAPS_OUT, GAUGE, SAMPLES, SETTLED_S

__all__ = ["BOOK"]

_MORE_S = 60.0


def _caps(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return str(scene.pack.seal_test.vent_caps)


def _settled(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    asked = scene.pack.seal_test.stabilise_s
    seconds = _MORE_S if asked is None else asked.value + _MORE_S
    scene.wait(seconds=seconds)
    return f"{seconds:g}"


def _samples(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    asked = scene.pack.seal_test.duration_s
    duration_s = 600.0 if asked is None else asked.value
    scene.wait(seconds=duration_s + _MORE_S)
    return scene.bench.pressure(scene.picked(GAUGE), duration_s=duration_s)


BOOK: Final[Book] = {
    CAPS_OUT.key: _caps,
    SETTLED_S.key: _settled,
    SAMPLES.key: _samples,
    CAPS_IN.key: _caps,
}
