"""What the readings of the road test say: bonding, isolation, spreads, and the 24 h reading."""

from dataclasses import dataclass, fields
from datetime import timedelta

from jobs.core.item import Bounded, Item
from jobs.core.log_check import Logged, check_logs
from jobs.core.once import once_a_record
from jobs.core.record import Record
from jobs.core.torque import TorqueCheck, check_torque
from jobs.core.vehicle_side_check import VehicleSideResult, assess_vehicle_side
from jobs.steps.fault_localisation.items import vehicle_leaks
from jobs.steps.module_swap.assessment import after_repair_limit
from jobs.steps.reassembly.assessment import assess as assess_reassembly
from jobs.steps.road_test.items import (
    AFTER_24H,
    BONDING,
    DRIVE_KM,
    HOT,
    LOG,
    MOUNTS,
    SPREAD_C,
    SPREAD_LOAD,
    SPREAD_REST,
    SPREAD_TOP,
    VEHICLE,
    log_asked,
    logs,
    was_down,
    was_wet,
)
from packs.definition import Figure

AGAIN_H = 24.0
"""Hours after the drive at which a wet leak would have come back [h]. Shop default, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """A spread read on the road or at the charger, against the shop's limit [unit]."""

    key: str
    label: str
    unit: str
    value: float
    limit: Figure

    @property
    def within(self) -> bool:
        """Whether it keeps the limit."""
        return self.value <= self.limit.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Monitor:
    """Isolation as the vehicle's own monitor shows it [ohm]."""

    shown: Bounded
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadTest:
    """The road test as it stands; "none" where a side was not in question or not read."""

    limit: Figure
    limit_ohm: float
    bonding_limit: Figure
    pack_verdict: str = "none"
    vehicle: VehicleSideResult | None = None
    mounts: TorqueCheck | None = None
    bonding: tuple[tuple[str, float], ...] = ()
    bonding_missing: tuple[str, ...] = ()
    spreads: tuple[Spread, ...] = ()
    hot: Monitor | None = None
    after_24h: Monitor | None = None
    wet: bool = False
    again_from: str = ""
    again_early: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedRoadTest(RoadTest):
    """A road test with logs; without one it is judged, and sealed, as it was before logs came."""

    logged: Logged


def logged(a: RoadTest) -> Logged | None:
    """Give what the logs of a road test say; None where it has none."""
    return a.logged if isinstance(a, LoggedRoadTest) else None


def monitor(shown: Bounded | None, limit_ohm: float) -> Monitor | None:
    """Judge what the vehicle's own monitor shows.

    Parameters
    ----------
    shown : Bounded | None
        The value shown [ohm]; None while it was not read.
    limit_ohm : float
        The limit times the working voltage [ohm].

    Returns
    -------
    Monitor | None
        "More than" passes when its bound does; "below" never passes.

    Notes
    -----
    The monitor's own error is not known and not added; it stands beside the bench reading.

    Examples
    --------
    >>> monitor(Bounded(1e6, ">"), 1.8e5).verdict
    'pass'
    """
    if shown is None:
        return None
    passed = shown.comparator != "<" and shown.value >= limit_ohm
    return Monitor(shown=shown, verdict="pass" if passed else "fail")


def _spreads(record: Record) -> tuple[Spread, ...]:
    limits = record.limits
    asked: tuple[tuple[Item[float], Figure], ...] = (
        (SPREAD_REST, limits.spread_rest_mv),
        (SPREAD_TOP, limits.spread_top_mv),
        (SPREAD_LOAD, limits.spread_load_mv),
        (SPREAD_C, limits.temperature_spread_c),
    )
    given = ((item, record.get(item), limit) for item, limit in asked)
    return tuple(
        Spread(key=item.key, label=item.label, unit=item.unit, value=value, limit=limit)
        for item, value, limit in given
        if value is not None
    )


@once_a_record
def assess(record: Record) -> RoadTest:
    """Judge refit, isolation on every side that leaked, spreads, and isolation after the drive.

    Parameters
    ----------
    record : Record
        The job as it stands.

    Returns
    -------
    RoadTest
        The 24 h count from the server's time of the drive.
    """
    plain, asked, read_in = _assess(record), log_asked(record), logs(record)
    if not read_in or asked is None:
        return plain
    same = {field.name: getattr(plain, field.name) for field in fields(plain)}
    found = check_logs(read_in, asked, record.limits, LOG.key)
    return LoggedRoadTest(**same, logged=found)


def _assess(record: Record) -> RoadTest:
    """Judge everything but the logs."""
    pack, limits, limit = record.pack, record.limits, after_repair_limit(record)
    if pack is None:
        return RoadTest(limit=limit, limit_ohm=0.0, bonding_limit=limits.bonding_ohm)
    limit_ohm = limit.value * pack.working_v
    drive, again, got = record.given(DRIVE_KM), record.given(AFTER_24H), record.get(BONDING) or {}
    due = None if drive is None else drive.at + timedelta(hours=AGAIN_H)
    down = was_down(record)
    return RoadTest(
        limit=limit,
        limit_ohm=limit_ohm,
        bonding_limit=min(limits.bonding_ohm, pack.bonding_limit_ohm, key=lambda f: f.value),
        pack_verdict=assess_reassembly(record).closed_verdict if record.lid_was_off else "none",
        vehicle=assess_vehicle_side(record, VEHICLE, limit.value)
        if vehicle_leaks(record)
        else None,
        mounts=check_torque(record, MOUNTS, pack.mounts, pack.mounts.positions) if down else None,
        bonding=tuple(got.items()),
        bonding_missing=tuple(p for p in pack.bonding_points if p not in got) if down else (),
        spreads=_spreads(record),
        hot=monitor(record.get(HOT), limit_ohm),
        after_24h=monitor(record.get(AFTER_24H), limit_ohm),
        wet=was_wet(record),
        again_from="" if due is None else due.isoformat(),
        again_early=again is not None and due is not None and again.at < due,
    )
