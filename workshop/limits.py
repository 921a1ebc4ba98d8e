"""Limits the shop starts with, their provenance, and how far a shop may move each.

No Django here; a shop's own values are rows. A limit that protects people can be tightened but
not opened beyond its bound, so no setting works as an override of a safety gate. The maker's
value of a pack definition goes first wherever it is stricter.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

SHOP_DEFAULT: Final = "shop_default"
REGULATION: Final = "regulation"
MAKER: Final = "maker"

KINDS: Final = {
    SHOP_DEFAULT: "Shop default",
    REGULATION: "Regulation",
    MAKER: "Vehicle maker's value",
}
"""Kind of provenance to the title shown."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit with its unit, its provenance, and the bounds inside which a shop may set it.

    Who changed it and when is empty while it stands at its default.
    """

    key: str
    title: str
    value: float
    unit: str
    kind: str
    source: str
    low: float
    high: float
    note: str = ""
    changed_at: datetime | None = None
    changed_by: str = ""

    @property
    def default(self) -> "Limit":
        """The limit as it stood before this shop set it."""
        return DEFAULTS[self.key]

    @property
    def kind_title(self) -> str:
        """The title shown for the kind."""
        return KINDS.get(self.kind, self.kind)


def _own(key: str, title: str, value: float, unit: str, bounds: tuple[float, float]) -> Limit:
    """Make a shop default, which has no source."""
    return Limit(key, title, value, unit, SHOP_DEFAULT, "", *bounds)


DEFAULTS: Final = {
    limit.key: limit
    for limit in (
        _own("floor_v", "A settling reading counts as floating under", 2.0, "V", (0.1, 2.0)),
        Limit(
            "isolation_ohm_per_v",
            "Isolation resistance at least",
            500.0,
            "Ω/V",
            REGULATION,
            "UN R100, 5.1.3: AC, or DC joined to AC",
            500.0,
            100_000.0,
        ),
        _own("isolation_warning_ohm", "Total isolation, warning under", 1e6, "Ω", (1e6, 1e9)),
        _own("estimates_differ_percent", "Two estimates apart at most", 20.0, "%", (1.0, 20.0)),
        _own("proof_instrument_gap_min", "Between two proofs at most", 10.0, "min", (1.0, 10.0)),
        _own("suspect_ratio", "Suspect module below the median by", 10.0, "×", (10.0, 1000.0)),
        _own("cell_difference_mv", "Spare cells against the string within", 20.0, "mV", (1, 100)),
        _own("charge_rest_h", "Rest before cell voltages count", 3.0, "h", (1.0, 72.0)),
        _own("charge_warm_c", "Charge moved, warmest spot under", 40.0, "°C", (30.0, 40.0)),
        _own("match_capacity_percent", "Spare below the weakest by", 5.0, "%", (1.0, 10.0)),
        _own("match_resistance_percent", "Spare off the median by", 20.0, "%", (5.0, 50.0)),
        _own("match_tested_days", "Spare's test no older than", 180.0, "d", (7.0, 365.0)),
        _own("joint_ratio_percent", "Joint above the median at most", 20.0, "%", (1.0, 100.0)),
        _own("spread_rest_mv", "Cell spread at rest at most", 20.0, "mV", (1.0, 100.0)),
        _own("spread_top_mv", "Cell spread at full charge at most", 30.0, "mV", (1.0, 100.0)),
        _own("spread_load_mv", "Cell spread under load at most", 100.0, "mV", (1.0, 300.0)),
        _own("temperature_spread_c", "Temperature spread at most", 5.0, "K", (1.0, 20.0)),
        Limit(
            "bonding_ohm",
            "Bonding of the enclosure at most",
            0.1,
            "Ω",
            REGULATION,
            "UN R100: potential equalisation, 0.1 ohm at 0.2 A",
            0.001,
            0.1,
        ),
        _own("bonding_current_a", "Bonding measured with at least", 0.2, "A", (0.2, 100.0)),
        _own("live_work_h", "Preparation for live work counts for", 12.0, "h", (1.0, 12.0)),
        _own("watch_above_ambient_c", "Quarantine: above the air at most", 10.0, "K", (2.0, 10.0)),
        _own("watch_spread_c", "Quarantine: between two points at most", 5.0, "K", (1.0, 5.0)),
        _own("watch_rise_c", "Quarantine: rise in 15 min under", 1.0, "K", (0.3, 1.0)),
        _own("watch_hot_c", "Quarantine: every point under", 60.0, "°C", (40.0, 60.0)),
        _own("watch_evacuate_c", "Quarantine: everybody leaves at", 80.0, "°C", (50.0, 80.0)),
    )
}
"""Limits by key, in the order in which they are shown."""
