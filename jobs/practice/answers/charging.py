"""Answers where a spare's charge is moved: by what, the readings on the way, the voltage after.

The terminals follow the plan by the moment of the reading, with an error of the meter; where the
current was switched off early, the rested voltage stands that much short.
"""

from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from jobs.core.charge_watch import ChargePlan, plan_of
from jobs.core.entry import Json
from jobs.core.item import Item, qualifier_of
from jobs.core.record import Record
from jobs.core.spare_check import SpareCheck, rests_until
from jobs.core.spare_items import RESISTOR, SUPPLY
from jobs.core.spare_runs import Run, hours_between
from jobs.practice.book import At, Book, Pass
from jobs.practice.scene import Scene, Stuck
from jobs.steps.module_swap.assessment import MatchedModule, assess
from jobs.steps.module_swap.items import SPARES
from packs.physics.charge_case import ChargeCase, ChargeResult, Direction
from packs.physics.ocv import curve_named, ocv_v

__all__ = ["BOOK", "READINGS", "rested_cell_v"]

READINGS: Final = 5
"""Readings of a run that nobody else lets wait: at its begin, at each quarter [1]."""
_RESISTOR_W, _SUPPLY_A = "400", "20"
"""What stands on the bench: a resistor's rated power [W], the current set [A]."""
_ROOM_C, _WARMER_C = 21.0, 6.0
"""Temperature of the workshop, and how much warmer the module gets by the end [degC], [K]."""
_V_PERCENT, _CELL_PERCENT = 0.02, 0.01
"""How far a voltage read at the terminals, and at one cell, may be off [%]."""
_READING_S = 25.0


def _check(record: Record, name: str) -> SpareCheck:
    """Give what is known of the spare for a place."""
    modules = (m for m in assess(record).modules if isinstance(m, MatchedModule))
    found = next((m.check for m in modules if m.name == name), None)
    if found is None:
        raise Stuck(f"No spare is picked for {name}")
    return found


def _planned(check: SpareCheck) -> tuple[ChargeCase, ChargeResult, ChargePlan]:
    case, result = check.charge.case, check.charge.result
    plan = None if case is None or result is None else plan_of(case, result)
    if case is None or result is None or plan is None:
        raise Stuck("There is no plan by which charge moves")
    return case, result, plan


def _on_the_way(record: Record) -> tuple[str, SpareCheck] | None:
    """Give the spare in which charge is moved now, or about to be."""
    for module in assess(record).modules:
        check = module.check if isinstance(module, MatchedModule) else None
        if check is not None and check.charge.planned and check.state.resting is None:
            return module.name, check
    return None


def _since_h(record: Record, run: Run | None) -> float:
    """Give for how long the current has flowed [h]."""
    return hours_between(run.volts[0].at, record.now) if run and run.volts else 0.0


def rested_cell_v(case: ChargeCase, result: ChargeResult, plan: ChargePlan, hours: float) -> float:
    """Give where a cell of the spare settles after current flowed for a time.

    Parameters
    ----------
    case : ChargeCase
        What is moved by what.
    result : ChargeResult
        What `charge` says of it.
    plan : ChargePlan
        Its course.
    hours : float
        For how long current flowed [h]; beyond the plan's end as at its end.

    Returns
    -------
    float
        Open-circuit voltage of one cell [V].
    """
    part = float(np.interp(hours, plan.hours, np.linspace(0.0, 1.0, len(plan.hours))))
    begin, end = result.spare_soc_percent, result.target_soc_percent
    curve = curve_named(case.curve)
    shift_v = max(0.0, max(case.spare_cell_v, case.target_cell_v) - curve.highest_v)
    return float(ocv_v(curve, np.array([begin + part * (end - begin)]))[0]) + shift_v


def _means(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
    result = _check(scene.record(), parts["module"]).charge.result
    charges = result is not None and result.direction is Direction.CHARGE
    return SUPPLY if charges else RESISTOR


def _power(_scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return _RESISTOR_W


def _current(_scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return _SUPPLY_A


def _warm(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    """Read the warmest spot beside each voltage, not before the first."""
    record = scene.record()
    moving = _on_the_way(record)
    run = None if moving is None else moving[1].state.flowing
    if moving is None or run is None or len(run.warm) >= len(run.volts):
        return Pass.LATER
    name, check = moving
    part = min(1.0, _since_h(record, run) / max(_planned(check)[2].whole_h, 1e-6))
    return At(
        qualifier_of(module=name, reading=str(len(record.all(SPARES.watch_c)) + 1)),
        f"{_ROOM_C + _WARMER_C * part + scene.bench.chance.uniform(-0.3, 0.3):.1f}",
    )


def _volts(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    """Read the terminals: at once, then whenever a quarter of the plan has passed."""
    moving = _on_the_way(scene.record())
    if moving is None:
        return Pass.LATER
    name, check = moving
    run, plan = check.state.flowing, _planned(check)[2]
    taken = 0 if run is None else len(run.volts)
    if taken >= READINGS and scene.plays:
        return Pass.LATER
    due_h = plan.whole_h * taken / (READINGS - 1)
    if scene.plays:
        late_h = max(0.0, due_h - _since_h(scene.record(), run))
        scene.wait(seconds=max(0.0, late_h * 3600.0 - _READING_S))
    record = scene.record()
    true_v = plan.at_v(_since_h(record, run))
    number = len(record.all(SPARES.watch_v)) + 1
    return At(
        qualifier_of(module=name, reading=str(number)), scene.bench.near(true_v, _V_PERCENT, 3)
    )


def _off(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
    """Switch off once the last reading is taken."""
    run = _check(scene.record(), parts["module"]).state.flowing
    return True if run is not None and len(run.volts) >= READINGS else Pass.LATER


def _again(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
    """Read the cells once the rest after the move is over."""
    check = _check(scene.record(), parts["module"])
    until, run = rests_until(check), check.state.resting
    if until is None or run is None or run.off_at is None:
        return Pass.LATER
    scene.wait_until(until)
    flowed_h = hours_between(run.volts[0].at, run.off_at) if run.volts else 0.0
    return scene.bench.near(rested_cell_v(*_planned(check), flowed_h), _CELL_PERCENT, 4)


BOOK: Final[Book] = {
    SPARES.means.key: _means,
    SPARES.means_w.key: _power,
    SPARES.means_a.key: _current,
    SPARES.off.key: _off,
    SPARES.watch_c.key: _warm,
    SPARES.watch_v.key: _volts,
    SPARES.again_v.key: _again,
}
