"""The log of a simulated pack that was driven and charged, as a charger would write it.

The same seed gives the same file. Cells scatter a little about their mean; a weak one can be put
in. Not here: how a log is read (`packs.logs`), nor when it is asked for (`answers.road`).
"""

import io
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from packs.definition import PackDefinition
from packs.physics.ocv import curve_named

__all__ = ["COLUMNS_SOURCE", "LogPlan", "log_columns", "simulated_log"]

Floats = npt.NDArray[np.float64]

COLUMNS_SOURCE = "Charger"
STEP_S = 20.0
REST_S, LONG_REST_S = 1200.0, 2400.0
DRIVE_S, PULSE_S = 1500.0, 60.0
SETTLE_S = 180.0
"""Time constant with which a cell settles after a current [s]."""
LOADS_PER_H = (0.9, -0.4, 0.5, 0.0, 1.2, 0.3, -0.6, 0.8)
"""Currents of the drive, one for each pulse, as a share of the capacity an hour [1/h]."""
DROP_OHM_AH = 0.040
"""Resistance of a cell times its capacity [ohm Ah]: 1 mohm at 40 Ah."""
SENSORS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class LogPlan:
    """What is recorded.

    Attributes
    ----------
    began : datetime
        Time of the first row.
    seed : int
        Of every scatter.
    from_percent, to_percent : float
        State of charge at the beginning, and at the end of the charge [%].
    charge_per_h : float
        Charging current as a share of the capacity an hour [1/h].
    weak_cell : int
        Number of a cell with three times the resistance; 0 for none.
    """

    began: datetime
    seed: int = 1
    from_percent: float = 18.0
    to_percent: float = 95.0
    charge_per_h: float = 0.33
    weak_cell: int = 0


def log_columns(pack: PackDefinition) -> dict[str, object]:
    """Give which column is what in the file, as the door takes it."""
    return {
        "time_s": "time",
        "current_a": "I [A]",
        "cell_v": [f"cell {n} [V]" for n in range(1, pack.cells_total + 1)],
        "temperature_c": [f"T{n} [C]" for n in range(1, SENSORS + 1)],
    }


def _current_a(pack: PackDefinition, plan: LogPlan) -> Floats:
    """Give the current row by row: rest, drive, rest, charge, rest; charging is positive."""
    rated_ah = pack.capacity_ah.value

    def rows(seconds: float, current_a: float) -> list[float]:
        return [current_a] * round(seconds / STEP_S)

    drive = [a for k in range(round(DRIVE_S / PULSE_S))
             for a in rows(PULSE_S, -rated_ah * LOADS_PER_H[k % len(LOADS_PER_H)])]  # fmt: skip
    used_ah = -sum(drive) * STEP_S / 3600.0
    wanted_ah = used_ah + (plan.to_percent - plan.from_percent) / 100.0 * rated_ah
    charge_a = plan.charge_per_h * rated_ah
    charge = rows(wanted_ah / charge_a * 3600.0, charge_a)
    rests = rows(REST_S, 0.0), rows(LONG_REST_S, 0.0), rows(LONG_REST_S, 0.0)
    return np.array([*rests[0], *drive, *rests[1], *charge, *rests[2]])


def _settled(current_a: Floats) -> Floats:
    """Let the slow part of each cell's voltage follow the current."""
    slow_a, share = np.zeros_like(current_a), STEP_S / (SETTLE_S + STEP_S)
    for row in range(1, current_a.size):
        slow_a[row] = slow_a[row - 1] + share * (current_a[row] - slow_a[row - 1])
    return slow_a


def _cell_v(pack: PackDefinition, plan: LogPlan, current_a: Floats) -> Floats:
    """Give every cell's voltage, rows by cells."""
    chance, cells, rated_ah = np.random.default_rng(plan.seed), pack.cells_total, pack.capacity_ah
    curve = curve_named(pack.curve or "nmc532_graphite")
    capacity_ah = rated_ah.value * 0.97 * (1.0 + 0.002 * chance.standard_normal(cells))
    ohm = DROP_OHM_AH / rated_ah.value * (1.0 + 0.04 * chance.standard_normal(cells))
    if plan.weak_cell:
        ohm[plan.weak_cell - 1] *= 3.0
    start = plan.from_percent + 0.08 * chance.standard_normal(cells)
    moved_ah = np.concatenate(([0.0], np.cumsum(current_a[:-1]))) * STEP_S / 3600.0
    soc = start[None, :] + moved_ah[:, None] / capacity_ah[None, :] * 100.0
    rested_v = np.interp(soc, curve.soc_percent, curve.ocv_v)
    drop_v = ohm[None, :] * (current_a + 0.6 * _settled(current_a))[:, None]
    read_v: Floats = np.asarray(rested_v + drop_v, dtype=np.float64)
    return read_v + 0.0003 * chance.standard_normal(read_v.shape)


def simulated_log(pack: PackDefinition, plan: LogPlan) -> bytes:
    """Write the log of a pack that was driven and then charged.

    Parameters
    ----------
    pack : PackDefinition
        Its cells, capacity and curve.
    plan : LogPlan
        When, how far, and what is wrong with it.

    Returns
    -------
    bytes
        Delimited text with a header.
    """
    current_a = _current_a(pack, plan)
    chance = np.random.default_rng(plan.seed + 1)
    shown_a = current_a + 0.02 * chance.standard_normal(current_a.size)
    warmth_c = 19.0 + 6.0 * (1.0 - np.exp(-np.arange(current_a.size) / 400.0))
    sensors_c = warmth_c[:, None] + np.linspace(0.0, 1.2, SENSORS)[None, :]
    columns, text = log_columns(pack), io.StringIO()
    names = [value for value in columns.values() if isinstance(value, str)]
    names += [name for value in columns.values() if isinstance(value, list) for name in value]
    text.write(";".join(names) + "\n")
    for row, cells_v in enumerate(_cell_v(pack, plan, current_a)):
        at = plan.began + timedelta(seconds=row * STEP_S)
        figures = [f"{shown_a[row]:.2f}", *(f"{volt:.3f}" for volt in cells_v)]
        figures += [f"{degree:.1f}" for degree in sensors_c[row]]
        text.write(";".join([at.isoformat(timespec="seconds"), *figures]) + "\n")
    return text.getvalue().encode()


def lasts_s(pack: PackDefinition, plan: LogPlan) -> float:
    """Give how long such a log runs [s]."""
    return float(_current_a(pack, plan).size * STEP_S)
