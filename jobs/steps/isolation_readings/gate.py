"""What stands against live readings, and against signing the isolation readings.

Here: `instrument_blockers`, `pack_side_blockers` and `vehicle_side_blockers`, which later steps
use for readings of their own. Not here: the verdicts (`assessment`).
"""

from datetime import timedelta

from jobs.core.item import EquipmentUsed, Item
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.step import Hold
from jobs.steps.de_energise_check.gate import live_work_blockers
from jobs.steps.intake.items import pack_alone
from jobs.steps.isolation_readings.assessment import (
    Isolation,
    PackSideResult,
    VehicleSideResult,
)
from jobs.steps.isolation_readings.items import (
    CONDITIONS,
    HOLD,
    LIVE,
    MARKED,
    OUTCOME,
    PACK,
    READ,
    REPEAT,
    SHORTED,
    VEHICLE,
    PackSide,
    VehicleSide,
    points_now,
)

LEAD_SHARE = 0.01
"""Shorted leads read at most this share of the check resistor [1]: shop default."""
CHECK_SHARE = 0.1
"""The check resistor reads within this share of what is marked on it [1]: shop default."""
AGAIN_H = 24.0
"""Hours after the first reading at which a fault not found is looked for again [h]."""

DATE = Reason("isolation_instrument_date", "{label} may not be used: its date has passed.")
RATING = Reason(
    "isolation_instrument_rating",
    "{label} is rated {rated_v:.0f} V; this pack reaches {highest_v:.0f} V. Take another one.",
)
POWER = Reason(
    "isolation_shunt_power",
    "{label} bears {rated_w:.2f} W; the whole string would put {needed_w:.2f} W into it.",
)
UNREAD = Reason(
    "isolation_section_unread",
    "Section {section}: read its pole without and with the shunt, or two of its poles.",
)
UNSETTLED = Reason(
    "isolation_unsettled",
    "{point}: not shown to have settled. Tick it, enter its settling, or read it again.",
)
CONTRADICTORY = Reason(
    "isolation_contradictory",
    "The readings at the pack contradict each other. Strike the wrong one and read again.",
)
DIFFER = Reason(
    "isolation_estimates_differ",
    "Section {section}: two figures for one resistance are more than {percent:.0f} % apart. "
    "Let the readings settle and take them again.",
)
NOT_DECIDED = Reason(
    "isolation_pack_undecided",
    "The pack's side is neither decided nor signed as not excluded. Read on, or sign it.",
)
NOT_SIGNABLE = Reason(
    "isolation_pack_signed_wrongly",
    "The readings decide the pack's side: strike the “not excluded”.",
)
VEHICLE_UNREAD = Reason(
    "isolation_vehicle_unread", "Vehicle's side: read both cables against the chassis."
)
VEHICLE_UNDECIDED = Reason(
    "isolation_vehicle_undecided",
    "The vehicle's side is not decided. Set a test voltage of at least {working_v:.0f} V, or take "
    "a tester that reads further.",
)
PART_UNREAD = Reason(
    "isolation_part_unread", "The vehicle's side leaks: read it again with this unplugged: {part}."
)
TEST_VOLTAGE = Reason(
    "isolation_test_voltage", "{label} does not have a test voltage of {test_v:.0f} V."
)
LEADS = Reason(
    "isolation_leads",
    "Proof of the leads ({when}): shorted near zero, check resistor within 10 % of its mark.",
)
LEADS_ORDER = Reason(
    "isolation_leads_order", "The proof of the leads has to stand before and after all readings."
)
DISCHARGE = Reason(
    "isolation_discharge", "Discharge after the reading with {unplugged} unplugged, then tick it."
)
DISAGREES = Reason(
    "isolation_outcome",
    "The outcome contradicts the readings (pack: {pack}, vehicle: {vehicle}). Strike one of them.",
)
PART_NOT_NAMED = Reason(
    "isolation_part_not_named",
    "No part of the vehicle is named: none restores the resistance when it is unplugged.",
)
REPEAT_MISSING = Reason("isolation_repeat", "Read again {condition}, then enter the lowest figure.")
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
    DATE,
    RATING,
    POWER,
    UNREAD,
    UNSETTLED,
    CONTRADICTORY,
    DIFFER,
    NOT_DECIDED,
    NOT_SIGNABLE,
    VEHICLE_UNREAD,
    VEHICLE_UNDECIDED,
    PART_UNREAD,
    TEST_VOLTAGE,
    LEADS,
    LEADS_ORDER,
    DISCHARGE,
    DISAGREES,
    PART_NOT_NAMED,
    REPEAT_MISSING,
    REPEAT_LOW,
    REPEAT_24H,
)


def _rated(record: Record, item: Item[EquipmentUsed]) -> list[Blocker]:
    used = record.get(item)
    if used is None:
        return []
    found = [] if used.in_date(record.now.date()) else [DATE(item.key, label=used.label)]
    rated_v = used.number("rated_v")
    if record.pack is not None and rated_v < record.pack.working_v:
        highest_v = record.pack.working_v
        found.append(RATING(item.key, label=used.label, rated_v=rated_v, highest_v=highest_v))
    return found


def instrument_blockers(record: Record, items: PackSide) -> tuple[Blocker, ...]:
    """Say what is wrong with meter and shunt for this pack: date, rated voltage, power.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : PackSide
        The step's own items.

    Returns
    -------
    tuple[Blocker, ...]
        To stand against the step's hold point before live readings.
    """
    found = [*_rated(record, items.meter), *_rated(record, items.shunt)]
    shunt = record.get(items.shunt)
    if shunt is not None and record.pack is not None:
        ohm, rated_w = shunt.number("ohm"), shunt.number("rated_w")
        needed_w = record.pack.working_v**2 / ohm if ohm > 0 else float("inf")
        if needed_w > rated_w:
            label, key = shunt.label, items.shunt.key
            found.append(POWER(key, label=label, rated_w=rated_w, needed_w=needed_w))
    return tuple(found)


def pack_side_blockers(
    record: Record, items: PackSide, result: PackSideResult
) -> tuple[Blocker, ...]:
    """Say what stands against relying on a set of pack-side readings.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : PackSide
        The step's own items.
    result : PackSideResult
        What `assess_pack_side` made of them.

    Returns
    -------
    tuple[Blocker, ...]
        Unread, unsettled or contradictory readings; nothing about pass or fail.
    """
    key, percent = items.reading.key, record.limits.estimates_differ_percent.value
    found = [UNSETTLED(items.settled.key, point=point) for point in result.unsettled]
    found += [DIFFER(key, section=name, percent=percent) for name in result.differ]
    if result.readings:
        found += [UNREAD(key, section=name) for name in result.unread]
    if result.contradictory:
        found.append(CONTRADICTORY(key))
    return tuple(found)


def _not_excluded(record: Record, items: PackSide, result: PackSideResult) -> list[Blocker]:
    """Ask for the words "not excluded" where nothing is decided, and only there."""
    decided, signed = result.verdict in {"pass", "fail"}, record.has(items.not_excluded)
    if decided and signed:
        return [NOT_SIGNABLE(items.not_excluded.key)]
    return [] if decided or signed else [NOT_DECIDED(items.not_excluded.key)]


def _leads(record: Record, items: VehicleSide) -> list[Blocker]:
    """Say what is missing of the proof of the leads before and after the readings."""
    key, found = items.lead_proof.key, list[Blocker]()
    proofs = {given.part("when"): given for given in record.all(items.lead_proof)}
    readings = [given.seq for given in record.all(items.reading)]
    for when in ("before", "after"):
        rows = {} if when not in proofs else proofs[when].value
        marked, read = rows.get(MARKED, 0.0), rows.get(READ, 0.0)
        shorted = rows.get(SHORTED, float("inf"))
        if shorted > LEAD_SHARE * marked or abs(read - marked) > CHECK_SHARE * marked:
            found.append(LEADS(key, f"when={when}", when=when))
    if set(proofs) >= {"before", "after"} and readings:
        early = proofs["before"].seq > min(readings)
        if early or proofs["after"].seq < max(readings):
            found.append(LEADS_ORDER(key))
    return found


def _discharges(record: Record, items: VehicleSide) -> list[Blocker]:
    """Ask for a discharge after the last reading with each thing unplugged."""
    done = {given.part("unplugged"): given.seq for given in record.all(items.discharged)}
    last = {given.part("unplugged"): given.seq for given in record.all(items.reading)}
    return [
        DISCHARGE(items.discharged.key, f"unplugged={name}", unplugged=name)
        for name, seq in last.items()
        if done.get(name, 0) < seq
    ]


def vehicle_side_blockers(
    record: Record, items: VehicleSide, result: VehicleSideResult
) -> tuple[Blocker, ...]:
    """Say what stands against relying on a set of vehicle-side readings.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : VehicleSide
        The step's own items.
    result : VehicleSideResult
        What `assess_vehicle_side` made of them.

    Returns
    -------
    tuple[Blocker, ...]
        Instrument, leads, discharge, readings missing or undecided; nothing about pass or fail.
    """
    tester, test_v = record.get(items.tester), record.get(items.test_v)
    found = _rated(record, items.tester)
    voltages = () if tester is None else tester.ratings.get("test_voltages_v", ())
    if tester is not None and test_v is not None and test_v not in voltages:
        found.append(TEST_VOLTAGE(items.test_v.key, label=tester.label, test_v=test_v))
    if record.has(items.lead_proof):
        found += _leads(record, items)
    found += _discharges(record, items)
    if result.verdict == "none" and record.has(items.reading):
        found.append(VEHICLE_UNREAD(items.reading.key))
    if result.verdict == "undecided" and record.pack is not None:
        found.append(VEHICLE_UNDECIDED(items.test_v.key, working_v=record.pack.working_v))
    return tuple(found)


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
    found = []
    limit_ohm = a.limit.value * record.pack.working_v
    given = {one.part("condition"): one for one in record.all(REPEAT)}
    for name in CONDITIONS:
        if name in given and given[name].value.value < limit_ohm:
            found.append(REPEAT_LOW(REPEAT.key, condition=_WHEN[name], limit_ohm=limit_ohm))
        elif name not in given and name != CONDITIONS[-1]:
            found.append(REPEAT_MISSING(REPEAT.key, condition=_WHEN[name]))
    first = [one.at for one in record.all(PACK.reading)]
    first += [one.at for one in record.all(VEHICLE.reading)]
    due = min(first, default=record.now) + timedelta(hours=AGAIN_H)
    last = given.get(CONDITIONS[-1])
    if last is None or last.at < due:
        found.append(REPEAT_24H(REPEAT.key, "condition=after_24h", due_at=due.isoformat()))
    return found


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
