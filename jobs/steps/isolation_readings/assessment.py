"""What the isolation readings say of both sides, and whether the outcome follows from them.

Not here: how a side is judged (`jobs.core.pack_side_check`, `jobs.core.vehicle_side_check`),
what blocks (`gate`).
"""

from dataclasses import dataclass

from jobs.core.insulation import meter_of
from jobs.core.once import once_a_record
from jobs.core.pack_side_check import (
    PackSideResult,
    SectionFinding,
    assess_pack_side,
    pole_readings,
)
from jobs.core.record import Record
from jobs.core.vehicle_side_check import VehicleSideResult, assess_vehicle_side
from jobs.steps.isolation_readings.items import OUTCOME, PACK, VEHICLE
from packs.definition import Figure

__all__ = [
    "Isolation",
    "PackSideResult",
    "SectionFinding",
    "VehicleSideResult",
    "assess",
    "assess_pack_side",
    "assess_vehicle_side",
    "isolation_limit",
    "meter_of",
    "pole_readings",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Isolation:
    """What this step found; `agrees` is False when the chosen outcome contradicts the readings."""

    limit: Figure
    pack: PackSideResult
    vehicle: VehicleSideResult
    outcome: str
    agrees: bool


def isolation_limit(record: Record) -> Figure:
    """Give the limit of this step [ohm/V]: the maker's or the shop's, whichever is stricter."""
    shop = record.limits.isolation_ohm_per_v
    if record.pack is None:
        return shop
    return max(record.pack.isolation_limit_ohm_per_v, shop, key=lambda figure: figure.value)


def _agrees(outcome: str, pack: str, vehicle: str) -> bool:
    """Tell whether an outcome can follow from the verdicts of both sides."""
    allowed = {
        "pack": pack != "pass" and vehicle != "fail",
        "vehicle_part": pack != "fail" and vehicle == "fail",
        "both": pack != "pass" and vehicle == "fail",
        "not_found": pack != "fail" and vehicle != "fail",
    }
    return allowed.get(outcome, True)


@once_a_record
def assess(record: Record) -> Isolation:
    """Judge both sides against the stricter limit, and the outcome against both."""
    limit = isolation_limit(record)
    pack = assess_pack_side(record, PACK, limit.value)
    vehicle = assess_vehicle_side(record, VEHICLE, limit.value)
    outcome = record.get(OUTCOME) or ""
    return Isolation(
        limit=limit,
        pack=pack,
        vehicle=vehicle,
        outcome=outcome,
        agrees=_agrees(outcome, pack.verdict, vehicle.verdict),
    )
