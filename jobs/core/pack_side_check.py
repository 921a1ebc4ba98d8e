"""What isolation readings at the pack say, section by section, and what is wrong with them.

Here: `assess_pack_side` and the blockers of such a set of readings, for every step that takes one.
Not here: the formulas (`packs.physics`), and what a step makes of pass or fail.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

from jobs.core.insulation import LOW, Side, figures_of, late_blockers, meter_of, rated_blockers
from jobs.core.pack_side import PackSide
from jobs.core.readings_asked import note_section, note_settling
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.section import Quantity, Said, Table, Words
from packs.definition import PackDefinition
from packs.physics.circuit import against_limit, combine_parallel
from packs.physics.decay import DecayResult, Sample, decay
from packs.physics.instrument import CalculationRefused, Message, Meter
from packs.physics.string_insulation import (
    UNKNOWN,
    PoleVolts,
    SectionInsulation,
    SectionReadings,
    section_insulation,
)

__all__ = [
    "REASONS",
    "PackSideResult",
    "PoleReading",
    "SectionFinding",
    "assess_pack_side",
    "instrument_blockers",
    "pack_side_blockers",
    "pack_tables",
    "pole_readings",
]

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
REASONS = (POWER, UNREAD, UNSETTLED, CONTRADICTORY, DIFFER)

_ADVICE = {
    "let_settle": "Let each reading stand still for 10 s, or enter its settling.",
    "take_again": "Check sign, pole and shunt, let the readings settle and take them again.",
    "take_shunt": "Read the same pole again with the shunt fitted.",
    "second_pole": "Read a second pole of the section as soon as one can be reached.",
    "better_shunt": "Take the readings again with a shunt near the limit times the voltage.",
}
_METHODS = {
    "none": "not read",
    "near_zero": "near zero at the only pole: nothing excluded",
    "shunt": "one pole, with and without shunt",
    "two_poles": "two poles",
    "voltmeter": "both ends, voltmeter and shunt",
}


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


Place = tuple[str, str]
"""Point and shunt of a reading."""


@lru_cache(maxsize=256)
def _end(rows: tuple[tuple[float, ...], ...], meter: Meter, floor_v: float) -> DecayResult | None:
    """Fit a settling once: gate, page and report ask for it again; None where it is too short."""
    samples = [Sample(t_s=row[0], v=row[1]) for row in rows]
    try:
        return decay(samples, meter, floor_v=floor_v)
    except CalculationRefused:
        return None


def _ends(record: Record, items: PackSide, meter: Meter) -> dict[Place, DecayResult]:
    """Give what each settling series ends at; a series too short to tell is left out."""
    found: dict[Place, DecayResult] = {}
    for given in record.all(items.settling):
        end = _end(given.value, meter, record.limits.floor_v.value)
        if end is not None:
            place = (given.part("point"), given.part("shunt"))
            found[place] = end
            note_settling(place, given.value, meter, record.limits.floor_v.value, end)
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


@lru_cache(maxsize=512)
def _insulation(section: SectionReadings, differ_percent: float) -> SectionInsulation:
    """Keep what was calculated: a list of jobs asks the same of the same readings again."""
    return section_insulation(section, differ_percent=differ_percent)


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
        insulation = _insulation(section, percent)
        found.append(SectionFinding(name=name, found=insulation))
        note_section(name, section, insulation)
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
        **figures_of(whole, pack.working_v),
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
    warnings = (*whole.warnings, LOW) if low else whole.warnings
    return replace(result, warnings=warnings, advice=_advice(result))


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
    found = [*rated_blockers(record, items.meter), *rated_blockers(record, items.shunt)]
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
    taken = (items.reading, items.settling)
    found += late_blockers(record, items.meter, *taken)
    found += late_blockers(record, items.shunt, *taken, qualifier="shunt=fitted")
    return tuple(found)


def pack_tables(side: PackSideResult) -> tuple[Table, ...]:
    """Give the readings pole by pole and what each section says.

    Parameters
    ----------
    side : PackSideResult
        The pack's side.

    Returns
    -------
    tuple[Table, ...]
        Empty while nothing was read.
    """
    if not side.readings:
        return ()
    readings = tuple(
        (
            one.point,
            Said("with shunt") if one.shunt == "fitted" else Said("without shunt"),
            Quantity(one.volts, "V"),
            Said("settled") if one.settled else Said("not shown to have settled"),
        )
        for one in side.readings
    )
    sections: list[tuple[Words, ...]] = []
    for one in side.sections:
        whole = one.found.insulation
        known = whole is not None and not whole.contradictory and not whole.near_zero
        figure: Words = Said("not known")
        if whole is not None and known:
            figure = Quantity(whole.total_ohm, "ohm", whole.total_ohm_low, whole.total_ohm_high)
        sections.append((one.name, figure, Said(_METHODS[one.found.method])))
    return (
        Table(
            title="Poles against the enclosure",
            headings=("Point", "Shunt", "Reading", "Settling"),
            rows=readings,
        ),
        Table(
            title="Sections of the string",
            headings=("Section", "Resistance", "How"),
            rows=tuple(sections),
        ),
    )
