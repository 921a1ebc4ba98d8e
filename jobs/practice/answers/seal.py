"""Answers of the seal test: settling, samples, caps."""

from collections.abc import Mapping
from copy import deepcopy
from typing import Any, Final

from jobs.core.entry import Json
from jobs.core.item import Item
from jobs.practice.book import Book, Pass
from jobs.practice.scene import ENTRY_S, Scene
from jobs.steps.seal_test.items import CAPS_IN, CAPS_OUT, GAUGE, SAMPLE, SAMPLES, SETTLED_S

__all__ = ["BOOK"]

_MORE_S = 60.0
_TAKEN = 5
"""Samples entered where a job stops in the seal test [1]."""


def _caps(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return str(scene.pack.seal_test.vent_caps)


def _settled(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    asked = scene.pack.seal_test.stabilise_s
    seconds = _MORE_S if asked is None else asked.value + _MORE_S
    scene.wait(seconds=seconds)
    return f"{seconds:g}"


def _sample(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    """Sample one by one where the job stops amid the test; elsewhere the series is entered."""
    count = len(scene.record().all(SAMPLE))
    if scene.stop != SAMPLES.key or count >= _TAKEN:
        return Pass.LEAVE
    # Each sample is a row of one and the same test, whatever else is read meanwhile.
    rows = deepcopy(scene.bench).pressure(scene.picked(GAUGE), duration_s=60.0 * _TAKEN)
    t_s, gauge, temp_c, barometer = rows[2 * count]
    scene.wait(seconds=60.0 - ENTRY_S)
    return {"t_s": t_s, "gauge": gauge, "temp_c": temp_c, "barometer": barometer}


def _samples(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    asked = scene.pack.seal_test.duration_s
    duration_s = 600.0 if asked is None else asked.value
    scene.wait(seconds=duration_s + _MORE_S)
    return scene.bench.pressure(scene.picked(GAUGE), duration_s=duration_s)


BOOK: Final[Book] = {
    CAPS_OUT.key: _caps,
    SETTLED_S.key: _settled,
    SAMPLE.key: _sample,
    SAMPLES.key: _samples,
    CAPS_IN.key: _caps,
}
