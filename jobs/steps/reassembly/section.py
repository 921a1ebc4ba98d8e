"""What reassembly says on the screen and in the report."""

from jobs.core.insulation import side_facts
from jobs.core.pack_side_check import pack_tables
from jobs.core.picture import before_after
from jobs.core.record import Record
from jobs.core.section import Fact, Quantity, Said, Section, Table, VerdictWord, Words
from jobs.core.torque import torque_fact, torque_table
from jobs.steps.isolation_readings.assessment import assess as assess_isolation
from jobs.steps.module_swap.section import (
    joint_advice,
    joint_pictures,
    link_facts,
    link_tables,
)
from jobs.steps.reassembly.assessment import CoolantTest, Doubt, Reassembly
from jobs.steps.reassembly.items import AFTER_LID, BEFORE_LID, CAUSE, LID_ON, REPAIRED

_WORDS: dict[str, VerdictWord] = {"pass": "pass", "fail": "fail", "undecided": "undecided"}


def _coolant(test: CoolantTest) -> Fact:
    return Fact(
        label="Coolant circuit, pressure lost",
        value=Quantity(test.drop_kpa, "kPa"),
        verdict=_WORDS.get(test.verdict, "none"),
        limit=Quantity(test.allowed_kpa, "kPa"),
        limit_kind="shop_default",
        limit_source="",
    )


def _doubt(doubt: Doubt) -> tuple[Words, ...]:
    if not doubt.known_now or doubt.now_ohm_low is None:
        return (doubt.section, Said("not excluded"), Said("not known yet"))
    bound = doubt.now_ohm_high is None
    low, high = doubt.now_ohm_low, doubt.now_ohm_high
    now = Quantity(low, "ohm", low, high, ">" if bound else "=")
    return (doubt.section, Said("not excluded"), now)


def _plain(record: Record, a: Reassembly) -> tuple[Said, ...]:
    said, cause = [], record.get(CAUSE)
    if cause is not None:
        said.append(Said("What caused it: {cause}.", {"cause": cause.rstrip(".")}))
    if record.has(REPAIRED):
        said.append(Said("The cause was repaired before the pack was closed."))
    if a.before_lid.verdict == "pass":
        said.append(Said("The pack's insulation passed its limit before the lid went on."))
    if record.has(LID_ON) and a.closed_verdict == "pass" and a.after_lid.readings:
        said.append(Said("It was read again with the lid on, and kept its limit."))
    return tuple(said)


def _headline(record: Record, a: Reassembly) -> tuple[VerdictWord, Said | None]:
    """Give the verdict of the latest isolation readings in a few words."""
    verdict = a.closed_verdict if record.has(LID_ON) else a.before_lid.verdict
    if verdict == "pass":
        return "pass", Said("Isolation keeps the limit after the repair.")
    if verdict == "fail":
        return "fail", Said("The pack still leaks.")
    return ("undecided", Said("Not decided yet.")) if verdict == "undecided" else ("none", None)


def _tables(a: Reassembly) -> tuple[Table, ...]:
    doubts = Table(
        title="Sections that were in doubt",
        headings=("Section", "In the isolation readings", "Before the lid"),
        rows=tuple(_doubt(doubt) for doubt in a.doubts),
    )
    return (
        *pack_tables(a.before_lid),
        *((doubts,) if a.doubts else ()),
        *(() if a.links is None else link_tables(a.links)),
        *(() if a.lid is None else (torque_table(a.lid),)),
        *pack_tables(a.after_lid),
    )


def _facts(record: Record, a: Reassembly) -> tuple[Fact, ...]:
    before, after = record.get(BEFORE_LID.meter), record.get(AFTER_LID.meter)
    return (
        *side_facts("pack, before the lid", a.before_lid, a.limit, before.label if before else ""),
        *side_facts("pack, lid on", a.after_lid, a.limit, after.label if after else ""),
        *(() if a.coolant is None else (_coolant(a.coolant),)),
        *(() if a.links is None else link_facts(a.links)),
        *((torque_fact(a.lid),) if a.lid is not None and record.has(LID_ON) else ()),
    )


def section(record: Record, a: Reassembly) -> Section:
    """Say what was repaired, what isolation reads now, and how the pack was closed."""
    verdict, headline = _headline(record, a)
    found_first = assess_isolation(record).pack.ohm_per_v
    now = a.before_lid.ohm_per_v
    advice = [*a.before_lid.advice, *a.after_lid.advice] if a.closed_verdict != "pass" else []
    warnings = [*a.before_lid.warnings]
    not_covered = (
        (Said("The closed pack has no point at which its insulation can be read."),
         not a.readable_closed and record.has(LID_ON)),
        (Said("With the lid on only some points can be read; the others were read before it."),
         a.after_lid.near_zero),
    )  # fmt: skip
    failed = a.before_lid.verdict == "fail"
    back = (Said("Go back to fault localisation: a leak is left in the pack."),) if failed else ()
    return Section(
        verdict=verdict,
        headline=headline,
        plain=_plain(record, a),
        back=("fault_localisation",) if failed else (),
        advice=(
            *back,
            *joint_advice(record, a.links),
            *(Said(text) for text in dict.fromkeys(one.text for one in advice)),
        ),
        warnings=tuple(Said(text) for text in dict.fromkeys(one.text for one in warnings)),
        facts=_facts(record, a),
        tables=_tables(a),
        pictures=(
            *joint_pictures(record, a.links),
            *(() if now is None else (before_after(found_first, now, a.limit.value),)),
        ),
        not_covered=tuple(said for said, applies in not_covered if applies),
    )
