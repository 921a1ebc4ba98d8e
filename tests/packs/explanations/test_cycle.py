import numpy as np
import pytest

from packs.explanations.cycle import explained
from packs.physics.cycle import cycle
from tests.packs.explanations.shown import assert_printable, line_of, near, number, numbers
from tests.packs.physics.cycle_simulator import simulated

CURVES = ("nmc532_graphite", "nmc811_graphite_siox", "nca_graphite", "nco_graphite_kokam")


@pytest.mark.parametrize("seed", range(8))
def test_the_steps_lead_to_the_figures_of_the_result(seed: int) -> None:
    sim = simulated(seed=seed, cells=12, curve=CURVES[seed % 4], odd_cell=5, odd_resistance=2.0)
    case = sim.asked(rated_ah=50.0, replaced=("M2",))
    result = cycle(case)
    lines = explained(case, result)
    assert result.capacity_ah is not None
    assert result.weakest_capacity_ah is not None
    assert near(
        number(line_of(lines, "Capacity of the median cell").value), result.capacity_ah, 0.01
    )
    assert near(number(line_of(lines, "The same for each cell").value), result.capacity_ah)
    low, high = numbers(line_of(lines, "95 % interval of the capacity").value)
    assert near(low, result.capacity_ah_low or 0.0)
    assert near(high, result.capacity_ah_high or 0.0)
    assert near(
        number(line_of(lines, "State of health").value), result.state_of_health_percent or 0.0
    )
    ratio = number(line_of(lines, "Weakest cell").value)
    assert near(ratio, result.weakest_capacity_ah / result.capacity_ah)
    ohms = [cell.resistance_mohm for cell in result.cells if cell.resistance_mohm is not None]
    middle = float(np.median(ohms))
    assert near(number(line_of(lines, "Median resistance").value) * 1e3, middle)
    odd = line_of(lines, "Cell 6 in M1")
    assert near(numbers(odd.numbers)[0], (result.cells[5].resistance_mohm or 0.0) / middle)
    assert odd.value.startswith("high_resistance")
    assert lines[-1].value.endswith(f": {result.verdict}")
    assert_printable(lines)


@pytest.mark.parametrize(
    ("name", "beginning"),
    [("rest", "Spread at rest"), ("top", "Spread at the end"), ("load", "Spread under")],
)
def test_each_spread_stands_against_its_limit(name: str, beginning: str) -> None:
    sim = simulated(cells=12)
    result = cycle(sim.case)
    line = line_of(explained(sim.case, result), beginning)
    shown = numbers(line.numbers)
    for place, what in enumerate(("mv", "mv_low", "mv_high")):
        assert near(shown[place] * 1e3, getattr(result, f"spread_{name}_{what}"))
    assert near(shown[3] * 1e3, getattr(sim.case.limits, f"spread_{name}_mv"))
    assert line.value == "within"


def test_a_window_that_looks_full_is_worked_out_without_a_curve() -> None:
    sim = simulated(cells=12, from_percent=1.0, to_percent=97.0, holds=True)
    case = sim.asked(curve=None)
    result = cycle(case)
    line = line_of(explained(case, result), "Capacity of a window that looks full")
    assert near(number(line.value), result.capacity_ah or 0.0)


def test_what_the_log_does_not_show_is_said() -> None:
    sim = simulated(cells=12, drive_s=0.0, charges=False, rest_s=60.0)
    result = cycle(sim.case)
    lines = explained(sim.case, result)
    assert line_of(lines, "Capacity").value == "-"
    assert line_of(lines, "Spread under").value == "not decided"
    assert lines[-1].value.endswith(": undecided")
    assert_printable(lines)


def test_many_odd_cells_are_counted_not_listed() -> None:
    sim = simulated(cells=60)
    log_v = sim.log.cell_v.copy()
    log_v[:, :12] += 0.05
    case = sim.asked(
        log=type(sim.log)(
            time_s=sim.log.time_s,
            current_a=sim.log.current_a,
            cell_v=log_v,
            temperature_c=sim.log.temperature_c,
        )
    )
    lines = explained(case, cycle(case))
    assert number(line_of(lines, "Further cells").value) == 4
