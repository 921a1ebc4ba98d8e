"""What the de-energise check says on the screen and in the report."""

from datetime import timedelta

from jobs.core.item import Bounded
from jobs.core.record import Given, Record
from jobs.core.section import (
    CountDown,
    Fact,
    Quantity,
    Said,
    Section,
    Table,
    VerdictWord,
    Words,
)
from jobs.steps.de_energise_check.assessment import DeEnergised, Discharge, Point, of_round
from jobs.steps.de_energise_check.items import DISCHARGE, KEYS, LOCK
from packs.definition import PackDefinition

_VERDICTS: dict[str, VerdictWord] = {"dead": "pass", "live": "fail", "void": "undecided"}
_PAIRS = {
    "pos-neg": Said("positive to negative"),
    "pos-chassis": Said("positive to chassis"),
    "neg-chassis": Said("negative to chassis"),
}
_HEADLINES = {
    "dead": Said("Every reading is below the limit"),
    "live": Said("Live: stay away"),
    "void": Said("Not proven yet"),
}


def _point_fact(pack: PackDefinition, point: Point, worst_v: float, instrument: str) -> Fact:
    return Fact(
        label=point.name,
        value=Quantity(worst_v, "V", low=0.0, high=point.worst_v_high),
        verdict=_VERDICTS[point.verdict],
        limit=Quantity(pack.dead_v.value, "V"),
        limit_kind=pack.dead_v.kind,
        limit_source=pack.dead_v.source,
        instrument=instrument,
    )


def _discharge_fact(pack: PackDefinition, shown: Discharge) -> Fact:
    return Fact(
        label="Discharge of the link capacitors, last reading",
        value=Quantity(abs(shown.last_v), "V"),
        verdict="pass" if shown.reached else "fail",
        limit=Quantity(pack.dead_v.value, "V"),
        limit_kind=pack.dead_v.kind,
        limit_source=pack.dead_v.source,
    )


def _secured(record: Record, pack: PackDefinition, result: DeEnergised) -> list[Fact]:
    facts = []
    keys, lock, since = record.get(KEYS), record.get(LOCK), result.round.isolated_at
    if keys is not None:
        facts.append(Fact(label="Keys held by", value=Said("{person}", {"person": keys.id})))
    if lock is not None:
        facts.append(Fact(label="Lock", value=lock))
    if since is not None:
        at = {"since_at": since.isoformat()}
        wait = Quantity(pack.wait_min.value, "min")
        facts.append(
            Fact(
                label="Last isolating action; least waiting time after it",
                value=Said("{since_at}", at),
                limit=wait,
                limit_kind=pack.wait_min.kind,
                limit_source=pack.wait_min.source,
            )
        )
    return facts


def _facts(record: Record, result: DeEnergised) -> tuple[Fact, ...]:
    pack, shown = record.pack, result.round
    if pack is None:
        return ()
    used = " / ".join(label for label in (shown.indicator, shown.unit) if label)
    facts = _secured(record, pack, result)
    facts += [
        _point_fact(pack, point, point.worst_v, used)
        for point in shown.points
        if point.worst_v is not None
    ]
    if shown.discharge is not None:
        facts.append(_discharge_fact(pack, shown.discharge))
    proof = record.proof
    if proof is not None:
        who = {"person": proof.technician, "second_person": proof.second}
        when = {"since_at": proof.at.isoformat(), "until_at": proof.until.isoformat()}
        told = Said("{person} and {second_person}, {since_at} until {until_at}", who | when)
        facts.append(Fact(label="Proven by", value=told, verdict="pass"))
    return tuple(facts)


def _row(given: Given[Bounded]) -> tuple[Words, ...]:
    shown = given.value
    pair = _PAIRS.get(given.part("pair"), given.part("pair"))
    at = Said("{read_at}", {"read_at": given.at.isoformat()})
    return given.part("point"), pair, Quantity(shown.value, "V", comparator=shown.comparator), at


def _table(record: Record, name: str) -> tuple[Table, ...]:
    rows = tuple(_row(given) for given in of_round(record, name))
    heads = ("Point", "Between", "Reading", "Time")
    title = "Readings of the absence of voltage"
    return (Table(title=title, headings=heads, rows=rows),) if rows else ()


def _advice(result: DeEnergised) -> tuple[Said, ...]:
    shown, found = result.round, list[Said]()
    if shown.wait_until is not None and not result.proven:
        found.append(
            Said("Read no earlier than {until_at}.", {"until_at": shown.wait_until.isoformat()})
        )
    if shown.verdict == "live":
        found.append(
            Said(
                "Keep away, keep the area barred. Look in the maker's service information for what "
                "feeds the point: a welded contactor, a charged capacitor, a supply left on."
            )
        )
    if shown.discharge is not None and shown.discharge.left_s:
        left = {"left_s": f"{shown.discharge.left_s:.0f}"}
        found.append(Said("The discharge needs about {left_s} s more.", left))
    return tuple(found)


def _counts(record: Record, result: DeEnergised) -> tuple[CountDown, ...]:
    """Count the waiting time down, and what a discharge that was recorded still needs."""
    shown, found = result.round, list[CountDown]()
    if shown.wait_until is not None and not result.proven and record.now < shown.wait_until:
        text, over = Said("Waiting time"), Said("The waiting time is over.")
        found.append(CountDown(text=text, until=shown.wait_until, over=over))
    given = record.given(DISCHARGE)
    if shown.discharge is not None and shown.discharge.left_s and given is not None:
        until = given.at + timedelta(seconds=shown.discharge.left_s)
        if record.now < until:
            text, over = Said("Discharge"), Said("Read the discharge again.")
            found.append(CountDown(text=text, until=until, over=over))
    return tuple(found)


def _warnings(record: Record, result: DeEnergised) -> tuple[Said, ...]:
    found = [Said("The pack stays live inside, whatever is switched off.")]
    if result.slow_codes:
        named = {"named": ", ".join(result.slow_codes)}
        found.append(
            Said("{named} was stored: do not trust the waiting time, record the discharge.", named)
        )
    if record.pack is not None and record.pack.disconnect.kind != "string_plug":
        found.append(
            Said("No plug parts the string: contactors may be welded, the pack connector live.")
        )
    return tuple(found)


def section(record: Record, result: DeEnergised) -> Section:
    """Say since when it is switched off, what was read, and by whom it was proven."""
    shown = result.round
    read = any(point.worst_v is not None for point in shown.points)
    plain = (
        Said(
            "Before anybody worked on it, two people switched off the high-voltage circuit outside "
            "the battery, locked it, and measured that it carries no voltage."
        ),
    )
    verdict, headline = _VERDICTS[shown.verdict], _HEADLINES[shown.verdict]
    if shown.verdict == "dead" and not record.proof_holds():
        # Readings alone prove nothing: they age, and two people have to sign for them.
        verdict, headline = "undecided", Said("Readings below the limit, yet not proven now")
    return Section(
        verdict=verdict if read else "none",
        headline=headline if read else None,
        plain=plain if record.proof is not None else (),
        advice=_advice(result),
        warnings=_warnings(record, result),
        facts=_facts(record, result),
        tables=_table(record, shown.name),
        counts=_counts(record, result),
        not_covered=(
            Said("The battery itself cannot be switched off; this says nothing about its inside."),
        ),
    )
