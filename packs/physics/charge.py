"""How the spare is brought to the string's charge, and what will be left for the balancer.

Here: the verdict and how the parts are put together. Not here: the case (charge_case.py), the
interval (charge_interval.py), hours and resistor (charge_current.py), the words (charge_words.py).
"""

from dataclasses import dataclass

import numpy as np

from packs.physics.charge_case import (
    ChargeCase,
    ChargeMethod,
    ChargeResult,
    ChargeVerdict,
    Direction,
)
from packs.physics.charge_current import Path, flow
from packs.physics.charge_interval import (
    Interval,
    allowance_v,
    soc_half_width_percent,
    spread,
)
from packs.physics.charge_knee import Knee, knee_for
from packs.physics.charge_words import Findings, advice, warnings
from packs.physics.instrument import CalculationRefused, half_width_95
from packs.physics.ocv import Curve, curve_named
from packs.words import told

__all__ = ["ChargeCase", "ChargeMethod", "ChargeResult", "charge"]

FLAT_PERCENT = 3.0
"""A state of charge must be fixed at least this well by voltage: shop default, no source."""
REST_H, REST_NCA_H, REST_COLD_H = 3.0, 12.0, 6.0
"""Rest after any current: 3 h suffices for most; nickel-rich NCA drifts for a day."""
COLD_C = 10.0
SLACK_MV = 1e-6
"""What binary fractions leave of a difference of voltages."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Compared:
    """The two modules against each other; the move is signed, positive into the spare."""

    path: Path
    spare: Interval
    target: Interval
    move_ah: float
    move: Interval
    difference_mv: float
    difference: Interval
    flat: bool


def charge(case: ChargeCase) -> ChargeResult:
    """Say how the spare is brought to the string's charge.

    Parameters
    ----------
    case : ChargeCase
        Voltages, capacity, curve and method, [V], [Ah], [ohm] and [A]

    Returns
    -------
    result : ChargeResult
        Charge to move with its 95 % interval, hours, where to stop, and the verdict

    Raises
    ------
    CalculationRefused
        When the curve is not known, a voltage lies outside it, a resistor is to charge, or the
        method lacks its figures.

    Notes
    -----
    ``q = Q (s(U_target) - s(U_spare))/100`` with ``s`` the inverse of the curve. Its interval
    follows the curve, with the reading errors independent and the curve's shift shared
    (charge_interval.py). ``undecided``: either state of charge is not fixed within 3 % by voltage,
    or the readings leave open whether the difference may stay. ``ready``: the whole 95 % interval
    of the difference lies within what is accepted. Else ``move``. What is left for the balancer is
    the half-width of the move or the accepted difference, whichever is larger; it takes
    ``q_left/I_bleed``. Entropy is left out: some 1 to 2 mV for 10 °C between modules, so both are
    to be within 3 °C. The capacity is taken as it is. Sources: the table's; Theuerkauf and Swan,
    Batteries 2022, 8, 77 for the rest; JCGM 101:2008 for the interval; limits are shop defaults.

    Examples
    --------
    >>> case = ChargeCase(
    ...     curve="nmc532_graphite",
    ...     cells=12,
    ...     capacity_ah=60.0,
    ...     spare_cell_v=3.690,
    ...     target_cell_v=3.720,
    ...     method=ChargeMethod(kind="supply", current_a=5.0),
    ... )
    >>> result = charge(case)
    >>> result.direction.value, round(result.move_ah, 2), result.verdict.value
    ('charge', 3.7, 'move')
    """
    curve = curve_named(case.curve)
    _check_voltages(case, curve)
    seen = _compared(case, curve)
    verdict, direction = _verdict(case, seen)
    found = Findings(
        curve=curve,
        verdict=verdict,
        flat=seen.flat,
        direction=direction,
        best_ah=abs(seen.move_ah),
        move_ah=_magnitude(seen.move),
        difference_mv=seen.difference,
        rest_h=rest_h(curve, case.temperature_c),
        shift_v=seen.path.shift_v,
        flow=flow(case, seen.path, direction) if verdict is ChargeVerdict.MOVE else None,
        knee=_knee(case, seen) if seen.flat else None,
    )
    return _result(case, seen, found)


def rest_h(curve: Curve, temperature_c: float) -> float:
    """Return how long a module rests before its voltage counts.

    Parameters
    ----------
    curve : Curve
        Of its cells.
    temperature_c : float
        Of the module, [°C]

    Returns
    -------
    rest_h : float
        At least so long after any current, [h]

    Notes
    -----
    3 h, 12 h for NCA, 6 h below 10 °C; the longest that applies. Source: Theuerkauf and Swan,
    Batteries 2022, 8, 77 (3 h suffice for NMC532 and LFP, NCA drifts for 24 h); else shop default.

    Examples
    --------
    >>> rest_h(curve_named("nmc532_graphite"), 25.0), rest_h(curve_named("nca_graphite"), 5.0)
    (3.0, 12.0)
    """
    hours = REST_NCA_H if curve.chemistry == "nca" else REST_H
    return max(hours, REST_COLD_H) if temperature_c < COLD_C else hours


def _check_voltages(case: ChargeCase, curve: Curve) -> None:
    """Refuse cells that are emptier or fuller than the curve knows."""
    for field, cell_v in (
        ("spare_cell_v", case.spare_cell_v),
        ("target_cell_v", case.target_cell_v),
    ):
        if cell_v < curve.lowest_v:
            text = told(
                "{cell_v:g} V is below the {lowest_v:g} V at which this cell is empty: the "
                "module must not be charged. Check the reading; if it stands, quarantine "
                "the module",
                cell_v=cell_v,
                lowest_v=curve.lowest_v,
            )
            raise CalculationRefused(field, text)
        if cell_v > curve.highest_v + curve.trust_v:
            text = told(
                "{cell_v:g} V is above the {highest_v:g} V at which this cell is full: the "
                "module must not be charged. Check the reading and that the curve is the "
                "right one",
                cell_v=cell_v,
                highest_v=curve.highest_v,
            )
            raise CalculationRefused(field, text)


def _compared(case: ChargeCase, curve: Curve) -> _Compared:
    """Compare the two modules through the curve."""
    volts = np.array([case.spare_cell_v, case.target_cell_v])
    shift_v = max(0.0, float(volts.max()) - curve.highest_v)
    spare, target = np.interp(volts - shift_v, curve.ocv_v, curve.soc_percent).tolist()
    allowed_v = allowance_v(curve, case.voltage_u_v)
    found = spread(curve, case.spare_cell_v, case.target_cell_v, allowed_v)
    per_percent_ah = case.capacity_ah / 100.0
    difference_mv = (case.target_cell_v - case.spare_cell_v) * 1000.0
    half_mv = half_width_95([case.voltage_u_v, case.voltage_u_v]) * 1000.0
    return _Compared(
        path=Path(curve=curve, spare_soc_percent=spare, target_soc_percent=target, shift_v=shift_v),
        spare=_holding(found.spare, spare),
        target=_holding(found.target, target),
        move_ah=per_percent_ah * (target - spare),
        move=Interval(
            low=per_percent_ah * min(found.difference.low, target - spare),
            high=per_percent_ah * max(found.difference.high, target - spare),
        ),
        difference_mv=difference_mv,
        difference=Interval(low=difference_mv - half_mv, high=difference_mv + half_mv),
        flat=any(
            soc_half_width_percent(curve, float(cell_v), allowed_v) > FLAT_PERCENT
            for cell_v in volts - shift_v
        ),
    )


def _holding(interval: Interval, point: float) -> Interval:
    """Return an interval that holds its own best figure."""
    return Interval(low=min(interval.low, point), high=max(interval.high, point))


def _magnitude(signed: Interval) -> Interval:
    """Return the interval of a size from that of a signed figure."""
    high = max(abs(signed.low), abs(signed.high))
    crossed = signed.low <= 0.0 <= signed.high
    return Interval(low=0.0 if crossed else min(abs(signed.low), abs(signed.high)), high=high)


def _verdict(case: ChargeCase, seen: _Compared) -> tuple[ChargeVerdict, Direction]:
    """Judge the difference, and say which way the charge goes."""
    accepted_mv = case.accept_mv_per_cell + SLACK_MV
    size = _magnitude(seen.difference)
    way = Direction.CHARGE if seen.difference_mv > 0.0 else Direction.DISCHARGE
    if seen.flat:
        known = seen.move.low > 0.0 or seen.move.high < 0.0
        return ChargeVerdict.UNDECIDED, way if known else Direction.NONE
    if size.high <= accepted_mv:
        return ChargeVerdict.READY, Direction.NONE
    if abs(seen.difference_mv) > accepted_mv and size.low > 0.0:
        return ChargeVerdict.MOVE, way
    return ChargeVerdict.UNDECIDED, Direction.NONE


def _knee(case: ChargeCase, seen: _Compared) -> Knee | None:
    """Return the knee nearest to the string."""
    curve = seen.path.curve
    allowed_v = allowance_v(curve, case.voltage_u_v)
    at_percent = seen.path.target_soc_percent
    return knee_for(curve, allowed_v, at_percent, seen.target, case.capacity_ah)


def _left_ah(case: ChargeCase, seen: _Compared) -> float:
    """Return what may be left: the half-width of the move, or the accepted difference."""
    curve, accept_v = seen.path.curve, case.accept_mv_per_cell / 1000.0
    middle_v = case.target_cell_v - seen.path.shift_v
    ends = np.interp([middle_v - accept_v, middle_v + accept_v], curve.ocv_v, curve.soc_percent)
    accepted_ah = case.capacity_ah * float(ends[1] - ends[0]) / 200.0
    return max((seen.move.high - seen.move.low) / 2.0, accepted_ah)


def _result(case: ChargeCase, seen: _Compared, found: Findings) -> ChargeResult:
    """Put the result together."""
    left_ah, running, knee = _left_ah(case, seen), found.flow, found.knee
    nothing_h = 0.0 if found.verdict is ChargeVerdict.READY else None
    return ChargeResult(
        direction=found.direction,
        move_ah=abs(seen.move_ah),
        move_ah_low=found.move_ah.low,
        move_ah_high=found.move_ah.high,
        spare_soc_percent=seen.path.spare_soc_percent,
        spare_soc_percent_low=seen.spare.low,
        spare_soc_percent_high=seen.spare.high,
        target_soc_percent=seen.path.target_soc_percent,
        target_soc_percent_low=seen.target.low,
        target_soc_percent_high=seen.target.high,
        difference_mv=seen.difference_mv,
        difference_mv_low=seen.difference.low,
        difference_mv_high=seen.difference.high,
        hours=running.hours if running else nothing_h,
        start_a=running.start_a if running else None,
        stop_a=running.stop_a if running else None,
        cell_a=running.start_a / case.parallel if running else None,
        resistor_ohm=running.resistor_ohm if running else case.method.ohm,
        resistor_w=running.resistor_w if running else None,
        stop_terminal_v=running.stop_terminal_v if running else None,
        rest_h=found.rest_h,
        left_ah=left_ah,
        bleed_hours=left_ah / case.bleed_a,
        knee=knee.kind if knee else None,
        knee_cell_v=knee.cell_v if knee else None,
        knee_soc_percent=knee.soc_percent if knee else None,
        ah_from_knee=knee.from_knee_ah if knee else None,
        ah_from_knee_low=knee.from_knee_ah_low if knee else None,
        ah_from_knee_high=knee.from_knee_ah_high if knee else None,
        verdict=found.verdict,
        advice=advice(case, found),
        warnings=warnings(case, found),
    )
