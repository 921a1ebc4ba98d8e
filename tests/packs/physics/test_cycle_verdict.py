"""Each limit that fails, and each reason for an undecided verdict."""

from dataclasses import replace

import numpy as np
import pytest

from packs.physics.cycle import cycle
from packs.physics.cycle_case import CycleLimits
from packs.physics.instrument import Message, Verdict
from tests.packs.physics.cycle_simulator import simulated
from tests.packs.physics.test_cycle import HEALTHY, codes, rows_of, with_log

TIGHT = CycleLimits(
    spread_rest_mv=1.0, spread_top_mv=1.0, spread_load_mv=1.0, temperature_spread_c=0.1
)
LOOSE = CycleLimits()


@pytest.mark.parametrize(
    ("limit", "code"),
    [
        ("spread_rest_mv", "spread_rest_over"),
        ("spread_top_mv", "spread_top_over"),
        ("spread_load_mv", "spread_load_over"),
        ("temperature_spread_c", "temperature_spread_over"),
    ],
)
def test_each_limit_alone_fails_the_string(limit: str, code: str) -> None:
    limits = replace(LOOSE, **{limit: getattr(TIGHT, limit)})
    result = cycle(HEALTHY.asked(limits=limits))
    assert result.verdict is Verdict.FAIL
    assert code in codes(result.warnings)
    assert cycle(HEALTHY.case).verdict is Verdict.PASS


@pytest.mark.parametrize("name", ["rest", "top", "load"])
def test_a_limit_inside_the_interval_is_undecided(name: str) -> None:
    sim = simulated(cells=12, resolution_v=0.005)
    spread_mv = getattr(cycle(sim.case), f"spread_{name}_mv")
    limits = replace(CycleLimits(), **{f"spread_{name}_mv": spread_mv + 0.5})
    result = cycle(sim.asked(limits=limits))
    assert result.verdict is Verdict.UNDECIDED
    assert "finer_readings" in codes(result.advice)


def test_a_temperature_limit_inside_the_interval_is_undecided() -> None:
    spread_c = cycle(HEALTHY.case).temperature_spread_c
    assert spread_c is not None
    limits = replace(CycleLimits(), temperature_spread_c=spread_c + 0.01)
    result = cycle(HEALTHY.asked(limits=limits))
    assert result.verdict is Verdict.UNDECIDED
    assert "measure_temperature" in codes(result.advice)


def test_a_doubt_of_the_log_outweighs_every_limit() -> None:
    doubt = Message("unit_mixed", "Some cells read like millivolts, others like volts.")
    case = with_log(HEALTHY, doubts=(doubt,), repairs=(Message("repeated_rows", "3 rows."),))
    for limits in (LOOSE, TIGHT):
        result = cycle(replace(case, limits=limits))
        assert result.verdict is Verdict.UNDECIDED
        assert {"unit_mixed", "repeated_rows"} <= codes(result.warnings)
        assert "settle_doubts" in codes(result.advice)


def test_without_a_charge_the_top_is_undecided() -> None:
    result = cycle(simulated(cells=12, charges=False, from_percent=80.0).case)
    assert result.verdict is Verdict.UNDECIDED
    assert result.spread_top_mv is None
    assert "record_charge" in codes(result.advice)


def test_without_a_drive_the_load_is_undecided() -> None:
    result = cycle(simulated(cells=12, drive_s=0.0).case)
    assert result.verdict is Verdict.UNDECIDED
    assert result.spread_load_mv is None
    assert "record_drive" in codes(result.advice)
    assert result.capacity_ah is not None


def test_without_a_rest_the_spread_at_rest_is_undecided() -> None:
    flowing = np.abs(HEALTHY.log.current_a) > 1.0
    first = int(np.argmax(flowing))
    last = first + int(np.argmin(flowing[first:]))
    result = cycle(HEALTHY.asked(log=rows_of(HEALTHY.log, slice(first, last))))
    assert result.verdict is Verdict.UNDECIDED
    assert result.spread_rest_mv is None
    assert "record_rest" in codes(result.advice)


def test_a_charge_that_ends_half_way_does_not_pass_at_the_top() -> None:
    result = cycle(simulated(cells=12, to_percent=60.0).case)
    assert result.verdict is Verdict.UNDECIDED
    assert "charge_not_full" in codes(result.warnings)
    assert "record_charge" in codes(result.advice)


def test_a_weak_load_does_not_pass_under_load() -> None:
    current_a = HEALTHY.log.current_a.copy()
    current_a[current_a < 0.0] *= 0.1
    result = cycle(with_log(HEALTHY, current_a=current_a))
    assert "weak_load" in codes(result.warnings)
    assert result.verdict is Verdict.UNDECIDED
    assert "record_drive" in codes(result.advice)


def test_without_temperatures_their_limit_is_undecided() -> None:
    result = cycle(with_log(HEALTHY, temperature_c=HEALTHY.log.temperature_c[:, :1]))
    assert result.verdict is Verdict.UNDECIDED
    assert result.temperature_spread_c is None
    assert "record_temperature" in codes(result.advice)


def test_a_lost_temperature_sensor_is_left_out_and_said() -> None:
    temperature_c = HEALTHY.log.temperature_c.copy()
    temperature_c[:, 1] = -273.1
    result = cycle(with_log(HEALTHY, temperature_c=temperature_c))
    assert "temperature_sensor" in codes(result.warnings)
    assert result.verdict is Verdict.PASS


def test_voltages_of_another_kind_of_cell_are_doubted() -> None:
    result = cycle(HEALTHY.asked(curve="lfp_graphite"))
    assert "outside_curve" in codes(result.warnings)
    assert result.verdict is Verdict.UNDECIDED
    assert result.capacity_ah is None


def test_a_log_of_two_minutes_decides_nothing() -> None:
    result = cycle(HEALTHY.asked(log=rows_of(HEALTHY.log, slice(0, 7))))
    assert result.verdict is Verdict.UNDECIDED
    assert result.advice


def test_a_rest_in_a_steep_end_can_pass_but_not_fail() -> None:
    sim = simulated(cells=12, from_percent=2.0, drive_s=0.0, soc_scatter_percent=0.5)
    charge_end = int(np.flatnonzero(sim.log.current_a > 1.0)[-1])
    log, limits = rows_of(sim.log, slice(0, charge_end)), CycleLimits(spread_top_mv=200.0)
    result = cycle(sim.asked(log=log, limits=limits))
    assert "rest_in_knee" in codes(result.warnings)
    assert result.spread_rest_mv_low is not None
    assert result.spread_rest_mv_low > CycleLimits().spread_rest_mv
    assert result.verdict is Verdict.UNDECIDED
    assert "rest_elsewhere" in codes(result.advice)
    assert "spread_rest_over" not in codes(result.warnings)
