"""Logs in the road test: what they decide, what they leave open, what stands against release."""

from dataclasses import replace
from typing import Any

import pytest

from jobs.core.entry import Kind
from jobs.core.flow import blocker_digest
from jobs.core.lanes import Lane, lanes
from jobs.core.limits import Limits
from jobs.core.log_check import REASONS, part_of
from jobs.core.log_entry import read_log_entry, stored_result
from jobs.core.paper import on_paper
from jobs.core.seal import canonical, sealed
from jobs.core.section import Said, Section
from jobs.steps.road_test import STEP
from jobs.steps.road_test.items import LOG, SPREAD_C, SPREAD_LOAD, SPREAD_REST, SPREAD_TOP
from packs.definition import Figure
from packs.physics.cycle_case import CycleResult, ReplacedModule
from packs.physics.instrument import Message, Verdict
from packs.picture import Disc, Rect
from tests.builders import THORNE, Bench
from tests.jobs.steps.logged_scene import logged, put_log, result_of, sound, stored_log
from tests.jobs.steps.repair_checks import codes, found, speaks
from tests.jobs.steps.repair_scene import driven

WHY = "It stands apart."


def said(bench: Bench) -> Section:
    record = bench.record()
    return STEP.section(record, STEP.assess(record))


def spread(**ends: float) -> CycleResult:
    """Give the sound log with one spread replaced: value, low and high in a row."""
    more: dict[str, Any] = {}
    for field, value in ends.items():
        more |= {field: value, f"{field}_low": value - 2.0, f"{field}_high": value + 2.0}
    return replace(sound(), **more)


def module(verdict: Verdict, **offsets: float | None) -> ReplacedModule:
    known = {"offset_top_mv": 3.0, "offset_bottom_mv": 2.0, "offset_load_mv": 4.0, **offsets}
    return ReplacedModule(name="M10", **known, verdict=verdict, why=WHY)


def without_spread(*names: str) -> CycleResult:
    shares = ("", "_low", "_high")
    fields: dict[str, Any] = {f"spread_{n}_mv{share}": None for n in names for share in shares}
    return replace(sound(), **fields)


def test_a_sound_log_needs_no_typed_spread_and_lets_the_van_go() -> None:
    bench = logged()
    assert found(bench, STEP) == ()
    spreads = {SPREAD_REST.key, SPREAD_TOP.key, SPREAD_LOAD.key, SPREAD_C.key}
    needed = {item.key for item in STEP.items(bench.record()) if item.needed}
    assert not needed & spreads


def test_without_a_log_the_spreads_are_typed_and_sealed_as_before() -> None:
    bench = driven()
    result = sealed(STEP.assess(bench.record()))
    assert "logged" not in result
    assert set(result["spreads"][0]) == {"key", "label", "unit", "value", "limit"}
    assert STEP.gate_version == 4


def test_what_a_log_does_not_show_is_still_typed() -> None:
    bench = logged(without_spread("load"))
    missing = {point.item for point in found(bench, STEP) if point.code == "missing"}
    assert missing == {SPREAD_LOAD.key}
    bench.put(SPREAD_LOAD, "60")
    assert found(bench, STEP) == ()


SENSOR = replace(
    sound(),
    cells=(
        replace(sound().cells[0], flag="sensor", flags=("sensor",)),
        *sound().cells[1:],
    ),
)
DOUBTED = replace(sound(), advice=(Message("settle_doubts", "Settle it."),))
CASES: tuple[tuple[str, CycleResult, dict[str, Any]], ...] = (
    ("road_spread", spread(spread_top_mv=57.0), {}),
    ("road_spread", spread(spread_rest_mv=25.0), {}),
    ("road_log_undecided", spread(spread_rest_mv=19.0), {}),
    ("road_temperature_spread", replace(sound(), temperature_spread_c=7.0,
     temperature_spread_c_low=6.9, temperature_spread_c_high=7.1), {}),
    ("road_log_temperature", replace(sound(), temperature_spread_c=5.0,
     temperature_spread_c_low=4.9, temperature_spread_c_high=5.1), {}),
    ("road_log_module", replace(sound(), replaced=(module(Verdict.FAIL, offset_top_mv=41.0),)), {}),
    ("road_log_module_open",
     replace(sound(), replaced=(module(Verdict.UNDECIDED, offset_load_mv=None),)), {}),
    ("road_log_doubt", DOUBTED, {"doubts": [["x", "Two ways."]]}),
    ("road_log_sensor", SENSOR, {}),
    ("road_log_other_string", sound(), {"asked": {**stored_log(driven(), sound())["asked"],
     "replaced": ["M2"]}}),
)  # fmt: skip


@pytest.mark.parametrize(
    ("code", "result", "more"), CASES, ids=[f"{c[0]}-{n}" for n, c in enumerate(CASES)]
)
def test_each_reason_of_a_log_blocks(code: str, result: CycleResult, more: dict[str, Any]) -> None:
    bench = logged(result, **more)
    assert code in codes(bench, STEP)
    assert code not in codes(logged(), STEP)
    assert said(bench).verdict in {"fail", "undecided"}


def test_every_reason_of_logs_is_shown_by_a_case() -> None:
    assert {reason.code for reason in REASONS} <= {code for code, _, _ in CASES}


def test_only_spreads_of_cells_and_modules_may_be_countersigned() -> None:
    accepted = {reason.code for reason in REASONS if reason.countersign}
    assert accepted == {"road_log_undecided", "road_log_module", "road_log_module_open"}
    bench = logged(spread(spread_rest_mv=19.0))
    (blocker,) = found(bench, STEP)
    bench.add(Kind.COUNTERSIGN, {"digest": blocker_digest(blocker), "reason": "x"}, by=THORNE)
    assert found(bench, STEP) == ()


def test_a_spread_measured_and_typed_decides_what_the_log_leaves_open() -> None:
    bench = logged(spread(spread_rest_mv=19.0))
    assert codes(bench, STEP) == {"road_log_undecided"}
    bench.put(SPREAD_REST, "18")
    assert codes(bench, STEP) == set()


def test_a_typed_figure_that_contradicts_the_log_is_said_and_does_not_hide_it() -> None:
    bench = logged(spread(spread_top_mv=57.0))
    bench.put(SPREAD_TOP, "12")
    assert "road_spread" in codes(bench, STEP)
    assert any("contradicts" in warning.text for warning in said(bench).warnings)
    bench = logged()
    bench.put(SPREAD_TOP, "22")
    assert not any("contradicts" in warning.text for warning in said(bench).warnings)


def test_charge_and_drive_in_two_logs_add_up() -> None:
    apart = module(Verdict.UNDECIDED, offset_load_mv=None)
    charge = replace(without_spread("load"), replaced=(apart,))
    bench = logged(charge)
    assert codes(bench, STEP) == {"missing", "road_log_module_open"}
    drive = replace(
        without_spread("top"), replaced=(module(Verdict.UNDECIDED, offset_top_mv=None),)
    )
    put_log(bench, drive, sha256="b" * 64)
    assert found(bench, STEP) == ()


def test_a_struck_log_counts_no_more() -> None:
    bench = logged(spread(spread_top_mv=57.0))
    entry = bench.entries[-1]
    bench.add(Kind.STRIKE, {"key": entry.key, "reason": "wrong car"})
    assert {point.code for point in found(bench, STEP)} == {"missing"}


def test_limits_in_force_judge_a_log_that_is_in_already() -> None:
    bench = logged()
    tight = Figure(value=5.0, kind="shop_default", source="")
    bench.limits = Limits(spread_rest_mv=tight)
    assert "road_spread" in codes(bench, STEP)


@pytest.mark.parametrize("name", ["cycle_clean", "cycle_dirty"])
def test_spread_by_spread_the_verdict_is_that_of_the_calculation(name: str) -> None:
    result = result_of(name)
    log = read_log_entry(stored_log(driven(), result))
    parts = [part_of(log, n, Limits()) for n in ("rest", "top", "load", "temperature")]
    verdicts = [part.verdict for part in parts if part is not None]
    verdicts += [each.verdict for each in result.replaced]
    assert (Verdict.FAIL in verdicts) == (result.verdict is Verdict.FAIL)


def test_a_stored_result_is_read_back_as_it_was() -> None:
    bench = driven()
    value = stored_log(bench, result_of("cycle_clean"))
    again = read_log_entry(value).result
    assert stored_result(again) == value["result"]
    assert again.capacity_ah == pytest.approx(result_of("cycle_clean").capacity_ah, abs=1e-6)
    assert len(canonical(value)) < 20_000


def test_a_log_is_never_taken_from_paper() -> None:
    assert not on_paper(LOG)


def test_the_customer_reads_what_was_recorded_and_what_it_does_not_show() -> None:
    section = said(logged())
    plain = " ".join(
        part.text.format(**part.params) for part in section.plain if isinstance(part, Said)
    )
    assert "every one of its 84 cells for 8.3 hours" in plain
    assert "The cells stayed together" in plain
    assert "52 Ah" in plain
    outside = " ".join(each.text for each in section.not_covered)
    assert "only while they ran" in outside
    assert "capacity of the battery were not tested" not in outside


def test_the_lanes_name_the_odd_cell_and_the_new_module() -> None:
    bench = logged(result_of("cycle_clean"))
    picture = next(p for p in said(bench).pictures if p.title.startswith("Cells by module"))
    assert "cell 77 in M13: high resistance" in picture.description
    assert "New: M10" in picture.description
    assert sum(isinstance(shape, Rect) for shape in picture.shapes) == 1
    assert [shape.form for shape in picture.shapes if isinstance(shape, Disc)] == ["octagon"]


def test_lanes_without_offsets_are_not_drawn() -> None:
    assert lanes([Lane(name="M1", cells=((1, None),))], limit_mv=20.0) is None


WHOLE = logged(result_of("cycle_clean"))


def test_a_log_alone_can_be_judged_and_said() -> None:
    last = len(WHOLE.entries) - 1
    for kept in ({last}, {0, last}, set(range(0, last + 1, 3))):
        speaks(WHOLE, STEP, kept)
