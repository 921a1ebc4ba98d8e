"""What stands against the proof of absence of voltage, the step, and live work in later steps.

Here: `prove`, which judges a round; `live_work_blockers`, used by the hold points of every step
that works on live parts. Nothing here can be countersigned.
"""

from datetime import UTC, datetime, timedelta
from itertools import product

from jobs.core import live_work
from jobs.core.entry import Kind
from jobs.core.grounds import changed_since
from jobs.core.item import EquipmentUsed, qualifier_of
from jobs.core.live_work import live_work_blockers, worn_blockers
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Given, Record
from jobs.core.refusals import MISSING, WITHDRAWN
from jobs.core.step import Hold, ProofRound
from jobs.steps.de_energise_check.assessment import DeEnergised, Round, assess_round, of_round
from jobs.steps.de_energise_check.items import (
    AFTER,
    AIR_TEST,
    AREA,
    BEFORE,
    DEAD,
    DISCHARGE,
    GLOVES,
    INDICATOR,
    LABEL,
    METER,
    SECOND,
    SHIELD,
    SLUG,
    TOOLS,
    UNCHANGED,
    UNIT,
    isolating_items,
    items,
    proofs,
    round_now,
    slow_codes,
    undone_seq,
)
from packs.physics.absence import PAIRS
from packs.words import told

__all__ = ["REASONS", "blockers", "holds", "live_work_blockers", "prove"]

NO_PACK = Reason("proof_no_pack", "Choose the pack definition first; the limits are in it.")
LABEL_AGAIN = Reason(
    "proof_label_again",
    "The pack definition was chosen after the label was compared. Strike it and compare again.",
)
ROUND_OVER = Reason("proof_round_over", "Round {old} is over. Take the readings of round {new}.")
UNDONE = Reason(
    "proof_undone",
    "{label}: undone since it was ticked. Strike it, do and tick it again, or start a new round.",
)
WAIT = Reason(
    "proof_wait", "Wait until {until_at}: {minutes:.0f} min from the last isolating action."
)
EARLY = Reason(
    "proof_early",
    "{point}, {pair}: read before the waiting time was over, or before the last isolating action. "
    "Strike it and read again, or start a new round.",
)
GEAR_LAPSED = Reason(
    "proof_gear_lapsed", "{label} is past its date or has none. Take another one in a new round."
)
GEAR_RATING = Reason(
    "proof_gear_rating",
    "{label} is good for {rated_v:.0f} V; this pack reaches {highest_v:.0f} V. Take another one.",
)
CHANGED = Reason(
    "proof_instrument_changed",
    "Indicator or proving unit was picked after the first proof. Start a new round with it.",
)
ORDER = Reason(
    "proof_order",
    "Protection on, prove on the unit, read every point, prove again: this stands out of order. "
    "Start a new round.",
)
GAP = Reason(
    "proof_gap",
    "The two proofs are {minutes:.0f} min apart; {allowed_min:.0f} min are allowed. "
    "Start a new round.",
)
STALE = Reason(
    "proof_stale",
    "The readings are {minutes:.0f} min old; {allowed_min:.0f} min are allowed. Start a new round.",
)
NO_DIGITS = Reason(
    "proof_no_digits",
    "{label} shows no digits: strike the number and enter “<” and the lowest step that stays dark.",
)
WRONG_PAIR = Reason("proof_wrong_pair", "“{pair}” is not one of the three pairs. Strike it.")
PROOF_OFF = Reason("proof_off_source", "{why}")
LIVE = Reason("proof_live", "{point} is live: {why} Stay away and find out what feeds it.")
VOID = Reason("proof_void", "{point}: {why}")
SECOND_EARLY = Reason(
    "proof_second_early",
    "The second person signs after the last reading. Strike it and sign again.",
)
DISCHARGE_MISSING = Reason(
    "proof_discharge_missing",
    "{code} was stored: the waiting time cannot be trusted. Record the discharge after isolating.",
)
DISCHARGE_HIGH = Reason(
    "proof_discharge_high",
    "The discharge ends at {last_v:.1f} V; it has to come under {dead_v:.0f} V. {why}",
)
NOT_PROVEN = Reason(
    "proof_not_written",
    "The absence of voltage is not proven now: both people sign the round once nothing is missing.",
)
PROOF_REASONS = (
    NO_PACK,
    LABEL_AGAIN,
    ROUND_OVER,
    UNDONE,
    WAIT,
    EARLY,
    GEAR_LAPSED,
    GEAR_RATING,
    CHANGED,
    ORDER,
    GAP,
    STALE,
    NO_DIGITS,
    WRONG_PAIR,
    PROOF_OFF,
    LIVE,
    VOID,
    SECOND_EARLY,
    DISCHARGE_MISSING,
    DISCHARGE_HIGH,
    NOT_PROVEN,
)
REASONS = (*PROOF_REASONS, *live_work.REASONS)

_OFF = {"proof_before_off": BEFORE, "proof_after_off": AFTER}
_UNDATED = ("face_shield", "insulated_tools")


def _missing(record: Record) -> list[Blocker]:
    found = []
    for item in items(record):
        given = {entry.qualifier for entry in record.live.get(item.key, ())}
        asked = item.expected if item.many == "each" else ("",)
        if item.needed:
            found += [MISSING(item.key, q, label=item.label) for q in asked if q not in given]
    return found


def _undone(record: Record, place: str) -> list[Blocker]:
    undone, found = undone_seq(record), list[Blocker]()
    for item in isolating_items(record):
        given = record.given(item)
        if given is not None and given.seq <= undone and given.entry.qualifier == place:
            found.append(UNDONE(item.key, place, label=item.label))
    return found


def _label(record: Record) -> list[Blocker]:
    """Ask to compare again after a change; a signed step keeps its kind of pack."""
    if any(LABEL.key.startswith(f"{slug}.") for slug in record.signatures):
        return []
    label = record.given(LABEL)
    chosen = max((e.seq for e in record.entries if e.kind is Kind.REVISION), default=0)
    return [LABEL_AGAIN(LABEL.key)] if label is not None and chosen > label.seq else []


def _one_gear(record: Record, given: Given[EquipmentUsed], rating: str) -> list[Blocker]:
    used, place, found = given.value, (given.entry.item, given.entry.qualifier), list[Blocker]()
    undated = used.due_on is None and used.kind not in _UNDATED
    if undated or not used.in_date(record.now.date()):
        found.append(GEAR_LAPSED(*place, label=used.label))
    if record.pack is not None and rating and used.number(rating) < record.pack.working_v:
        volts = {"rated_v": used.number(rating), "highest_v": record.pack.working_v}
        found.append(GEAR_RATING(*place, label=used.label, **volts))
    if used.id in record.withdrawn:
        found.append(WITHDRAWN(*place, label=used.label, why=record.withdrawn[used.id]))
    return found


def _gear(record: Record, result: Round) -> list[Blocker]:
    place, gloves = qualifier_of(round=result.name), record.given(GLOVES)
    found = worn_blockers(record, gloves, record.given(AIR_TEST))
    if gloves is not None and gloves.value.id in record.withdrawn:
        why = record.withdrawn[gloves.value.id]
        found.append(WITHDRAWN(GLOVES.key, label=gloves.value.label, why=why))
    used = [(record.given(INDICATOR, place), "rated_v"), (record.given(UNIT, place), "output_v")]
    used += [(record.given(SHIELD), ""), (record.given(TOOLS), "rated_v")]
    if result.discharge is not None:
        used.append((record.given(METER), "rated_v"))
    for given, rating in used:
        found += [] if given is None else _one_gear(record, given, rating)
    return found


def _minutes(later: datetime, earlier: datetime) -> float:
    return (later.astimezone(UTC) - earlier.astimezone(UTC)).total_seconds() / 60.0


def _timing(record: Record, result: Round) -> list[Blocker]:
    """Say what is too early, too far apart or too old."""
    pack, place, until = record.pack, qualifier_of(round=result.name), result.wait_until
    before, after = record.given(BEFORE, place), record.given(AFTER, place)
    if pack is None or until is None:
        return []
    found = []
    if record.now < until:
        found.append(WAIT(until_at=until.isoformat(), minutes=pack.wait_min.value))
    for given in of_round(record, result.name):
        if given.at < until:
            where = {"point": given.part("point"), "pair": given.part("pair")}
            found.append(EARLY(DEAD.key, given.entry.qualifier, **where))
    allowed_min = pack.prove_gap_min.value
    if after is not None:
        old_min = _minutes(record.now, after.at)
        if old_min > allowed_min:
            found.append(STALE(AFTER.key, place, minutes=old_min, allowed_min=allowed_min))
        gap_min = 0.0 if before is None else _minutes(after.at, before.at)
        if gap_min > allowed_min:
            found.append(GAP(AFTER.key, place, minutes=gap_min, allowed_min=allowed_min))
    return found


def _order(record: Record, result: Round) -> list[Blocker]:
    """Say what was done out of order: protection, unit, readings, unit, second person."""
    place = qualifier_of(round=result.name)
    first = [record.given(item) for item in (AREA, GLOVES, AIR_TEST, SHIELD, TOOLS)]
    first.append(record.given(UNCHANGED, place))
    tools = [record.given(item, place) for item in (INDICATOR, UNIT)]
    before, after = record.given(BEFORE, place), record.given(AFTER, place)
    second, dead = record.given(SECOND, place), of_round(record, result.name)
    found = []
    if before is not None and any(g is not None and g.seq > before.seq for g in tools):
        found.append(CHANGED(INDICATOR.key, place))
    start = [given.seq for given in (*first, before) if given is not None]
    read = [given.seq for given in dead]
    end = [after.seq] if after is not None else []
    if any(a > b for a, b in product(start, read)) or any(a > b for a, b in product(read, end)):
        found.append(ORDER(BEFORE.key, place))
    if second is not None and changed_since(record, SLUG, second.seq):
        found.append(SECOND_EARLY(SECOND.key, place))
    return found


def _readings(record: Record, result: Round) -> list[Blocker]:
    """Say which reading or proof does not show what it has to."""
    place, found = qualifier_of(round=result.name), list[Blocker]()
    indicator = record.get(INDICATOR, place)
    digits = indicator is None or indicator.ratings.get("has_digits") is True
    for given in of_round(record, result.name):
        at = (DEAD.key, given.entry.qualifier)
        if given.part("pair") not in PAIRS:
            found.append(WRONG_PAIR(*at, pair=given.part("pair")))
        if indicator is not None and not digits and given.value.comparator == "=":
            found.append(NO_DIGITS(*at, label=indicator.label))
    for point in result.points:
        for reason in point.reasons:
            if reason.code == "live":
                found.append(LIVE(DEAD.key, point=point.name, why=reason.text))
            if reason.code in {"too_coarse", "refused"} and indicator is not None:
                found.append(VOID(DEAD.key, point=point.name, why=reason.text))
    off = {r.code: r.text for point in result.points for r in point.reasons if r.code in _OFF}
    return [*found, *(PROOF_OFF(_OFF[code].key, place, why=text) for code, text in off.items())]


def _discharged(record: Record, result: Round) -> list[Blocker]:
    slow, shown = slow_codes(record), result.discharge
    if shown is None:
        return [DISCHARGE_MISSING(DISCHARGE.key, code=slow[0])] if slow else []
    if shown.reached or record.pack is None:
        return []
    left = "" if shown.left_s is None else told("About {left_s:.0f} s more.", left_s=shown.left_s)
    volts = {"last_v": shown.last_v, "dead_v": record.pack.dead_v.value}
    return [DISCHARGE_HIGH(DISCHARGE.key, **volts, why=shown.fault or left)]


def prove(record: Record, round_name: str) -> ProofRound:
    """Judge a round: dead only where every point is, in order, in time, with fit instruments.

    Parameters
    ----------
    record : Record
        The job as it stands.
    round_name : str
        The round.

    Returns
    -------
    ProofRound
        The verdict, what stands against the proof, its second person and how long it would hold.
    """
    result, pack = assess_round(record, round_name), record.pack
    if pack is None:
        return ProofRound(
            verdict="void", blockers=(NO_PACK(),), second=None, until=None, seal=result
        )
    found: list[Blocker] = []
    now = round_now(record)
    if round_name != now or round_name in proofs(record):
        found.append(ROUND_OVER(old=round_name, new=now))
    found += _undone(record, qualifier_of(round=round_name))
    found += [*_missing(record), *_label(record), *_gear(record, result)]
    found += [*_timing(record, result), *_order(record, result)]
    found += [*_readings(record, result), *_discharged(record, result)]
    return ProofRound(
        verdict=result.verdict,
        blockers=tuple(found),
        second=record.get(SECOND, qualifier_of(round=round_name)),
        until=record.now.astimezone(UTC) + timedelta(hours=pack.proof_hours.value),
        seal=result,
    )


def holds(_record: Record, _result: DeEnergised) -> tuple[Hold, ...]:
    """Give no hold points: the proof itself is what later work waits for."""
    return ()


def blockers(record: Record, result: DeEnergised) -> tuple[Blocker, ...]:
    """Say what blocks the signature: a proof that is not in force, and what stands against it."""
    if result.proven:
        return tuple(_label(record))
    said = {MISSING.code, WITHDRAWN.code}
    judged = prove(record, result.round_now).blockers
    against = tuple(point for point in judged if point.code not in said)
    return (*against, NOT_PROVEN(SECOND.key, qualifier_of(round=result.round_now)))
