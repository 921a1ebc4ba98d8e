"""What cycle finds in simulated logs, and how its figures move with the log."""

import dataclasses
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from packs.physics.cycle import cycle
from packs.physics.cycle_case import CycleCase, CycleLog, CycleModule, CycleResult
from packs.physics.instrument import CalculationRefused, Message, Verdict
from tests.packs.physics.cycle_simulator import Floats, Simulated, modules_of, simulated

HEALTHY = simulated(cells=12)
FEW = settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def codes(messages: tuple[Message, ...]) -> set[str]:
    return {message.code for message in messages}


def with_log(sim: Simulated, **changes: object) -> CycleCase:
    return sim.asked(log=replace(sim.log, **changes))  # type: ignore[arg-type]


def rows_of(log: CycleLog, rows: slice) -> CycleLog:
    return CycleLog(
        time_s=log.time_s[rows] - log.time_s[rows][0],
        current_a=log.current_a[rows],
        cell_v=log.cell_v[rows],
        temperature_c=log.temperature_c[rows],
    )


def figures_of(result: CycleResult) -> list[float]:
    """Return every number of a result."""
    found: list[float] = []

    def walk(value: object) -> None:
        if isinstance(value, dict):
            for item in value.values():
                walk(item)
        elif isinstance(value, (list, tuple)):
            for item in value:
                walk(item)
        elif isinstance(value, float):
            found.append(value)

    walk(dataclasses.asdict(result))
    return found


def offsets_mv(result: CycleResult) -> Floats:
    return np.array([cell.offset_mv for cell in result.cells], dtype=np.float64)


def test_a_healthy_string_passes_with_its_capacity_and_no_flag() -> None:
    result = cycle(HEALTHY.asked(rated_ah=50.0, replaced=("M2",)))
    true_ah = float(np.median(HEALTHY.capacity_ah))
    assert result.verdict is Verdict.PASS
    assert result.capacity_ah == pytest.approx(true_ah, rel=0.005)
    assert result.state_of_health_percent == pytest.approx(true_ah / 0.5, rel=0.005)
    assert [cell.flag for cell in result.cells] == [""] * 12
    assert result.replaced[0].verdict is Verdict.PASS
    assert result.advice == ()
    assert result.energy_of == "charge"
    assert result.energy_wh == pytest.approx(12 * 3.8 * (result.counted_ah or 0.0), rel=0.05)


def test_each_resistance_is_that_of_the_cell() -> None:
    result = cycle(HEALTHY.case)
    for cell, true_ohm in zip(result.cells, HEALTHY.resistance_ohm, strict=True):
        assert cell.resistance_mohm == pytest.approx(true_ohm * 1e3, rel=0.05)


@FEW
@given(order=st.permutations(range(12)))
def test_the_order_of_the_cells_changes_no_cells_figures(order: list[int]) -> None:
    plain = cycle(HEALTHY.case)
    mixed = cycle(with_log(HEALTHY, cell_v=HEALTHY.log.cell_v[:, order]))
    assert mixed.capacity_ah == pytest.approx(plain.capacity_ah)
    assert mixed.spread_top_mv == pytest.approx(plain.spread_top_mv)
    for place, cell in enumerate(order):
        for name in ("offset_mv", "resistance_mohm", "capacity_ah", "flag"):
            new, old = getattr(mixed.cells[place], name), getattr(plain.cells[cell], name)
            assert new == (pytest.approx(old, rel=1e-6, abs=1e-6) if name != "flag" else old)


@FEW
@given(factor=st.floats(0.2, 5.0))
def test_capacity_goes_with_the_current_and_resistance_against_it(factor: float) -> None:
    plain = cycle(HEALTHY.case)
    scaled = cycle(with_log(HEALTHY, current_a=HEALTHY.log.current_a * factor))
    assert scaled.capacity_ah == pytest.approx((plain.capacity_ah or 0.0) * factor, rel=0.01)
    for new, old in zip(scaled.cells, plain.cells, strict=True):
        assert new.resistance_mohm == pytest.approx((old.resistance_mohm or 0.0) / factor, rel=0.02)


@FEW
@given(added_mv=st.floats(-60.0, 60.0), cell=st.integers(0, 11))
def test_a_constant_on_one_cell_is_its_offset(added_mv: float, cell: int) -> None:
    log_v = HEALTHY.log.cell_v.copy()
    log_v[:, cell] += added_mv / 1000.0
    before, after = (
        offsets_mv(cycle(HEALTHY.case)),
        offsets_mv(cycle(with_log(HEALTHY, cell_v=log_v))),
    )
    assert after[cell] - before[cell] == pytest.approx(added_mv, abs=2.0)
    others = np.delete(after - before, cell)
    assert np.abs(others - np.median(others)).max() < 0.01


def test_every_second_row_tells_the_same() -> None:
    sim = simulated(cells=12, step_s=5.0)
    thin = CycleLog(
        time_s=sim.log.time_s[::2],
        current_a=sim.log.current_a[::2],
        cell_v=sim.log.cell_v[::2],
        temperature_c=sim.log.temperature_c[::2],
    )
    full, half = cycle(sim.case), cycle(sim.asked(log=thin))
    assert half.capacity_ah == pytest.approx(full.capacity_ah, rel=0.005)
    assert half.spread_rest_mv == pytest.approx(full.spread_rest_mv, abs=1.0)
    assert half.verdict == full.verdict


def test_the_other_sign_of_the_current_is_noticed() -> None:
    result = cycle(with_log(HEALTHY, current_a=-HEALTHY.log.current_a))
    assert "current_sign_suspect" in codes(result.warnings)
    assert result.verdict is Verdict.UNDECIDED
    assert result.capacity_ah is None


def test_an_offset_of_the_current_sensor_is_taken_out_and_said() -> None:
    sim = simulated(cells=12, current_offset_a=0.15)
    result = cycle(sim.case)
    assert result.capacity_ah == pytest.approx(float(np.median(sim.capacity_ah)), rel=0.005)
    assert "current_offset" in codes(result.warnings)


@pytest.mark.parametrize("gap_at", [0.3, 0.7])
def test_a_gap_during_current_widens_the_interval_or_is_kept_out(gap_at: float) -> None:
    sim = simulated(cells=12, gap_s=600.0, gap_at=gap_at)
    result = cycle(sim.case)
    assert "gap_in_charge" in codes(result.warnings)
    assert result.capacity_ah_low is not None
    assert result.capacity_ah_high is not None
    assert result.capacity_ah_low <= float(np.median(sim.capacity_ah)) <= result.capacity_ah_high


def test_a_gap_too_long_to_bound_leaves_no_window_across_it() -> None:
    sim = simulated(cells=12, drive_s=0.0, gap_s=4000.0, gap_at=0.4)
    result = cycle(sim.case)
    assert result.capacity_ah is None
    assert {"gap_in_charge", "no_window"} <= codes(result.warnings)


def test_parts_of_a_log_that_contradict_each_other_widen_the_interval() -> None:
    current_a = HEALTHY.log.current_a.copy()
    current_a[current_a > 12.0] *= 1.3
    plain, result = cycle(HEALTHY.case), cycle(with_log(HEALTHY, current_a=current_a))
    assert "windows_disagree" in codes(result.warnings)
    assert "windows_disagree" not in codes(plain.warnings)
    assert plain.capacity_ah is not None
    assert result.capacity_ah_low is not None
    assert result.capacity_ah_high is not None
    assert result.capacity_ah_low < plain.capacity_ah < result.capacity_ah_high


def test_a_drive_with_many_stops_gives_the_capacity_too() -> None:
    sim = simulated(cells=12, step_s=60.0, drive_s=60_000.0, drive_rate=0.15)
    result = cycle(sim.case)
    assert result.capacity_ah_low is not None
    assert result.capacity_ah_high is not None
    assert result.capacity_ah_low <= float(np.median(sim.capacity_ah)) <= result.capacity_ah_high


def test_a_gap_at_the_beginning_of_a_log_is_bounded_by_the_current_beside_it() -> None:
    log = HEALTHY.log
    first = int(np.argmax(log.current_a > 5.0)) + 1
    short = rows_of(log, slice(first, None))
    gapped = replace(short, time_s=np.where(short.time_s > 0.0, short.time_s + 400.0, 0.0))
    result = cycle(HEALTHY.asked(log=gapped))
    assert "gap_in_charge" in codes(result.warnings)


def test_a_lost_charge_leaves_no_full_window() -> None:
    sim = simulated(
        cells=12, from_percent=1.0, to_percent=97.0, holds=True, gap_s=4000.0, gap_at=0.3
    )
    result = cycle(sim.asked(curve=None))
    assert result.capacity_ah is None


def test_when_every_channel_is_doubtful_nothing_is_decided() -> None:
    log_v = HEALTHY.log.cell_v.copy()
    for cell in range(log_v.shape[1]):
        log_v[3 * cell + 2 :: 40, cell] += 0.3
    result = cycle(with_log(HEALTHY, cell_v=log_v))
    assert result.verdict is Verdict.UNDECIDED
    assert "nothing_usable" in codes(result.warnings)


def test_a_full_window_gives_the_capacity_without_a_curve() -> None:
    sim = simulated(cells=12, from_percent=1.0, to_percent=97.0, holds=True)
    result = cycle(sim.asked(curve=None))
    assert result.capacity_from == "full_window"
    assert result.capacity_ah_low is not None
    assert result.capacity_ah_high is not None
    assert result.capacity_ah_low <= float(np.median(sim.capacity_ah)) <= result.capacity_ah_high
    assert "full_window" in codes(result.warnings)


@pytest.mark.parametrize("curve", ["nmc532_graphite", "lfp_graphite", "nca_graphite"])
def test_a_shoulder_further_up_is_not_taken_for_the_end(curve: str) -> None:
    sim = simulated(cells=12, curve=curve, from_percent=10.0, to_percent=97.0, holds=True)
    result = cycle(sim.asked(curve=None))
    assert result.capacity_ah is None
    assert "no_window" in codes(result.warnings)
    assert "name_curve" in codes(result.advice)


def test_a_flat_curve_gives_no_capacity_from_its_middle() -> None:
    sim = simulated(cells=12, curve="lfp_graphite", from_percent=30.0, to_percent=70.0)
    assert cycle(sim.case).capacity_ah is None


def test_a_log_that_begins_under_current_still_gives_the_capacity() -> None:
    first = int(np.argmax(HEALTHY.log.current_a > 5.0)) + 2
    result = cycle(HEALTHY.asked(log=rows_of(HEALTHY.log, slice(first, None))))
    assert result.capacity_ah_low is not None
    assert result.capacity_ah_high is not None
    true_ah = float(np.median(HEALTHY.capacity_ah))
    assert result.capacity_ah_low <= true_ah <= result.capacity_ah_high


def test_a_spike_decides_nothing() -> None:
    log_v = HEALTHY.log.cell_v.copy()
    log_v[[40, 300, 900], 3] += 0.5
    result, plain = cycle(with_log(HEALTHY, cell_v=log_v)), cycle(HEALTHY.case)
    assert result.spread_rest_mv == pytest.approx(plain.spread_rest_mv, abs=0.5)
    assert result.verdict == plain.verdict
    assert "spikes_left_out" in codes(result.warnings)


def test_single_holes_are_filled_and_said() -> None:
    log_v, current_a = HEALTHY.log.cell_v.copy(), HEALTHY.log.current_a.copy()
    log_v[100:103, 5] = np.nan
    current_a[50] = np.nan
    result = cycle(with_log(HEALTHY, cell_v=log_v, current_a=current_a))
    assert {"filled_cells", "filled_current"} <= codes(result.warnings)
    assert result.verdict is Verdict.PASS
    assert result.cells[5].flag == ""


def test_rows_without_a_current_become_a_gap() -> None:
    current_a = HEALTHY.log.current_a.copy()
    current_a[200:220] = np.nan
    result = cycle(with_log(HEALTHY, current_a=current_a))
    assert {"rows_without_current", "gap_in_charge"} <= codes(result.warnings)


@pytest.mark.parametrize("rows", [0, 1, 2, 3, 10, 200])
@pytest.mark.parametrize("current_a", [0.0, 10.0, math.nan])
@pytest.mark.parametrize("volts", [3.7, 65.535, 5.0, math.nan])
def test_logs_without_content_give_nothing_and_say_so(
    rows: int, current_a: float, volts: float
) -> None:
    log = CycleLog(
        time_s=np.arange(rows, dtype=np.float64) * 20.0,
        current_a=np.full(rows, current_a),
        cell_v=np.full((rows, 6), volts),
        temperature_c=np.full((rows, 1), math.nan),
    )
    case = CycleCase(log=log, modules=modules_of(6), replaced=("M1",), curve="nca_graphite")
    result = cycle(case)
    assert result.verdict is Verdict.UNDECIDED
    assert result.capacity_ah is None
    assert result.advice
    assert all(math.isfinite(figure) for figure in figures_of(result))


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_whatever_the_log_every_number_is_finite(seed: int) -> None:
    chance = np.random.default_rng(seed)
    rows, cells = int(chance.integers(0, 60)), int(chance.integers(1, 8))
    volts = [3.5, 3.6, 3.7, 4.1, math.nan, 0.0, 70.0, -1.0]
    log = CycleLog(
        time_s=np.cumsum(chance.choice([1e-3, 1.0, 20.0, 60.0, 5000.0], size=rows)),
        current_a=chance.choice([0.0, 0.0, 10.0, -30.0, math.nan, 1e4], size=rows),
        cell_v=chance.choice(
            volts, p=[0.3, 0.2, 0.2, 0.2, 0.04, 0.02, 0.02, 0.02], size=(rows, cells)
        ),
        temperature_c=chance.choice([20.0, 25.0, math.nan, 200.0], size=(rows, 2)),
    )
    curve = chance.choice(["nca_graphite", "lfp_graphite", ""]) or None
    result = cycle(CycleCase(log=log, modules=modules_of(cells), rated_ah=50.0, curve=curve))
    assert all(math.isfinite(figure) for figure in figures_of(result))
    assert len(result.cells) == cells


def test_modules_that_are_not_those_of_the_log_are_refused() -> None:
    with pytest.raises(CalculationRefused, match="modules: have 6 cells together"):
        cycle(HEALTHY.asked(modules=(CycleModule(name="M1", cells=6),)))
    with pytest.raises(CalculationRefused, match=r"replaced.0: \"M9\" is none"):
        cycle(HEALTHY.asked(replaced=("M9",)))
    with pytest.raises(CalculationRefused, match="curve"):
        cycle(HEALTHY.asked(curve="none of them"))
