"""Charge on the move: what the terminals should show and when, and what they do show.

Here: the plan over time by the integration of `packs.physics.charge`, and the judgement of the
readings against it. Not here: what is asked (`spare_items`), the picture (`charge_picture`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from packs.physics.charge_case import ChargeCase, ChargeResult, Direction
from packs.physics.charge_current import Path, charge_over_volts_ah_per_v
from packs.physics.ocv import curve_named, ocv_v

__all__ = ["PACE", "ChargePlan", "Course", "Reading", "course_of", "moved_ah", "plan_of"]

PACE = 0.25
"""A run this much faster or slower than planned is said to be off: shop default, no source."""
STEPS = 48
_SLACK_V = 1e-9

Pace = Literal["none", "planned", "faster", "slower", "start"]


@dataclass(frozen=True, slots=True)
class Reading:
    """Voltage at the terminals [V], hours after the first one [h]."""

    hours: float
    terminal_v: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargePlan:
    """What the terminals show while the charge moves.

    Attributes
    ----------
    charging : bool
        Whether charge goes into the module.
    hours, terminal_v : tuple[float, ...]
        The course [h] and [V]; the first point is the moment at which current flows.
    stop_v : float
        Where to stop, current flowing [V].
    allowed_v : float
        How far a reading may be from the course [V].
    ohm, current_a : float | None
        The resistor, or the current of the supply [ohm], [A].
    """

    charging: bool
    hours: tuple[float, ...]
    terminal_v: tuple[float, ...]
    stop_v: float
    allowed_v: float
    ohm: float | None
    current_a: float | None

    @property
    def whole_h(self) -> float:
        """How long the whole move takes [h]."""
        return self.hours[-1]

    def at_v(self, hours: float) -> float:
        """Give what the terminals should show at a moment; the ends stand beyond them [V]."""
        return float(np.interp(hours, self.hours, self.terminal_v))


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """The readings against the plan.

    Attributes
    ----------
    pace : str
        "planned"; "faster" or "slower" by more than a quarter; "start": the very first reading is
        not where it should be; "none" without readings.
    off : tuple[bool, ...]
        Whether each reading lies off the plan.
    stop : bool
        Whether the last one has reached the voltage at which to stop.
    limit : bool
        Whether it has reached a voltage that no cell may pass.
    left_h : float
        What is left by the plan [h].
    """

    pace: Pace = "none"
    off: tuple[bool, ...] = ()
    stop: bool = False
    limit: bool = False
    left_h: float = 0.0


@lru_cache(maxsize=64)
def plan_of(case: ChargeCase, result: ChargeResult) -> ChargePlan | None:
    """Give the course of a move.

    Parameters
    ----------
    case : ChargeCase
        What is moved by what.
    result : ChargeResult
        What `charge` says of it.

    Returns
    -------
    ChargePlan | None
        None where nothing is to be moved.

    Notes
    -----
    Along the curve from the spare's state of charge to the string's. Resistor: ``t = (R + R_m)
    integral dq/U``, terminals ``U R/(R + R_m)``; supply: ``t = q/I``, terminals ``U ± I R_m``. A
    reading may be off by twice the readings' own half-width for each cell, and by ``I R_m``: while
    current flows the resistance grows to about twice that of ten seconds (shop default).
    """
    if result.hours is None or result.start_a is None or result.stop_terminal_v is None:
        return None
    curve, charging = curve_named(case.curve), result.direction is Direction.CHARGE
    begin, end = result.spare_soc_percent, result.target_soc_percent
    shift_v = max(0.0, max(case.spare_cell_v, case.target_cell_v) - curve.highest_v)
    socs = np.linspace(begin, end, STEPS + 1)
    open_v = case.cells * (ocv_v(curve, socs) + shift_v)
    module_ohm, ohm = case.module_resistance_ohm, result.resistor_ohm
    by_resistor = case.method.kind == "resistor" and ohm is not None
    if by_resistor and ohm is not None:
        terminal_v = open_v * ohm / (ohm + module_ohm)
        hours = [_through_h(case, begin, float(soc), shift_v, ohm) for soc in socs]
    else:
        sign = 1.0 if charging else -1.0
        terminal_v = open_v + sign * result.start_a * module_ohm
        hours = (np.linspace(0.0, 1.0, STEPS + 1) * result.hours).tolist()
    return ChargePlan(
        charging=charging,
        hours=tuple(hours),
        terminal_v=tuple(terminal_v.tolist()),
        stop_v=result.stop_terminal_v,
        allowed_v=2.0 * case.cells * case.voltage_u_v + result.start_a * module_ohm,
        ohm=ohm if by_resistor else None,
        current_a=None if by_resistor else result.start_a,
    )


def _through_h(case: ChargeCase, begin: float, soc: float, shift_v: float, ohm: float) -> float:
    """Give when a discharge through a resistor passes a state of charge [h]."""
    path = Path(
        curve=curve_named(case.curve),
        spare_soc_percent=begin,
        target_soc_percent=soc,
        shift_v=shift_v,
    )
    loop_ohm = ohm + case.module_resistance_ohm
    return loop_ohm * charge_over_volts_ah_per_v(path, case.capacity_ah) / case.cells


def _ahead_v(plan: ChargePlan, reading: Reading) -> tuple[float, float]:
    """Give how far a reading is ahead of the fast edge, and behind the slow one [V]."""
    way = 1.0 if plan.charging else -1.0
    fast_v = plan.at_v(reading.hours * (1.0 + PACE))
    slow_v = plan.at_v(reading.hours * (1.0 - PACE))
    return way * (reading.terminal_v - fast_v), way * (slow_v - reading.terminal_v)


def _pace(plan: ChargePlan, reading: Reading) -> Pace:
    ahead_v, behind_v = _ahead_v(plan, reading)
    allowed_v = plan.allowed_v + _SLACK_V
    if max(ahead_v, behind_v) <= allowed_v:
        return "planned"
    if reading.hours <= 0.0:
        return "start"
    return "faster" if ahead_v > allowed_v else "slower"


def course_of(
    plan: ChargePlan, readings: Sequence[Reading], *, low_v: float, high_v: float, now_h: float
) -> Course:
    """Judge the readings of a run.

    Parameters
    ----------
    plan : ChargePlan
        What they should be.
    readings : Sequence[Reading]
        In the order of time; the first one is taken as the moment at which current flows.
    low_v, high_v : float
        Voltages at the terminals that no module may pass [V].
    now_h : float
        Hours since the first reading [h].

    Returns
    -------
    Course
        The last reading decides; one that is off at the very start tells of another current.
    """
    if not readings:
        return Course(left_h=plan.whole_h)
    paces = [_pace(plan, each) for each in readings]
    last = readings[-1].terminal_v
    way = 1.0 if plan.charging else -1.0
    pace = paces[-1]
    if paces[0] == "start" and pace != "planned":
        pace = "start"
    return Course(
        pace=pace,
        off=tuple(each != "planned" for each in paces),
        stop=way * (last - plan.stop_v) >= -_SLACK_V,
        limit=last >= high_v if plan.charging else last <= low_v,
        left_h=max(0.0, plan.whole_h - now_h),
    )


def moved_ah(plan: ChargePlan, readings: Sequence[Reading], until_h: float) -> float:
    """Count the charge that a run moved.

    Parameters
    ----------
    plan : ChargePlan
        Its means.
    readings : Sequence[Reading]
        In the order of time.
    until_h : float
        Hours from the first reading to the current off, or to now [h].

    Returns
    -------
    float
        Always positive [Ah].

    Notes
    -----
    Supply: ``I t``. Resistor: the integral of ``U/R`` by trapezoids through the readings, the last
    one standing to the end. Ohm's law.
    """
    if not readings:
        return 0.0
    if plan.ohm is None:
        return (plan.current_a or 0.0) * max(0.0, until_h)
    ends = [*readings, Reading(max(until_h, readings[-1].hours), readings[-1].terminal_v)]
    hours, volts = [each.hours for each in ends], [each.terminal_v for each in ends]
    return float(np.trapezoid(volts, hours)) / plan.ohm
