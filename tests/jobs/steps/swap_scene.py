"""A van whose spare is matched and stands at the string's charge, or far from it."""

from typing import Any

from jobs.core.item import qualifier_of
from jobs.steps.module_swap.items import GAP, LINKS, SPARE, SPARE_CELL_V, SPARES, TIE
from tests.builders import Bench
from tests.jobs.steps import repair_scene
from tests.jobs.steps.repair_checks import again

STRING_AH = {"M3": "119.2", "M9": "118.4"}
STRING_MOHM = {"M3": "6.0", "M9": "6.2"}
TESTED = {**repair_scene.SPARE, "days_since_test": 9, "tested_on": "2026-02-21"}
M10 = {"module": "M10"}


def with_match(bench: Bench, module: str = "M10") -> Bench:
    """Give what gate version 3 asks beyond the scene: temperatures, and a spare with its test."""
    again(bench, SPARE, TESTED, module=module)
    bench.put(SPARES.string_c, "21.5")
    bench.put(SPARES.spare_c, "20.5", module=module)
    return bench


def swapped() -> Bench:
    """Give a van whose module is replaced by one that matches, the step not signed."""
    bench = repair_scene.localised("M10")
    pack = bench.record().pack
    assert pack is not None
    assert pack.stack.tie_bolts is not None
    repair_scene.module_out_and_spare(bench)
    with_match(bench)
    bench.put(GAP, dict.fromkeys(pack.stack.gap_points, "612.1"), **M10)
    bolts = pack.stack.tie_bolts
    repair_scene.torque(bench, TIE, bolts, bolts.positions, **M10)
    repair_scene.close_links(bench, LINKS, "module_swap")
    return bench


def spare_picked(spare_v: str, string_v: str = "3.600", **changed: Any) -> Bench:
    """Give a van whose spare is on the bench, rested, its voltages known; nothing is fitted."""
    bench = repair_scene.localised("M10")
    repair_scene.module_out_and_spare(bench)
    with_match(bench)
    again(bench, SPARE, TESTED | changed, **M10)
    bench.put(LINKS.cell_v, string_v)
    again(bench, SPARE_CELL_V, spare_v, **M10)
    return bench


def with_resistor(bench: Bench, ohm: str = "4.7", power_w: str = "300") -> Bench:
    """Choose a resistor, and tick the cautions."""
    bench.put(SPARES.means, "resistor", **M10)
    bench.put(SPARES.means_ohm, ohm, **M10)
    bench.put(SPARES.means_w, power_w, **M10)
    bench.put(SPARES.safe, **M10)
    return bench


def with_supply(bench: Bench, current_a: str = "10") -> Bench:
    """Choose a supply, and tick the cautions."""
    bench.put(SPARES.means, "supply", **M10)
    bench.put(SPARES.means_a, current_a, **M10)
    bench.put(SPARES.safe, **M10)
    return bench


def reads(bench: Bench, volts: float, *, minutes: float = 0.0) -> None:
    """Let time pass and enter what the terminals show."""
    bench.wait(minutes=minutes)
    number = len(bench.record().live.get(SPARES.watch_v.key, ())) + 1
    bench.put(SPARES.watch_v, f"{volts:.2f}", **M10, reading=str(number))


def at(**parts: str) -> str:
    """Write a qualifier of the module that is replaced."""
    return qualifier_of(**M10, **parts)
