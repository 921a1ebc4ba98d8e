"""What is believed before any reading: how large leaks are, and how good sound insulation is.

Here: the ranges and their distributions. Not here: which module leaks (string_frame.py) and how
many leaks there are (the input).
"""

import numpy as np

from packs.physics.string_frame import Floats

LEAK_OHM_LOW, LEAK_OHM_HIGH = 100.0, 1.0e7
"""Range of leaks considered, log-uniform, [ohm]; the upper end is where sound insulation begins."""
SOUND_OHM_LOW, SOUND_OHM_HIGH = 1.0e7, 1.0e9
"""Range of the whole string's sound insulation, log-uniform, [ohm]."""
BEST_OHM_HIGH, BEST_PRIOR = 1.0e12, 0.02
"""Insulation better than that range: up to where, [ohm], and how likely before any reading, [-]."""
LEAK_SPAN = float(np.log(LEAK_OHM_HIGH / LEAK_OHM_LOW))
"""Width of the range of leaks in natural logarithms, [-]."""

_EDGES = -np.log([BEST_OHM_HIGH, SOUND_OHM_HIGH, SOUND_OHM_LOW])
_SHARES = np.array([0.0, BEST_PRIOR, 1.0])


def sound_share(sound: Floats) -> Floats:
    """Return the prior share of strings whose insulation conducts less.

    Parameters
    ----------
    sound : ndarray
        Sound conductance of the whole string, zero and infinite allowed, [1/ohm]

    Returns
    -------
    share : ndarray
        Within 0 and 1, [-]

    Notes
    -----
    Two log-uniform ranges: usual insulation with 98 %, better with 2 % (shop default, no source).

    Examples
    --------
    >>> sound_share(np.array([1.0e-12, 1.0e-9, 1.0e-7])).round(2).tolist()
    [0.0, 0.02, 1.0]
    """
    with np.errstate(divide="ignore"):
        logs = np.log(np.maximum(sound, 0.0))
    return np.asarray(np.interp(logs, _EDGES, _SHARES))


def sound_at(share: Floats) -> Floats:
    """Return the sound conductance below which a prior share of strings lies.

    Parameters
    ----------
    share : ndarray
        Within 0 and 1, [-]

    Returns
    -------
    sound : ndarray
        Of the whole string, [1/ohm]

    Notes
    -----
    The inverse of `sound_share`.

    Examples
    --------
    >>> (1.0 / sound_at(np.array([0.51]))).round(-6).tolist()
    [100000000.0]
    """
    return np.asarray(np.exp(np.interp(share, _SHARES, _EDGES)))
