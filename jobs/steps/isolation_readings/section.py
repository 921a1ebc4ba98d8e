"""What the isolation readings say on the screen and in the report."""

from jobs.core.insulation import side_facts
from jobs.core.item import Bounded
from jobs.core.leak_guide import closed_proposals, leak_pictures, suspects_of, two_leaks_said
from jobs.core.leak_search import Searched, plug_links, search, taken_closed
from jobs.core.pack_side import points_now
from jobs.core.pack_side_check import pack_tables
from jobs.core.record import Record
from jobs.core.section import Fact, Proposal, Quantity, Said, Section, Table, VerdictWord
from jobs.core.vehicle_guide import vehicle_proposals
from jobs.core.vehicle_side_check import vehicle_tables
from jobs.steps.intake.items import pack_alone
from jobs.steps.isolation_readings.assessment import Isolation
from jobs.steps.isolation_readings.items import (
    HUMIDITY_PERCENT,
    OUTCOME,
    PACK,
    REPEAT,
    TEMPERATURE_C,
    VEHICLE,
)
from packs.definition import Figure
from packs.physics.localise_case import Place, Pole
from packs.physics.tester import reading_of_tester

__all__ = ["pack_tables", "section", "side_facts"]

_PLAIN = {
    "pack": "We found that the battery pack itself has lost its insulation.",
    "vehicle_part": "The battery pack keeps its limit; a part of the vehicle has lost its "
    "insulation: {parts}.",
    "both": "The battery pack and a part of the vehicle have lost their insulation: {parts}.",
    "not_found": "We could not find the fault. That does not mean that there is none: heed every "
    "warning of the vehicle and come back when it returns.",
}
_NOT_EXCLUDED = Said("A leak in the pack is not excluded by these readings.")


def _conditions(record: Record) -> tuple[Fact, ...]:
    temperature_c, humidity_percent = record.get(TEMPERATURE_C), record.get(HUMIDITY_PERCENT)
    facts = []
    if temperature_c is not None:
        facts.append(Fact(label="Temperature", value=Quantity(temperature_c, "degC")))
    if humidity_percent is not None:
        facts.append(Fact(label="Humidity", value=Quantity(humidity_percent, "percent")))
    return tuple(facts)


def _read_again(record: Record, shown: Bounded, working_v: float) -> Quantity:
    """Give a figure read again, per volt, with the interval of the tester that was picked."""
    per_v, tester = shown.value / working_v, record.get(VEHICLE.tester)
    if tester is None or shown.comparator != "=":
        return Quantity(per_v, "ohm/V", comparator=shown.comparator)
    around = reading_of_tester(per_v, tester.number("accuracy_percent", 5.0))
    return Quantity(per_v, "ohm/V", around.low, around.high)


def _repeats(record: Record, limit: Figure) -> tuple[Table, ...]:
    """Give what was read again, each against the limit that the gate holds it to."""
    if record.pack is None:
        return ()
    rows = tuple(
        (
            one.part("condition").replace("_24h", " 24 h"),
            _read_again(record, one.value, record.pack.working_v),
            Quantity(limit.value, "ohm/V"),
            Said("{read_at}", {"read_at": one.at.isoformat()}),
        )
        for one in record.all(REPEAT)
    )
    headings = ("Condition", "Lowest figure", "Limit", "When")
    shares = (0.18, 0.42, 0.16, 0.24)
    table = Table(title="Read again", headings=headings, rows=rows, shares=shares)
    return (table,) if rows else ()


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


def _advice(a: Isolation) -> tuple[Said, ...]:
    """Name the parts of the vehicle that leak, then give what the calculations suggest."""
    named, leaking = list[Said](), a.vehicle.leaking
    if len(leaking) == 1:
        text = "Named: {parts}. With it unplugged, the vehicle's side reads better."
        named.append(Said(text, {"parts": leaking[0]}))
    elif leaking:
        text = "Named: {parts}. With each of them unplugged, the vehicle's side reads better."
        named.append(Said(text, {"parts": ", ".join(leaking)}))
    words = dict.fromkeys(one.text for one in (*a.pack.advice, *a.vehicle.advice))
    return (*named, *(Said(text) for text in words))


def _searched(record: Record, a: Isolation) -> Searched:
    """Look already here where a leak in the pack lies; nothing where the pack keeps its limit."""
    pack = record.pack
    if pack is None or a.pack.verdict in {"none", "pass"}:
        return Searched()
    points = tuple(Place(module=one.module, pole=_pole(one.pole)) for one in points_now(record))
    return search(record, PACK, taken_closed(record, PACK), (points, plug_links(pack)))


def _pole(text: str) -> Pole:
    return "neg" if text == "neg" else "pos"


def _proposals(record: Record, a: Isolation, searched: Searched) -> tuple[Proposal, ...]:
    """Propose readings until it is said where the leak is: at the pack, then at the vehicle."""
    if record.has(OUTCOME):
        return ()
    at_pack = closed_proposals(record, PACK, searched)
    return (*at_pack, *vehicle_proposals(record, VEHICLE, a.vehicle))


def section(record: Record, a: Isolation) -> Section:
    """Say what was read, against which limit, and where the leak is."""
    verdict, headline = _headline(a)
    searched = _searched(record, a)
    meter, tester = record.get(PACK.meter), record.get(VEHICLE.tester)
    messages = [*a.pack.warnings, *a.vehicle.warnings]
    doubt = a.pack.near_zero or a.pack.verdict == "none"
    not_covered = (
        (Said("The vehicle was not here: its side was not read."), pack_alone(record)),
        (_NOT_EXCLUDED, doubt and record.has(OUTCOME)),
    )
    return Section(
        verdict=verdict,
        headline=headline,
        plain=_plain(record, a),
        advice=_advice(a),
        warnings=(
            *two_leaks_said(searched),
            *(Said(text) for text in dict.fromkeys(one.text for one in messages)),
        ),
        facts=(
            *side_facts("pack", a.pack, a.limit, "" if meter is None else meter.label),
            *side_facts("vehicle", a.vehicle, a.limit, "" if tester is None else tester.label),
            *_conditions(record),
        ),
        tables=(*pack_tables(a.pack), *vehicle_tables(record, VEHICLE), *_repeats(record, a.limit)),
        not_covered=tuple(said for said, applies in not_covered if applies),
        pictures=leak_pictures(record, PACK, searched),
        proposals=_proposals(record, a, searched),
        suspects=suspects_of(record, PACK, searched),
    )
