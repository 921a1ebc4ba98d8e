"""A pressure sample: taken and entered one by one, each an entry of its own.

Here: the typed value and the item that takes it. How raw input is checked is in
`jobs.core.parsing`; what the samples say is in the room that asks for them.
"""

from dataclasses import dataclass
from typing import Any

from jobs.core.entry import Json
from jobs.core.item import Item, Shape

__all__ = ["Sample", "sample"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One reading of gauge, gas temperature and barometer.

    Attributes
    ----------
    t_s : float
        Seconds since the first sample of its test [s].
    gauge_pa : float
        Pressure over the outside air [Pa].
    temp_c : float
        Temperature of the gas [degC].
    barometer_pa : float
        Pressure of the outside air [Pa].
    lag_s : float
        Seconds between looking at the gauge and sending [s]; used to find the test's beginning
        on the server's clock, by no verdict.
    """

    t_s: float
    gauge_pa: float
    temp_c: float
    barometer_pa: float
    lag_s: float = 0.0


def _read(stored: Json) -> Sample:
    names = ("t_s", "gauge_pa", "temp_c", "barometer_pa", "lag_s")
    return Sample(**{name: float(stored[name]) for name in names})


def sample(key: str, label: str, *, low: float, high: float, **more: Any) -> Item[Sample]:
    """Make an item that takes samples one by one; the bounds are those of the gauge [Pa]."""
    more |= {"unit": "Pa", "low": low, "high": high, "many": "free"}
    return Item(key=key, label=label, shape=Shape.SAMPLE, read=_read, **more)
