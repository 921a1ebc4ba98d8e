"""What the isolation readings say: per section, for the whole string, and for the vehicle's side.

Here: `assess_pack_side` and `assess_vehicle_side`, which later steps call with their own items,
and this step's `assess`. Not here: the formulas (`packs.physics`), what blocks (`gate`).
"""

from dataclasses import dataclass, replace
from typing import Any

from jobs.core.item import Bounded, EquipmentUsed
from jobs.core.record import Record
from jobs.steps.isolation_readings.items import (
    NOTHING,
    OUTCOME,
    PACK,
    VEHICLE,
    PackSide,
    VehicleSide,
)
from packs.definition import Figure, PackDefinition
from packs.physics.circuit import Insulation, against_limit, combine_parallel
from packs.physics.decay import DecayResult, Sample, decay
from packs.physics.instrument import CalculationRefused, Message, Meter
from packs.physics.isolation import IsolationResult, isolation_by_tester
from packs.physics.string_insulation import (
    UNKNOWN,
    PoleVolts,
    SectionInsulation,
    SectionReadings,
    section_insulation,
)
from packs.physics.tester import AboveOhm, TesterCase

CONTACT_OHM = 1e-3
"""What a reading of "below" counts as [ohm]: the worst."""

_ADVICE = {
    "let_settle": "Let each reading stand still for 10 s, or enter its settling.",
    "take_again": "Check sign, pole and shunt, let the readings settle and take them again.",
    "take_shunt": "Read the same pole again with the shunt fitted.",
    "second_pole": "Read a second pole of the section as soon as one can be reached.",
    "better_shunt": "Take the readings again with a shunt near the limit times the voltage.",
}
_LOW = Message("low_total", "Low for dry insulation, even where the limit is kept.")


@dataclass(frozen=True, slots=True, kw_only=True)
class PoleReading:
    """One voltage from a pole to the enclosure, signed, as it counts; shunt "none" or "fitted"."""

    point: str
    module: str
    pole: str
    shunt: str
    volts: float
    kind: str
    settled: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One side's isolation; `verdict` is "none" while nothing can be said."""

    verdict: str = "none"
    limit_ohm_per_v: float = 0.0
    total_ohm: float | None = None
    total_ohm_low: float | None = None
    total_ohm_high: float | None = None
    ohm_per_v: float | None = None
    ohm_per_v_low: float | None = None
    ohm_per_v_high: float | None = None
    is_lower_bound: bool = False
    warnings: tuple[Message, ...] = ()
    advice: tuple[Message, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionFinding:
    """One part of the string between open links."""

    name: str
    found: SectionInsulation


@dataclass(frozen=True, slots=True, kw_only=True)
class PackSideResult(Side):
    """The pack's side: section by section, and what is in doubt about the readings."""

    readings: tuple[PoleReading, ...] = ()
    sections: tuple[SectionFinding, ...] = ()
    standard_ohm: float | None = None
    near_zero: bool = False
    contradictory: bool = False
    differ: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    unsettled: tuple[str, ...] = ()


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Isolation:
    """What this step found; `agrees` is False when the chosen outcome contradicts the readings."""

    limit: Figure
    pack: PackSideResult
    vehicle: VehicleSideResult
    outcome: str
    agrees: bool


def meter_of(used: EquipmentUsed) -> Meter:
    """Give the voltmeter as the calculations take it; what is not known has the usual figure."""
    return Meter(
        input_ohm=used.number("input_ohm"),
        input_tolerance_percent=used.number("input_tolerance_percent", 1.0),
        accuracy_percent=used.number("accuracy_percent", 0.5),
        accuracy_counts=used.number("accuracy_counts", 2.0),
        resolution_v=used.number("resolution_v", 0.01),
    )


Place = tuple[str, str]
"""Point and shunt of a reading."""


def _ends(record: Record, items: PackSide, meter: Meter) -> dict[Place, DecayResult]:
    """Give what each settling series ends at; a series too short to tell is left out."""
    found: dict[Place, DecayResult] = {}
    for given in record.all(items.settling):
        samples = [Sample(t_s=row[0], v=row[1]) for row in given.value]
        try:
            end = decay(samples, meter, floor_v=record.limits.floor_v.value)
        except CalculationRefused:
            continue
        found[given.part("point"), given.part("shunt")] = end
    return found


def _kind(volts: float, end: DecayResult | None, meter: Meter) -> str:
    """Name what the settling says; "conflict" where the reading is not its end value."""
    if end is None:
        return ""
    half_v = meter.half_width_v(volts)
    inside = end.end_v_low - half_v <= volts <= end.end_v_high + half_v
    return end.kind if inside else "conflict"


def pole_readings(record: Record, items: PackSide) -> tuple[PoleReading, ...]:
    """Give every reading at a known isolation point, single or as the end of its settling.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : PackSide
        Whose readings.

    Returns
    -------
    tuple[PoleReading, ...]
        Signed volts [V]; empty without pack or meter.
    """
    used = record.get(items.meter)
    if record.pack is None or used is None:
        return ()
    meter = meter_of(used)
    points = {point.name: point for point in record.pack.isolation_points}
    ends = _ends(record, items, meter)
    typed = {(g.part("point"), g.part("shunt")): g.value for g in record.all(items.reading)}
    volts = {place: end.end_v for place, end in ends.items()} | typed
    kinds = {place: _kind(value, ends.get(place), meter) for place, value in volts.items()}
    still = {given.part("point") for given in record.all(items.settled)}
    still |= {place[0] for place, kind in kinds.items() if kind in {"floating", "standing"}}
    return tuple(
        PoleReading(
            point=name,
            module=points[name].module,
            pole=points[name].pole,
            shunt=shunt,
            volts=value,
            kind=kinds[name, shunt],
            settled=name in still and kinds[name, shunt] != "conflict",
        )
        for (name, shunt), value in volts.items()
        if name in points
    )


def _sections(
    record: Record, items: PackSide, pack: PackDefinition, readings: tuple[PoleReading, ...]
) -> tuple[SectionFinding, ...]:
    """Judge each section of the string from the readings at its poles."""
    used, shunt = record.get(items.meter), record.get(items.shunt)
    string_v = record.get(items.string_v)
    fitted = {one.point: one.volts for one in readings if one.shunt == "fitted"}
    found = []
    for names in pack.sections():
        poles = tuple(
            PoleVolts(
                cells=pack.cells_before(one.module)
                + (pack.module_named(one.module).cells if one.pole == "pos" else 0),
                volts=one.volts,
                shunted_v=fitted.get(one.point),
            )
            for one in readings
            if one.module in names and one.shunt == "none"
        )
        section = SectionReadings(
            poles=poles,
            meter=Meter(input_ohm=0.0) if used is None else meter_of(used),
            shunt_ohm=None if shunt is None else shunt.number("ohm"),
            shunt_tolerance_percent=1.0 if shunt is None else shunt.number("tolerance_percent"),
            cell_v=None if string_v is None else string_v / pack.cells_total,
            whole_cells=pack.cells_total if len(pack.sections()) == 1 else None,
            working_voltage_v=pack.working_v,
        )
        name = names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"
        percent = record.limits.estimates_differ_percent.value
        found.append(
            SectionFinding(name=name, found=section_insulation(section, differ_percent=percent))
        )
    return tuple(found)


def assess_pack_side(record: Record, items: PackSide, limit_ohm_per_v: float) -> PackSideResult:
    """Judge the pack's side from one set of readings.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : PackSide
        The step's own items.
    limit_ohm_per_v : float
        Limit that the total has to reach [ohm/V].

    Returns
    -------
    PackSideResult
        Total with its 95 % interval [ohm], per volt of working voltage [ohm/V], verdict.

    Notes
    -----
    Sections are combined by conductance. A section in which nothing was read counts as not
    excluded, so it can never help to pass; readings that moved or disagree decide nothing.
    """
    pack, readings = record.pack, pole_readings(record, items)
    if pack is None or not readings:
        return PackSideResult(limit_ohm_per_v=limit_ohm_per_v)
    sections = _sections(record, items, pack, readings)
    whole = combine_parallel([one.found.insulation or UNKNOWN for one in sections])
    unsettled = tuple(dict.fromkeys(one.point for one in readings if not one.settled))
    differ = tuple(one.name for one in sections if one.found.differ)
    judged = against_limit(whole, limit_ohm_per_v, pack.working_v)
    verdict = "undecided" if unsettled or differ else str(judged)
    standards = [s.found.standard_ohm for s in sections if s.found.standard_ohm is not None]
    result = PackSideResult(
        verdict=verdict,
        limit_ohm_per_v=limit_ohm_per_v,
        **_figures(whole, pack.working_v),
        is_lower_bound=whole.is_lower_bound,
        readings=readings,
        sections=sections,
        standard_ohm=standards[0] if standards else None,
        near_zero=whole.near_zero,
        contradictory=whole.contradictory,
        differ=differ,
        unread=tuple(one.name for one in sections if one.found.insulation is None),
        unsettled=unsettled,
    )
    low = verdict == "pass" and whole.total_ohm < record.limits.isolation_warning_ohm.value
    warnings = (*whole.warnings, _LOW) if low else whole.warnings
    return replace(result, warnings=warnings, advice=_advice(result))


def _figures(whole: Insulation | IsolationResult, working_v: float) -> dict[str, Any]:
    """Give the total and the total per volt, each with its interval."""
    high = whole.total_ohm_high
    return {
        "total_ohm": whole.total_ohm,
        "total_ohm_low": whole.total_ohm_low,
        "total_ohm_high": high,
        "ohm_per_v": whole.total_ohm / working_v,
        "ohm_per_v_low": whole.total_ohm_low / working_v,
        "ohm_per_v_high": None if high is None else high / working_v,
    }


def _advice(result: PackSideResult) -> tuple[Message, ...]:
    """Say what to read next while the pack's side is not decided."""
    if result.verdict != "undecided":
        return ()
    needs = {
        "let_settle": bool(result.unsettled),
        "take_again": bool(result.differ) or result.contradictory,
        "take_shunt": bool(result.unread),
        "second_pole": result.near_zero and not result.unread,
    }
    codes = [code for code, needed in needs.items() if needed] or ["better_shunt"]
    return tuple(Message(code, _ADVICE[code]) for code in codes)


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
    base = isolation_by_tester(case)
    limit_ohm = limit_ohm_per_v * case.working_voltage_v
    parts = tuple(
        _part(name, base, isolation_by_tester(one), limit_ohm) for name, one in cases.items()
    )
    low = base.verdict == "pass" and base.total_ohm < record.limits.isolation_warning_ohm.value
    return VehicleSideResult(
        verdict=str(base.verdict),
        limit_ohm_per_v=limit_ohm_per_v,
        **_figures(base, case.working_voltage_v),
        is_lower_bound=base.is_lower_bound,
        parts=parts,
        leaking=tuple(part.name for part in parts if part.leaks),
        warnings=(*base.warnings, _LOW) if low else base.warnings,
        advice=base.advice,
    )


def _part(name: str, base: IsolationResult, rest: IsolationResult, limit_ohm: float) -> PartFinding:
    with_it = 0.0 if base.total_ohm_high is None else 1.0 / base.total_ohm_high
    own = with_it - 1.0 / rest.total_ohm_low
    return PartFinding(
        name=name,
        without_ohm=rest.total_ohm,
        comparator=">" if rest.is_lower_bound else "=",
        leaks=base.verdict != "pass" and (rest.verdict == "pass" or own > 1.0 / limit_ohm),
    )


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
