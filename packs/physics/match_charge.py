"""Roughly how far the charge of spares is from the string's, by the curves of the chemistry.

Here: the estimate for many spares at once. Not here: the interval and the work, which are the
business of the calculation charge.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from packs.physics.ocv import Curve, Floats, slope_v_per_percent

READING_V, FLAT_PERCENT = 0.002, 3.0
"""A voltage tells the state of charge when such a reading fixes it so well: shop default."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """The string's voltage less the spare's, and the size of the move by the chemistry's curves."""

    apart_mv: float
    flat: bool
    low_percent: float
    high_percent: float


def moves(
    curves: Sequence[Curve], string_cell_v: float | None, spare_cell_v: Sequence[float | None]
) -> tuple[Move | None, ...]:
    """Return how far each spare's charge is from the string's.

    Parameters
    ----------
    curves : Sequence[Curve]
        Of the chemistry; which of them the cells follow is not known.
    string_cell_v : float or None
        Rested voltage of the string's cells, [V]
    spare_cell_v : Sequence[float or None]
        Of each spare's, [V]

    Returns
    -------
    moves : tuple of Move or None
        One a spare; None where a voltage or every curve is missing, [mV] and [%]

    Notes
    -----
    ``|s(U_string) - s(U_spare)|`` on each curve; flat where 2 mV and the hysteresis are more than
    3 % of charge. Voltages past the ends count as empty or full. Source: the table of curves.

    Examples
    --------
    >>> from packs.physics.ocv import curve_named
    >>> found = moves([curve_named("nca_graphite")], 3.70, [3.66, None])
    >>> round(found[0].apart_mv), round(found[0].low_percent, 1), found[1]
    (40, 4.9, None)
    """
    if string_cell_v is None or not curves:
        return (None,) * len(spare_cell_v)
    known_v = np.array([volts for volts in spare_cell_v if volts is not None], dtype=float)
    percents = np.empty((len(curves), len(known_v)))
    flat = np.zeros(len(known_v), dtype=bool)
    for row, curve in enumerate(curves):
        string_soc, string_flat = _state(curve, np.array([string_cell_v]))
        spare_soc, spare_flat = _state(curve, known_v)
        percents[row] = np.abs(string_soc - spare_soc)
        flat |= spare_flat | string_flat
    found = iter(
        Move(apart_mv=apart, flat=dull, low_percent=low, high_percent=high)
        for apart, dull, low, high in zip(
            (1000.0 * (string_cell_v - known_v)).tolist(),
            flat.tolist(),
            percents.min(axis=0).tolist(),
            percents.max(axis=0).tolist(),
            strict=True,
        )
    )
    return tuple(None if volts is None else next(found) for volts in spare_cell_v)


def _state(curve: Curve, cell_v: Floats) -> tuple[Floats, np.typing.NDArray[np.bool_]]:
    """Return states of charge, and where the curve is too flat for them."""
    soc = np.asarray(np.interp(cell_v, curve.ocv_v, curve.soc_percent), dtype=float)
    slope = slope_v_per_percent(curve, soc)
    return soc, READING_V + curve.hysteresis_v > FLAT_PERCENT * slope
