"""Module swap: the spare is brought to the string's charge, watched, rested and read again."""

from typing import Any

import pytest

from jobs.core.entering import enter_gate
from jobs.core.entry import Kind
from jobs.core.item import Item
from jobs.core.order import items_of
from jobs.core.paper import on_paper
from jobs.core.seal import sealed
from jobs.core.section import Quantity, Said, Section
from jobs.steps.module_swap import STEP
from jobs.steps.module_swap.assessment import MatchedModule
from jobs.steps.module_swap.items import LINKS, SAME_END, SPARE, SPARE_CELL_V, SPARES
from tests.builders import Bench, a_person
from tests.jobs.steps.repair_checks import again, codes, found
from tests.jobs.steps.repair_scene import leaking
from tests.jobs.steps.repair_scene import swapped as swapped_before
from tests.jobs.steps.swap_scene import (
    M10,
    TESTED,
    at,
    reads,
    spare_picked,
    with_resistor,
    with_supply,
)


def section(bench: Bench) -> Section:
    return STEP.section(bench.record(), STEP.assess(bench.record()))


def said(words: Any) -> str:
    return " ".join(each.text.format(**each.params) for each in words if isinstance(each, Said))


def words_of(label: Said | str) -> str:
    return label if isinstance(label, str) else label.text.format(**label.params)


def fact(bench: Bench, begins: str) -> Any:
    return next(each for each in section(bench).facts if words_of(each.label).startswith(begins))


def asked(bench: Bench, item: Item[Any]) -> Item[Any] | None:
    return next((each for each in items_of(STEP, bench.record()) if each.key == item.key), None)


def barred(bench: Bench, item: Item[Any], qualifier: str) -> set[str]:
    found = enter_gate((STEP,), bench.record(), key=item.key, qualifier=qualifier, by=a_person())
    return {each.code for each in found}


def checked(bench: Bench) -> MatchedModule:
    (module,) = STEP.assess(bench.record()).modules
    assert isinstance(module, MatchedModule)
    return module


def test_means_are_asked_only_once_the_voltages_show_that_charge_must_move() -> None:
    assert asked(spare_picked("3.604"), SPARES.means) is None
    bench = spare_picked("3.690")
    means = asked(bench, SPARES.means)
    assert means is not None
    assert means.expected == ("module=M10",)
    assert asked(bench, SPARES.watch_v) is None
    bench.put(SPARES.means, "resistor", **M10)
    power = asked(bench, SPARES.means_w)
    assert power is not None
    assert power.needed
    bench.put(SPARES.means_ohm, "4.7", **M10)
    power = asked(bench, SPARES.means_w)
    assert power is not None
    assert not power.needed


def test_the_plan_says_how_much_how_long_where_to_stop_and_what_follows() -> None:
    bench = with_resistor(spare_picked("3.690"))
    amount = fact(bench, "Charge to take out of the spare for M10").value
    # 44.7 % less 22.2 % of 118 Ah by the table of the curve.
    assert amount.value == pytest.approx(26.5, abs=0.1)
    assert amount.low < amount.value < amount.high
    # 21.6 V through 4.7 ohm and the module's own 6.1 mohm.
    stop = fact(bench, "Stop at").value
    assert stop.value == pytest.approx(21.6 * 4.7 / 4.7061, abs=1e-3)
    assert fact(bench, "Resistor for it").value == Quantity(4.7, "ohm")
    assert fact(bench, "Power of the resistor").value.value == pytest.approx(104, abs=1)
    assert fact(bench, "Rest afterwards").value == Quantity(3.0, "h")
    assert fact(bench, "Time for the balancer").value.value > 0
    words = said(section(bench).warnings)
    assert "Stay with it" in words
    assert "gets very hot" in words
    assert section(bench).pictures[0].title == "Plan for the spare for M10"


def test_a_resistor_is_chosen_within_its_power() -> None:
    bench = spare_picked("3.690")
    bench.put(SPARES.means, "resistor", **M10)
    bench.put(SPARES.means_w, "100", **M10)
    # (22.14 V)^2/100 W is 4.9 ohm: the next of the series.
    assert fact(bench, "Resistor for it").value == Quantity(5.6, "ohm")


def test_a_resistor_that_would_have_to_charge_is_refused_in_words() -> None:
    bench = with_resistor(spare_picked("3.540"))
    assert "a resistor cannot charge" in said(section(bench).warnings)
    assert asked(bench, SPARES.watch_v) is None
    again(bench, SPARES.means, "supply", **M10)
    bench.put(SPARES.means_a, "10", **M10)
    assert fact(bench, "Charge to put into the spare").value.value > 0


def test_no_current_before_the_cautions_are_ticked() -> None:
    bench = with_resistor(spare_picked("3.690"))
    first = at(reading="1")
    assert barred(bench, SPARES.watch_v, first) == set()
    for entry in bench.record().live[SPARES.safe.key]:
        bench.add(Kind.STRIKE, {"key": entry.key, "reason": "test"})
    assert barred(bench, SPARES.watch_v, first) == {"swap_move_safe_first"}


def test_cautions_and_the_first_reading_come_before_the_fitting() -> None:
    bench = spare_picked("3.690")
    bench.put(SPARES.means, "supply", **M10)
    bench.put(SPARES.means_a, "10", **M10)
    missing = {b.item for b in found(bench, STEP) if b.code == "missing"}
    assert {SPARES.safe.key, SPARES.watch_v.key} <= missing
    bench.put(SPARES.safe, **M10)
    reads(bench, 22.05)
    missing = {b.item for b in found(bench, STEP) if b.code == "missing"}
    assert {SPARES.safe.key, SPARES.watch_v.key}.isdisjoint(missing)


def test_nothing_is_charged_below_freezing() -> None:
    bench = with_supply(spare_picked("3.540"))
    assert barred(bench, SPARES.watch_v, at(reading="1")) == set()
    again(bench, SPARES.spare_c, "-1", **M10)
    assert barred(bench, SPARES.watch_v, at(reading="1")) == {"swap_too_cold"}
    cold = with_supply(spare_picked("3.690"))
    again(cold, SPARES.spare_c, "-1", **M10)
    assert barred(cold, SPARES.watch_v, at(reading="1")) == set()


def test_readings_are_numbered_on_and_none_is_entered_twice() -> None:
    bench = with_resistor(spare_picked("3.690"))
    reads(bench, 22.08)
    watch = asked(bench, SPARES.watch_v)
    assert watch is not None
    assert watch.options == {"module": ("M10",), "reading": ("2",)}
    assert barred(bench, SPARES.watch_v, at(reading="1")) != set()


def test_a_run_is_drawn_counted_down_and_warned_of() -> None:
    bench = with_resistor(spare_picked("3.690"))
    reads(bench, 22.10)
    drawn = section(bench).pictures[0]
    assert "1 readings" in drawn.description
    assert "0 off the plan" in drawn.description
    (count,) = section(bench).counts
    assert count.until > bench.now
    reads(bench, 21.80, minutes=10)
    assert "runs ahead of the plan" in said(section(bench).warnings)
    bench.put(SPARES.watch_c, "41", **M10, reading="1")
    assert "M10 is warm: 41" in said(section(bench).warnings)
    reads(bench, 21.55, minutes=5)
    assert "stop now" in said(section(bench).warnings)
    reads(bench, 16.7, minutes=5)
    assert "limit of its cells" in said(section(bench).warnings)


def moved(bench: Bench) -> Bench:
    """Move the charge as planned, and switch off."""
    reads(bench, 22.10)
    reads(bench, 21.83, minutes=180)
    reads(bench, 21.57, minutes=160)
    bench.put(SPARES.off, **M10, round="1")
    return bench


def test_the_rest_begins_with_the_current_off_and_its_end_is_waited_for() -> None:
    bench = with_resistor(spare_picked("3.690"))
    reads(bench, 22.10)
    assert ("swap_still_flows", SPARES.watch_v.key) in {
        (b.code, b.item) for b in found(bench, STEP)
    }
    assert asked(bench, SPARES.again_v) is None
    bench.put(SPARES.off, **M10, round="1")
    assert barred(bench, SPARES.again_v, at(round="1")) == {"swap_resting"}
    assert "swap_resting" in codes(bench, STEP)
    (count,) = section(bench).counts
    assert (count.until - bench.now).total_seconds() == 3 * 3600
    # The voltage before the move counts no more.
    assert "swap_cell_spread" not in codes(bench, STEP)
    assert SPARES.again_v.key in {b.item for b in found(bench, STEP)}
    bench.wait(hours=3)
    assert barred(bench, SPARES.again_v, at(round="1")) == set()
    assert "swap_resting" not in codes(bench, STEP)


def test_a_cold_spare_rests_longer() -> None:
    bench = with_resistor(spare_picked("3.690"))
    again(bench, SPARES.spare_c, "5", **M10)
    assert checked(bench).check.rest_needed_h == 6.0


def test_what_was_moved_is_read_again_and_said() -> None:
    bench = moved(with_resistor(spare_picked("3.690")))
    bench.wait(hours=3.1)
    bench.put(SPARES.again_v, "3.605", **M10, round="1")
    module = checked(bench)
    assert module.check.charge.word == "ready"
    assert module.rest_h == pytest.approx(3.1)
    assert {"swap_cell_spread", "swap_rest"}.isdisjoint(codes(bench, STEP))
    counted = fact(bench, "Charge moved in the spare for M10, run 1").value
    # Trapezoids over 5 h 40 min at some 21.8 V through 4.7 ohm.
    assert counted.value == pytest.approx(26.4, abs=0.3)
    words = said(section(bench).plain)
    assert "26.4 Ah were taken out" in words or "26.3 Ah were taken out" in words
    assert "stood 5 mV from" in words


def test_a_move_that_fell_short_is_followed_by_another() -> None:
    bench = moved(with_resistor(spare_picked("3.690")))
    bench.wait(hours=4)
    bench.put(SPARES.again_v, "3.640", **M10, round="1")
    assert "swap_cell_spread" in codes(bench, STEP)
    assert fact(bench, "Charge to take out").value.value < 20
    bench.put(SPARES.watch_v, "21.80", **M10, reading="4")
    off = asked(bench, SPARES.off)
    assert off is not None
    assert off.offered == (at(round="2"), at(round="1"))
    runs = checked(bench).check.state.runs
    assert [(run.number, run.cell_v, len(run.volts)) for run in runs] == [
        (1, 3.69, 3),
        (2, 3.64, 1),
    ]


def test_undecided_becomes_ready_with_a_finer_meter() -> None:
    bench = spare_picked("3.618")
    assert "swap_charge_undecided" in codes(bench, STEP)
    assert fact(bench, "Rested cell voltage").verdict == "undecided"
    bench.put(SPARES.cell_u_mv, "0.5")
    assert "swap_charge_undecided" not in codes(bench, STEP)
    assert fact(bench, "Rested cell voltage").verdict == "pass"


def a_flat_spare(string_v: str, spare_v: str) -> Bench:
    bench = leaking("minibus", "M3")
    kind = {"part": "V12-M10", "chemistry": "lfp", "cells": 10, "capacity_ah": 179.0}
    bench.put(SPARE, TESTED | kind, module="M3")
    bench.put(LINKS.cell_v, string_v)
    bench.put(SPARES.rest_h, "30", module="M3")
    bench.put(SPARE_CELL_V, spare_v, module="M3")
    return bench


def test_a_flat_curve_gives_the_knee_and_asks_for_the_same_end() -> None:
    bench = a_flat_spare("3.298", "3.302")
    (module,) = STEP.assess(bench.record()).modules
    assert isinstance(module, MatchedModule)
    assert module.check.charge.word == "flat"
    assert fact(bench, "Rested cell voltage").verdict == "pass"
    assert "knee" in said(section(bench).advice)
    assert asked(bench, SPARES.means) is None
    missing = {b.item for b in found(bench, STEP) if b.code == "missing"}
    assert SAME_END.key in missing
    bench.put(SAME_END, module="M3")
    assert {"swap_charge_undecided", "swap_cell_spread"}.isdisjoint(codes(bench, STEP))


def test_a_flat_curve_is_no_leave_for_any_difference() -> None:
    bench = a_flat_spare("3.285", "3.325")
    bench.put(SAME_END, module="M3")
    assert "swap_cell_spread" in codes(bench, STEP)


def test_without_a_curve_the_charge_is_counted_from_the_same_end() -> None:
    bench = spare_picked("3.604")
    assert asked(bench, SAME_END) is None
    assert bench.pack is not None
    bench.pack = bench.pack.model_copy(update={"curve": None})
    assert asked(bench, SAME_END) is not None
    assert "no voltage curve is known" in said(section(bench).advice)
    assert fact(bench, "Rested cell voltage").verdict == "pass"
    again(bench, SPARE_CELL_V, "3.64", **M10)
    assert "swap_cell_spread" in codes(bench, STEP)


def test_what_waits_on_the_clock_is_never_taken_from_paper() -> None:
    never = (SPARES.safe, SPARES.off, SPARES.watch_v, SPARES.watch_c, SPARES.again_v)
    assert [item.key for item in never if on_paper(item)] == []
    taken = (SPARES.string_c, SPARES.string_ah, SPARES.spare_c, SPARES.means, SPARE_CELL_V)
    assert [item.key for item in taken if not on_paper(item)] == []


def test_a_step_joined_under_the_gate_before_gives_the_result_it_sealed() -> None:
    bench = swapped_before()
    now = sealed(STEP.assess(bench.record()))
    before = {**now, "modules": [{k: v for k, v in m.items() if k != "check"}
                                 for m in now["modules"]]}  # fmt: skip
    assert now != before
    passed = bench.record().holds["module_swap", "last_link"]
    bench.entries = [
        e if e.key != passed.key else type(e)(
            key=e.key, seq=e.seq, kind=e.kind, person=e.person, at=e.at,
            value={**e.value, "result": before},
        )
        for e in bench.entries
    ]  # fmt: skip
    assert sealed(STEP.assess(bench.record())) == before
    assert section(bench).verdict == "pass"
    # It is still open: what gate version 3 asks is missing all the same.
    missing = {b.item for b in found(bench, STEP)}
    assert {SPARES.string_c.key, SPARES.spare_c.key} <= missing
    bench.put(SPARES.string_c, "20")
    bench.put(SPARES.spare_c, "20", **M10)
    assert "swap_not_matched" in codes(bench, STEP)
    assert STEP.gate_version == 3


def test_the_reasons_of_the_match_stand_a_line_each() -> None:
    bench = spare_picked("3.604", capacity_ah=116.0)
    bench.put(SPARES.string_ah, {"M3": "119.2", "M9": "118.4"})
    table = next(t for t in section(bench).tables if t.title == "Spares against the string")
    words = [str(row[2]) for row in table.rows]
    assert any("a weaker spare limits the whole string" in each for each in words)
    assert fact(bench, "Match of the spare for M10").verdict == "pass"
    assert "matches them" in said(section(bench).plain)


def test_a_module_that_is_replaced_does_not_set_the_measure() -> None:
    bench = spare_picked("3.604")
    bench.put(SPARES.string_ah, {"M3": "118", "M9": "118"})
    record = bench.record()
    table = asked(bench, SPARES.string_ah)
    assert table is not None
    assert "M10" not in table.rows
    assert STEP.assess(record).modules[0].name == "M10"
