"""The insulation of one section of a string, step by step.

Here: one pole without and with the shunt, and two poles. Not here: the voltmeter method for a whole
string (isolation.py), the calculation (physics/circuit.py, physics/string_insulation.py).
"""

from packs.explanation import Line, figure
from packs.explanations.readings import allowance_line, interval_text
from packs.physics.instrument import Meter
from packs.physics.string_insulation import (
    CELL_U_V,
    PoleVolts,
    SectionInsulation,
    SectionReadings,
)
from packs.words import told

PLAIN, WITH_SHUNT = told("the reading"), told("it with shunt")
UPPER, LOWER = told("the upper pole"), told("the lower pole")


def explained(case: SectionReadings, result: SectionInsulation) -> tuple[Line, ...]:
    """Return the steps from the readings of a section to its insulation.

    Parameters
    ----------
    case : SectionReadings
        What was read.
    result : SectionInsulation
        What came of it.

    Returns
    -------
    lines : tuple[Line, ...]
        In the order in which a person would work; empty where nothing can be worked out.
    """
    poles = sorted(case.poles, key=lambda pole: pole.cells)
    shown = _by_poles(case, poles) if result.method == "two_poles" else _by_shunt(case, poles)
    found = result.insulation
    if not shown or found is None:
        return ()
    interval = interval_text(found.total_ohm_low, found.total_ohm_high, "ohm")
    return (*shown, Line(what="95 % interval of the resistance", formula="R", value=interval))


def _resistance(conductance_s: float) -> str:
    """Write a resistance from a conductance; below nothing it is only a bound."""
    if conductance_s <= 0.0:
        return told("no leak is left beside the meter: only a lower bound is known")
    return figure(1.0 / conductance_s, "ohm")


def _by_shunt(case: SectionReadings, poles: list[PoleVolts]) -> tuple[Line, ...]:
    """Work out the resistance from one pole, without and with the shunt."""
    pairs = [pole for pole in poles if pole.shunted_v is not None]
    pole = max(pairs, key=lambda one: abs(one.volts), default=None)
    if pole is None or pole.shunted_v is None or case.shunt_ohm is None or pole.volts == 0.0:
        return ()
    share = pole.shunted_v / pole.volts
    if not 0.0 < share < 1.0:
        return ()
    meter_s, leak_s = 1.0 / case.meter.input_ohm, share / (1.0 - share) / case.shunt_ohm
    return (
        *_readings(case.meter, ((PLAIN, pole.volts), (WITH_SHUNT, pole.shunted_v))),
        Line(
            what="What the shunt leaves of the reading",
            formula="w = v'/v",
            numbers=f"{figure(pole.shunted_v, 'V', 6)} / {figure(pole.volts, 'V', 6)}",
            value=figure(share, "", 6),
        ),
        Line(
            what="Resistance of all leaks of the section together; the meter's own is taken off",
            formula="R = 1/(w/((1 - w) R_shunt) - 1/R_meter)",
            numbers=f"1/({figure(leak_s, 'S', 6)} - {figure(meter_s, 'S', 6)})",
            value=_resistance(leak_s - meter_s),
        ),
    )


def _by_poles(case: SectionReadings, poles: list[PoleVolts]) -> tuple[Line, ...]:
    """Work out the resistance from two poles, by what the meter itself draws."""
    if len(poles) < 2 or case.cell_v is None:  # noqa: PLR2004 - two poles
        return ()
    lower, upper = poles[0], poles[-1]
    cells = upper.cells - lower.cells
    difference_v = case.cell_v * cells
    share = (upper.volts - lower.volts) / difference_v if difference_v > 0.0 else 0.0
    if share <= 0.0:
        return ()
    meter_s = 1.0 / case.meter.input_ohm
    bound = share >= 1.0
    return (
        *_readings(case.meter, ((UPPER, upper.volts), (LOWER, lower.volts))),
        Line(
            what="Voltage between the two poles, from the cells between them",
            formula=told("D = cells x V_cell"),
            numbers=told(
                "{cells} x {volts}, each cell within {off}",
                cells=cells,
                volts=figure(case.cell_v, "V", 5),
                off=figure(CELL_U_V, "V"),
            ),
            value=figure(difference_v, "V", 6),
        ),
        Line(
            what="What the meter's own loading leaves of it",
            formula=told("k = (v_upper - v_lower)/D"),
            numbers=f"({figure(upper.volts, 'V', 6)} - {figure(lower.volts, 'V', 6)})"
            f" / {figure(difference_v, 'V', 6)}",
            value=figure(share, "", 6),
        ),
        Line(
            what="Resistance of all leaks of the section together",
            formula="R = R_meter (1 - k)/k",
            numbers=f"{figure(case.meter.input_ohm, 'ohm')} x (1 - {figure(share, '', 6)})"
            f" / {figure(share, '', 6)}",
            value=_resistance(0.0 if bound else meter_s * share / (1.0 - share)),
        ),
    )


def _readings(meter: Meter, read: tuple[tuple[str, float], ...]) -> tuple[Line, ...]:
    return tuple(allowance_line(name, meter, volts) for name, volts in read)
