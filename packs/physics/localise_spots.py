"""Where voltages are read, and what a figure on the display says of the true voltage.

Here: the spots of readings as arrays, and how well a true voltage fits what was shown. Not here:
the string itself (string_frame.py) and the leaks (posterior.py).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from packs.physics.instrument import Meter
from packs.physics.localise_case import Reading
from packs.physics.string_frame import Floats, Ints, StringFrame

_SELDOM = 0.03
"""Share of errors that may reach half a digit beyond the allowance, rounding counted twice."""
_LEAST_V = 1.0e-9
"""Width given to a display that claims to make no error, [V]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spots:
    """Where and with which load voltages are read, one array element a spot.

    Parameters
    ----------
    node : ndarray
        Module border that the lead is on, [-]
    first : ndarray
        First module of the section, [-]
    end : ndarray
        Module after the last of the section, [-]
    shunt_g : ndarray
        Conductance printed on the shunt, zero without, [1/ohm]
    """

    node: Ints
    first: Ints
    end: Ints
    shunt_g: Floats

    def where(self, keep: Ints | Sequence[int]) -> "Spots":
        """Return some of the spots.

        Parameters
        ----------
        keep : ndarray or sequence of int
            Which, [-]

        Returns
        -------
        some : Spots
            Those, in that order.
        """
        rows = np.asarray(keep, dtype=np.int64)
        return Spots(
            node=self.node[rows],
            first=self.first[rows],
            end=self.end[rows],
            shunt_g=self.shunt_g[rows],
        )

    def borders(self) -> Ints:
        """Return every module border that the spots name, and those next to their nodes.

        Returns
        -------
        borders : ndarray
            May repeat and run past the string's ends by one, [-]
        """
        return np.concatenate([self.node - 1, self.node, self.node + 1, self.first, self.end])


def spots_of(frame: StringFrame, readings: Sequence[Reading]) -> Spots:
    """Return the spots of readings.

    Parameters
    ----------
    frame : StringFrame
        The modules.
    readings : sequence of Reading
        What was read.

    Returns
    -------
    spots : Spots
        One element a reading.

    Notes
    -----
    Sections reach from one open link to the next, see `StringFrame.section`.
    """
    sections = [frame.section(each, each.open_after) for each in readings]
    return Spots(
        node=np.array([frame.node(each) for each in readings], dtype=np.int64),
        first=np.array([first for first, _ in sections], dtype=np.int64),
        end=np.array([end for _, end in sections], dtype=np.int64),
        shunt_g=np.array([1.0 / each.shunt_ohm if each.shunt_ohm else 0.0 for each in readings]),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Display:
    """How far the figures of a voltmeter may be from the truth.

    Parameters
    ----------
    share : float
        Error as a share of the true voltage, [-]
    counts_v : float
        Error on top of that, [V]
    step_v : float
        One step of the last digit, [V]
    """

    share: float
    counts_v: float
    step_v: float

    def bounds(self, shown_v: Floats, loose: float = 1.0) -> tuple[Floats, Floats]:
        """Return the true voltages that could have been shown so.

        Parameters
        ----------
        shown_v : ndarray
            Figures, signed, [V]
        loose : float
            Factor on all errors, 1 for what the meter's maker promises, [-]

        Returns
        -------
        low_v, high_v : tuple of ndarray
            Nothing outside fits at all, [V]

        Notes
        -----
        ``shown = v + share |v| e + rest`` solved for v at both ends of the errors.
        """
        rest_v = loose * (self.counts_v + self.step_v) + _LEAST_V
        share = min(loose * self.share, 0.9)
        low, high = shown_v - rest_v, shown_v + rest_v
        return (
            np.where(low > 0.0, low / (1.0 + share), low / (1.0 - share)),
            np.where(high > 0.0, high / (1.0 - share), high / (1.0 + share)),
        )

    def fit(self, shown_v: Floats, true_v: Floats, loose: float = 1.0) -> Floats:
        """Return how well true voltages fit what was shown.

        Parameters
        ----------
        shown_v : ndarray
            Figures, signed, [V]
        true_v : ndarray
            What would have to be true, [V]
        loose : float
            Factor on all errors, [-]

        Returns
        -------
        fit : ndarray
            1 inside the allowance, 0 outside, falling over the last digit, [-]

        Notes
        -----
        A rectangle of the allowance spread by a rectangle of the last digit (rounding); three
        parts in a hundred with the rounding counted twice, as where the allowance includes it
        already. Source: JCGM 100:2008, clause 4.3.7.
        """
        error_v = np.abs(shown_v - true_v)
        half_v = loose * (self.share * np.abs(true_v) + self.counts_v) + _LEAST_V
        step_v = loose * self.step_v
        left_v = half_v + 0.5 * step_v - error_v
        usual = np.clip(left_v / np.minimum(step_v, 2.0 * half_v), 0.0, 1.0)
        seldom = np.clip((left_v + 0.5 * step_v) / step_v, 0.0, 1.0)
        return np.asarray((1.0 - _SELDOM) * usual + _SELDOM * seldom)


def display_of(meter: Meter) -> Display:
    """Return the display of a voltmeter.

    Parameters
    ----------
    meter : Meter
        Its data sheet.

    Returns
    -------
    display : Display
        The same in other words.

    Notes
    -----
    The maker's two terms and the last digit. Source: JCGM 100:2008, clause 4.3.7.
    """
    return Display(
        share=meter.accuracy_percent / 100.0,
        counts_v=meter.accuracy_counts * meter.resolution_v,
        step_v=meter.resolution_v,
    )
