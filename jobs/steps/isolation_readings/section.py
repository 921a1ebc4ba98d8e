"""What the isolation readings say on the screen and in the report."""

from jobs.core.record import Record
from jobs.core.section import Fact, Quantity, Said, Section, Table, VerdictWord, Words
from jobs.steps.intake.items import pack_alone
from jobs.steps.isolation_readings.assessment import Isolation, PackSideResult, Side
from jobs.steps.isolation_readings.items import (
    HUMIDITY_PERCENT,
    NOTHING,
    OUTCOME,
    PACK,
    REPEAT,
    TEMPERATURE_C,
    VEHICLE,
)
from packs.definition import Figure

_WORDS: dict[str, VerdictWord] = {"pass": "pass", "fail": "fail", "undecided": "undecided"}

_PLAIN = {
    "pack": "We found that the battery pack itself has lost its insulation.",
    "vehicle_part": "The battery pack keeps its limit; a part of the vehicle has lost its "
    "insulation: {parts}.",
    "both": "The battery pack and a part of the vehicle have lost their insulation: {parts}.",
    "not_found": "We could not find the fault. That does not mean that there is none: heed every "
    "warning of the vehicle and come back when it returns.",
}
_NOT_EXCLUDED = Said("A leak in the pack is not excluded by these readings.")
_METHODS = {
    "none": "not read",
    "near_zero": "near zero at the only pole: nothing excluded",
    "shunt": "one pole, with and without shunt",
    "two_poles": "two poles",
    "voltmeter": "both ends, voltmeter and shunt",
}


def _quantity(side: Side) -> Quantity | None:
    if side.ohm_per_v is None:
        return None
    return Quantity(
        side.ohm_per_v,
        "ohm/V",
        side.ohm_per_v_low,
        side.ohm_per_v_high,
        ">" if side.is_lower_bound else "=",
    )


def side_facts(label: str, side: Side, limit: Figure, instrument: str) -> tuple[Fact, ...]:
    """Give the lines of proof of one side: per volt against its limit, and in ohm.

    Parameters
    ----------
    label : str
        Which side.
    side : Side
        Its figures.
    limit : Figure
        The limit in force, with kind and source [ohm/V].
    instrument : str
        Label of what it was read with.

    Returns
    -------
    tuple[Fact, ...]
        Empty while nothing was read.
    """
    per_v = _quantity(side)
    if per_v is None or side.total_ohm is None:
        return ()
    total = Quantity(
        side.total_ohm, "ohm", side.total_ohm_low, side.total_ohm_high, per_v.comparator
    )
    return (
        Fact(
            label=f"Isolation, {label}",
            value=per_v,
            verdict=_WORDS.get(side.verdict, "none"),
            limit=Quantity(limit.value, "ohm/V"),
            limit_kind=limit.kind,
            limit_source=limit.source,
            instrument=instrument,
        ),
        Fact(label=f"Resistance to the enclosure, {label}", value=total, instrument=instrument),
    )


def _conditions(record: Record) -> tuple[Fact, ...]:
    shown = (("Temperature", TEMPERATURE_C, "degC"), ("Humidity", HUMIDITY_PERCENT, "percent"))
    values = ((label, record.get(item), unit) for label, item, unit in shown)
    return tuple(
        Fact(label=label, value=Quantity(value, unit))
        for label, value, unit in values
        if value is not None
    )


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


def _vehicle_table(record: Record) -> tuple[Table, ...]:
    rows = tuple(
        (
            Said("nothing") if one.part("unplugged") == NOTHING else one.part("unplugged"),
            one.part("pole"),
            Quantity(one.value.value, "ohm", comparator=one.value.comparator),
        )
        for one in record.all(VEHICLE.reading)
    )
    title, headings = "Vehicle's cables against the chassis", ("Unplugged", "Cable", "Reading")
    return (Table(title=title, headings=headings, rows=rows),) if rows else ()


def _repeats(record: Record) -> tuple[Table, ...]:
    rows = tuple(
        (
            one.part("condition"),
            Quantity(one.value.value, "ohm", comparator=one.value.comparator),
            Said("{read_at}", {"read_at": one.at.isoformat()}),
        )
        for one in record.all(REPEAT)
    )
    headings = ("Condition", "Lowest figure", "When")
    return (Table(title="Read again", headings=headings, rows=rows),) if rows else ()


def _headline(a: Isolation) -> tuple[VerdictWord, Said | None]:
    """Give the worse of both sides, in a few words."""
    verdicts = (a.pack.verdict, a.vehicle.verdict)
    if "fail" in verdicts:
        sides = {("fail", "fail"): "Both sides leak."}
        one = "The pack leaks." if a.pack.verdict == "fail" else "The vehicle's side leaks."
        return "fail", Said(sides.get(verdicts, one))
    if "undecided" in verdicts:
        return "undecided", Said("Not decided yet.")
    if "pass" in verdicts:
        return "pass", Said("Above the limit where it was read.")
    return "none", None


def _plain(record: Record, a: Isolation) -> tuple[Said, ...]:
    said = []
    if a.outcome in _PLAIN:
        said.append(Said(_PLAIN[a.outcome], {"parts": ", ".join(a.vehicle.leaking) or "-"}))
    if record.has(PACK.not_excluded):
        said.append(_NOT_EXCLUDED)
    return tuple(said)


def section(record: Record, a: Isolation) -> Section:
    """Say what was read, against which limit, and where the leak is."""
    verdict, headline = _headline(a)
    meter, tester = record.get(PACK.meter), record.get(VEHICLE.tester)
    messages = [*a.pack.warnings, *a.vehicle.warnings]
    advice = [*a.pack.advice, *a.vehicle.advice]
    doubt = a.pack.near_zero or a.pack.verdict == "none"
    not_covered = (
        (Said("The vehicle was not here: its side was not read."), pack_alone(record)),
        (_NOT_EXCLUDED, doubt and record.has(OUTCOME)),
    )
    return Section(
        verdict=verdict,
        headline=headline,
        plain=_plain(record, a),
        advice=tuple(Said(text) for text in dict.fromkeys(one.text for one in advice)),
        warnings=tuple(Said(text) for text in dict.fromkeys(one.text for one in messages)),
        facts=(
            *side_facts("pack", a.pack, a.limit, "" if meter is None else meter.label),
            *side_facts("vehicle", a.vehicle, a.limit, "" if tester is None else tester.label),
            *_conditions(record),
        ),
        tables=(*pack_tables(a.pack), *_vehicle_table(record), *_repeats(record)),
        not_covered=tuple(said for said, applies in not_covered if applies),
    )
