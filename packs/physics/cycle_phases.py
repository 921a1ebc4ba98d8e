"""What the string did: rests, charge counted, charge lost in gaps, ends of the charge.

Here: from the current alone, with the rested voltages read off at each rest. Not here: the
capacity (cycle_capacity.py), nor any judgement.
"""

import math
from dataclasses import dataclass

import numpy as np

from packs.physics.cycle_case import Floats
from packs.physics.cycle_channels import Channels, Flags, Rows

SECONDS_PER_HOUR = 3600.0
GAIN_SHARE = 0.01
"""Rectangular half-width of an unknown current sensor's gain: shop default, no source."""
BLIND_OFFSET_SHARE = 0.002
"""Half-width of its offset, of the largest current, when no rest shows it: shop default."""
REST_SHARE = 0.01
NEAR_ZERO_SHARE = 0.015
LEAST_REST_A, MOST_REST_A = 0.1, 2.0
"""Below one percent of the largest current, within these bounds, the string rests."""
SHORTEST_REST_S = 120.0
FEWEST_REST_ROWS = 3
"""A shorter stop is no rest: shop default, no source. The log's first row counts always."""
USED_REST_S = 600.0
UNFINISHED_V = 0.001
FINISHED_S = 3600.0
"""A cell may still be 1 mV off after an hour, growing with the root of time: shop default."""
REST_BROKEN_V = 0.005
"""Rests on both sides of a gap that differ by more: something ran meanwhile. Shop default."""
SHORTEST_CHARGE_S = 300.0
"""A charge of less than five minutes has no end worth looking at: shop default, no source."""
END_ROWS = 5
LONGEST_GAP_S = 3600.0
GAP_REACH = 3.0
GAP_PLACES = 60
TRIM_SHARE = 0.2
SHARP_SHARE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """One pause of the current, and what the cells came to.

    Parameters
    ----------
    start, stop : int
        First row and the row after the last.
    cell_v : ndarray
        Of each cell over the last third, spikes left out, [V]
    median_v : float
        Of the trusted cells, [V]
    unfinished_v : float
        How far the voltages may still be from their end, a half-width, [V]
    noise_v : float
        Standard deviation of each cell's mean, [V]
    duration_s : float
        Length of the pause, [s]
    """

    start: int
    stop: int
    cell_v: Floats
    median_v: float
    unfinished_v: float
    noise_v: float
    duration_s: float

    @property
    def row(self) -> int:
        """Return a row inside, at which charge is counted."""
        return self.stop - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """Charge between two rows, with what it may be off.

    Parameters
    ----------
    charge_ah : float
        Positive when the string was charged, [Ah]
    normal_ah : float
        Standard deviation from offset, noise and sampling, [Ah]
    gap_ah : float
        Half-width from gaps, [Ah]
    lost : bool
        Whether a gap lost a charge that cannot be bounded.
    """

    charge_ah: float
    normal_ah: float
    gap_ah: float
    lost: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Phases:
    """The current as it was understood.

    Parameters
    ----------
    current_a : ndarray
        Rows, offset taken out, [A]
    resting : ndarray
        Rows without a current.
    rests : tuple of Rest
        Long enough to be read, in time order.
    count_ah : ndarray
        Rows: charge since the first row, gaps bridged, [Ah]
    offset_a : float
        What the sensor shows without a current, with its standard deviation, [A]
    largest_a : float
        Size of the strongest current that occurs in more than single rows, [A]
    """

    time_s: Floats
    current_a: Floats
    resting: Flags
    rests: tuple[Rest, ...]
    count_ah: Floats
    square_ah: Floats
    gap_ah: Floats
    lost: Floats
    offset_a: float
    offset_u_a: float
    largest_a: float

    def between(self, first: int, last: int) -> Counted:
        """Return the charge between two rows.

        Parameters
        ----------
        first, last : int
            Rows.

        Returns
        -------
        counted : Counted
            With what it may be off.

        Notes
        -----
        Trapezoids. A current that switches somewhere between two rows errs by
        ``|dI| dt/sqrt(12)``, independently each time.
        """
        hours = (self.time_s[last] - self.time_s[first]) / SECONDS_PER_HOUR
        square = float(self.square_ah[last] - self.square_ah[first])
        return Counted(
            charge_ah=float(self.count_ah[last] - self.count_ah[first]),
            normal_ah=math.hypot(math.sqrt(max(square, 0.0)), self.offset_u_a * hours),
            gap_ah=float(self.gap_ah[last] - self.gap_ah[first]),
            lost=bool(self.lost[last] > self.lost[first]),
        )


def phases_of(channels: Channels) -> Phases:
    """Return rests and counted charge of a log.

    Parameters
    ----------
    channels : Channels
        Without holes.

    Returns
    -------
    phases : Phases
        Rests, charge and the offset of the current sensor.

    Notes
    -----
    A rest is at least 120 s and three rows below one percent of the largest current. Its voltages
    are the trimmed mean of its last third; they may be off by what that third differs from the
    third before, and by 1 mV times the root of an hour over its length (shop defaults). The
    sensor's offset is what it shows at rest. Charge in a gap is taken from what spans of the same
    length carried close by; a gap above an hour, or between two rests that differ by 5 mV, is lost.
    """
    largest_a = float(np.quantile(np.abs(channels.current_a), 0.995))
    resting, offset_a, offset_u_a = _resting(channels, largest_a)
    current_a = channels.current_a - offset_a
    step_h = np.diff(channels.time_s) / SECONDS_PER_HOUR
    counted_ah = (current_a[1:] + current_a[:-1]) / 2.0 * step_h
    change_a = np.abs(np.diff(current_a))
    sharp = np.where(change_a > SHARP_SHARE * largest_a, change_a, 0.0)
    square = (sharp * step_h) ** 2 / 12.0
    gap_ah, lost = np.zeros(step_h.size), np.zeros(step_h.size)
    for place in np.flatnonzero(channels.gap):
        square[place] = 0.0
        bridged = _bridged(channels, current_a, resting, int(place))
        if bridged is None:
            lost[place] = 1.0
        else:
            counted_ah[place], gap_ah[place] = bridged
    return Phases(
        time_s=channels.time_s,
        current_a=current_a,
        resting=resting,
        rests=_rests(channels, resting),
        count_ah=_running(counted_ah),
        square_ah=_running(square),
        gap_ah=_running(gap_ah),
        lost=_running(lost),
        offset_a=offset_a,
        offset_u_a=offset_u_a,
        largest_a=largest_a,
    )


def trimmed_mean(values: Floats) -> Floats:
    """Return the mean of each column without its lowest and highest fifth.

    Parameters
    ----------
    values : ndarray
        Rows by columns, [any unit]

    Returns
    -------
    mean : ndarray
        One for each column, [same unit]

    Notes
    -----
    With fewer than five rows the median is taken.

    Examples
    --------
    >>> trimmed_mean(np.array([[1.0], [1.1], [9.0], [1.2], [1.1]])).round(3).tolist()
    [1.133]
    """
    cut = int(TRIM_SHARE * values.shape[0])
    if cut == 0:
        return np.asarray(np.median(values, axis=0))
    return np.asarray(np.sort(values, axis=0)[cut:-cut].mean(axis=0))


def charge_run(channels: Channels, phases: Phases) -> Rows | None:
    """Return the rows of the charge that ends highest.

    Parameters
    ----------
    channels : Channels
        Without holes.
    phases : Phases
        The current, offset taken out.

    Returns
    -------
    rows : ndarray of int | None
        None without a charge, [-]

    Notes
    -----
    A charge is five minutes of charging current without a pause (shop default, no source); what a
    drive recovers is shorter.
    """
    charging = (phases.current_a > 0.0) & ~phases.resting
    edges = np.flatnonzero(np.diff(np.r_[False, charging, False].astype(np.int8)))
    best: tuple[float, Rows] | None = None
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        if channels.time_s[stop - 1] - channels.time_s[start] < SHORTEST_CHARGE_S:
            continue
        end_v = float(np.median(channels.median_v[max(start, stop - END_ROWS) : stop]))
        if best is None or end_v > best[0]:
            best = end_v, np.arange(start, stop)
    return None if best is None else best[1]


def _running(values: Floats) -> Floats:
    """Return the running sum, beginning with zero."""
    return np.concatenate(([0.0], np.cumsum(values)))


def _resting(channels: Channels, largest_a: float) -> tuple[Flags, float, float]:
    """Return the rows without a current, and the sensor's offset with its uncertainty."""
    allowed_a = min(max(REST_SHARE * largest_a, LEAST_REST_A), MOST_REST_A)
    near = np.abs(channels.current_a) <= max(NEAR_ZERO_SHARE * largest_a, LEAST_REST_A)
    if not near.any():
        return near, 0.0, BLIND_OFFSET_SHARE * largest_a / math.sqrt(3.0)
    centre_a = float(np.median(channels.current_a[near]))
    resting = np.abs(channels.current_a - centre_a) <= allowed_a
    long = [run for run in _runs(resting) if _is_long(channels, *run)]
    if not long:
        return resting, 0.0, BLIND_OFFSET_SHARE * largest_a / math.sqrt(3.0)
    # The rows beside a current may have caught the switching.
    inner = np.concatenate([channels.current_a[start + 1 : stop - 1] for start, stop in long])
    means_a = [float(channels.current_a[start + 1 : stop - 1].mean()) for start, stop in long]
    noise_a = float(inner.std()) / math.sqrt(inner.size)
    apart_a = float(np.std(means_a)) / math.sqrt(len(means_a)) if len(means_a) > 1 else 0.0
    return resting, float(inner.mean()), max(noise_a, apart_a)


def _runs(flags: Flags) -> list[tuple[int, int]]:
    """Return first rows and rows after the last of the runs that are true."""
    edges = np.flatnonzero(np.diff(np.r_[False, flags, False].astype(np.int8)))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def _is_long(channels: Channels, start: int, stop: int) -> bool:
    """Tell whether a pause is long enough to be read."""
    enough = stop - start >= FEWEST_REST_ROWS
    return enough and channels.time_s[stop - 1] - channels.time_s[start] >= SHORTEST_REST_S


def _rests(channels: Channels, resting: Flags) -> tuple[Rest, ...]:
    """Read the voltages of the pauses; a gap with other voltages behind it ends a pause."""
    found = []
    for start, stop in _runs(resting):
        broken = [
            int(place) + 1
            for place in np.flatnonzero(channels.gap[start : stop - 1]) + start
            if _is_broken(channels, int(place))
        ]
        for first, last in zip([start, *broken], [*broken, stop], strict=True):
            if first == 0 or _is_long(channels, first, last):
                found.append(_rest(channels, first, last))
    return tuple(found)


def _is_broken(channels: Channels, place: int) -> bool:
    """Tell whether something ran in a gap between two rows at rest."""
    moved_v = abs(float(channels.median_v[place + 1] - channels.median_v[place]))
    return moved_v > REST_BROKEN_V + 2.0 * channels.noise_v + channels.resolution_v


def _rest(channels: Channels, start: int, stop: int) -> Rest:
    """Read one pause."""
    times_s = channels.time_s[start:stop]
    duration_s = float(times_s[-1] - times_s[0])
    used_s = min(duration_s / 3.0, USED_REST_S)
    first = start + int(np.searchsorted(times_s, times_s[-1] - used_s))
    first = max(start, min(first, stop - FEWEST_REST_ROWS))
    before = start + int(np.searchsorted(times_s, times_s[-1] - 2.0 * used_s))
    cell_v = trimmed_mean(channels.cell_v[first:stop])
    drift_v = 0.0
    if before < first:
        earlier_v, later_v = channels.median_v[before:first], channels.median_v[first:stop]
        drift_v = abs(float(later_v.mean() - earlier_v.mean()))
    wait_s = max(duration_s, channels.step_s)
    return Rest(
        start=start,
        stop=stop,
        cell_v=cell_v,
        median_v=float(np.median(cell_v[channels.trusted])),
        unfinished_v=drift_v + UNFINISHED_V * math.sqrt(FINISHED_S / wait_s),
        noise_v=channels.noise_v / math.sqrt(stop - first),
        duration_s=duration_s,
    )


def _bridged(
    channels: Channels, current_a: Floats, resting: Flags, place: int
) -> tuple[float, float] | None:
    """Return charge in a gap and its half-width, or nothing when it cannot be bounded."""
    time_s = channels.time_s
    start_s, stop_s = float(time_s[place]), float(time_s[place + 1])
    length_s = stop_s - start_s
    if length_s > LONGEST_GAP_S:
        return None
    if resting[place] and resting[place + 1] and _is_broken(channels, place):
        return None
    spans_a = [(current_a[place] + current_a[place + 1]) / 2.0]
    before = slice(int(np.searchsorted(time_s, start_s - GAP_REACH * length_s)), place + 1)
    after = slice(place + 1, int(np.searchsorted(time_s, stop_s + GAP_REACH * length_s, "right")))
    for side in (before, after):
        spans_a += _spans_a(time_s[side], current_a[side], length_s)
    middle_a, half_a = (max(spans_a) + min(spans_a)) / 2.0, (max(spans_a) - min(spans_a)) / 2.0
    if len(spans_a) == 1:
        half_a = max(abs(float(current_a[place])), abs(float(current_a[place + 1])))
    hours = length_s / SECONDS_PER_HOUR
    return float(middle_a) * hours, float(half_a) * hours


def _spans_a(time_s: Floats, current_a: Floats, length_s: float) -> list[float]:
    """Return the mean currents of spans of a length, all within some rows."""
    room_s = float(time_s[-1] - time_s[0]) - length_s if time_s.size > 1 else -1.0
    if room_s < 0.0:
        return [float(current_a.mean())] if time_s.size > 1 else []
    charge = _running((current_a[1:] + current_a[:-1]) / 2.0 * np.diff(time_s))
    starts_s = time_s[0] + np.linspace(0.0, room_s, GAP_PLACES)
    carried = np.interp(starts_s + length_s, time_s, charge) - np.interp(starts_s, time_s, charge)
    return [float(value) for value in carried / length_s]
