"""How long the charge takes to move, through a resistor or at constant current.

Here: hours, currents, the resistor and what the terminals show at the moment to stop. Not here:
how much has to be moved (charge_interval.py) and whether (charge.py).
"""

import math
from dataclasses import dataclass

import numpy as np

from packs.physics.charge_case import ChargeCase, Direction
from packs.physics.instrument import CalculationRefused
from packs.physics.ocv import Curve

E12 = ("1.0", "1.2", "1.5", "1.8", "2.2", "2.7", "3.3", "3.9", "4.7", "5.6", "6.8", "8.2")
"""Standard series of resistors, IEC 60063."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """From which state of charge to which, on a curve shifted so that both readings lie on it."""

    curve: Curve
    spare_soc_percent: float
    target_soc_percent: float
    shift_v: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """The move as it will run; the resistor's figures are None for a supply."""

    hours: float
    start_a: float
    stop_a: float
    stop_terminal_v: float
    held_at_end: bool
    resistor_ohm: float | None = None
    resistor_w: float | None = None


def standard_resistor_ohm(least_ohm: float) -> float:
    """Return the smallest resistor of the E12 series that is not below a value.

    Parameters
    ----------
    least_ohm : float
        The value, above zero, [ohm]

    Returns
    -------
    resistor_ohm : float
        Of the series, [ohm]

    Raises
    ------
    ValueError
        When the value is not above zero.

    Notes
    -----
    Twelve values a decade: 1.0 1.2 1.5 1.8 2.2 2.7 3.3 3.9 4.7 5.6 6.8 8.2. Source: IEC 60063.

    Examples
    --------
    >>> standard_resistor_ohm(9.95), standard_resistor_ohm(0.33), standard_resistor_ohm(8.3)
    (10.0, 0.33, 10.0)
    """
    if not least_ohm > 0.0:
        raise ValueError("least_ohm must be above zero")
    decade = math.floor(math.log10(least_ohm))
    series = [float(f"{step}e{power}") for power in (decade - 1, decade) for step in E12]
    series.append(float(f"1e{decade + 1}"))
    return next(ohm for ohm in series if ohm >= least_ohm * (1.0 - 1e-12))


def resistor_for_ohm(open_v: float, module_resistance_ohm: float, max_w: float) -> float:
    """Return the smallest standard resistor that stays within a power from the start.

    Parameters
    ----------
    open_v : float
        Rested voltage of the module, [V]
    module_resistance_ohm : float
        In series with the resistor, [ohm]
    max_w : float
        What the resistor may take, [W]

    Returns
    -------
    resistor_ohm : float
        Of the E12 series, never below the module's own resistance, [ohm]

    Notes
    -----
    ``P = V^2 R/(R + R_m)^2 <= P_max`` holds from the upper root of
    ``R^2 + (2 R_m - V^2/P_max) R + R_m^2 = 0`` on. It also holds below the lower root, where the
    resistor is nearly a short circuit and the module takes the heat: that is never chosen.
    Source: Ohm's law; IEC 60063 for the series.

    Examples
    --------
    >>> resistor_for_ohm(44.6, 0.0, 200.0), resistor_for_ohm(44.6, 0.0, 100.0)
    (10.0, 22.0)
    """
    half_sum_ohm = open_v**2 / max_w / 2.0 - module_resistance_ohm
    root = half_sum_ohm**2 - module_resistance_ohm**2
    upper_ohm = half_sum_ohm + math.sqrt(root) if half_sum_ohm > 0.0 and root > 0.0 else 0.0
    return standard_resistor_ohm(max(upper_ohm, module_resistance_ohm, 1e-3))


def charge_over_volts_ah_per_v(path: Path, capacity_ah: float) -> float:
    """Return the integral of the charge over the voltage at which it leaves.

    Parameters
    ----------
    path : Path
        From where to where.
    capacity_ah : float
        Of the module, [Ah]

    Returns
    -------
    integral : float
        Of ``dq/U(q)`` for one cell, [Ah/V]

    Notes
    -----
    Exact on straight lines between the points of the table: ``ds ln(U_2/U_1)/(U_2 - U_1)`` each.
    Source: calculus.

    Examples
    --------
    >>> from packs.physics.ocv import curve_named
    >>> path = Path(
    ...     curve=curve_named("nmc532_graphite"),
    ...     spare_soc_percent=60.0,
    ...     target_soc_percent=50.0,
    ...     shift_v=0.0,
    ... )
    >>> round(charge_over_volts_ah_per_v(path, 60.0), 4)
    1.6006
    """
    low, high = sorted((path.spare_soc_percent, path.target_soc_percent))
    table = path.curve.soc_percent
    soc = np.concatenate(([low], table[(table > low) & (table < high)], [high]))
    volts = np.interp(soc, table, path.curve.ocv_v) + path.shift_v
    rise = np.diff(volts) / volts[:-1]
    safe = np.where(np.abs(rise) > 1e-9, rise, 1.0)  # noqa: PLR2004
    mean = np.where(np.abs(rise) > 1e-9, np.log1p(rise) / safe, 1.0)  # noqa: PLR2004
    return capacity_ah / 100.0 * float(np.sum(np.diff(soc) * mean / volts[:-1]))


def flow(case: ChargeCase, path: Path, direction: Direction) -> Flow:
    """Return how the move runs and when to stop it.

    Parameters
    ----------
    case : ChargeCase
        What is moved by what.
    path : Path
        From where to where.
    direction : Direction
        Charge or discharge.

    Returns
    -------
    flow : Flow
        Hours, currents, resistor and the terminals' voltage at the end, [h], [A], [ohm] and [V]

    Raises
    ------
    CalculationRefused
        When a resistor is to charge, or the method lacks its figures.

    Notes
    -----
    Resistor: ``dq/dt = -U(q)/(R + R_m)``, so ``t = (R + R_m) integral dq/U(q)``; at the stop the
    terminals show ``U R/(R + R_m)``. Supply: ``t = q/I``, ``U + I R_m`` charging and ``U - I R_m``
    discharging, never past the ends of the curve. The module's resistance is taken as constant.
    Source: Ohm's law.

    Examples
    --------
    >>> from packs.physics.charge_case import ChargeMethod
    >>> from packs.physics.ocv import curve_named
    >>> path = Path(
    ...     curve=curve_named("nmc532_graphite"),
    ...     spare_soc_percent=60.0,
    ...     target_soc_percent=50.0,
    ...     shift_v=0.0,
    ... )
    >>> case = ChargeCase(
    ...     curve="nmc532_graphite",
    ...     cells=12,
    ...     capacity_ah=60.0,
    ...     spare_cell_v=3.797,
    ...     target_cell_v=3.716,
    ...     method=ChargeMethod(kind="supply", current_a=3.0),
    ... )
    >>> flow(case, path, Direction.DISCHARGE).hours
    2.0
    """
    if case.method.kind == "resistor":
        if direction is Direction.CHARGE:
            text = "a resistor cannot charge, and the spare stands below the target: use a supply"
            raise CalculationRefused("method.kind", text)
        return _through_resistor(case, path)
    return _at_constant_current(case, path, direction)


def _through_resistor(case: ChargeCase, path: Path) -> Flow:
    """Return a discharge along the curve."""
    open_v, target_v = case.cells * case.spare_cell_v, case.cells * case.target_cell_v
    module_ohm = case.module_resistance_ohm
    ohm = case.method.ohm
    if ohm is None:
        if case.method.max_w is None:
            text = "give the resistor's size in ohm, or here the power it may take"
            raise CalculationRefused("method.max_w", text)
        ohm = resistor_for_ohm(open_v, module_ohm, case.method.max_w)
    loop_ohm = ohm + module_ohm
    start_a, stop_a = open_v / loop_ohm, target_v / loop_ohm
    lowest_v = case.cells * path.curve.lowest_v
    return Flow(
        hours=loop_ohm * charge_over_volts_ah_per_v(path, case.capacity_ah) / case.cells,
        start_a=start_a,
        stop_a=stop_a,
        stop_terminal_v=max(stop_a * ohm, lowest_v),
        held_at_end=stop_a * ohm < lowest_v,
        resistor_ohm=ohm,
        resistor_w=start_a**2 * ohm,
    )


def _at_constant_current(case: ChargeCase, path: Path, direction: Direction) -> Flow:
    """Return a charge or discharge by a supply."""
    current_a = case.method.current_a
    if current_a is None:
        raise CalculationRefused("method.current_a", "is missing: a supply needs its current")
    moved_percent = abs(path.target_soc_percent - path.spare_soc_percent)
    sign = 1.0 if direction is Direction.CHARGE else -1.0
    shown_v = case.cells * case.target_cell_v + sign * current_a * case.module_resistance_ohm
    lowest_v = case.cells * path.curve.lowest_v
    highest_v = case.cells * (path.curve.highest_v + path.shift_v)
    return Flow(
        hours=case.capacity_ah * moved_percent / 100.0 / current_a,
        start_a=current_a,
        stop_a=current_a,
        stop_terminal_v=min(max(shown_v, lowest_v), highest_v),
        held_at_end=not lowest_v <= shown_v <= highest_v * (1.0 + 1e-12),
    )
