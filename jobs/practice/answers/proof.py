"""Answers of the de-energise check: keys, waiting time, and the readings of a proof."""

from collections.abc import Mapping
from typing import Any, Final

from jobs.core.entry import Json
from jobs.core.item import EquipmentUsed, Item, qualifier_of
from jobs.practice.book import Book, Pass, said, shelf
from jobs.practice.scene import TECHNICIAN, Scene
from jobs.steps.de_energise_check.assessment import assess_round
from jobs.steps.de_energise_check.items import (
    AFTER,
    BEFORE,
    DEAD,
    DISCHARGE,
    INDICATOR,
    KEYS,
    LOCK,
    METER,
    UNIT,
    round_now,
)
from packs.physics.instrument import Meter
from packs.physics.simulate import discharge_series

__all__ = ["BOOK", "shown_by", "wait_out"]

_LINK_UF, _BLEED_OHM, _SOURCE_OHM = 900.0, 6.0e4, 1.0e6


def shown_by(scene: Scene, indicator: EquipmentUsed, true_v: float) -> str:
    """Type what the two-pole indicator shows of a true voltage [V]."""
    meter = Meter(
        input_ohm=_SOURCE_OHM,
        accuracy_percent=indicator.number("accuracy_percent"),
        accuracy_counts=indicator.number("accuracy_counts"),
        resolution_v=indicator.number("resolution_v"),
    )
    return scene.bench.volts(true_v, meter, 1)


def wait_out(scene: Scene) -> None:
    """Wait until the waiting time from the last isolating action is over."""
    record = scene.record()
    until = assess_round(record, round_now(record)).wait_until
    if until is not None:
        scene.wait_until(until)


def _keys(scene: Scene, item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return scene.shop.people[TECHNICIAN] if item.needed else Pass.LEAVE


def _lock(scene: Scene, item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return said(scene, item) if item.needed else Pass.LEAVE


def _unit(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
    """Read the proving unit, not before the waiting time is over."""
    wait_out(scene)
    place = qualifier_of(round=parts["round"])
    unit = scene.picked(UNIT, place)
    return shown_by(scene, scene.picked(INDICATOR, place), unit.number("output_v"))


def _dead(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
    place = qualifier_of(round=parts["round"])
    return shown_by(scene, scene.picked(INDICATOR, place), 0.0)


def _meter(scene: Scene, item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return shelf(scene, "meter") if item.needed else Pass.LEAVE


def _discharge(scene: Scene, item: Item[Any], _parts: Mapping[str, str]) -> Json:
    """Watch the link capacitors, where a stored code forbids trusting the wait."""
    if not item.needed:
        return Pass.LEAVE
    scene.wait(minutes=6)
    rows = discharge_series(
        start_v=scene.bench.string_v(),
        capacitance_uf=_LINK_UF,
        bleed_ohm=_BLEED_OHM,
        times_s=range(0, 361, 30),
        meter=Meter(input_ohm=1.0e7),
        chance=scene.bench.chance,
    )
    return [[f"{t_s:.0f}", f"{volts:.2f}"] for t_s, volts in rows]


BOOK: Final[Book] = {
    KEYS.key: _keys,
    LOCK.key: _lock,
    METER.key: _meter,
    DISCHARGE.key: _discharge,
    BEFORE.key: _unit,
    DEAD.key: _dead,
    AFTER.key: _unit,
}
