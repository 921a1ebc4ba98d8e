"""Readings, hypotheses and explanations as arrays.

Here: the records that the posterior is made of, and what an explanation would show at a spot. Not
here: how explanations are found and weighed (posterior.py, localise_weighing.py).
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from packs.physics.localise_draws import Bench, Surroundings, surroundings_of
from packs.physics.localise_priors import SOUND_OHM_LOW
from packs.physics.localise_spots import Display, Spots
from packs.physics.string_frame import Bools, Floats, Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """The readings in numbers.

    Parameters
    ----------
    bench : Bench
        String and instruments.
    spots : Spots
        Where they were taken.
    index : ndarray
        Which readings of the input they are, [-]
    volts : ndarray
        What was shown, [V]
    display : Display
        How far that may be off.
    parts : ndarray
        Module borders that are open in some reading, both ends included, [-]
    inside : ndarray
        Part by reading: whether it belongs to the reading's section; a last row for no part.
    """

    bench: Bench
    spots: Spots
    index: Ints
    volts: Floats
    display: Display
    parts: Ints
    inside: Bools

    def explained_by_sound(self, loose: float) -> Bools:
        """Return which readings sound insulation alone can explain, each for itself.

        Parameters
        ----------
        loose : float
            Factor on all errors, [-]

        Returns
        -------
        explained : ndarray
            Reading by reading; never falsely no.
        """
        unit = np.full((1, self.bench.dimensions()), 0.5)
        around = surroundings_of(self.bench, unit, self.bench.borders_v(unit), self.spots)
        pull = around.share * around.tilt_v[0] / SOUND_OHM_LOW
        most_v = pull / (around.share / SOUND_OHM_LOW + around.load[0])
        low_v, high_v = self.display.bounds(self.volts, loose)
        slack = 1.0 + loose * (self.bench.input_tolerance + self.bench.shunt_tolerance)
        spread_v = 4.0 * self.bench.cell_spread_v * np.sqrt(self.bench.frame.ends_cells[-1])
        least = np.minimum(most_v, 0.0) * slack - spread_v
        most = np.maximum(most_v, 0.0) * slack + spread_v
        return np.asarray((low_v <= most) & (high_v >= least))


@dataclass(frozen=True, slots=True, kw_only=True)
class Hypotheses:
    """Where leaks could be, one array element a hypothesis.

    Parameters
    ----------
    first : ndarray
        Part of the string with a leak, -1 for none, [-]
    second : ndarray
        Part with the second leak, -1 for none, [-]
    without : ndarray
        Reading that is left out, -1 for none, [-]
    prior : ndarray
        Probability before the readings, apart from the modules' own shares, [-]
    """

    first: Ints
    second: Ints
    without: Ints
    prior: Floats

    def where(self, keep: Bools | Ints) -> "Hypotheses":
        """Return some of the hypotheses.

        Parameters
        ----------
        keep : ndarray
            Which: a mask or indices.

        Returns
        -------
        some : Hypotheses
            Those, in that order.
        """
        return Hypotheses(**{name: getattr(self, name)[keep] for name in _OF_HYPOTHESES})

    def without_each(self, which: Ints, left_out: Ints) -> "Hypotheses":
        """Return hypotheses that do without a reading.

        Parameters
        ----------
        which : ndarray
            Hypothesis to take, [-]
        left_out : ndarray
            Reading it does without, [-]

        Returns
        -------
        more : Hypotheses
            One element a pair of these.
        """
        return replace(self.where(which), without=left_out)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """Draws to be weighed, one array element each; the hypothesis, and where it is looked at."""

    hypothesis: Ints
    first: Ints
    second: Ints
    without: Ints
    unit: Floats
    borders_v: Floats
    sound_low: Floats
    sound_high: Floats
    weight: Floats

    def where(self, keep: Bools | Ints) -> "Rows":
        """Return some of the draws."""
        return Rows(**{name: getattr(self, name)[keep] for name in _OF_ROWS})


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    """Explanations, one array element each.

    Parameters
    ----------
    hypothesis : ndarray
        Which hypothesis it belongs to, [-]
    without : ndarray
        Reading that was left out, -1 for none, [-]
    first : ndarray
        Leaking module, -1 for none, [-]
    second : ndarray
        Second leaking module, -1 for none; never below the first, [-]
    first_g : ndarray
        Conductance of the first leak, zero for none, [1/ohm]
    second_g : ndarray
        Conductance of the second leak, zero for none, [1/ohm]
    first_v : ndarray
        Potential of the first leak in its draw, [V]
    second_v : ndarray
        Potential of the second leak in its draw, [V]
    first_at_v : ndarray
        The same in the string as it was given, [V]
    second_at_v : ndarray
        The same in the string as it was given, [V]
    sound : ndarray
        Sound conductance of the whole string, [1/ohm]
    sound_share : ndarray
        Its prior share, see `localise_priors.sound_share`, [-]
    borders_v : ndarray
        Explanation by border: potentials of the draw, [V]
    unit : ndarray
        Explanation by coordinate of the draw, [-]
    weight : ndarray
        Posterior weight, not normalised, [-]
    """

    hypothesis: Ints
    without: Ints
    first: Ints
    second: Ints
    first_g: Floats
    second_g: Floats
    first_v: Floats
    second_v: Floats
    first_at_v: Floats
    second_at_v: Floats
    sound: Floats
    sound_share: Floats
    borders_v: Floats
    unit: Floats
    weight: Floats

    def where(self, keep: Bools | Ints) -> "Points":
        """Return some of the explanations.

        Parameters
        ----------
        keep : ndarray
            Which: a mask or indices.

        Returns
        -------
        some : Points
            Those, weights unchanged.
        """
        return Points(**{name: getattr(self, name)[keep] for name in _OF_POINTS})

    @staticmethod
    def joined(parts: Sequence["Points"]) -> "Points":
        """Return explanations one after the other.

        Parameters
        ----------
        parts : sequence of Points
            At least one.

        Returns
        -------
        whole : Points
            All of them.
        """
        if len(parts) == 1:
            return parts[0]
        return Points(
            **{name: np.concatenate([getattr(part, name) for part in parts]) for name in _OF_POINTS}
        )

    def seen_from(self, spots: Spots) -> tuple[Bools, Bools]:
        """Return which leaks are in the section of each spot.

        Parameters
        ----------
        spots : Spots
            Where it is read.

        Returns
        -------
        has_first, has_second : tuple of ndarray
            Explanation by spot.
        """
        first, second = (
            (module[:, None] >= spots.first) & (module[:, None] < spots.end)
            for module in (self.first, self.second)
        )
        return first, second

    def shown_at(self, around: Surroundings, has_first: Bools, has_second: Bools) -> Floats:
        """Return the settled voltage of every explanation at some spots.

        Parameters
        ----------
        around : Surroundings
            What is read through, explanation by spot.
        has_first : ndarray
            Explanation by spot: whether the first leak is in the section.
        has_second : ndarray
            Explanation by spot: whether the second leak is in the section.

        Returns
        -------
        true_v : ndarray
            Explanation by spot, [V]

        Notes
        -----
        The section formula, see `circuit.section_reading`.
        """
        first_g = np.where(has_first, self.first_g[:, None], 0.0)
        second_g = np.where(has_second, self.second_g[:, None], 0.0)
        own = self.sound[:, None] * around.share
        current = own * around.tilt_v
        current += first_g * (around.node_v - self.first_v[:, None])
        current += second_g * (around.node_v - self.second_v[:, None])
        return np.asarray(current / (first_g + second_g + own + around.load))


_OF_HYPOTHESES = tuple(each.name for each in fields(Hypotheses))
_OF_ROWS = tuple(each.name for each in fields(Rows))
_OF_POINTS = tuple(each.name for each in fields(Points))
