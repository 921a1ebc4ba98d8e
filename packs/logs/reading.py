"""A log from its bytes: the one way in.

Here: the order in which a log is read, put into units, put into time and cleaned. Not here: where
the bytes come from (packs/cycle_file.py), nor guessing columns (preview.py).
"""

from typing import IO

import numpy as np

from packs.logs.cells import in_volts, without_codes
from packs.logs.clock import in_order, pauses_s
from packs.logs.current import compared, in_amperes
from packs.logs.layout import Layout, layout_of
from packs.logs.table import Table, table_of
from packs.logs.temperatures import in_celsius, without_sensor_codes
from packs.logs.text import LARGEST_LOG_BYTES, text_of
from packs.logs.times import times_of
from packs.logs.units import unit_of
from packs.logs.wanted import Columns, Places, located
from packs.physics.cycle_case import CycleLog
from packs.physics.instrument import Message
from packs.strict_json import InputRefused

DISCHARGE_POSITIVE = "discharge_positive"
FEWEST_TIMES = 2


def read_log(content: bytes | IO[bytes], columns: Columns, current_sign: str) -> CycleLog:
    """Read a log.

    Parameters
    ----------
    content : bytes or an open binary file
        Delimited text in any usual encoding.
    columns : Columns
        Which columns are wanted, by their header names.
    current_sign : str
        ``charge_positive`` or ``discharge_positive``, as in the file.

    Returns
    -------
    log : CycleLog
        Time rises, charging is positive, volts are volts; what was repaired or is in doubt is said.

    Raises
    ------
    InputRefused
        At path ``file`` or ``columns``, when there is nothing that can be read.
    """
    if not isinstance(content, bytes):
        content = content.read(LARGEST_LOG_BYTES + 1)
    text = text_of(content)
    del content
    layout = layout_of(text, [name for _, name in columns.named()])
    del text
    places = located(columns, layout.names)
    units = [unit_of(*_said(layout, place)) for place in range(len(layout.names))]
    table = table_of(layout, places)
    layout.lines.clear()
    return _log(layout, places, units, table, current_sign)


def _said(layout: Layout, place: int) -> tuple[str, str]:
    """Return the name of a column and what stands under it."""
    return layout.names[place], layout.units[place] if layout.units else ""


def _log(
    layout: Layout, places: Places, units: list[str], table: Table, current_sign: str
) -> CycleLog:
    """Put a table into units and into order."""
    repairs, doubts = list(layout.repairs), list(layout.doubts)
    if table.marks.unsure:
        doubts.append(Message("mixed_decimals", MIXED_DECIMALS))
    last = 1 + len(places.cells)
    values = table.values
    values[:, 0] = in_amperes(values[:, 0], units[places.current], repairs, doubts)
    in_volts(values[:, 1:last], [units[at] for at in places.cells], repairs, doubts)
    in_celsius(values[:, last:], [units[at] for at in places.temperatures], repairs, doubts)
    clock = in_order(times_of(table.times, units[places.time]), values)
    if clock.rows.size < len(values) or (np.diff(clock.rows) < 0).any():
        values = np.take(values.T, clock.rows, axis=1).T
    clock.repairs[:0], clock.doubts[:0] = repairs, doubts
    if clock.seconds.size < FEWEST_TIMES:
        raise InputRefused([("columns.time_s", "holds fewer than two different times")])
    gaps_s = pauses_s(clock)
    sign = -1.0 if current_sign == DISCHARGE_POSITIVE else 1.0
    current_a = sign * values[:, 0] + 0.0
    cell_v = without_codes(values[:, 1:last], [layout.names[at] for at in places.cells], clock)
    sensors = [layout.names[at] for at in places.temperatures]
    temperature_c = without_sensor_codes(values[:, last:], sensors, clock)
    compared(current_a, cell_v, clock)
    return CycleLog(
        time_s=clock.seconds,
        current_a=current_a,
        cell_v=cell_v,
        temperature_c=temperature_c,
        gaps_s=gaps_s,
        repairs=tuple(clock.repairs),
        doubts=tuple(clock.doubts),
    )


MIXED_DECIMALS = (
    "Points and commas both stand in numbers and nothing tells which is the decimal one: both were"
    " read as such. Export the log in one form."
)
