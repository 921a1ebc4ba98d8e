"""The columns of temperatures as degrees Celsius.

Here: kelvin, Fahrenheit, codes of sensors. Not here: what a temperature says (packs/physics).
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from packs.logs.cells import listed
from packs.logs.rows import Clock
from packs.physics.cycle_case import Floats
from packs.physics.instrument import Message
from packs.words import counted, told

ZERO_C_IN_K = 273.15
KELVIN = (233.15, 373.15)
"""A median from -40 to 100 degrees Celsius in kelvin."""
HOTTER_THAN_PACKS_C = 65.0
"""A whole log above this is Fahrenheit or no temperature of a pack that is driven."""
HOTTEST_C, COLDEST_C = 150.0, -50.0
CODES_C = (-40.0, 127.0, 128.0)
"""What a broken sensor or a full byte reads as."""
LISTED = 3
TURNED = {"kelvin": "kelvin", "fahrenheit": "degrees Fahrenheit"}


def in_celsius(
    sensors: Floats, units: Sequence[str], repairs: list[Message], doubts: list[Message]
) -> Floats:
    """Return temperatures in degrees Celsius.

    Parameters
    ----------
    sensors : ndarray
        Rows by sensors as they stand in the file; changed in place.
    units : Sequence[str]
        Of each column as named, or empty.
    repairs, doubts : list of Message
        Is added to.

    Returns
    -------
    sensors : ndarray
        The same, [°C]
    """
    kelvin = fahrenheit = hot = 0
    for column, unit in enumerate(units):
        present = sensors[:, column][np.isfinite(sensors[:, column])]
        middle = float(np.median(present)) if present.size else 0.0
        if KELVIN[0] <= middle <= KELVIN[1]:
            sensors[:, column] -= ZERO_C_IN_K
            kelvin += 1
        elif unit == "F":
            sensors[:, column] = (sensors[:, column] - 32.0) / 1.8
            fahrenheit += 1
        elif HOTTER_THAN_PACKS_C < middle < KELVIN[0] and middle not in CODES_C:
            hot += 1
    for count, code in ((kelvin, "kelvin"), (fahrenheit, "fahrenheit")):
        if count:
            columns = counted(
                count, "{number} temperature column holds", "{number} temperature columns hold"
            )
            word = TURNED[code]
            text = told(
                "{columns} {word}; turned into degrees Celsius.", columns=columns, word=word
            )
            repairs.append(Message(code, text))
    if hot:
        columns = counted(hot, "{number} temperature column is", "{number} temperature columns are")
        text = told(
            "{columns} above {hot_c:g} most of the time: Fahrenheit or another unit "
            "was not told. Give the column a name with its unit, such as T1 [F].",
            columns=columns,
            hot_c=HOTTER_THAN_PACKS_C,
        )
        doubts.append(Message("temperature_unit_unsure", text))
    return sensors


def without_sensor_codes(sensors: Floats, names: Sequence[str], clock: Clock) -> Floats:
    """Take out what sensors show when they are broken, and say what is missing.

    Parameters
    ----------
    sensors : ndarray
        Rows in order of time by sensors, [°C]; changed in place.
    names : Sequence[str]
        Of the columns.
    clock : Clock
        Takes what is said.

    Returns
    -------
    sensors : ndarray
        The same with NaN for what is no temperature, [°C]
    """
    absent = np.isnan(sensors)
    coded = (sensors > HOTTEST_C) | (sensors < COLDEST_C)
    coded |= np.isin(np.round(sensors, 6), CODES_C)
    if coded.any():
        said = ", ".join(f"{value:g} °C" for value in np.unique(sensors[coded])[:LISTED].tolist())
        readings = counted(
            int(coded.sum()), "{number} reading is a code", "{number} readings are codes"
        )
        text = told(
            "{readings} of a temperature sensor ({said}); treated as missing.",
            readings=readings,
            said=said,
        )
        clock.said("temperature_codes", text)
        sensors[coded] = np.nan
    empty: npt.NDArray[np.bool_] = np.asarray(np.isnan(sensors).all(axis=0))
    if empty.any():
        named = listed([names[column] for column in np.flatnonzero(empty).tolist()])
        columns = counted(int(empty.sum()), "{number} column holds", "{number} columns hold")
        clock.said(
            "empty_temperature",
            told("{columns} no temperature at all ({named}).", columns=columns, named=named),
        )
    missing = int((absent & ~empty[None, :]).sum())
    if missing:
        values = counted(missing, "{number} temperature is", "{number} temperatures are")
        clock.said("missing_temperatures", told("{values} missing or unreadable.", values=values))
    return sensors
