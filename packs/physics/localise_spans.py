"""What readings leave open to the leaks of their section, draw by draw.

Here: for a given sound conductance every reading is a strip between two straight lines in the
plane of potential and resistance of the leaks, and what is common to several strips is found here.
Not here: which leaks are thought of and how they are weighed (posterior.py).
"""

from dataclasses import dataclass

import numpy as np

from packs.physics.localise_draws import Surroundings
from packs.physics.string_frame import Bools, Floats

_STEPS = 4
_NOWHERE = 1.0e18


@dataclass(frozen=True, slots=True)
class Strips:
    """Strips of potential, draw by reading: ``low_0 + low_1 r <= V <= high_0 + high_1 r``.

    r is the resistance of the leaks in the section together and V their mean potential, weighted
    by conductance.
    """

    low_0: Floats
    low_1: Floats
    high_0: Floats
    high_1: Floats

    def among(self, used: Bools, low_v: Floats, high_v: Floats) -> "Strips":
        """Return the strips of some readings, and one more for the ends of the modules.

        Parameters
        ----------
        used : ndarray
            Draw by reading: whether its strip counts.
        low_v : ndarray
            Lower end of the modules, draw by draw, [V]
        high_v : ndarray
            Upper end of the modules, draw by draw, [V]

        Returns
        -------
        strips : Strips
            One column more; those not used leave everything open.
        """
        flat = np.zeros_like(low_v)
        return Strips(
            np.column_stack([np.where(used, self.low_0, -np.inf), low_v]),
            np.column_stack([np.where(used, self.low_1, 0.0), flat]),
            np.column_stack([np.where(used, self.high_0, np.inf), high_v]),
            np.column_stack([np.where(used, self.high_1, 0.0), flat]),
        )

    def beside(self, seen: Bools, other_g: Floats, other_v: Floats) -> "Strips":
        """Return what a known leak in the same section leaves to another, as currents.

        Parameters
        ----------
        seen : ndarray
            Draw by reading: whether the known leak is in its section.
        other_g : ndarray
            Its conductance, draw by draw, [1/ohm]
        other_v : ndarray
            Its potential, draw by draw, [V]

        Returns
        -------
        strips : Strips
            Of the other leak's conductance times its potential, along its conductance.

        Notes
        -----
        A strip times the conductance of all leaks is linear: ``low_0 (g + g') + low_1 <= g V + g'
        V'``.
        """
        known_g = np.where(seen, other_g[:, None], 0.0)
        known_a = known_g * other_v[:, None]
        return Strips(
            self.low_1 + self.low_0 * known_g - known_a,
            self.low_0,
            self.high_1 + self.high_0 * known_g - known_a,
            self.high_0,
        )

    def among_currents(self, used: Bools, low_v: Floats, high_v: Floats) -> "Strips":
        """Return the strips of some readings along a conductance, and one for the module's ends.

        Parameters
        ----------
        used : ndarray
            Draw by reading: whether its strip counts.
        low_v : ndarray
            Lower end of the modules, draw by draw, [V]
        high_v : ndarray
            Upper end of the modules, draw by draw, [V]

        Returns
        -------
        strips : Strips
            One column more; those not used leave everything open.
        """
        nothing = np.zeros_like(low_v)
        return Strips(
            np.column_stack([np.where(used, self.low_0, -np.inf), nothing]),
            np.column_stack([np.where(used, self.low_1, 0.0), low_v]),
            np.column_stack([np.where(used, self.high_0, np.inf), nothing]),
            np.column_stack([np.where(used, self.high_1, 0.0), high_v]),
        )

    def at(self, resistance: Floats) -> tuple[Floats, Floats]:
        """Return the potentials common to all strips at a resistance.

        Parameters
        ----------
        resistance : ndarray
            Draw by draw, [ohm]

        Returns
        -------
        low_v, high_v : tuple of ndarray
            Empty where the lower end is above the upper one, [V]
        """
        along = resistance[:, None]
        low = (self.low_0 + self.low_1 * along).max(axis=1)
        high = (self.high_0 + self.high_1 * along).min(axis=1)
        return low, high

    def resistances(self, least: Floats, most: Floats) -> tuple[Floats, Floats]:
        """Return the resistances at which the strips have something in common.

        Parameters
        ----------
        least : ndarray
            Smallest thought of, draw by draw, [ohm]
        most : ndarray
            Largest thought of, draw by draw, [ohm]

        Returns
        -------
        least, most : tuple of ndarray
            Never too narrow; the smallest above the largest where there is none, [ohm]

        Notes
        -----
        The common width is a concave function of the resistance, made of straight pieces. Newton's
        method from both ends steps along the piece that holds there and never past the zero.
        """
        for _ in range(_STEPS):
            least = self._inward(least, most, upward=True)
            most = self._inward(most, least, upward=False)
        return least, most

    def _inward(self, here: Floats, other: Floats, *, upward: bool) -> Floats:
        """Step from one end to where the piece that holds there gives a common width."""
        rows = np.arange(len(here))
        low = self.low_0 + self.low_1 * here[:, None]
        high = self.high_0 + self.high_1 * here[:, None]
        lowest, highest = low.argmax(axis=1), high.argmin(axis=1)
        width = high[rows, highest] - low[rows, lowest]
        out = (width < 0.0) & ((here <= other) if upward else (here >= other))
        if not out.any():
            return here
        slope = self.high_1[rows, highest] - self.low_1[rows, lowest]
        beyond = _NOWHERE if upward else -_NOWHERE
        helps = slope > 0.0 if upward else slope < 0.0
        step = here - width / np.where(helps, slope, 1.0)
        moved = np.clip(np.where(helps, step, beyond), -_NOWHERE, _NOWHERE)
        return np.where(out, moved, here)


def strips_of(surroundings: Surroundings, sound: Floats, low_v: Floats, high_v: Floats) -> Strips:
    """Return the strip of each reading in each draw.

    Parameters
    ----------
    surroundings : Surroundings
        What is read through.
    sound : ndarray
        Sound conductance of the whole string, draw by draw, [1/ohm]
    low_v : ndarray
        Lowest true voltage of each reading, [V]
    high_v : ndarray
        Highest true voltage of each reading, [V]

    Returns
    -------
    strips : Strips
        Draw by reading.

    Notes
    -----
    The section formula ``v (1/r + B f + L) = (V_a - V)/r + B f (V_a - V_mid)``, with f the
    section's share of the cells and L the load, solved for V. Source: Kirchhoff's laws.
    """
    own = sound[:, None] * surroundings.share
    pull = own * surroundings.tilt_v
    whole = own + surroundings.load
    return Strips(
        surroundings.node_v - high_v,
        pull - high_v * whole,
        surroundings.node_v - low_v,
        pull - low_v * whole,
    )


def sound_span(
    surroundings: Surroundings, leakless: Bools, low_v: Floats, high_v: Floats
) -> tuple[Floats, Floats]:
    """Return the sound conductances that explain the readings in sections without a leak.

    Parameters
    ----------
    surroundings : Surroundings
        What is read through.
    leakless : ndarray
        Draw by reading: whether its section has no leak.
    low_v : ndarray
        Lowest true voltage of each reading, [V]
    high_v : ndarray
        Highest true voltage of each reading, [V]

    Returns
    -------
    least, most : tuple of ndarray
        Draw by draw; the least above the most where there is none, [1/ohm]

    Notes
    -----
    ``B f (V_a - V_mid - v) = v L``: for each end of v one bound of B.
    """
    least = np.zeros(leakless.shape)
    most = np.full(leakless.shape, np.inf)
    for end_v, upward in ((high_v, True), (low_v, False)):
        factor = surroundings.share * (surroundings.tilt_v - end_v)
        needed = end_v * surroundings.load
        factor, needed = (factor, needed) if upward else (-factor, -needed)
        with np.errstate(divide="ignore", invalid="ignore"):
            edge = needed / factor
        most = np.where(factor > 0.0, np.minimum(most, edge), most)
        least = np.where(factor < 0.0, np.maximum(least, edge), least)
        least = np.where((factor == 0.0) & (needed < 0.0), np.inf, least)
    least = np.where(leakless, least, 0.0).max(axis=1)
    most = np.where(leakless, most, np.inf).min(axis=1)
    return least, most
