"""Where a curve is steep enough to bring two modules together when it is flat where they stand.

Here: the nearest knee and the charge between it and the string. Not here: how well a voltage fixes
a state of charge (charge_interval.py), and how it is said (charge_words.py).
"""

from dataclasses import dataclass

from packs.physics.charge_interval import Interval, soc_half_width_percent
from packs.physics.ocv import Curve, ocv_v

KNEE_HALF_WIDTH_PERCENT = 1.5
"""At a knee the state of charge is fixed twice as well as it must be: shop default, no source."""
KNEE_FROM_PERCENT, KNEE_TO_PERCENT = 2, 98
"""Nearer to empty or full than this nobody leaves a module to rest: shop default, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Knee:
    """A rested cell voltage both are brought to, and the charge between it and the string."""

    kind: str
    cell_v: float
    soc_percent: float
    from_knee_ah: float
    from_knee_ah_low: float
    from_knee_ah_high: float


def knee_for(
    curve: Curve,
    allowance_v: float,
    target_soc_percent: float,
    target: Interval,
    capacity_ah: float,
) -> Knee | None:
    """Return the knee nearest to the string.

    Parameters
    ----------
    curve : Curve
        The curve.
    allowance_v : float
        How far a rested reading may be off, [V]
    target_soc_percent : float
        Where the string stands, as far as its voltage tells, [%]
    target : Interval
        Its 95 % interval, [%]
    capacity_ah : float
        Of a module, [Ah]

    Returns
    -------
    knee : Knee or None
        None when no part of the curve is steep enough for such readings.

    Notes
    -----
    The nearest whole percent from 2 to 98 at which a reading fixes the state of charge within
    1.5 %: ``lower`` when it lies below the string, else ``upper``. The charge from there is
    ``Q |s - s_knee|/100``, its interval that of the string's state of charge. Source: our own; the
    practice of matching flat cells near empty or full and counting charge is common in the trade.

    Examples
    --------
    >>> from packs.physics.ocv import curve_named
    >>> knee = knee_for(
    ...     curve_named("lfp_graphite"), 0.012, 45.0, Interval(low=30.0, high=62.0), 100.0
    ... )
    >>> knee.kind, knee.soc_percent, round(knee.cell_v, 3), knee.from_knee_ah
    ('lower', 8.0, 3.182, 37.0)
    """
    steep = [
        float(percent)
        for percent in range(KNEE_FROM_PERCENT, KNEE_TO_PERCENT + 1)
        if soc_half_width_percent(curve, float(ocv_v(curve, percent)), allowance_v)
        <= KNEE_HALF_WIDTH_PERCENT
    ]
    if not steep:
        return None
    soc = min(steep, key=lambda each: abs(each - target_soc_percent))
    ends = sorted((target.low - soc, target.high - soc), key=abs)
    crossed = target.low <= soc <= target.high
    return Knee(
        kind="lower" if soc <= target_soc_percent else "upper",
        cell_v=float(ocv_v(curve, soc)),
        soc_percent=soc,
        from_knee_ah=capacity_ah * abs(target_soc_percent - soc) / 100.0,
        from_knee_ah_low=0.0 if crossed else capacity_ah * abs(ends[0]) / 100.0,
        from_knee_ah_high=capacity_ah * abs(ends[1]) / 100.0,
    )
