"""Capacity without a curve, from a window that is visibly full.

Here: what makes an end of the charge visible. Not here: a window scaled through a curve
(cycle_capacity.py).
"""

import numpy as np

from packs.physics.cycle_capacity import Capacity, interval_95
from packs.physics.cycle_case import Floats
from packs.physics.cycle_channels import Channels, Rows
from packs.physics.cycle_phases import GAIN_SHARE, Phases, charge_run
from packs.physics.cycle_resistance import Resistances

BINS = 50
KNEE_V_PER_PERCENT = 0.040
"""Steeper over the last 2 % of the charge is the lower end of any cell: shop default, no source."""
TAPER_SHARE = 0.15
TAPER_V, FALLING_SHARE = 0.015, 0.7
"""A charge that tapers so far at a voltage that stands ended by itself: shop default, no source."""
UNSEEN_SHARE = 0.08
"""So much of the capacity may lie below the knee and above the charger's end: shop default."""
FEWEST_ROWS = 60
FEWEST_TAPER_ROWS = 5


def capacity_of_full_window(
    channels: Channels, phases: Phases, resistances: Resistances | None
) -> Capacity | None:
    """Return the capacity of the string when the log visibly runs from end to end.

    Parameters
    ----------
    channels : Channels
        Without holes.
    phases : Phases
        Charge counted.
    resistances : Resistances | None
        To take the drop out of the voltages; without them they are used as they are.

    Returns
    -------
    capacity : Capacity | None
        Of the string, which is that of the cell that ends it; None when an end is not seen.

    Notes
    -----
    ``C = Q (1 + 0.04)`` within 4 % of Q, for the part that may lie beyond what was seen (shop
    default), and the errors of the count. The lower end is seen when the median voltage, the drop
    taken out, is steeper than 40 mV for each percent of the charge over its last 2 %; the upper end
    when the charge tapers below 15 % of its current at a standing voltage. Flatter shoulders, which
    every chemistry has further up, are no ends.
    """
    charge = charge_run(channels, phases)
    if charge is None or not _tapers(channels, phases, charge):
        return None
    lowest, highest = int(phases.count_ah.argmin()), int(charge[-1])
    first, last = sorted((lowest, highest))
    counted = phases.between(first, last)
    charge_ah = abs(counted.charge_ah)
    if charge_ah <= 0.0 or counted.lost:
        return None
    if _steepness_v(channels, phases, resistances, slice(first, last + 1)) < KNEE_V_PER_PERCENT:
        return None
    half = UNSEEN_SHARE / 2.0
    rectangles = [GAIN_SHARE, counted.gap_ah / charge_ah, half]
    middle_ah = charge_ah * (1.0 + half)
    low_ah, high_ah = interval_95(np.array([middle_ah]), rectangles, counted.normal_ah / charge_ah)
    rising = highest == last
    return Capacity(
        cells_ah=None,
        own_u_share=None,
        ah=middle_ah,
        low_ah=low_ah,
        high_ah=high_ah,
        from_percent=0.0 if rising else 100.0,
        to_percent=100.0 if rising else 0.0,
        from_v=None,
        to_v=None,
        first=first,
        last=last,
        counted=counted,
        rested=False,
        by_curve=False,
    )


def _steepness_v(
    channels: Channels, phases: Phases, resistances: Resistances | None, rows: slice
) -> float:
    """Return how steep the median voltage is at the lower end, for each percent of the charge."""
    ohm = 0.0
    if resistances is not None:
        ohm = max(float(np.median(resistances.ohm[channels.trusted])), 0.0)
    volts = channels.median_v[rows] - ohm * phases.current_a[rows]
    share = phases.count_ah[rows] - phases.count_ah[rows].min()
    share = share / share.max() * BINS
    ends = [np.median(volts[(share >= low) & (share <= high)]) for low, high in _ends(share)]
    return float(ends[1] - ends[0]) / (100.0 / BINS)


def _ends(share: Floats) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the lowest place and the one a bin above, each wide enough to hold a row."""
    above = float(share[share >= 1.0].min())
    return (0.0, 0.02), (above, above + 0.02)


def _tapers(channels: Channels, phases: Phases, charge: Rows) -> bool:
    """Tell whether a charge ends with little current at a standing voltage."""
    current_a = phases.current_a[charge]
    full_a = float(np.quantile(current_a, 0.9))
    late = charge.size // 2
    falling = charge[late:][current_a[late:] < FALLING_SHARE * full_a]
    ends_low = float(current_a[-FEWEST_TAPER_ROWS:].mean()) <= TAPER_SHARE * full_a
    if charge.size < FEWEST_ROWS or falling.size < FEWEST_TAPER_ROWS or not ends_low:
        return False
    return float(np.ptp(channels.median_v[falling])) < TAPER_V
