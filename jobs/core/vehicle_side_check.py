"""What isolation readings on the vehicle's side say, which part leaks, and what is wrong with them.

Here: `assess_vehicle_side` and the blockers of such a set of readings, for every step that takes
one. Not here: the formulas (`packs.physics`), and what a step makes of pass or fail.
"""

from dataclasses import dataclass
from itertools import pairwise

from jobs.core.asked import note
from jobs.core.insulation import LOW, Side, figures_of, late_blockers, rated_blockers
from jobs.core.item import Bounded
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.section import Quantity, Said, Table
from jobs.core.vehicle_side import (
    DISCHARGE,
    MARKED,
    NOTHING,
    READ,
    SHORTED,
    VehicleSide,
    undischarged,
)
from packs.physics.isolation import IsolationResult, isolation_by_tester
from packs.physics.tester import AboveOhm, TesterCase

__all__ = [
    "REASONS",
    "PartFinding",
    "VehicleSideResult",
    "assess_vehicle_side",
    "vehicle_side_blockers",
    "vehicle_tables",
]

CONTACT_OHM = 1e-3
"""What a reading of "below" counts as [ohm]: the worst."""
_POLES = {"pos": "positive", "neg": "negative"}
LEAD_SHARE = 0.01
"""Shorted leads read at most this share of the check resistor [1]: shop default."""
CHECK_SHARE = 0.1
"""The check resistor reads within this share of what is marked on it [1]: shop default."""

VEHICLE_UNDECIDED = Reason(
    "isolation_vehicle_undecided",
    "The vehicle's side is not decided. Set a test voltage of at least {working_v:.0f} V, or take "
    "a tester that reads further.",
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
DISCHARGE_LATE = Reason(
    "isolation_discharge_late",
    "With {unplugged} unplugged, {pole} cable: discharged only after the next reading was taken. "
    "Strike this reading and its discharge, read again, discharge before anything else is read.",
)
REASONS = (VEHICLE_UNDECIDED, TEST_VOLTAGE, LEADS, LEADS_ORDER, DISCHARGE, DISCHARGE_LATE)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartFinding:
    """A part of the vehicle: what is read with it unplugged, and whether it leaks."""

    name: str
    without_ohm: float
    comparator: str
    leaks: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleSideResult(Side):
    """The vehicle's side, and the parts that leak."""

    parts: tuple[PartFinding, ...] = ()
    leaking: tuple[str, ...] = ()


def _ohm(shown: Bounded | None) -> float | AboveOhm:
    if shown is None or shown.comparator == "<":
        return CONTACT_OHM
    if shown.comparator == ">":
        return AboveOhm(above_ohm=max(shown.value, CONTACT_OHM))
    return max(shown.value, CONTACT_OHM)


def _rests(record: Record, items: VehicleSide, limit_ohm_per_v: float) -> dict[str, TesterCase]:
    """Give one case for each thing unplugged; a pole not read counts as the one that was."""
    pack, tester, test_v = record.pack, record.get(items.tester), record.get(items.test_v)
    if pack is None or tester is None or not test_v:
        return {}
    states: dict[str, dict[str, Bounded]] = {}
    for given in record.all(items.reading):
        states.setdefault(given.part("unplugged"), {})[given.part("pole")] = given.value
    return {
        name: TesterCase(
            test_voltage_v=test_v,
            pos_ohm=_ohm(poles.get("pos", poles.get("neg"))),
            neg_ohm=_ohm(poles.get("neg", poles.get("pos"))),
            working_voltage_v=pack.working_v,
            limit_ohm_per_v=limit_ohm_per_v,
            accuracy_percent=tester.number("accuracy_percent", 5.0),
        )
        for name, poles in states.items()
        if name != NOTHING or set(poles) >= {"pos", "neg"}
    }


def assess_vehicle_side(
    record: Record, items: VehicleSide, limit_ohm_per_v: float
) -> VehicleSideResult:
    """Judge the vehicle's side and name the parts that leak.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : VehicleSide
        The step's own items.
    limit_ohm_per_v : float
        Limit that the smaller pole reading has to reach [ohm/V].

    Returns
    -------
    VehicleSideResult
        Total with its 95 % interval [ohm], verdict, and the leaking parts.

    Notes
    -----
    A part leaks when the rest passes with it unplugged, or when its own conductance, total minus
    rest at the ends of their intervals, is above that of the limit.
    """
    cases = _rests(record, items, limit_ohm_per_v)
    case = cases.pop(NOTHING, None)
    if case is None:
        return VehicleSideResult(limit_ohm_per_v=limit_ohm_per_v)
    base = _tested(NOTHING, case)
    limit_ohm = limit_ohm_per_v * case.working_voltage_v
    parts = tuple(_part(name, base, _tested(name, one), limit_ohm) for name, one in cases.items())
    low = base.verdict == "pass" and base.total_ohm < record.limits.isolation_warning_ohm.value
    return VehicleSideResult(
        verdict=str(base.verdict),
        limit_ohm_per_v=limit_ohm_per_v,
        **figures_of(base, case.working_voltage_v),
        is_lower_bound=base.is_lower_bound,
        parts=parts,
        leaking=tuple(part.name for part in parts if part.leaks),
        warnings=(*base.warnings, LOW) if low else base.warnings,
        advice=base.advice,
    )


def _tested(unplugged: str, case: TesterCase) -> IsolationResult:
    """Ask for the insulation with a part unplugged, and leave how it came about."""
    result = isolation_by_tester(case)
    about = Said("Vehicle's cables, all plugged in")
    if unplugged != NOTHING:
        about = Said("Vehicle's cables, {part} unplugged", {"part": unplugged})
    note("isolation", about, case, result)
    return result


def _part(name: str, base: IsolationResult, rest: IsolationResult, limit_ohm: float) -> PartFinding:
    with_it = 0.0 if base.total_ohm_high is None else 1.0 / base.total_ohm_high
    own = with_it - 1.0 / rest.total_ohm_low
    return PartFinding(
        name=name,
        without_ohm=rest.total_ohm,
        comparator=">" if rest.is_lower_bound else "=",
        leaks=base.verdict != "pass" and (rest.verdict == "pass" or own > 1.0 / limit_ohm),
    )


def _leads(record: Record, items: VehicleSide) -> list[Blocker]:
    """Say what is wrong with the proof of the leads before and after the readings."""
    key, found = items.lead_proof.key, list[Blocker]()
    proofs = {given.part("when"): given for given in record.all(items.lead_proof)}
    readings = [given.seq for given in record.all(items.reading)]
    for when, given in proofs.items():
        rows = given.value
        marked, read = rows.get(MARKED, 0.0), rows.get(READ, 0.0)
        shorted = rows.get(SHORTED, float("inf"))
        unmarked = marked <= 0
        if unmarked or shorted > LEAD_SHARE * marked or abs(read - marked) > CHECK_SHARE * marked:
            found.append(LEADS(key, f"when={when}", when=when))
    if set(proofs) >= {"before", "after"} and readings:
        early = proofs["before"].seq > min(readings)
        if early or proofs["after"].seq < max(readings):
            found.append(LEADS_ORDER(key))
    return found


def _discharged_late(record: Record, items: VehicleSide) -> list[Blocker]:
    """Ask that each cable was discharged before the next reading, not some time after it.

    A discharge of an earlier version of this gate, which names no cable, is not asked when.
    """
    readings = sorted(record.all(items.reading), key=lambda given: given.seq)
    done = {given.entry.qualifier: given.seq for given in record.all(items.discharged)}
    return [
        DISCHARGE_LATE(
            items.reading.key,
            given.entry.qualifier,
            unplugged=given.part("unplugged"),
            pole=_POLES.get(given.part("pole"), given.part("pole")),
        )
        for given, following in pairwise(readings)
        if done.get(given.entry.qualifier, 0) > following.seq
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
        Instrument, leads, discharge, an undecided verdict; nothing about pass or fail.
    """
    tester, test_v = record.get(items.tester), record.get(items.test_v)
    found = rated_blockers(record, items.tester)
    found += late_blockers(record, items.tester, items.reading, items.lead_proof)
    rated = () if tester is None else tester.ratings.get("test_voltages_v", ())
    if tester is not None and test_v is not None and test_v not in {float(one) for one in rated}:
        found.append(TEST_VOLTAGE(items.test_v.key, label=tester.label, test_v=test_v))
    found += _leads(record, items)
    found += [*undischarged(record, items), *_discharged_late(record, items)]
    if result.verdict == "undecided" and record.pack is not None:
        found.append(VEHICLE_UNDECIDED(items.test_v.key, working_v=record.pack.working_v))
    return tuple(found)


def vehicle_tables(record: Record, items: VehicleSide) -> tuple[Table, ...]:
    """Give the readings by what was unplugged; empty while there are none."""
    rows = tuple(
        (
            Said("nothing") if one.part("unplugged") == NOTHING else one.part("unplugged"),
            one.part("pole"),
            Quantity(one.value.value, "ohm", comparator=one.value.comparator),
        )
        for one in record.all(items.reading)
    )
    title, headings = "Vehicle's cables against the chassis", ("Unplugged", "Cable", "Reading")
    return (Table(title=title, headings=headings, rows=rows),) if rows else ()
