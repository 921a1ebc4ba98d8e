"""Each flag by a simulated pack, and how new modules are judged."""

import numpy as np
import pytest

from packs.physics.cycle import cycle
from packs.physics.cycle_case import CycleResult
from packs.physics.instrument import Verdict
from tests.packs.physics.cycle_simulator import Simulated, simulated
from tests.packs.physics.test_cycle import codes, with_log

ODD = 7


def flags_of(result: CycleResult) -> dict[int, str]:
    return {cell.index - 1: cell.flag for cell in result.cells if cell.flag}


@pytest.mark.parametrize(
    ("flag", "options"),
    [
        ("high_resistance", {"odd_resistance": 1.7}),
        ("low_capacity", {"odd_capacity": 0.9}),
        ("offset", {"odd_offset_v": 0.03}),
        ("offset", {"odd_offset_v": -0.03}),
        ("sensor", {"odd_sensor": "stuck"}),
        ("sensor", {"odd_sensor": "missing"}),
        ("sensor", {"odd_sensor": "jumping"}),
        ("sensor", {"odd_sensor": "spiking"}),
    ],
)
def test_an_odd_cell_is_found_and_no_other(flag: str, options: dict[str, object]) -> None:
    result = cycle(simulated(cells=24, odd_cell=ODD, **options).case)
    assert flags_of(result) == {ODD: flag}
    assert flag in codes(result.warnings)


@pytest.mark.parametrize("sensor", ["stuck", "missing", "jumping", "spiking"])
def test_a_doubtful_channel_is_not_blamed_for_a_spread_but_nothing_passes(sensor: str) -> None:
    plain = cycle(simulated(cells=24).case)
    result = cycle(simulated(cells=24, odd_cell=ODD, odd_sensor=sensor).case)
    assert plain.verdict is Verdict.PASS
    assert result.verdict is Verdict.UNDECIDED
    assert "mend_sense_lead" in codes(result.advice)
    assert result.spread_top_mv == pytest.approx(plain.spread_top_mv, rel=0.3)
    assert result.spread_top_cell != ODD + 1
    assert result.cells[ODD].resistance_mohm is None
    assert result.cells[ODD].offset_mv is None


def test_a_cell_may_carry_several_flags_the_most_telling_counts() -> None:
    sim = simulated(cells=24, odd_cell=ODD, odd_resistance=2.0, odd_capacity=0.88)
    cell = cycle(sim.case).cells[ODD]
    assert cell.flag == "high_resistance"
    assert cell.flags[:2] == ("high_resistance", "low_capacity")


def test_the_weakest_cell_is_named_with_its_capacity() -> None:
    sim = simulated(cells=24, odd_cell=ODD, odd_capacity=0.88)
    result = cycle(sim.case)
    assert (result.weakest_cell, result.weakest_module) == (ODD + 1, "M2")
    assert result.weakest_capacity_ah == pytest.approx(sim.capacity_ah[ODD], rel=0.01)


def test_a_weak_cell_under_single_rows_of_load_is_no_sensor_fault() -> None:
    sim = simulated(cells=24, odd_cell=ODD, odd_resistance=3.5, step_s=30.0)
    assert flags_of(cycle(sim.case)) == {ODD: "high_resistance"}


def test_three_cells_are_too_few_to_compare() -> None:
    sim = simulated(cells=3, odd_cell=1, odd_resistance=3.0)
    assert flags_of(cycle(sim.case)) == {}


def module_moved(sim: Simulated, added_v: float) -> CycleResult:
    log_v = sim.log.cell_v.copy()
    log_v[:, 6:12] += added_v
    log = with_log(sim, cell_v=log_v).log
    return cycle(sim.asked(log=log, replaced=("M2",)))


@pytest.mark.parametrize(
    ("added_v", "verdict"),
    [(0.0, Verdict.PASS), (0.02, Verdict.PASS), (0.045, Verdict.FAIL), (-0.045, Verdict.FAIL)],
)
def test_a_new_module_may_not_stand_apart(added_v: float, verdict: Verdict) -> None:
    result = module_moved(simulated(cells=24), added_v)
    module = result.replaced[0]
    assert module.verdict is verdict
    assert module.offset_top_mv == pytest.approx(added_v * 1000.0, abs=6.0)
    assert module.offset_bottom_mv == pytest.approx(added_v * 1000.0, abs=6.0)
    assert module.why
    if verdict is Verdict.FAIL:
        assert result.verdict is Verdict.FAIL
        assert "30 mV are allowed" in module.why


def test_a_new_module_at_its_limit_is_undecided() -> None:
    sim = simulated(cells=24, resolution_v=0.01, capacity_scatter=0.0, soc_scatter_percent=0.0)
    module = module_moved(sim, 0.03).replaced[0]
    assert module.verdict is Verdict.UNDECIDED
    assert "do not decide" in module.why


def test_a_new_module_that_was_not_charged_is_undecided() -> None:
    result = cycle(simulated(cells=24, charges=False, from_percent=80.0).asked(replaced=("M2",)))
    module = result.replaced[0]
    assert module.verdict is Verdict.UNDECIDED
    assert module.offset_top_mv is None
    assert "record_charge" in codes(result.advice)


def test_a_new_module_whose_channels_are_all_lost_is_undecided() -> None:
    sim = simulated(cells=24)
    log_v = sim.log.cell_v.copy()
    log_v[:, 6:12] = np.nan
    case = with_log(sim, cell_v=log_v)
    result = cycle(sim.asked(log=case.log, replaced=("M2",)))
    assert result.replaced[0].verdict is Verdict.UNDECIDED
    assert result.replaced[0].offset_top_mv is None
