"""What stands against putting the lid on, and against signing reassembly.

Isolation that fails or is undecided is never countersigned here.
"""

from typing import Any

from jobs.core.insulation import late_blockers
from jobs.core.link_check import joint_blockers, last_link_blockers
from jobs.core.links import LINK_HOLD, last_link_needs
from jobs.core.live_work import live_work_blockers
from jobs.core.pack_side import PackSide, points_now
from jobs.core.pack_side_check import instrument_blockers, pack_side_blockers
from jobs.core.quote_growth import standing_blockers
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Given, Record
from jobs.core.step import Hold
from jobs.core.torque import torque_blockers, used_in_date
from jobs.steps.fault_localisation.items import QUOTE
from jobs.steps.intake.items import PRICE_CAP
from jobs.steps.reassembly.assessment import CoolantTest, Reassembly
from jobs.steps.reassembly.items import (
    AFTER_LID,
    BEFORE_LID,
    COOLANT_END,
    COOLANT_GAUGE,
    COOLANT_MIN,
    COOLANT_START,
    LID,
    LID_HOLD,
    LID_ON,
    LINKS,
    LIVE,
    LIVE_HOLD,
    PARTS_IN,
    PARTS_OUT,
    SENSE_LEADS,
    TOOLS,
    before_lid,
)
from packs.words import in_a_row

LID_STAYED_ON = Reason(
    "reassembly_lid_stayed_on", "The pack was not opened, so there is nothing to reassemble."
)
COOLANT_PRESSURE = Reason(
    "reassembly_coolant_pressure",
    "Coolant circuit: started at {got_kpa:g} kPa; {needed_kpa:g} kPa are asked. Test again.",
)
COOLANT_TIME = Reason(
    "reassembly_coolant_time",
    "Coolant circuit: {got_min:g} min between the readings; {needed_min:g} min are asked.",
)
COOLANT_LEAKS = Reason(
    "reassembly_coolant_leaks",
    "Coolant circuit lost {drop_kpa:.1f} kPa; {allowed_kpa:.1f} kPa are allowed. Find the leak.",
)
COOLANT_GAUGE_LAPSED = Reason(
    "reassembly_coolant_gauge", "{label} is out of calibration. Test again with another gauge."
)
LEADS_EARLY = Reason(
    "reassembly_leads_early",
    "Sense leads go on after the last link is torqued. Strike the tick, check them and tick again.",
)
PARTS_DIFFER = Reason(
    "reassembly_parts",
    "{out:g} loose parts and tools counted out, {back:g} accounted for. Find the difference.",
)
BEFORE_FAILS = Reason(
    "reassembly_isolation_fails",
    "Isolation before the lid fails: {got:.0f} ohm/V at most, {limit:.0f} ohm/V are needed. "
    "Go back to fault localisation.",
)
BEFORE_UNDECIDED = Reason(
    "reassembly_isolation_undecided",
    "Isolation before the lid is not decided against {limit:.0f} ohm/V: {advice}",
)
AFTER_FAILS = Reason(
    "reassembly_closed_fails",
    "Isolation with the lid on fails against {limit:.0f} ohm/V. Something touches the lid: open it "
    "again.",
)
AFTER_UNDECIDED = Reason(
    "reassembly_closed_undecided",
    "Isolation with the lid on is not decided against {limit:.0f} ohm/V: {advice}",
)
BEFORE_EARLY = Reason(
    "reassembly_isolation_early",
    "{point}: read before the repair, the last torque, the sense leads or the last opening of the "
    "lid. Strike it and read again.",
)
AFTER_EARLY = Reason(
    "reassembly_closed_early", "{point}: read before the lid went on. Strike it and read again."
)
LID_TORQUE_EARLY = Reason(
    "reassembly_lid_torque_early",
    "The lid bolts were tightened before the lid went on last. Strike the values, tighten again.",
)
CURING = Reason("reassembly_curing", "The sealant cures until {until_at}.")

REASONS = (
    LID_STAYED_ON,
    COOLANT_PRESSURE,
    COOLANT_TIME,
    COOLANT_LEAKS,
    COOLANT_GAUGE_LAPSED,
    LEADS_EARLY,
    PARTS_DIFFER,
    BEFORE_FAILS,
    BEFORE_UNDECIDED,
    AFTER_FAILS,
    AFTER_UNDECIDED,
    BEFORE_EARLY,
    AFTER_EARLY,
    LID_TORQUE_EARLY,
    CURING,
)


def skip(record: Record) -> Reason | None:
    """Say that nothing is reassembled when the lid never came off."""
    return None if record.lid_was_off else LID_STAYED_ON


def _coolant(record: Record, test: CoolantTest | None) -> list[Blocker]:
    gauge, found = record.given(COOLANT_GAUGE), list[Blocker]()
    if gauge is not None and not used_in_date(gauge):
        found.append(COOLANT_GAUGE_LAPSED(COOLANT_GAUGE.key, label=gauge.value.label))
    found += late_blockers(record, COOLANT_GAUGE, COOLANT_START, COOLANT_END)
    if test is None:
        return found
    if test.start_kpa < test.needed_kpa:
        pressures = {"got_kpa": test.start_kpa, "needed_kpa": test.needed_kpa}
        found.append(COOLANT_PRESSURE(COOLANT_START.key, **pressures))
    if test.minutes < test.needed_min:
        times = {"got_min": test.minutes, "needed_min": test.needed_min}
        found.append(COOLANT_TIME(COOLANT_MIN.key, **times))
    if test.verdict == "fail":
        drops = {"drop_kpa": test.drop_kpa, "allowed_kpa": test.allowed_kpa}
        found.append(COOLANT_LEAKS(COOLANT_END.key, **drops))
    return found


def _inside(record: Record, a: Reassembly) -> list[Blocker]:
    found: list[Blocker] = []
    leads = record.given(SENSE_LEADS)
    if leads is not None and leads.seq < a.last_torque_seq:
        found.append(LEADS_EARLY(SENSE_LEADS.key))
    out, back = record.get(PARTS_OUT), record.get(PARTS_IN)
    if out is not None and back is not None and out != back:
        found.append(PARTS_DIFFER(PARTS_IN.key, out=out, back=back))
    return found


def _early(record: Record, side: PackSide, seq: int, reason: Reason) -> list[Blocker]:
    """Say which reading was taken before the pack was as it is now."""
    taken: list[Given[Any]] = [*record.all(side.reading), *record.all(side.settling)]
    return [
        reason(one.entry.item, one.entry.qualifier, point=one.part("point"))
        for one in taken
        if one.seq < seq
    ]


def _before(record: Record, a: Reassembly) -> list[Blocker]:
    """Say what in the isolation before the lid stands against putting it on."""
    side, key = a.before_lid, BEFORE_LID.reading.key
    found = [*instrument_blockers(record, BEFORE_LID)]
    found += pack_side_blockers(record, BEFORE_LID, side)
    found += _early(record, BEFORE_LID, a.ready_seq, BEFORE_EARLY)
    if side.verdict == "fail":
        got = side.ohm_per_v if side.ohm_per_v_high is None else side.ohm_per_v_high
        found.append(BEFORE_FAILS(key, got=got or 0.0, limit=a.limit.value))
    if record.pack is not None and side.verdict not in {"pass", "fail"}:
        advice = in_a_row(message.text for message in side.advice) or "Read again."
        at = key if points_now(record) else ""
        found.append(BEFORE_UNDECIDED(at, limit=a.limit.value, advice=advice))
    return found


def _lid_blockers(record: Record, a: Reassembly) -> tuple[Blocker, ...]:
    """Say what stands against putting the lid on, beyond items not entered."""
    links: tuple[Blocker, ...] = ()
    if a.links is not None:
        closing = last_link_blockers(record, LINKS, a.links)
        links = (*closing, *joint_blockers(record, LINKS, a.links))
    inside = _inside(record, a)
    return (*links, *_coolant(record, a.coolant), *inside, *_before(record, a))


def holds(record: Record, a: Reassembly) -> tuple[Hold, ...]:
    """Give the hold points: before live work, before the last link, before the lid goes on."""
    live, live_h = live_work_blockers(record, LIVE), record.limits.live_work_h.value
    work = Hold(
        slug=LIVE_HOLD, act="work in the open pack begins", needs=(*LIVE, *TOOLS), valid_h=live_h,
        blockers=(*live, *instrument_blockers(record, BEFORE_LID)),
        cautions=("The open pack stays live. One tool, one terminal at a time.",),
    )  # fmt: skip
    lid = Hold(
        slug=LID_HOLD,
        act="the lid goes on",
        needs=(*LIVE, *(item for item in before_lid(record) if item.needed)),
        blockers=(*live, *_lid_blockers(record, a)),
        valid_h=live_h,
        cautions=("Look once more: nothing loose, nothing pinched, nothing wet.",),
    )
    if a.links is None:
        return (work, lid)
    closing = last_link_blockers(record, LINKS, a.links)
    last = Hold(slug=LINK_HOLD, act="the last link closes", needs=(*LIVE, *last_link_needs(LINKS)),
                blockers=(*live, *closing), valid_h=live_h)  # fmt: skip
    return (work, last, lid)


def _after(record: Record, a: Reassembly) -> list[Blocker]:
    """Say what stands against the isolation of the closed pack."""
    if not record.has(LID_ON) or not a.readable_closed:
        return []
    found = [*instrument_blockers(record, AFTER_LID)]
    found += pack_side_blockers(record, AFTER_LID, a.after_lid)
    on = record.given(LID_ON)
    found += _early(record, AFTER_LID, 0 if on is None else on.seq, AFTER_EARLY)
    key, limit = AFTER_LID.reading.key, a.limit.value
    if a.after_lid.verdict == "fail":
        found.append(AFTER_FAILS(key, limit=limit))
    elif a.after_lid.verdict != "pass" and a.closed_verdict != "pass":
        advice = in_a_row(message.text for message in a.after_lid.advice) or "Read again."
        found.append(AFTER_UNDECIDED(key, limit=limit, advice=advice))
    return found


def _lid_torque(record: Record, a: Reassembly) -> tuple[Blocker, ...]:
    on = record.given(LID_ON)
    if a.lid is None or on is None:
        return ()
    early = any(given.seq < on.seq for given in record.all(LID.values))
    again = (LID_TORQUE_EARLY(LID.values.key),) if early else ()
    return (*torque_blockers(a.lid, LID), *again)


def blockers(record: Record, a: Reassembly) -> tuple[Blocker, ...]:
    """Say what blocks the signature beyond missing items."""
    lid = _lid_torque(record, a)
    curing = () if a.cured else (CURING(LID_ON.key, until_at=a.cure_until),)
    standing = standing_blockers(record, QUOTE, PRICE_CAP)
    return (*_lid_blockers(record, a), *lid, *curing, *_after(record, a), *standing)
