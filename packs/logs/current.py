"""The column of current as amperes, and whether its sign and unit fit the voltages.

Here: milliamperes, codes, the sign that the cells contradict. Not here: charge (packs/physics).
"""

import numpy as np
import numpy.typing as npt

from packs.logs.clock import GAP_STEPS
from packs.logs.rows import Clock, usual_step_s
from packs.physics.cycle_case import Floats
from packs.physics.instrument import Message
from packs.strict_json import InputRefused
from packs.words import counted, told

FACTORS = {"mA": (1e-3, "milliamperes"), "kA": (1e3, "kiloamperes")}
LARGEST_A = 5000.0
"""No vehicle's string carries so much; as milliamperes it is an everyday current."""
LARGE_A = 2000.0
MOST_ROWS = 0.99
CODES_A = (65_535.0, 65_534.0, 32_767.0, -32_768.0, 6553.5, 3276.7, -3276.8, 655.35, 327.67)
CODED_SHARE = 0.05
CELLS_LOOKED_AT = 12
STEP_SHARE = 0.02
STEP_TIMES = 5.0
FEWEST_STEPS = 3
AGREED = 0.8
SMALLEST_OHM, LARGEST_OHM = 1e-5, 0.3
"""Resistances outside these no cell of a vehicle has: the unit of the current is in doubt."""


def in_amperes(current: Floats, unit: str, repairs: list[Message], doubts: list[Message]) -> Floats:
    """Return the current in amperes, as it stands in the file.

    Parameters
    ----------
    current : ndarray
        One for each row.
    unit : str
        As named, or empty.
    repairs, doubts : list of Message
        Is added to.

    Returns
    -------
    current : ndarray
        NaN for codes, [A]

    Raises
    ------
    InputRefused
        At path ``columns.current_a``, when it holds no numbers.
    """
    coded = np.isin(current, CODES_A)
    if coded.any() and coded.mean() < CODED_SHARE:
        current = np.where(coded, np.nan, current)
        readings = counted(
            int(coded.sum()), "{number} reading is a code", "{number} readings are codes"
        )
        repairs.append(
            Message(
                "current_codes",
                told("{readings} of the current sensor; missing.", readings=readings),
            )
        )
    present = np.abs(current[np.isfinite(current)])
    if not present.size:
        raise InputRefused([("columns.current_a", "holds no numbers: compare with the header")])
    high = float(np.quantile(present, MOST_ROWS))
    if unit not in FACTORS and high > LARGEST_A:
        unit = "mA"
    if unit in FACTORS:
        factor, word = FACTORS[unit]
        text = told("The current was in {word}; it was turned into amperes.", word=FACTORS[unit][1])
        repairs.append(Message(word, text))
        return current * factor
    if high > LARGE_A:
        text = told(
            "The current reaches {high:g} A: tell its unit in the name of the column.", high=high
        )
        doubts.append(Message("current_unit_unsure", text))
    return current


def compared(current: Floats, cells: Floats, clock: Clock) -> None:
    """Doubt the sign or the unit of the current where the cells contradict it.

    Parameters
    ----------
    current : ndarray
        Positive while charging, as stated, [A]
    cells : ndarray
        Rows by cells, [V]
    clock : Clock
        Takes what is said.

    Notes
    -----
    A step of current into a cell raises its voltage by the step times the resistance. Where there
    are no steps, a cell's voltage rises with the charge put in.
    """
    missing = int(np.isnan(current).sum())
    if missing:
        values = counted(missing, "{number} value is", "{number} values are")
        clock.said(
            "missing_current",
            told("{values} missing or unreadable in the column of current.", values=values),
        )
    voltage = _mean(cells[:, :: max(cells.shape[1] // CELLS_LOOKED_AT, 1)])
    ohm, agreed = _by_steps(current, voltage, clock.seconds)
    if ohm is None:
        agreed = _by_charge(current, voltage, clock.seconds)
    if agreed < -AGREED:
        text = (
            "The voltages of the cells fall where the current is said to charge and rise where it"
            " is said to discharge: check current_sign."
        )
        clock.doubts.append(Message("current_sign_suspect", text))
    elif ohm is not None and agreed > AGREED and not SMALLEST_OHM < ohm < LARGEST_OHM:
        text = told(
            "Steps of current and voltage would make a cell's resistance {cell_mohm:.3g} mohm,"
            " which no cell has: check the unit of the current.",
            cell_mohm=ohm * 1e3,
        )
        clock.doubts.append(Message("current_unit_suspect", text))


def _mean(cells: Floats) -> Floats:
    """Return the mean of what is present in each row; NaN where nothing is."""
    present = np.isfinite(cells)
    count = present.sum(axis=1)
    total = np.where(present, cells, 0.0).sum(axis=1)
    mean: Floats = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return mean


def _by_steps(current: Floats, voltage: Floats, seconds: Floats) -> tuple[float | None, float]:
    """Return resistance, and how much of all steps agrees in sign, from -1 to 1."""
    steps_a, steps_v, usable = np.diff(current), np.diff(voltage), np.diff(seconds)
    near = np.isfinite(steps_a + steps_v) & (usable < GAP_STEPS * usual_step_s(seconds))
    size = np.abs(steps_a)
    if not near.any():
        return None, 0.0
    span = float(np.fmax.reduce(current) - np.fmin.reduce(current))
    floor = max(STEP_SHARE * span, STEP_TIMES * float(np.median(size[near])))
    sharp: npt.NDArray[np.bool_] = near & (size > floor)
    if sharp.sum() < FEWEST_STEPS:
        return None, 0.0
    products = steps_a[sharp] * steps_v[sharp]
    ohm = float(products.sum() / (steps_a[sharp] ** 2).sum())
    weights = size[sharp]
    return ohm, float((np.sign(products) * weights).sum() / weights.sum())


def _by_charge(current: Floats, voltage: Floats, seconds: Floats) -> float:
    """Return how charge and voltage go together, from -1 to 1."""
    moved = np.concatenate(([0.0], np.diff(seconds) * np.nan_to_num(current[1:])))
    charge = np.cumsum(moved)
    present = np.isfinite(voltage)
    if present.sum() < FEWEST_STEPS:
        return 0.0
    charge, voltage = charge[present], voltage[present]
    spread = float(charge.std() * voltage.std())
    if spread <= 0.0:
        return 0.0
    return float(((charge - charge.mean()) * (voltage - voltage.mean())).mean() / spread)
