"""Answers to isolation readings, at the pack's points and on the vehicle's cables, for any step."""

from collections.abc import Mapping
from typing import Any

from jobs.core.entry import Json
from jobs.core.insulation import meter_of
from jobs.core.item import Item, qualifier_of
from jobs.core.leak_search import plug_links
from jobs.core.pack_side import PackSide, points_now
from jobs.core.record import Record
from jobs.core.vehicle_side import MARKED, NOTHING, READ, SHORTED, VehicleSide
from jobs.core.vehicle_side_check import assess_vehicle_side
from jobs.practice.bench import Pole
from jobs.practice.book import Answer, Book, Pass
from jobs.practice.scene import Scene
from jobs.steps.isolation_readings.assessment import isolation_limit

__all__ = ["pack_side_book", "vehicle_side_book"]

_POLES = ("pos", "neg")
_CHECK_OHM = 1.0e6


def _where(scene: Scene, side: PackSide, parts: Mapping[str, str]) -> Pole:
    point = next(p for p in scene.pack.isolation_points if p.name == parts["point"])
    fitted = parts["shunt"] == "fitted"
    return Pole(
        module=point.module,
        pole=point.pole,
        open_after=plug_links(scene.pack),
        shunt=scene.picked(side.shunt) if fitted else None,
    )


def pack_side_book(side: PackSide) -> Book:
    """Give the answers to one set of readings at the pack.

    Parameters
    ----------
    side : PackSide
        The step's own items.

    Returns
    -------
    Book
        Voltages from the circuit; the settling of the last point is recorded as a series too.
    """

    def string_v(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
        return scene.bench.volts(scene.bench.string_v(), meter_of(scene.picked(side.meter)), 1)

    def reading(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
        record = scene.record()
        return scene.bench.pole_v(record, scene.picked(side.meter), _where(scene, side, parts))

    def settling(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
        record = scene.record()
        last = points_now(record)[-1].name
        if record.has(side.settling) or (parts["point"], parts["shunt"]) != (last, "none"):
            return Pass.LEAVE
        return scene.bench.settling(record, scene.picked(side.meter), _where(scene, side, parts))

    def settled(_scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
        return True

    return {
        side.string_v.key: string_v,
        side.reading.key: reading,
        side.settling.key: settling,
        side.settled.key: settled,
    }


def _at(record: Record, item: Item[Any], name: str, pole: str) -> bool:
    """Tell whether an item has a value at a cable with a part unplugged."""
    return record.get(item, qualifier_of(unplugged=name, pole=pole)) is not None


def _discharged(record: Record, side: VehicleSide, name: str) -> bool:
    return all(_at(record, side.discharged, name, pole) for pole in _POLES)


def _to_unplug(scene: Scene, record: Record, side: VehicleSide) -> tuple[str, ...]:
    """Name what is read: all connected, and where that fails, with each part unplugged."""
    verdict = assess_vehicle_side(record, side, isolation_limit(record).value).verdict
    return (NOTHING, *(scene.pack.vehicle_parts if verdict == "fail" else ()))


def vehicle_side_book(side: VehicleSide) -> Book:  # noqa: C901 - one answer to each item
    """Give the answers to one set of readings on the vehicle's side.

    Parameters
    ----------
    side : VehicleSide
        The step's own items.

    Returns
    -------
    Book
        Leads proven before the first and after the last reading, a discharge after each.
    """

    def voltage(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
        fit = (v for v in scene.picked(side.tester).ratings["test_voltages_v"])
        return f"{min(float(v) for v in fit if float(v) >= scene.pack.working_v):g}"

    def lead_proof(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
        record = scene.record()
        names = _to_unplug(scene, record, side)
        if parts["when"] == "after" and not all(_discharged(record, side, n) for n in names):
            return Pass.LATER
        read = scene.bench.near(_CHECK_OHM, 2.0, 0)
        return {SHORTED: "150", MARKED: f"{_CHECK_OHM:.0f}", READ: read}

    def reading(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
        record, name = scene.record(), parts["unplugged"]
        names = _to_unplug(scene, record, side)
        if name not in names:
            return Pass.LEAVE
        if not all(_discharged(record, side, n) for n in names[: names.index(name)]):
            return Pass.LATER
        if parts["pole"] != _POLES[0] and not _at(record, side.discharged, name, _POLES[0]):
            return Pass.LATER
        return scene.bench.vehicle_ohm(record, name, scene.picked(side.tester))

    def discharged(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
        read = _at(scene.record(), side.reading, parts["unplugged"], parts["pole"])
        return True if read else Pass.LATER

    answers: dict[str, Answer] = {
        side.test_v.key: voltage,
        side.lead_proof.key: lead_proof,
        side.reading.key: reading,
        side.discharged.key: discharged,
    }
    return answers
