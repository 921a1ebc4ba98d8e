"""A log made fit for calculation: holes filled, spikes taken out, cells that cannot be trusted.

Here: what a channel has to show to be believed, and what was mended. Not here: how a file becomes
a log (packs/logs), nor what the string did (cycle_phases.py).
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from packs.physics.cycle_case import CycleLog, Floats
from packs.physics.instrument import Message
from packs.words import told

Flags = npt.NDArray[np.bool_]
Rows = npt.NDArray[np.intp]

LOWEST_CELL_V, HIGHEST_CELL_V = 0.5, 5.5
"""Outside these a reading is a lost lead or a code of the electronics, never a cell."""
COLDEST_C, HOTTEST_C = -50.0, 150.0
"""Outside these a temperature is a lost sensor."""
MISSING_SHARE = 0.2
"""A cell that misses a fifth of its readings drops out: shop default, no source."""
SPIKE_V = 0.010
"""A single reading that jumps by less is left alone: shop default, no source."""
JUMP_V = 0.030
"""A cell that steps by more without a change of current jumps: shop default, no source."""
STUCK_V = 0.030
"""A cell that stands still while the others move by more is stuck: shop default, no source."""
SPIKE_SHARE = 0.005
FEW_SPIKES = 5
"""Spikes up to these are taken out; more make the channel doubtful: shop default, no source."""
STEEP_OHM_FACTOR = 5.0
"""So many times the median cell's resistance a weak cell may have without looking like a jump."""
FALLBACK_OHM = 0.002
GAP_STEPS = 5.0
"""A pause of more than five usual steps is a gap: shop default, no source."""
FEWEST_TO_COMPARE = 3
BLOCK, ROWS = 8, 4096
STUCK_ROWS = 5
STUCK_STEPS = 6.0
NOISE_ROWS = 4000
CLIPPED_SQUARE = 0.8314
"""Mean square of a bell whose outer twentieths are pulled in, over that of the bell."""
MISSING_CURRENT_ROWS = 2
JUMPS = "jumps"


@dataclass(frozen=True, slots=True, kw_only=True)
class Channels:
    """A log without holes; rows by cells in series order.

    Parameters
    ----------
    time_s, current_a : ndarray
        Rows, charging current positive, [s] and [A]
    cell_v : ndarray
        Rows by cells, [V]
    median_v : ndarray
        Rows: the median of the cells that can be trusted, [V]
    temperature_c : ndarray
        Rows by sensors that can be trusted, [°C]
    step_s : float
        Usual time between two rows, [s]
    gap : ndarray
        Rows but one: whether the pause to the next row is a gap.
    noise_v : float
        Scatter of one reading of one cell, a standard deviation, [V]
    resolution_v : float
        One step of the readings, [V]
    sensor : dict of int to str
        Cells that cannot be trusted, counted from 0, and why.
    repairs : tuple of Message
        What was mended.
    """

    time_s: Floats
    current_a: Floats
    cell_v: Floats
    median_v: Floats
    temperature_c: Floats
    step_s: float
    gap: Flags
    noise_v: float
    resolution_v: float
    sensor: dict[int, str]
    repairs: tuple[Message, ...]

    @property
    def trusted(self) -> Flags:
        """Return which cells can be trusted."""
        found = np.ones(self.cell_v.shape[1], dtype=np.bool_)
        found[list(self.sensor)] = False
        return found


def channels_of(log: CycleLog) -> Channels | None:
    """Return a log without holes, or nothing when too little is left.

    Parameters
    ----------
    log : CycleLog
        As it was understood.

    Returns
    -------
    channels : Channels | None
        None with fewer than two rows or without a cell that can be trusted.

    Notes
    -----
    Single holes are filled on the straight line between their neighbours. A reading that leaves
    both neighbours by more than eight times the noise, three steps of its resolution and 10 mV is
    a spike, more with a change of the current. A cell that misses a fifth of its readings, stands
    still while the median cell moves by 30 mV, steps by 30 mV without a change of current, or
    spikes in more than 0.5 % of the rows is a sensor fault. All thresholds are shop defaults, no
    source.

    Examples
    --------
    >>> time_s = np.arange(0.0, 120.0, 20.0)
    >>> volts = np.full((6, 3), 3.6)
    >>> volts[1, 1] = np.nan
    >>> none = np.zeros((6, 0))
    >>> log = CycleLog(time_s=time_s, current_a=0.0 * time_s, cell_v=volts, temperature_c=none)
    >>> channels = channels_of(log)
    >>> float(channels.cell_v[1, 1]), channels.repairs[0].code
    (3.6, 'filled_cells')
    """
    rows, repairs = _rows_with_current(log)
    if rows.size < 2 or log.cell_v.shape[1] == 0:  # noqa: PLR2004  (two rows make a step)
        return None
    whole = rows.size == log.time_s.size
    time_s = log.time_s if whole else log.time_s[rows]
    current_a = _filled(log.time_s, log.current_a)[rows]
    cell_v, sensor, filled = _without_holes(time_s, log.cell_v if whole else log.cell_v[rows])
    if len(sensor) == cell_v.shape[1]:
        return None
    check = _ChannelCheck(time_s, current_a, cell_v, filled, sensor)
    check.judge()
    if len(sensor) == cell_v.shape[1]:
        return None
    temperature_c, cold = _temperatures(log.temperature_c[rows])
    return Channels(
        time_s=time_s,
        current_a=current_a,
        cell_v=check.cell_v,
        median_v=check.median_v,
        temperature_c=temperature_c,
        step_s=check.step_s,
        gap=check.gap,
        noise_v=check.noise_v,
        resolution_v=check.resolution_v,
        sensor=dict(sorted(sensor.items())),
        repairs=(*repairs, *check.repairs(), *cold),
    )


class _ChannelCheck:
    """The cells while they are being judged."""

    def __init__(
        self,
        time_s: Floats,
        current_a: Floats,
        cell_v: Floats,
        filled: int,
        sensor: dict[int, str],
    ) -> None:
        self.cell_v, self.sensor = cell_v, sensor
        self.filled, self.spikes = filled, 0
        self.owned = filled > 0
        steps_s = np.diff(time_s)
        self.step_s = float(np.median(steps_s))
        self.gap: Flags = steps_s > GAP_STEPS * self.step_s
        self.change_a = np.abs(np.diff(current_a))
        self.median_v = self._median()
        self.resolution_v = _resolution_v(cell_v)
        self.noise_v = self._noise_v(current_a)

    def _median(self) -> Floats:
        """Return the median over the cells that can be trusted, row by row."""
        keep = [k for k in range(self.cell_v.shape[1]) if k not in self.sensor]
        middle = len(keep) // 2
        places = [middle] if len(keep) % 2 else [middle - 1, middle]
        found = np.empty(self.cell_v.shape[0])
        # Some rows at a time, so that no second copy of the log is made.
        for first in range(0, found.size, ROWS):
            some = self.cell_v[first : first + ROWS]
            ordered = np.partition(some[:, keep] if self.sensor else some, places, axis=1)
            found[first : first + ROWS] = ordered[:, places].mean(axis=1)
        return found

    def _noise_v(self, current_a: Floats) -> float:
        """Return the scatter of a reading against the median cell, current steady."""
        size_a = np.abs(current_a[1:])
        steady = (self.change_a <= np.quantile(self.change_a, 0.5)) & ~self.gap
        quiet = steady & (size_a <= 0.01 * max(float(size_a.max()), 1e-9) + 0.1)
        rows = np.flatnonzero(quiet if np.count_nonzero(quiet) >= STUCK_ROWS else steady)
        rows = rows[:: max(1, rows.size // NOISE_ROWS)]
        if rows.size == 0 or self.cell_v.shape[1] < FEWEST_TO_COMPARE:
            return self.resolution_v / math.sqrt(12.0)
        apart_v = self.cell_v[rows + 1] - self.cell_v[rows]
        apart_v = apart_v - (self.median_v[rows + 1] - self.median_v[rows])[:, None]
        low_v, high_v = np.quantile(apart_v, [0.05, 0.95])
        square = float(np.mean(np.clip(apart_v, low_v, high_v) ** 2)) / CLIPPED_SQUARE / 2.0
        return math.sqrt(max(square, self.resolution_v**2 / 12.0))

    def _allowed_v(self) -> Floats:
        """Return by how much a sound cell may leave the median from row to row."""
        sharp = self.change_a > max(0.05 * float(self.change_a.max()), 1e-6)
        sharp &= ~self.gap
        moved_v = np.diff(self.median_v)
        ohm = FALLBACK_OHM
        if np.count_nonzero(sharp) >= FEWEST_TO_COMPARE:
            ohm = float(np.median(np.abs(moved_v[sharp]) / self.change_a[sharp]))
        base_v = max(SPIKE_V, 8.0 * self.noise_v, 3.0 * self.resolution_v)
        allowed_v = base_v + STEEP_OHM_FACTOR * ohm * self.change_a
        return np.where(self.gap, np.inf, allowed_v)

    def judge(self) -> None:
        """Take out spikes and find the cells that cannot be trusted."""
        if self.cell_v.shape[1] < FEWEST_TO_COMPARE or self.change_a.size < FEWEST_TO_COMPARE:
            return
        allowed_v = self._allowed_v()
        before = len(self.sensor)
        travel_v = np.concatenate(([0.0], np.cumsum(np.abs(np.diff(self.median_v)))))
        for first, block_v in self._blocks():
            apart_v = block_v - self.median_v
            cells, places = np.nonzero(np.abs(np.diff(apart_v, axis=1)) > allowed_v)
            for cell in np.unique(cells):
                steep = places[cells == cell]
                self._take_out_spikes(first, int(cell), steep, apart_v[cell], allowed_v)
                self._find_jumps(first + int(cell), steep, apart_v[cell], allowed_v)
            self._find_stuck(first, block_v, travel_v)
        if len(self.sensor) > before and len(self.sensor) < self.cell_v.shape[1]:
            self.median_v = self._median()

    def _blocks(self) -> Iterator[tuple[int, Floats]]:
        """Yield some cells at a time, cells by rows, to keep the memory small."""
        for first in range(0, self.cell_v.shape[1], BLOCK):
            yield first, np.ascontiguousarray(self.cell_v[:, first : first + BLOCK].T)

    def _take_out_spikes(
        self, first: int, cell: int, steep: Rows, apart_v: Floats, allowed_v: Floats
    ) -> None:
        """Replace single readings that leave both neighbours; ``steep``: rows before a big step."""
        rows = np.unique(np.concatenate((steep, steep + 1)))
        rows = rows[(rows > 0) & (rows < apart_v.size - 1)]
        before_v, after_v = apart_v[rows] - apart_v[rows - 1], apart_v[rows + 1] - apart_v[rows]
        bend_v, across_v = np.abs(before_v - after_v) / 2.0, np.abs(before_v + after_v)
        most_v = np.maximum(allowed_v[rows - 1], allowed_v[rows])
        rows = rows[bend_v > most_v + 3.0 * across_v]
        if rows.size > max(FEW_SPIKES, SPIKE_SHARE * apart_v.size):
            self.sensor.setdefault(first + cell, JUMPS)
        elif rows.size:
            if not self.owned:
                self.cell_v, self.owned = self.cell_v.copy(), True
            apart_v[rows] = (apart_v[rows - 1] + apart_v[rows + 1]) / 2.0
            column_v = self.cell_v[:, first + cell]
            column_v[rows] = (column_v[rows - 1] + column_v[rows + 1]) / 2.0
            self.spikes += rows.size

    def _find_jumps(self, cell: int, steep: Rows, apart_v: Floats, allowed_v: Floats) -> None:
        """Find a step to another level that the current does not explain."""
        inner = steep[(steep > 0) & (steep < allowed_v.size - 1)]
        step_v = np.abs(apart_v[inner + 1] - apart_v[inner])
        before_v = np.abs(apart_v[inner] - apart_v[inner - 1])
        after_v = np.abs(apart_v[inner + 2] - apart_v[inner + 1])
        least_v = np.maximum(allowed_v[inner], JUMP_V)
        beside_v = STEEP_OHM_FACTOR * np.maximum(before_v, after_v)
        if np.any(step_v > least_v + beside_v):
            self.sensor.setdefault(cell, JUMPS)

    def _find_stuck(self, first: int, block_v: Floats, travel_v: Floats) -> None:
        """Find cells that stand still while the median moves; ``travel_v`` is its whole way."""
        allowed_v = max(STUCK_V, STUCK_STEPS * self.resolution_v)
        last = self.median_v.size - 1
        for cell, volts in enumerate(block_v):
            starts = np.concatenate(([0], np.flatnonzero(volts[1:] != volts[:-1]) + 1))
            stops = np.append(starts[1:], last + 1)
            far = travel_v[stops - 1] - travel_v[starts] > allowed_v
            for start, stop in zip(starts[far], stops[far], strict=True):
                moved_v = float(np.ptp(self.median_v[start:stop]))
                if stop - start >= STUCK_ROWS and moved_v > allowed_v:
                    self.sensor.setdefault(first + cell, "is stuck")
                    break

    def repairs(self) -> Iterator[Message]:
        """Say what was mended."""
        if self.filled:
            text = told(
                "{count} missing cell readings were filled from their neighbours.",
                count=self.filled,
            )
            yield Message("filled_cells", text)
        if self.spikes:
            text = told(
                "{count} single cell readings that jumped and came back were left out.",
                count=self.spikes,
            )
            yield Message("spikes_left_out", text)


def _rows_with_current(log: CycleLog) -> tuple[Rows, list[Message]]:
    """Return the rows to use: longer runs without a current are left out and become gaps."""
    known = np.isfinite(log.current_a)
    if known.all():
        return np.arange(log.time_s.size), []
    edges = np.flatnonzero(np.diff(np.r_[True, known, True].astype(np.int8)))
    keep = known.copy()
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        inside = start > 0 and stop < known.size
        if inside and stop - start <= MISSING_CURRENT_ROWS:
            keep[start:stop] = True
    lost, mended = int(np.count_nonzero(~keep)), int(np.count_nonzero(keep & ~known))
    found = []
    if mended:
        text = told(
            "{count} missing readings of the current were filled from their neighbours.",
            count=mended,
        )
        found.append(Message("filled_current", text))
    if lost:
        text = told("{count} rows without a current were left out; they count as gaps.", count=lost)
        found.append(Message("rows_without_current", text))
    return np.flatnonzero(keep), found


def _without_holes(time_s: Floats, cell_v: Floats) -> tuple[Floats, dict[int, str], int]:
    """Fill missing and impossible readings; say which cells drop out and how many were filled."""
    with np.errstate(invalid="ignore"):
        sound = (cell_v >= LOWEST_CELL_V) & (cell_v <= HIGHEST_CELL_V)
    holes = cell_v.shape[0] - np.count_nonzero(sound, axis=0)
    if not holes.any():
        return cell_v, {}, 0
    filled_v, sensor, count = cell_v.copy(), {}, 0
    for cell in np.flatnonzero(holes):
        if holes[cell] > MISSING_SHARE * time_s.size:
            sensor[int(cell)] = "drops out"
            filled_v[:, cell] = 0.0
            continue
        good = sound[:, cell]
        filled_v[~good, cell] = np.interp(time_s[~good], time_s[good], cell_v[good, cell])
        count += int(holes[cell])
    return filled_v, sensor, count


def _filled(time_s: Floats, values: Floats) -> Floats:
    """Return values with their holes on the straight line between neighbours."""
    known = np.isfinite(values)
    if known.all() or not known.any():
        return values
    return np.interp(time_s, time_s[known], values[known])


def _resolution_v(cell_v: Floats) -> float:
    """Return the smallest step between readings that occur, zero when they look continuous."""
    some = cell_v[:: max(1, cell_v.shape[0] // 500)]
    values = np.unique(np.round(some[some > 0.0], 6))
    if values.size < 2:  # noqa: PLR2004  (two values make a step)
        return 0.0
    smallest_v = float(np.diff(values).min())
    return smallest_v if smallest_v >= 1e-4 else 0.0  # noqa: PLR2004  (finer than any electronics)


def _temperatures(temperature_c: Floats) -> tuple[Floats, list[Message]]:
    """Return the sensors that read something a pack can be, holes filled."""
    with np.errstate(invalid="ignore"):
        sound = (temperature_c > COLDEST_C) & (temperature_c < HOTTEST_C)
    holes = temperature_c.shape[0] - np.count_nonzero(sound, axis=0)
    keep = np.flatnonzero(holes <= MISSING_SHARE * temperature_c.shape[0])
    rows = np.arange(temperature_c.shape[0], dtype=np.float64)
    filled_c = temperature_c[:, keep].copy()
    for place, sensor in enumerate(keep):
        good = sound[:, sensor]
        filled_c[~good, place] = np.interp(rows[~good], rows[good], filled_c[good, place])
    lost = temperature_c.shape[1] - keep.size
    if not lost:
        return filled_c, []
    text = told("{count} temperature sensors read nothing sensible and were left out.", count=lost)
    return filled_c, [Message("temperature_sensor", text)]
