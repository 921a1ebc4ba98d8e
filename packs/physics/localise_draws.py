"""Evenly spread draws of everything that is not a leak: meter, shunts, cell voltages.

Here: points of the unit cube, and the surroundings of a leak that they stand for. No chance: the
same case is always looked at in the same places. Not here: the leaks themselves (posterior.py).
"""

from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from packs.physics.localise_spots import Spots
from packs.physics.string_frame import Floats, Ints, StringFrame

METER, SOUND, ORDER, FIRST_G, SECOND_G, FIRST_V, SECOND_V, FIRST_CELLS, SECOND_CELLS = range(9)
"""What the first coordinates of a draw stand for; shunts and module borders follow."""
_SHUNTS = 4
_FIRST_SHUNT = 9
_PLAIN = _FIRST_SHUNT + _SHUNTS
NUISANCES = (METER, *range(_FIRST_SHUNT, _PLAIN))
"""Coordinates of the instruments, shared by all readings."""
_TAIL = 1.0e-4
_TABLE = 2001


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """The string on the bench and the instruments on it, as far as draws need them.

    Parameters
    ----------
    frame : StringFrame
        The modules.
    borders : ndarray
        Module borders whose potential matters, ascending, both ends included, [-]
    input_g : float
        Conductance of the meter, [1/ohm]
    input_tolerance : float
        Rectangular half-width of its resistance, [-]
    shunt_tolerance : float
        Rectangular half-width of every shunt, [-]
    cell_spread_v : float
        Standard deviation of the cells about their given voltages, [V]
    shunts_g : ndarray
        Every shunt there is, [1/ohm]
    """

    frame: StringFrame
    borders: Ints
    input_g: float
    input_tolerance: float
    shunt_tolerance: float
    cell_spread_v: float
    shunts_g: Floats

    def dimensions(self) -> int:
        """Return how many coordinates a draw has.

        Returns
        -------
        dimensions : int
            Coordinates, [-]
        """
        return _PLAIN + len(self.borders) - 1

    def borders_v(self, unit: Floats) -> Floats:
        """Return the potential of each border in each draw.

        Parameters
        ----------
        unit : ndarray
            Draw by coordinate, [-]

        Returns
        -------
        borders_v : ndarray
            Draw by border, from pack negative, [V]

        Notes
        -----
        Between two borders n cells add up: a bell of ``sqrt(n)`` times the cells' own spread.
        """
        cells = np.diff(self.frame.ends_cells[self.borders])
        steps_v = np.diff(self.frame.ends_v[self.borders])
        spread_v = self.cell_spread_v * np.sqrt(cells)
        steps_v = steps_v + spread_v * bells(unit[:, _PLAIN:])
        steps_v = np.maximum(steps_v, 1.0e-6 * np.diff(self.frame.ends_v[self.borders]))
        whole = np.zeros((len(unit), len(self.borders)))
        np.cumsum(steps_v, axis=1, out=whole[:, 1:])
        return whole

    def loads(self, unit: Floats, spots: Spots) -> Floats:
        """Return what meter and shunt put across each spot in each draw.

        Parameters
        ----------
        unit : ndarray
            Draw by coordinate, [-]
        spots : Spots
            Where it is read.

        Returns
        -------
        loads : ndarray
            Draw by spot, [1/ohm]

        Notes
        -----
        One meter for all readings, one resistor for all readings with the same shunt.
        """
        meter = self.input_g / (1.0 + self.input_tolerance * (2.0 * unit[:, [METER]] - 1.0))
        which = _FIRST_SHUNT + np.minimum(
            np.searchsorted(self.shunts_g, spots.shunt_g), _SHUNTS - 1
        )
        off = self.shunt_tolerance * (2.0 * unit[:, which] - 1.0)
        return np.asarray(meter + spots.shunt_g / (1.0 + off))


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a leak is read through, draw by spot.

    Parameters
    ----------
    node_v : ndarray
        Potential of the node, [V]
    tilt_v : ndarray
        The same less the middle of the section, [V]
    share : ndarray
        The section's share of the string's sound conductance, spot by spot, [-]
    load : ndarray
        Conductance of meter and shunt, [1/ohm]
    """

    node_v: Floats
    tilt_v: Floats
    share: Floats
    load: Floats


def surroundings_of(bench: Bench, unit: Floats, borders_v: Floats, spots: Spots) -> Surroundings:
    """Return what leaks are read through at some spots.

    Parameters
    ----------
    bench : Bench
        String and instruments.
    unit : ndarray
        Draw by coordinate, [-]
    borders_v : ndarray
        Draw by border, see `Bench.borders_v`, [V]
    spots : Spots
        Where it is read.

    Returns
    -------
    surroundings : Surroundings
        Draw by spot.

    Notes
    -----
    The middle of a section is the mean of its ends: sound insulation is spread evenly over cells.
    Its share of the string's conductance is its share of the cells.
    """
    at = np.searchsorted(bench.borders, np.stack([spots.node, spots.first, spots.end]))
    node_v = borders_v[:, at[0]]
    cells = bench.frame.ends_cells
    return Surroundings(
        node_v=node_v,
        tilt_v=node_v - 0.5 * (borders_v[:, at[1]] + borders_v[:, at[2]]),
        share=(cells[spots.end] - cells[spots.first]) / float(cells[-1]),
        load=bench.loads(unit, spots),
    )


@lru_cache(maxsize=4)
def unit_points(count: int, dimensions: int) -> Floats:
    """Return points spread evenly over a unit cube, always the same ones.

    Parameters
    ----------
    count : int
        Points, [-]
    dimensions : int
        Coordinates of each, [-]

    Returns
    -------
    points : ndarray
        Point by coordinate, each within 0 and 1, [-]

    Notes
    -----
    Richtmyer's sequence: multiples of the square roots of the primes, less their whole part.

    Examples
    --------
    >>> unit_points(2, 2).round(3).tolist()
    [[0.914, 0.232], [0.328, 0.964]]
    """
    numbers = np.arange(1, count + 1, dtype=float)[:, None]
    points = (0.5 + numbers * np.sqrt(_primes(dimensions))) % 1.0
    points.setflags(write=False)
    return np.asarray(points)


def _primes(count: int) -> Floats:
    """List the first primes."""
    bound = 20 + 20 * count
    sieve = np.ones(bound, dtype=np.bool_)
    sieve[:2] = False
    for number in range(2, int(bound**0.5) + 1):
        if sieve[number]:
            sieve[number * number :: number] = False
    return np.flatnonzero(sieve)[:count].astype(float)


@lru_cache(maxsize=1)
def _bell_table() -> tuple[Floats, Floats]:
    """Quantiles of a bell of standard deviation one."""
    shares = np.linspace(_TAIL, 1.0 - _TAIL, _TABLE)
    normal = NormalDist()
    return shares, np.array([normal.inv_cdf(float(share)) for share in shares])


def bells(unit: Floats) -> Floats:
    """Return bell-shaped numbers of standard deviation one for evenly spread ones.

    Parameters
    ----------
    unit : ndarray
        Within 0 and 1, [-]

    Returns
    -------
    bells : ndarray
        Their normal quantiles, cut off where one in ten thousand lies beyond, [-]

    Notes
    -----
    Quantiles of the normal distribution from a table of 2001 values, straight between them.

    Examples
    --------
    >>> bells(np.array([0.5, 0.975])).round(2).tolist()
    [0.0, 1.96]
    """
    return np.interp(unit, *_bell_table())
