"""A spare against the string: match, charge, rest and temperature in one, and what blocks.

Here: `SpareCheck`, the reasons, and the blockers. Not here: what is asked and when
(`spare_asked`), insulation and place (the step that fits it).
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from jobs.core.item import qualifier_of, qualifier_parts
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.spare_charge import SpareCharge, charge_of, rest_needed_h
from jobs.core.spare_items import SpareItems
from jobs.core.spare_match import SpareMatch, match_of, spare_module, wanted_for
from jobs.core.spare_runs import SpareState, state_of
from packs.definition import PackDefinition
from packs.physics.match_yardstick import SAME_TEMPERATURE_C

__all__ = [
    "CELL_SPREAD",
    "REASONS",
    "REST_SHORT",
    "SpareCheck",
    "accepted",
    "check_spare",
    "rests_until",
    "spare_blockers",
]

REST_SHORT = Reason(
    "swap_rest",
    "Spare for {module} rested {rest_h:.1f} h before its voltage was read; {needed_h:g} h are "
    "needed. Wait, strike the voltage and read it again.",
)
CELL_SPREAD = Reason(
    "swap_cell_spread",
    "Spare for {module} is {difference_mv:.0f} mV per cell from the string; {limit_mv:g} mV are "
    "allowed. Bring it to the string's charge, let it rest and read again.",
    countersign=True,
)
NOT_MATCHED = Reason(
    "swap_not_matched",
    "Spare {serial} does not match the string at {module}. {why} Pick another spare, or mend the "
    "figure.",
    countersign=True,
)
UNFIT = Reason("swap_spare_unfit", "Spare {serial} for {module} must not be used. {why}")
UNDECIDED = Reason(
    "swap_charge_undecided",
    "Spare for {module}: between {low_mv:.1f} and {high_mv:.1f} mV per cell from the string, "
    "{limit_mv:g} mV are allowed, so the readings leave it open. Read both with the same meter in "
    "a finer range, or bring the spare closer.",
    countersign=True,
)
REFUSED = Reason(
    "swap_charge_refused", "Charge of the spare for {module} cannot be worked out: {why}."
)
TEMPERATURE = Reason(
    "swap_temperature",
    "Spare for {module} {spare_c:g} °C, string {string_c:g} °C: voltages compare only within "
    "{limit_c:g} K. Let both come to the same temperature, strike and read again.",
)
SAFE_FIRST = Reason(
    "swap_move_safe_first",
    "{module}: tick the cautions before the current flows; nobody leaves the module.",
)
PLAN_FIRST = Reason(
    "swap_plan_first",
    "{module}: no current while there is no plan. Enter both rested voltages and what moves the "
    "charge.",
)
TOO_COLD = Reason(
    "swap_too_cold",
    "{module} is at {spare_c:g} °C. It must not be charged below 0 °C: warm it up slowly, let it "
    "rest, strike the temperature and enter it again.",
)
STILL_FLOWS = Reason(
    "swap_still_flows", "{module}: current flows. Read on to the stop, switch off, tick it."
)
RESTING = Reason(
    "swap_resting", "Spare for {module} rests until {until_at}. Read its voltage after that."
)
REASONS = (
    REST_SHORT,
    CELL_SPREAD,
    NOT_MATCHED,
    UNFIT,
    UNDECIDED,
    REFUSED,
    TEMPERATURE,
    SAFE_FIRST,
    PLAN_FIRST,
    TOO_COLD,
    STILL_FLOWS,
    RESTING,
)
_CHARGE_CODES = frozenset({CELL_SPREAD.code, UNDECIDED.code})


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareCheck:
    """A spare against its string.

    Attributes
    ----------
    match : SpareMatch | None
        None until a spare is picked.
    state : SpareState
        The voltage that counts, rest, charge moved.
    charge : SpareCharge
        The charge against the string's.
    rest_needed_h : float
        How long it has to rest [h].
    apart_c : float | None
        Temperature of the spare less that of the string [K].
    """

    match: SpareMatch | None
    state: SpareState
    charge: SpareCharge
    rest_needed_h: float
    apart_c: float | None


def check_spare(
    record: Record,
    items: SpareItems,
    pack: PackDefinition,
    name: str,
    out: frozenset[str] = frozenset(),
) -> SpareCheck:
    """Judge the spare for one place.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : SpareItems
        The step's items.
    pack : PackDefinition
        The pack.
    name : str
        The place.
    out : frozenset[str]
        Modules that are replaced.

    Returns
    -------
    SpareCheck
        As far as it is known.
    """
    at, state = qualifier_of(module=name), state_of(record, items, name)
    used, spare_c, string_c = (
        record.get(items.spare, at),
        record.get(items.spare_c, at),
        record.get(items.string_c),
    )
    match = None
    if used is not None:
        wanted = wanted_for(record, items, pack, pack.module_named(name), out)
        match = match_of(wanted, spare_module(used, state.cell_v), record.limits)
    return SpareCheck(
        match=match,
        state=state,
        charge=charge_of(record, items, pack, name, state.cell_v),
        rest_needed_h=rest_needed_h(record, items, pack, name),
        apart_c=None if spare_c is None or string_c is None else spare_c - string_c,
    )


def accepted(record: Record, name: str) -> bool:
    """Tell whether a manager has accepted how far the charge of a spare is off."""
    return any(
        entry.value.get("code") in _CHARGE_CODES
        and qualifier_parts(str(entry.value.get("qualifier", ""))).get("module") == name
        for entry in record.countersigned
    )


def _matching(record: Record, items: SpareItems, name: str, check: SpareCheck) -> list[Blocker]:
    at, used = qualifier_of(module=name), record.get(items.spare, qualifier_of(module=name))
    if used is None or check.match is None:
        return []
    found: list[Blocker] = []
    for reason, messages in (
        (UNFIT, check.match.unfit),
        (NOT_MATCHED, check.match.by_shop_rules),
    ):
        if messages:
            why = " ".join(each.text for each in messages)
            found.append(reason(items.spare.key, at, serial=used.serial, module=name, why=why))
    return found


def _charging(record: Record, name: str, check: SpareCheck) -> list[Blocker]:
    """Say what the voltages say against it; nothing while they count no more."""
    state, charge = check.state, check.charge
    if state.moved_since or charge.low_mv is None or charge.high_mv is None:
        return []
    limit_mv = record.limits.cell_difference_mv.value
    if charge.verdict == "fail":
        apart_mv = abs(charge.low_mv + charge.high_mv) / 2.0
        figures = {"difference_mv": apart_mv, "limit_mv": limit_mv}
        return [CELL_SPREAD(state.key, state.qualifier, module=name, **figures)]
    if charge.verdict == "undecided":
        ends = sorted((charge.low_mv, charge.high_mv))
        figures = {"low_mv": ends[0], "high_mv": ends[1], "limit_mv": limit_mv}
        return [UNDECIDED(state.key, state.qualifier, module=name, **figures)]
    return []


def rests_until(check: SpareCheck) -> datetime | None:
    """Give until when a spare rests whose charge was moved; None where it does not."""
    run = check.state.resting
    if run is None or run.off_at is None:
        return None
    return run.off_at + timedelta(hours=check.rest_needed_h)


def spare_blockers(
    record: Record, items: SpareItems, pack: PackDefinition, name: str, check: SpareCheck
) -> tuple[Blocker, ...]:
    """Say what stands against joining a spare, beyond items not entered.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : SpareItems
        The step's items.
    pack : PackDefinition
        The pack.
    name : str
        The place for which it was picked.
    check : SpareCheck
        What is known of it.

    Returns
    -------
    tuple[Blocker, ...]
        Match, rest, temperature, charge. Only what follows from shop defaults of capacity,
        resistance, age of the test and cell difference may be countersigned.
    """
    state, at = check.state, qualifier_of(module=name)
    found = _matching(record, items, name, check)
    if state.flowing is not None:
        found.append(STILL_FLOWS(items.watch_v.key, module=name))
    until = rests_until(check)
    if until is not None and record.now < until:
        found.append(RESTING(items.again_v.key, module=name, until_at=until.isoformat()))
    if state.rest_h is not None and not state.moved_since and state.rest_h < check.rest_needed_h:
        hours = {"rest_h": state.rest_h, "needed_h": check.rest_needed_h}
        found.append(REST_SHORT(state.key, state.qualifier, module=name, **hours))
    string_c, spare_c = record.get(items.string_c), record.get(items.spare_c, at)
    if check.apart_c is not None and abs(check.apart_c) > SAME_TEMPERATURE_C + 1e-9:
        degrees = {"spare_c": spare_c or 0.0, "string_c": string_c or 0.0}
        found.append(
            TEMPERATURE(items.spare_c.key, at, module=name, limit_c=SAME_TEMPERATURE_C, **degrees)
        )
    low_v, high_v = pack.cell_low_v.value, pack.cell_high_v.value
    inside = state.cell_v is not None and low_v <= state.cell_v <= high_v
    if check.charge.refused and inside:
        why = check.charge.refused
        found.append(REFUSED(state.key, state.qualifier, module=name, why=why))
    return (*found, *_charging(record, name, check))
