"""Answers of the fault localisation: the readings that the search itself asks for next."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any, Final

from jobs.core.entry import Json
from jobs.core.item import Item, qualifier_of
from jobs.core.leak_search import ALONE, plug_links
from jobs.core.record import Record
from jobs.practice.bench import Pole
from jobs.practice.book import At, Book, Pass, shelf
from jobs.practice.scenario import scenario
from jobs.practice.scene import Scene, Stuck
from jobs.steps.fault_localisation.assessment import Localisation, assess
from jobs.steps.fault_localisation.items import (
    ANSWER,
    CANDIDATES,
    LEAKING,
    LINK_HOLD,
    LINK_OPENED,
    MODULE_OHM,
    MODULE_TESTER,
    OPTION,
    OTHER_OHM,
    OTHER_WHAT,
    OUTCOME,
    QUOTATION,
    READING,
    SEEN,
    SLUG,
)
from jobs.steps.isolation_readings.assessment import assess as assess_isolation
from jobs.steps.isolation_readings.items import PACK
from packs.physics.localise_case import NextReading

__all__ = ["BOOK", "found_out"]

MOST_READINGS = 16
NOT_INCLUDED = "Moving the vehicle to us or away, and software of the vehicle maker."
VALID_DAYS = 14
"""How long a quotation of the invented workshop can be accepted [d]."""


def found_out(found: Localisation) -> bool:
    """Tell whether a module is named and confirmed."""
    return bool(found.search.named) and bool(found.confirmed_by)


def _candidates(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    record = scene.record()
    parts = assess_isolation(record).vehicle.leaking
    result = assess(record).search.result
    modules = () if result is None else result.likely
    named = ", ".join((*(f"module {name}" for name in modules), *parts))
    return f"Likely: {named}. Confirm it, replace it, put everything back, test."


def _quotation(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    """Quote the recipe's lines at the shop's tax, to be accepted within a fortnight."""
    names = ("kind", "text", "quantity", "unit", "unit_price")
    recipe, today = scene.recipe, scene.record().now.date()
    lines = [dict(zip(names, row, strict=True)) for row in recipe.quotation]
    more = {"tax_percent": str(scenario().shop.tax_percent)}
    return {
        "lines": [
            {
                **line,
                **more,
                "payer": recipe.payers.get(line["text"], "customer"),
                "optional": line["text"] in recipe.optional,
            }
            for line in lines
        ],
        "valid_until": (today + timedelta(days=VALID_DAYS)).isoformat(),
        "not_included": NOT_INCLUDED,
    }


def _answer(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return scene.recipe.answer


def _option(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
    """Take the first of the optional lines and leave out the others."""
    text = scene.recipe.quotation[int(parts["line"]) - 1][1]
    return "taken" if text == scene.recipe.optional[0] else "left"


def _place(scene: Scene, reading: NextReading) -> str:
    """Write a reading as the qualifier under which it is entered."""
    plug = set(plug_links(scene.pack))
    return qualifier_of(
        module=reading.module,
        pole=reading.pole,
        open="+".join(name for name in reading.open_after if name not in plug) or ALONE,
        shunt="none" if reading.shunt_ohm is None else "fitted",
    )


def _next(scene: Scene, record: Record) -> NextReading | None:
    """Give the first reading that the search proposes and that was not taken yet."""
    found = assess(record)
    if scene.recipe.other or found_out(found) or found.search.result is None:
        return None
    taken = {given.entry.qualifier for given in record.all(READING)}
    if len(taken) > MOST_READINGS:
        raise Stuck(f"No module is confirmed after {len(taken)} readings")
    fresh = (r for r in found.search.result.next_readings if _place(scene, r) not in taken)
    return next(fresh, None)


def _links(scene: Scene, record: Record) -> set[str]:
    """Name the links that have to be opened: for the next reading, or all to read each module."""
    plug = set(plug_links(scene.pack))
    if scene.recipe.other:
        return {module.name for module in scene.pack.modules[:-1]} - plug
    if (SLUG, LINK_HOLD) not in record.holds:
        # Before the hold point the search may not propose a link: whichever it is, one opens.
        return {module.name for module in scene.pack.modules[:-1]} - plug
    reading = _next(scene, record)
    return set() if reading is None else set(reading.open_after) - plug


def _link(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
    return True if parts["after"] in _links(scene, scene.record()) else Pass.LATER


def _reading(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    record = scene.record()
    reading = _next(scene, record)
    if reading is None:
        return Pass.LATER
    where = Pole(
        module=reading.module,
        pole=reading.pole,
        open_after=reading.open_after,
        shunt=None if reading.shunt_ohm is None else scene.picked(PACK.shunt),
    )
    volts = scene.bench.pole_v(record, scene.picked(PACK.meter), where)
    return At(_place(scene, reading), volts)


def _tester(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return shelf(scene, "insulation_tester") if scene.recipe.other else Pass.LEAVE


def _module_ohm(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
    if not scene.recipe.other:
        return Pass.LEAVE
    record = scene.record()
    return scene.bench.module_ohm(record, parts["module"], scene.picked(MODULE_TESTER))


def _seen(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
    return True if parts["what"] == scene.recipe.seen else Pass.LEAVE


def _outcome(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    """Say what leaks once the readings do."""
    if scene.recipe.other:
        return "pack_not_module"
    return "module" if found_out(assess(scene.record())) else Pass.LATER


def _leaking(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
    named = assess(scene.record()).search.named
    return True if parts["module"] in named else Pass.LEAVE


def _other_what(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return scene.recipe.other


def _other_ohm(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    leaks = [leak.leak_ohm for leak in scene.recipe.leaks]
    return scene.bench.tester(leaks, scene.picked(MODULE_TESTER))


BOOK: Final[Book] = {
    CANDIDATES.key: _candidates,
    QUOTATION.key: _quotation,
    ANSWER.key: _answer,
    OPTION.key: _option,
    LINK_OPENED.key: _link,
    READING.key: _reading,
    MODULE_TESTER.key: _tester,
    MODULE_OHM.key: _module_ohm,
    SEEN.key: _seen,
    OUTCOME.key: _outcome,
    LEAKING.key: _leaking,
    OTHER_WHAT.key: _other_what,
    OTHER_OHM.key: _other_ohm,
}
