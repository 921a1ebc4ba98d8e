"""How the spare is brought to the string's charge, step by step.

Here: the states of charge, the move and the comparison. Not here: the current that moves it
(charge_method.py), nor the calculation (physics/charge.py).
"""

import numpy as np

from packs.explanation import Line, figure, table_text
from packs.explanations.budget import Component, budget_lines
from packs.explanations.charge_method import method_lines
from packs.explanations.readings import interval_text
from packs.physics.charge_case import ChargeCase, ChargeResult
from packs.physics.charge_words import KNEES
from packs.physics.ocv import Curve, curve_named
from packs.words import told

MILLI = 1000.0
ROUNDING_V = 0.5e-4
FLAT_PERCENT = 3.0
SHOWN_SHIFTS = 7
FIXED = {True: "fixed", False: "not fixed: the curve is too flat"}
WORDS = {
    "ready": "The whole interval of the difference may stay",
    "move": "The difference is more than may stay, and its sign is sure",
    "undecided": "The readings leave it open",
}


def explained(case: ChargeCase, result: ChargeResult) -> tuple[Line, ...]:
    """Return the steps from two voltages to the verdict.

    Parameters
    ----------
    case : ChargeCase
        What was given.
    result : ChargeResult
        What came of it.

    Returns
    -------
    lines : tuple[Line, ...]
        In the order in which a person would work.
    """
    curve = curve_named(case.curve)
    shift_v = max(0.0, max(case.spare_cell_v, case.target_cell_v) - curve.highest_v)
    spare, target = (
        _soc(curve, cell_v - shift_v) for cell_v in (case.spare_cell_v, case.target_cell_v)
    )
    signed_ah = case.capacity_ah * (target - spare) / 100.0
    return (
        Line(
            what=told(
                "Charge by the open-circuit-voltage curve {name} at {temperature_c:g} °C "
                "({source}). Both modules rested, within 3 °C of one another; the "
                "capacity is taken as it was entered",
                name=curve.name,
                temperature_c=curve.temperature_c,
                source=curve.source,
            )
        ),
        *_shifted(shift_v),
        _read(told("spare"), curve, case.spare_cell_v - shift_v),
        _read(told("string"), curve, case.target_cell_v - shift_v),
        Line(
            what="Charge to move; above zero it goes into the spare",
            formula=told("q = Q (s_string - s_spare)/100"),
            numbers=f"{figure(case.capacity_ah, 'Ah', 5)} x ({figure(target, '%')} - "
            f"{figure(spare, '%')})/100",
            value=figure(signed_ah, "Ah"),
        ),
        *_interval(case, curve, result),
        *_flatness(case, curve, shift_v),
        *_difference(case),
        *method_lines(case, result, curve, (spare, target)),
        *_left(case, result, curve, shift_v),
        *_knee(case, result, target),
        _comparison(case, result),
    )


def _soc(curve: Curve, cell_v: float) -> float:
    """Return a state of charge between two points of the table."""
    return float(np.interp(cell_v, curve.ocv_v, curve.soc_percent))


def _shifted(shift_v: float) -> tuple[Line, ...]:
    """Say that a reading stands above the curve."""
    if not shift_v > 0.0:
        return ()
    what = told("A reading stands above the full end of the curve: the curve is lifted by as much")
    return (Line(what=what, value=figure(shift_v, "V")),)


def _read(whose: str, curve: Curve, cell_v: float) -> Line:
    """Read the curve at a voltage."""
    last = len(curve.ocv_v) - 1
    row = min(max(int(np.searchsorted(curve.ocv_v, cell_v, side="right")), 1), last)
    low_v, high_v = float(curve.ocv_v[row - 1]), float(curve.ocv_v[row])
    low = float(curve.soc_percent[row - 1])
    return Line(
        what=told("State of charge of the {whose}, between two points of the table", whose=whose),
        formula="s = s_1 + (U - U_1)/(U_2 - U_1) (s_2 - s_1)",
        numbers=f"{figure(low, '%')} + ({figure(cell_v, 'V', 6)} - {figure(low_v, 'V', 6)})/"
        f"({figure(high_v, 'V', 6)} - {figure(low_v, 'V', 6)}) x 1 %",
        value=figure(_soc(curve, cell_v), "%"),
    )


def _allowance_v(case: ChargeCase, curve: Curve) -> float:
    """Return what a reading may be off the curve, apart from the shared shift."""
    return case.voltage_u_v + curve.hysteresis_v + ROUNDING_V


def _interval(case: ChargeCase, curve: Curve, result: ChargeResult) -> tuple[Line, ...]:
    """Show how the move depends on where the cell's own curve lies."""
    allowed_v = _allowance_v(case, curve)
    headings = ("curve lies", "move at the readings", "least", "most")
    rows = list[tuple[str, ...]]()
    for shift_v in (curve.trust_v * np.linspace(-1.0, 1.0, SHOWN_SHIFTS)).tolist():
        spare_v, target_v = case.spare_cell_v - shift_v, case.target_cell_v - shift_v
        moves = [
            case.capacity_ah
            * (_soc(curve, target_v + error_v) - _soc(curve, spare_v - error_v))
            / 100.0
            for error_v in (0.0, -allowed_v, allowed_v)
        ]
        rows.append((figure(shift_v, "V"), *(figure(move, "Ah") for move in moves)))
    return (
        Line(
            what="A reading may be off the curve, apart from what both share, by",
            formula=told("a = u + hysteresis + rounding of the table"),
            numbers=f"{figure(case.voltage_u_v, 'V')} + {figure(curve.hysteresis_v, 'V')} + "
            f"{figure(ROUNDING_V, 'V')}",
            value=figure(allowed_v, "V"),
        ),
        Line(
            what=told(
                "A cell of this type may lie {trust_v} off the curve (shop default). "
                "Both modules share that shift; it moves them to where the curve is "
                "steeper or flatter. The move at some of the shifts, and with both "
                "readings off against each other",
                trust_v=figure(curve.trust_v, "V"),
            ),
            numbers=table_text(headings, rows),
        ),
        Line(
            what="95 % interval of the size of the move: every shift counts as much as there are "
            "states of charge that agree with both readings (JCGM 101, Bayes)",
            value=interval_text(result.move_ah_low, result.move_ah_high, "Ah"),
        ),
    )


def _flatness(case: ChargeCase, curve: Curve, shift_v: float) -> tuple[Line, ...]:
    """Compare how well each voltage fixes its state of charge with what is needed."""
    allowed_v = _allowance_v(case, curve)
    lines = []
    for whose, cell_v in ((told("spare"), case.spare_cell_v), (told("string"), case.target_cell_v)):
        low = _soc(curve, cell_v - shift_v - allowed_v)
        high = _soc(curve, cell_v - shift_v + allowed_v)
        half = 0.95 * (high - low) / 2.0
        fixed = half <= FLAT_PERCENT
        lines.append(
            Line(
                what=told(
                    "How well its voltage fixes the charge of the {whose}; {flat_percent:g} "
                    "% are needed (shop default)",
                    whose=whose,
                    flat_percent=FLAT_PERCENT,
                ),
                formula="0.95 (s(U + a) - s(U - a))/2",
                numbers=f"0.95 x ({figure(high, '%')} - {figure(low, '%')})/2",
                value=told("{half}: {fixed}", half=figure(half, "%"), fixed=FIXED[fixed]),
            )
        )
    return tuple(lines)


def _difference(case: ChargeCase) -> tuple[Line, ...]:
    """Work out the difference in voltage and how far it may be off."""
    difference_mv = (case.target_cell_v - case.spare_cell_v) * MILLI
    readings = tuple(
        Component(source=whose, half_width=case.voltage_u_v * MILLI, unit="mV", sensitivity=1.0)
        for whose in (told("spare's reading"), told("string's reading"))
    )
    return (
        Line(
            what="Difference in rested cell voltage",
            formula=told("U_string - U_spare"),
            numbers=f"{figure(case.target_cell_v, 'V', 6)} - {figure(case.spare_cell_v, 'V', 6)}",
            value=figure(difference_mv, "mV"),
        ),
        *budget_lines("the difference", readings, "mV"),
    )


def _left(case: ChargeCase, result: ChargeResult, curve: Curve, shift_v: float) -> tuple[Line, ...]:
    """Work out what is left for the balancer."""
    middle_v, accept_v = case.target_cell_v - shift_v, case.accept_mv_per_cell / MILLI
    ends = _soc(curve, middle_v - accept_v), _soc(curve, middle_v + accept_v)
    accepted_ah = case.capacity_ah * (ends[1] - ends[0]) / 200.0
    return (
        Line(
            what=told(
                "What {accept_mv_per_cell:g} mV a cell are worth where the string stands",
                accept_mv_per_cell=case.accept_mv_per_cell,
            ),
            formula="Q (s(U + d) - s(U - d))/200",
            numbers=f"{figure(case.capacity_ah, 'Ah', 5)} x ({figure(ends[1], '%')} - "
            f"{figure(ends[0], '%')})/200",
            value=figure(accepted_ah, "Ah"),
        ),
        Line(
            what="Time for the balancer, for that or for the half-width of the move, whichever is "
            "larger",
            formula="t = q_left/I_bleed",
            numbers=f"{figure(result.left_ah, 'Ah')} / {figure(case.bleed_a, 'A')}",
            value=figure(result.left_ah / case.bleed_a, "h"),
        ),
        Line(
            what="Rest after any current before the voltage counts (3 h; NCA 12 h; below 10 °C at "
            "least 6 h)",
            value=figure(result.rest_h, "h"),
        ),
    )


def _knee(case: ChargeCase, result: ChargeResult, target: float) -> tuple[Line, ...]:
    """Work out the charge between the knee and the string."""
    if result.knee is None or result.knee_soc_percent is None:
        return ()
    return (
        Line(
            what=told(
                "The {knee} is the nearest place where a voltage fixes the charge "
                "within 1.5 % (shop default)",
                knee=KNEES[result.knee],
            ),
            value=told(
                "{volts} at {charge}",
                volts=figure(result.knee_cell_v, "V"),
                charge=figure(result.knee_soc_percent, "%"),
            ),
        ),
        Line(
            what="Charge between the knee and the string, as far as its voltage tells",
            formula=told("q = Q |s_string - s_knee|/100"),
            numbers=f"{figure(case.capacity_ah, 'Ah', 5)} x |{figure(target, '%')} - "
            f"{figure(result.knee_soc_percent, '%')}|/100",
            value=figure(case.capacity_ah * abs(target - result.knee_soc_percent) / 100.0, "Ah"),
        ),
    )


def _comparison(case: ChargeCase, result: ChargeResult) -> Line:
    """Compare what the readings say with what may stay."""
    if result.knee is not None or "use_knee" in {each.code for each in result.advice}:
        words = told("The curve is too flat for a comparison by voltage")
    else:
        words = WORDS[result.verdict]
    return Line(
        what="Comparison: ready when the whole interval of the difference may stay, undecided when "
        "a state of charge is not fixed or only part of the interval may stay, else move",
        numbers=told(
            "{low} to {high} against {limit} either way",
            low=figure(result.difference_mv_low, "mV"),
            high=figure(result.difference_mv_high, "mV"),
            limit=figure(case.accept_mv_per_cell, "mV"),
        ),
        value=told("{words}: {verdict}", words=words, verdict=str(result.verdict)),
    )
