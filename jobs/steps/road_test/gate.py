"""What stands against refitting the disconnect, and against releasing the vehicle.

Isolation that fails or is undecided is never countersigned; the 24 h reading and the cell
spreads, shop defaults, may be.
"""

from jobs.core.entry import Kind
from jobs.core.insulation import late_blockers
from jobs.core.live_work import SECOND_PERSON
from jobs.core.log_check import REASONS as LOG_REASONS
from jobs.core.log_check import log_blockers
from jobs.core.quote_growth import standing_blockers
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.step import Hold
from jobs.core.torque import torque_blockers, used_in_date
from jobs.core.vehicle_side_check import vehicle_side_blockers
from jobs.steps.fault_localisation.items import QUOTE
from jobs.steps.intake.items import PRICE_CAP, pack_alone
from jobs.steps.road_test.assessment import RoadTest, logged
from jobs.steps.road_test.items import (
    AFTER_24H,
    BONDING,
    BONDING_A,
    BONDING_METER,
    CODES,
    CONNECTORS,
    DRIVE_KM,
    HOLD,
    HOT,
    LOG,
    MOUNTS,
    POWER_ON,
    REVISIT,
    REVISIT_ON,
    SECOND,
    SPREAD_C,
    SPREADS,
    VEHICLE,
    not_reproduced,
    refit,
)

NO_VEHICLE = Reason("road_no_vehicle", "The pack came without its vehicle; there is none to drive.")
PACK_ISOLATION = Reason(
    "road_pack_isolation",
    "Isolation of the closed pack did not pass after the repair. Go back to reassembly.",
)
VEHICLE_ISOLATION = Reason(
    "road_vehicle_isolation",
    "Isolation of the vehicle's side did not pass after the repair against {limit:.0f} ohm/V.",
)
BONDING_HIGH = Reason(
    "road_bonding",
    "Bonding at {point}: {got_ohm:g} ohm; {limit_ohm:g} ohm are allowed. Clean and fit it again.",
)
BONDING_MISSING = Reason("road_bonding_missing", "Bonding not measured at {points}.")
BONDING_CURRENT = Reason(
    "road_bonding_current", "Bonding measured with {got_a:g} A; {needed_a:g} A or more are asked."
)
METER_LAPSED = Reason("road_meter", "{label} is out of calibration. Measure with another one.")
SECOND_UNFIT = Reason(
    "road_second", "The second person is not qualified to stand by. Ask somebody else."
)
SECOND_SAME = Reason(
    "road_second_same", "The second person has to be somebody else than whoever fits connectors."
)
CODES_RETURNED = Reason("road_codes", "Trouble codes returned. Go back to the step that they name.")
HOT_LOW = Reason(
    "road_isolation_hot",
    "Isolation after the drive: {ohm:.0f} ohm shown; {limit_ohm:.0f} ohm are needed. Go back to "
    "fault localisation.",
)
AGAIN_LOW = Reason(
    "road_isolation_24h",
    "Isolation 24 h after the drive: {ohm:.0f} ohm shown; {limit_ohm:.0f} ohm are needed. Go back "
    "to fault localisation.",
)
SPREAD = Reason(
    "road_spread",
    "{label}: {value:g} {unit}; {limit:g} {unit} are allowed. Go back to the module swap.",
    countersign=True,
)
WARM = Reason(
    "road_temperature_spread",
    "Module temperatures are {value:g} °C apart; {limit:g} °C are allowed. Look at joints and "
    "cooling.",
)
AGAIN_MISSING = Reason(
    "road_24h_missing",
    "The pack was wet: read isolation again 24 h after the drive.",
    countersign=True,
)
AGAIN_UNSEEN = Reason(
    "road_24h_unseen",
    "The fault did not show at first: read isolation again 24 h after the drive.",
    countersign=True,
)
REVISIT_PAST = Reason(
    "road_revisit_past", "The return visit lies before the drive or on its day. Choose a later day."
)
AGAIN_EARLY = Reason(
    "road_24h_early", "The 24 h reading counts from {from_at}. Strike it, read again.",
    countersign=True,
)  # fmt: skip
NO_REVISIT = Reason(
    "road_no_revisit", "Book a return visit, or read isolation again 24 h after the drive."
)
REASONS = (
    NO_VEHICLE,
    PACK_ISOLATION,
    VEHICLE_ISOLATION,
    BONDING_HIGH,
    BONDING_MISSING,
    BONDING_CURRENT,
    METER_LAPSED,
    SECOND_UNFIT,
    SECOND_SAME,
    CODES_RETURNED,
    HOT_LOW,
    AGAIN_LOW,
    SPREAD,
    WARM,
    AGAIN_MISSING,
    AGAIN_UNSEEN,
    REVISIT_PAST,
    POWER_ON,
    AGAIN_EARLY,
    NO_REVISIT,
    *LOG_REASONS,
)


def skip(record: Record) -> Reason | None:
    """Say that there is nothing to drive when the pack came alone."""
    return NO_VEHICLE if pack_alone(record) else None


def _bonding(record: Record, a: RoadTest) -> list[Blocker]:
    meter, current_a, found = record.given(BONDING_METER), record.get(BONDING_A), list[Blocker]()
    if meter is not None and not used_in_date(meter):
        found.append(METER_LAPSED(BONDING_METER.key, label=meter.value.label))
    found += late_blockers(record, BONDING_METER, BONDING)
    needed_a = record.limits.bonding_current_a.value
    if current_a is not None and current_a < needed_a:
        found.append(BONDING_CURRENT(BONDING_A.key, got_a=current_a, needed_a=needed_a))
    if a.bonding and a.bonding_missing:
        found.append(BONDING_MISSING(BONDING.key, points=", ".join(a.bonding_missing)))
    limit_ohm = a.bonding_limit.value
    found += [
        BONDING_HIGH(BONDING.key, point=point, got_ohm=got_ohm, limit_ohm=limit_ohm)
        for point, got_ohm in a.bonding
        if got_ohm > limit_ohm
    ]
    return found


def _isolation(record: Record, a: RoadTest) -> list[Blocker]:
    """Ask for a pass, read after the repair, on every side that leaked."""
    found: list[Blocker] = []
    if record.lid_was_off and a.pack_verdict != "pass":
        found.append(PACK_ISOLATION())
    if a.vehicle is not None:
        found += vehicle_side_blockers(record, VEHICLE, a.vehicle)
        if a.vehicle.verdict != "pass":
            found.append(VEHICLE_ISOLATION(VEHICLE.reading.key, limit=a.limit.value))
    return found


def _second(record: Record) -> list[Blocker]:
    second, connectors, found = record.given(SECOND), record.given(CONNECTORS), list[Blocker]()
    if second is None:
        return []
    day, worker = second.at.date(), "" if connectors is None else connectors.person
    if not any(second.value.holds(code, day) for code in SECOND_PERSON):
        found.append(SECOND_UNFIT(SECOND.key))
    if second.value.id == worker:
        found.append(SECOND_SAME(SECOND.key))
    return found


def _before_disconnect(record: Record, a: RoadTest) -> tuple[Blocker, ...]:
    found = [*_isolation(record, a), *_bonding(record, a)]
    if a.mounts is not None:
        found += torque_blockers(a.mounts, MOUNTS)
    return (*found, *_second(record))


def holds(record: Record, a: RoadTest) -> tuple[Hold, ...]:
    """Give the hold point before the disconnect is refitted."""
    return (
        Hold(
            slug=HOLD,
            act="the disconnect is refitted",
            needs=tuple(item for item in refit(record) if item.needed),
            blockers=_before_disconnect(record, a),
            qualification="live_work",
            cautions=(
                "From here the high voltage is on: no tester, no contact reading.",
                "Nobody else at the vehicle. Follow the maker's order for switching on.",
            ),
        ),
    )


def _drive(a: RoadTest) -> list[Blocker]:
    found: list[Blocker] = []
    if a.hot is not None and a.hot.verdict != "pass":
        found.append(HOT_LOW(HOT.key, ohm=a.hot.shown.value, limit_ohm=a.limit_ohm))
    for spread in a.spreads:
        if spread.within:
            continue
        figures = {"value": spread.value, "limit": spread.limit.value}
        if spread.key == SPREAD_C.key:
            found.append(WARM(spread.key, **figures))
        else:
            found.append(SPREAD(spread.key, label=spread.label, unit=spread.unit, **figures))
    return found


def _logs(a: RoadTest) -> list[Blocker]:
    """Say what the logs do not allow, or leave open."""
    found = logged(a)
    if found is None:
        return []
    blocking: list[Blocker] = []
    for part in found.parts:
        if part.verdict != "fail":
            continue
        if part.name == "temperature":
            blocking.append(WARM(LOG.key, value=round(part.value, 1), limit=part.limit.value))
        else:
            figures = {"value": round(part.value, 1), "limit": part.limit.value}
            blocking.append(SPREAD(LOG.key, label=part.label, unit=part.unit, **figures))
    measured = {spread.key for spread in a.spreads}
    typed = (name for name, item in SPREADS.items() if item.key in measured)
    return blocking + log_blockers(found, LOG.key, typed)


def _revisit(record: Record) -> list[Blocker]:
    """Say that the return visit does not lie ahead of the drive."""
    day, drive = record.get(REVISIT_ON), record.given(DRIVE_KM)
    past = day is not None and drive is not None and day <= drive.at.date()
    return [REVISIT_PAST(REVISIT_ON.key)] if past else []


def _booked(record: Record) -> bool:
    """Tell whether a return visit is booked: by its day.

    Words alone count only in a job that was never asked for the day.
    """
    if record.has(REVISIT_ON):
        return True
    asked = any(e.kind is Kind.VALUE and e.item == REVISIT_ON.key for e in record.entries)
    return record.has(REVISIT) and not asked


def _again(record: Record, a: RoadTest) -> list[Blocker]:
    """Ask for the reading after 24 h where it was wet, elsewhere for it or a return visit."""
    key = AFTER_24H.key
    unseen = not_reproduced(record)
    booked, needed = _booked(record), a.wet or unseen
    if a.after_24h is None:
        if needed:
            return [(AGAIN_MISSING if a.wet else AGAIN_UNSEEN)(key)]
        return _revisit(record) if booked else [NO_REVISIT(REVISIT_ON.key)]
    early = a.again_early and (needed or not booked)
    found = [AGAIN_EARLY(key, from_at=a.again_from)] if early else []
    if a.after_24h.verdict != "pass":
        found.append(AGAIN_LOW(key, ohm=a.after_24h.shown.value, limit_ohm=a.limit_ohm))
    return found


def blockers(record: Record, a: RoadTest) -> tuple[Blocker, ...]:
    """Say what blocks the release beyond missing items."""
    codes = (CODES_RETURNED(CODES.key),) if record.get(CODES) == "returned" else ()
    own = (*_before_disconnect(record, a), *codes, *_drive(a), *_logs(a), *_again(record, a))
    return (*own, *standing_blockers(record, QUOTE, PRICE_CAP))
