"""What the fault localisation says on the screen and in the report."""

from jobs.core.item import PersonalRef
from jobs.core.leak_guide import (
    REPEAT_BITS,
    LinkWork,
    closed_proposals,
    leak_pictures,
    open_proposals,
    suspects_of,
    two_leaks_said,
)
from jobs.core.leak_history import history_facts
from jobs.core.quoted import approved_said, lapsed_said, quoted_facts
from jobs.core.record import Record
from jobs.core.section import Fact, Proposal, Quantity, Said, Section, Table, VerdictWord
from jobs.steps.fault_localisation.assessment import Localisation, searched
from jobs.steps.fault_localisation.items import (
    AMOUNT,
    CANDIDATES,
    HISTORY,
    LINK_HOLD,
    LINK_OPENED,
    MODULE_OHM,
    OPTION,
    OTHER_NEW,
    OTHER_OLD,
    OTHER_PART,
    OTHER_WHAT,
    PART_DONE,
    PART_NEW,
    PART_OLD,
    QUOTATION,
    READING,
    SEEN,
    SEEN_FROM,
    SLUG,
    STOP,
    answered,
)
from jobs.steps.isolation_readings.items import PACK

_SEEN = {
    "electrolyte": Said("We saw electrolyte in the pack."),
    "coolant": Said("We saw coolant in the pack."),
    "water": Said("We saw water in the pack."),
    "corrosion": Said("We saw corrosion in the pack."),
    "nothing": Said("There was nothing to be seen by eye."),
}
_OTHER = {
    "harness": "The harness inside the pack leaks.",
    "busbar": "A busbar inside the pack leaks.",
    "connector": "A connector inside the pack leaks.",
    "contactor": "A contactor inside the pack leaks.",
    "cooling_plate": "The cooling plate inside the pack leaks.",
}
_EVIDENCE = {
    "links": "readings with the links on both sides open",
    "insulation": "the module's own insulation against that of the others",
}
_VERDICTS: dict[str, tuple[VerdictWord, str]] = {
    "named": ("fail", "Named: {modules}."),
    "narrowed": ("undecided", "Narrowed to {modules}."),
    "undecided": ("undecided", "Not named yet; likeliest: {modules}."),
    "no_leak": ("none", "The readings show no leak in the pack."),
}


def _headline(a: Localisation) -> tuple[VerdictWord, Said | None]:
    if a.search.result is None:
        return "none", None
    if a.search.result.inconsistent:
        return "undecided", Said("The readings contradict each other.")
    verdict, text = _VERDICTS[a.search.result.verdict]
    return verdict, Said(text, {"modules": ", ".join(a.search.named or a.search.result.likely[:3])})


def _found(record: Record, a: Localisation) -> list[Said]:
    """Say in plain words what leaks and how that was confirmed."""
    said: list[Said] = []
    if a.leaking:
        text = "The leak is in {modules}: battery current finds a way to the enclosure there."
        said.append(Said(text, {"modules": ", ".join(a.leaking)}))
    what = record.get(OTHER_WHAT)
    if what in _OTHER and a.outcome == "pack_not_module":
        said.append(Said(_OTHER[what]))
    said += [_SEEN[g.part("what")] for g in record.all(SEEN) if g.part("what") in _SEEN]
    if a.leaking and a.confirmed_by:
        said.append(Said("Two independent kinds of reading agree on it."))
    names = [given.part("part") for given in record.all(PART_DONE)]
    if names:
        said.append(Said("Replaced in the vehicle: {parts}.", {"parts": ", ".join(names)}))
    return said


def _agreed(record: Record) -> tuple[Said, ...]:
    """Say which quotation the customer approved."""
    answer, amount = answered(record), record.get(AMOUNT)
    said = approved_said(record, QUOTATION, answer, OPTION)
    if amount is not None and answer == "approved":
        before = Said("You approved a quotation of {amount_money}.", {"amount_money": amount})
        said = (*said, before)
    return said


def _plain(record: Record, a: Localisation) -> tuple[Said | PersonalRef, ...]:
    said: list[Said | PersonalRef] = [*_found(record, a)]
    if record.get(STOP) == "not_serviceable":
        said.append(Said("The enclosure cannot be opened and closed again as it should be."))
    elif a.outcome == "declined":
        said.append(Said("You decided against the repair."))
    if a.outcome == "declined":
        said.append(
            Said(
                "The fault is still there. The high voltage was left switched off and labelled: do "
                "not switch it on, do not charge it, move it by tow only."
            )
        )
    return tuple(said)


def _facts(record: Record, a: Localisation) -> tuple[Fact, ...]:
    facts = list(quoted_facts(record, QUOTATION, answered(record), OPTION))
    if a.search.result is not None and a.search.result.leak_ohm is not None and a.search.named:
        leak = Quantity(
            a.search.result.leak_ohm,
            "ohm",
            a.search.result.leak_ohm_low,
            a.search.result.leak_ohm_high,
        )
        facts.append(Fact(label="Resistance of the leak", value=leak))
    if a.peers.ratio is not None:
        limit = record.limits.suspect_ratio
        facts.append(
            Fact(
                label=Said(
                    "Insulation of {module}: times below the others' median",
                    {"module": a.peers.suspect or ""},
                ),
                value=Quantity(a.peers.ratio, ""),
                limit=Quantity(limit.value, ""),
                limit_kind=limit.kind,
                limit_source=limit.source,
            )
        )
    if record.has(HISTORY):
        facts += history_facts(record.get(HISTORY), searched(record))
    facts += [Fact(label="Confirmed by", value=Said(_EVIDENCE[one])) for one in a.confirmed_by]
    words = (
        ("Candidates given to the customer", CANDIDATES),
        ("Where the liquid was", SEEN_FROM),
        ("Part replaced", OTHER_PART),
        ("Serial number, old", OTHER_OLD),
        ("Serial number, new", OTHER_NEW),
    )
    given = ((label, record.get(item)) for label, item in words)
    facts += [Fact(label=label, value=text) for label, text in given if text is not None]
    return tuple(facts)


def _tables(record: Record, a: Localisation) -> tuple[Table, ...]:
    readings = tuple(
        (
            f"{one.reading.module} {one.reading.pole}",
            "+".join(one.reading.open_after) or "-",
            Said("without shunt") if one.reading.shunt_ohm is None else Said("with shunt"),
            Quantity(one.reading.volts, "V"),
        )
        for one in a.search.taken
    )
    modules = tuple(
        (g.part("module"), Quantity(g.value.value, "ohm", comparator=g.value.comparator))
        for g in record.all(MODULE_OHM)
    )
    new = {given.part("part"): given.value for given in record.all(PART_NEW)}
    old = {given.part("part"): given.value for given in record.all(PART_OLD)}
    parts = tuple((name, old[name], new.get(name, "-")) for name in old)
    headings = ("Pole", "Links open after", "Shunt", "Reading")
    tables = (
        Table(title="Readings that were used", headings=headings, rows=readings),
        Table(title="Insulation module by module", headings=("Module", "Reading"), rows=modules),
        Table(
            title="Vehicle parts replaced",
            headings=("Part", "Old", "New"),
            rows=parts,
            of_parts=True,
        ),
    )
    return tuple(table for table in tables if table.rows)


def _asked(a: Localisation) -> bool:
    """Tell whether another reading is wanted at all."""
    ended = a.outcome in {"declined", "pack_not_module"}
    return a.search.result is not None and not a.confirmed_by and not ended


def _proposals(record: Record, a: Localisation) -> tuple[Proposal, ...]:
    """Propose the next readings, only such as lid and passed hold points allow."""
    if not _asked(a):
        return ()
    if not record.pack_open:
        return closed_proposals(record, PACK, a.search)
    work = LinkWork(
        reading=READING.key,
        link=LINK_OPENED.key,
        hold=LINK_HOLD,
        hold_passed=(SLUG, LINK_HOLD) in record.holds,
        opened=frozenset(given.part("after") for given in record.all(LINK_OPENED)),
    )
    return open_proposals(record, a.search, work)


def _advice(record: Record, a: Localisation) -> tuple[Said, ...]:
    """Say where the readings end that may be taken as the pack is now."""
    if not _asked(a) or a.search.result is None:
        return ()
    said = []
    more = any(one.gain_bits > REPEAT_BITS for one in a.search.result.next_readings)
    if not record.pack_open and not more:
        said.append(Said("The closed pack cannot tell more. The next readings need the lid off."))
    return tuple(said)


def section(record: Record, a: Localisation) -> Section:
    """Say where the readings point, what confirms it, and what was replaced or left."""
    verdict, headline = _headline(a)
    warnings = () if a.search.result is None else a.search.result.warnings
    return Section(
        verdict=verdict,
        headline=headline,
        plain=_plain(record, a),
        agreed=_agreed(record),
        advice=_advice(record, a),
        warnings=(
            *lapsed_said(record, QUOTATION, answered(record)),
            *(() if a.confirmed_by else two_leaks_said(a.search)),
            *(Said(one.text) for one in warnings),
        ),
        facts=_facts(record, a),
        tables=_tables(record, a),
        pictures=leak_pictures(record, PACK, a.search),
        proposals=_proposals(record, a),
        suspects=suspects_of(record, PACK, a.search),
    )
