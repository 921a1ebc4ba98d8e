"""Answers of the module swap: the module that came out, the spare, and fitting it."""

from collections.abc import Mapping
from typing import Any, Final

from jobs.core.entry import Json
from jobs.core.insulation import meter_of
from jobs.core.item import Item, qualifier_of
from jobs.practice.answers.bolts import link_book, torque_book
from jobs.practice.bench import MODULE_OHM
from jobs.practice.book import Book, shelf
from jobs.practice.scene import Scene, Stuck
from jobs.steps.isolation_readings.items import PACK
from jobs.steps.module_swap.assessment import assess
from jobs.steps.module_swap.items import (
    GAP,
    LINKS,
    REMOVED_SERIAL,
    REMOVED_V,
    REST_H,
    SPARE,
    SPARE_CELL_V,
    SPARE_OHM,
    SPARES,
    TEST_V,
    TESTER,
    TIE,
    undone,
)
from packs.queries import spare
from packs.spares import bars

__all__ = ["BOOK"]

_ROOM_C = "21.0"
"""Temperature of everything that has stood in the workshop [degC]."""
_RESTED_H = 0.5
"""How long the spare had rested when it was brought to the bench [h]."""


def _removed_v(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
    meter = meter_of(scene.picked(PACK.meter))
    return scene.bench.volts(scene.bench.module_v(parts["module"]), meter)


def _serial(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
    return f"{scene.pack.module_named(parts['module']).part}-{scene.recipe.seed:05d}"


def _spare(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
    """Take the spare whose cells stand nearest to the string's."""
    part = scene.pack.module_named(parts["module"]).part
    known = [spare(each) for each in scene.shop.spares.values()]
    fits = [each for each in known if each.part == part and not bars(each)]
    if not fits:
        raise Stuck(f"No spare {part} on the shelf")
    best = min(fits, key=lambda each: abs((each.test.cell_v or 0.0) - scene.recipe.cell_v))
    return str(best.id)


def _test_v(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    voltages = scene.picked(TESTER).ratings["test_voltages_v"]
    return f"{min(float(v) for v in voltages if float(v) >= scene.pack.working_v):g}"


def _spare_ohm(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return scene.bench.tester([MODULE_OHM], scene.picked(TESTER))


def _rest_h(_scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return f"{_RESTED_H:g}"


def _room_c(_scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return _ROOM_C


def _spare_cell_v(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
    """Read the spare's cells once it has rested long enough."""
    record, at = scene.record(), qualifier_of(module=parts["module"])
    rest, used = record.given(REST_H, at), record.get(SPARE, at)
    needed_h = assess(record).rest_needed_h
    passed_h = 0.0 if rest is None else (record.now - rest.at).total_seconds() / 3600.0
    scene.wait(hours=max(0.0, needed_h - _RESTED_H - passed_h + 0.1))
    cell_v = 0.0 if used is None else float(used.data["cell_v"])
    return scene.bench.near(cell_v, 0.03, 3)


def _gap(scene: Scene, item: Item[Any], _parts: Mapping[str, str]) -> Json:
    gap = scene.pack.stack.gap_mm
    if gap is None:
        raise Stuck("The definition has no gap")
    return {row: f"{gap.value + scene.bench.chance.uniform(-0.2, 0.2):.1f}" for row in item.rows}


def _tester(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return shelf(scene, "insulation_tester")


BOOK: Final[Book] = {
    REMOVED_V.key: _removed_v,
    REMOVED_SERIAL.key: _serial,
    SPARE.key: _spare,
    TESTER.key: _tester,
    TEST_V.key: _test_v,
    SPARE_OHM.key: _spare_ohm,
    REST_H.key: _rest_h,
    SPARES.string_c.key: _room_c,
    SPARES.spare_c.key: _room_c,
    SPARE_CELL_V.key: _spare_cell_v,
    GAP.key: _gap,
    **torque_book(TIE, lambda pack: pack.stack.tie_bolts),
    **link_book(LINKS, undone),
}
