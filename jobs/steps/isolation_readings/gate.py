"""What stands against live readings, and against signing the isolation readings.

Not here: what is wrong with readings as such (`jobs.core.pack_side_check`,
`jobs.core.vehicle_side_check`), the verdicts (`assessment`).
"""

from datetime import timedelta

from jobs.core import insulation, pack_side_check, vehicle_side_check
from jobs.core.pack_side import PackSide, points_now
from jobs.core.pack_side_check import PackSideResult, instrument_blockers, pack_side_blockers
from jobs.core.quote_growth import over_cap
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.step import Hold
from jobs.core.vehicle_side_check import VehicleSideResult, vehicle_side_blockers
from jobs.steps.de_energise_check.gate import live_work_blockers
from jobs.steps.intake.items import PRICE_CAP, pack_alone
from jobs.steps.isolation_readings.assessment import Isolation
from jobs.steps.isolation_readings.items import (
    BILLED,
    CONDITIONS,
    HOLD,
    LIVE,
    OUTCOME,
    PACK,
    REPEAT,
    VEHICLE,
)

__all__ = [
    "REASONS",
    "blockers",
    "ends",
    "holds",
    "instrument_blockers",
    "pack_side_blockers",
    "vehicle_side_blockers",
]

AGAIN_H = 24.0
"""Hours after the first reading at which a fault not found is looked for again [h]."""


NOT_DECIDED = Reason(
    "isolation_pack_undecided",
    "The pack's side is neither decided nor signed as not excluded. Read on, or sign it.",
)
NOT_SIGNABLE = Reason(
    "isolation_pack_signed_wrongly",
    "The readings decide the pack's side: strike the “not excluded”.",
)


PART_UNREAD = Reason(
    "isolation_part_unread", "The vehicle's side leaks: read it again with this unplugged: {part}."
)


DISAGREES = Reason(
    "isolation_outcome",
    "The outcome contradicts the readings (pack: {pack}, vehicle: {vehicle}). Strike one of them.",
)
PART_NOT_NAMED = Reason(
    "isolation_part_not_named",
    "No part of the vehicle is named: none restores the resistance when it is unplugged.",
)
REPEAT_LOW = Reason(
    "isolation_repeat_low",
    "Read again {condition}, it does not reach {limit_ohm:.3g} ohm. Strike the outcome and find "
    "the side, or enter a bound that reaches it.",
)
REPEAT_24H = Reason(
    "isolation_repeat_24h",
    "The last reading comes 24 h after the first, not before {due_at}.",
    countersign=True,
)


REASONS = (
    *insulation.REASONS,
    *pack_side_check.REASONS,
    *vehicle_side_check.REASONS,
    NOT_DECIDED,
    NOT_SIGNABLE,
    PART_UNREAD,
    DISAGREES,
    PART_NOT_NAMED,
    REPEAT_LOW,
    REPEAT_24H,
)


def _not_excluded(record: Record, items: PackSide, result: PackSideResult) -> list[Blocker]:
    """Ask for the words "not excluded" where nothing is decided, and only there."""
    decided, signed = result.verdict in {"pass", "fail"}, record.has(items.not_excluded)
    if decided and signed:
        return [NOT_SIGNABLE(items.not_excluded.key)]
    return [] if decided or signed else [NOT_DECIDED(items.not_excluded.key)]


def _parts(record: Record, result: VehicleSideResult) -> list[Blocker]:
    """Ask for a reading with each named part unplugged while the leaking one is not found."""
    if result.verdict != "fail" or record.pack is None:
        return []
    read = {part.name for part in result.parts}
    return [
        PART_UNREAD(VEHICLE.reading.key, part=part)
        for part in record.pack.vehicle_parts
        if part not in read
    ]


def _outcome(a: Isolation) -> list[Blocker]:
    if not a.agrees:
        pack, vehicle = a.pack.verdict, a.vehicle.verdict
        return [DISAGREES(OUTCOME.key, pack=pack, vehicle=vehicle)]
    if a.outcome in {"vehicle_part", "both"} and not a.vehicle.leaking:
        return [PART_NOT_NAMED(VEHICLE.reading.key)]
    return []


def _again(record: Record, a: Isolation) -> list[Blocker]:
    """Ask for the readings that a fault not found needs before the job ends."""
    if a.outcome != "not_found" or record.pack is None:
        return []
    limit_ohm = a.limit.value * record.pack.working_v
    given = {one.part("condition"): one for one in record.all(REPEAT)}
    found = [
        REPEAT_LOW(REPEAT.key, condition=_WHEN[name], limit_ohm=limit_ohm)
        for name in CONDITIONS
        if name in given
        and (given[name].value.comparator == "<" or given[name].value.value < limit_ohm)
    ]
    first = [one.at for one in record.all(PACK.reading)]
    first += [one.at for one in record.all(VEHICLE.reading)]
    due = min(first, default=record.now) + timedelta(hours=AGAIN_H)
    last = given.get(CONDITIONS[-1])
    if last is None or last.at < due:
        found.append(REPEAT_24H(REPEAT.key, "condition=after_24h", due_at=due.isoformat()))
    return [*found, *over_cap(record, BILLED, PRICE_CAP)]


_WHEN = dict(zip(CONDITIONS, ("wet", "warm", "under load", "after 24 h"), strict=True))


def holds(record: Record, _isolation: Isolation) -> tuple[Hold, ...]:
    """Give the hold point before live readings; none where no point can be reached."""
    if not points_now(record):
        return ()
    return (
        Hold(
            slug=HOLD,
            act="reading at live parts of the pack",
            needs=(*LIVE, PACK.meter, PACK.shunt),
            blockers=(*live_work_blockers(record, LIVE), *instrument_blockers(record, PACK)),
            valid_h=record.limits.live_work_h.value,
            cautions=(
                "The pack's own poles stay live. One hand, gloves on, nobody alone.",
                "No insulation tester on any part of the string while sense leads are on it.",
            ),
        ),
    )


def blockers(record: Record, a: Isolation) -> tuple[Blocker, ...]:
    """Say what blocks the signature beyond missing items."""
    vehicle = (
        ()
        if pack_alone(record)
        else (*vehicle_side_blockers(record, VEHICLE, a.vehicle), *_parts(record, a.vehicle))
    )
    return (
        *pack_side_blockers(record, PACK, a.pack),
        *_not_excluded(record, PACK, a.pack),
        *vehicle,
        *_outcome(a),
        *_again(record, a),
    )


def ends(record: Record) -> str:
    """Say that the job ends here when the fault was not found."""
    return "not_found" if record.get(OUTCOME) == "not_found" else ""
