"""The current that moves the charge, step by step: hours, resistor, where to stop.

Here: those steps. Not here: how much is moved (charge.py).
"""

import numpy as np

from packs.explanation import Line, figure
from packs.physics.charge_case import ChargeCase, ChargeResult, Direction
from packs.physics.ocv import Curve
from packs.words import told

CHOSEN = {True: "as given", False: "the smallest of E12 (IEC 60063) within"}
STEPS = 400

ALONG = (
    "Time along the curve, whose voltage falls while it empties; with the mean of the first and "
    "last voltage it would be {by_mean}"
)


def method_lines(
    case: ChargeCase, result: ChargeResult, curve: Curve, soc_percent: tuple[float, float]
) -> tuple[Line, ...]:
    """Return the steps from the method to hours and the voltage to stop at.

    Parameters
    ----------
    case : ChargeCase
        What was given.
    result : ChargeResult
        What came of it.
    curve : Curve
        The curve.
    soc_percent : tuple[float, float]
        Of the spare and of the string.

    Returns
    -------
    lines : tuple[Line, ...]
        No step when nothing is moved.
    """
    if result.direction is Direction.NONE or result.start_a is None:
        return ()
    if result.resistor_w is not None and result.resistor_ohm is not None:
        return _resistor(case, curve, soc_percent, result.resistor_ohm)
    return _supply(case, result, soc_percent, result.start_a)


def _chosen(case: ChargeCase, ohm: float) -> Line:
    """Say which resistor it is."""
    given = case.method.ohm is not None
    power = "" if given else f" {figure(case.method.max_w, 'W')}"
    return Line(
        what=told("Resistor, {chosen}{power}", chosen=CHOSEN[given], power=power),
        value=figure(ohm, "ohm"),
    )


def _resistor(
    case: ChargeCase, curve: Curve, soc_percent: tuple[float, float], ohm: float
) -> tuple[Line, ...]:
    """Work out a discharge through a resistor."""
    open_v, end_v = case.cells * case.spare_cell_v, case.cells * case.target_cell_v
    loop_ohm = ohm + case.module_resistance_ohm
    loop = f"({figure(ohm, 'ohm')} + {figure(case.module_resistance_ohm, 'ohm')})"
    soc = np.linspace(soc_percent[1], soc_percent[0], STEPS + 1)
    volts = case.cells * np.interp(soc, curve.soc_percent, curve.ocv_v)
    volts += end_v - float(volts[0])
    moved_ah = case.capacity_ah * (soc_percent[0] - soc_percent[1]) / 100.0
    hours = loop_ohm * moved_ah * float(np.mean((1.0 / volts[1:] + 1.0 / volts[:-1]) / 2.0))
    by_mean = figure(loop_ohm * moved_ah / ((open_v + end_v) / 2.0), "h")
    return (
        _chosen(case, ohm),
        Line(
            what="Power in the resistor at the start",
            formula="P = (U/(R + R_m))^2 R",
            numbers=f"({figure(open_v, 'V', 5)} / {loop})^2 x {figure(ohm, 'ohm')}",
            value=figure((open_v / loop_ohm) ** 2 * ohm, "W"),
        ),
        Line(
            what=told(ALONG, by_mean=by_mean),
            formula=told("t = (R + R_m) x integral of dq/U(q)"),
            numbers=told(
                "{loop} x {moved} / U, from {low} to {high}",
                loop=loop,
                moved=figure(moved_ah, "Ah"),
                low=figure(open_v, "V", 5),
                high=figure(end_v, "V", 5),
            ),
            value=figure(hours, "h"),
        ),
        Line(
            what="The terminals at the moment to stop, current flowing, not below the empty end",
            formula="U R/(R + R_m)",
            numbers=f"{figure(end_v, 'V', 5)} x {figure(ohm, 'ohm')} / {loop}",
            value=figure(max(end_v * ohm / loop_ohm, case.cells * curve.lowest_v), "V"),
        ),
    )


def _supply(
    case: ChargeCase, result: ChargeResult, soc_percent: tuple[float, float], current_a: float
) -> tuple[Line, ...]:
    """Work out a move at constant current."""
    moved_ah = case.capacity_ah * abs(soc_percent[1] - soc_percent[0]) / 100.0
    end_v, sign = case.cells * case.target_cell_v, "+"
    if result.direction is Direction.DISCHARGE:
        sign = "-"
    return (
        Line(
            what="Time at constant current",
            formula="t = q/I",
            numbers=f"{figure(moved_ah, 'Ah')} / {figure(current_a, 'A')}",
            value=figure(moved_ah / current_a, "h"),
        ),
        Line(
            what="The terminals at the moment to stop, current flowing, not past the curve's ends",
            formula=f"U {sign} I R_m",
            numbers=f"{figure(end_v, 'V', 5)} {sign} {figure(current_a, 'A')} x "
            f"{figure(case.module_resistance_ohm, 'ohm')}",
            value=figure(result.stop_terminal_v, "V"),
        ),
    )
