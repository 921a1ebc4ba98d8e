"""The figures of a spare's match and charge: lines of proof, and runs against their plans.

Here: facts, the table of reasons, and `Watched`. Not here: sentences (`spare_words`).
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from jobs.core.charge_watch import ChargePlan, Course, Reading, course_of, moved_ah, plan_of
from jobs.core.record import Record
from jobs.core.section import Fact, Quantity, Said, Table, VerdictWord, Words
from jobs.core.spare_charge import charge_of
from jobs.core.spare_check import SpareCheck
from jobs.core.spare_items import SpareItems
from jobs.core.spare_runs import Run, hours_between
from packs.definition import PackDefinition
from packs.physics.charge_case import Direction
from packs.physics.match_yardstick import SAME_TEMPERATURE_C

__all__ = ["RESTED", "Watched", "spare_facts", "spares_table", "watched_runs"]

RESTED = "Rested cell voltage of the spare for {module}, against the string"
MOVED = "Charge moved in the spare for {module}, run {run}, counted"


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """A run with its plan and what its readings say; `moved_ah` is counted [Ah], `now_h` [h]."""

    run: Run
    plan: ChargePlan
    readings: tuple[Reading, ...]
    course: Course
    now_h: float
    moved_ah: float


def _hours(run: Run) -> tuple[Reading, ...]:
    return tuple(Reading(hours_between(run.volts[0].at, s.at), s.value) for s in run.volts)


def watched_runs(
    record: Record, items: SpareItems, pack: PackDefinition, name: str, check: SpareCheck
) -> tuple[Watched, ...]:
    """Give the runs of a spare against their plans; one whose means are not known has none.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : SpareItems
        The step's items.
    pack : PackDefinition
        The pack.
    name : str
        The place of the spare.
    check : SpareCheck
        What is known of it.

    Returns
    -------
    tuple[Watched, ...]
        Oldest first.
    """
    cells, found = pack.module_named(name).cells, list[Watched]()
    for run in check.state.runs:
        charge = charge_of(record, items, pack, name, run.cell_v)
        if not charge.planned or charge.case is None or charge.result is None:
            continue
        plan = plan_of(charge.case, charge.result)
        if plan is None:
            continue
        readings = _hours(run)
        ends = record.now if run.off_at is None else run.off_at
        now_h = hours_between(run.volts[0].at, ends) if run.volts else 0.0
        low_v, high_v = cells * pack.cell_low_v.value, cells * pack.cell_high_v.value
        course = course_of(plan, readings, low_v=low_v, high_v=high_v, now_h=now_h)
        found.append(
            Watched(
                run=run, plan=plan, readings=readings, course=course, now_h=now_h,
                moved_ah=moved_ah(plan, readings, now_h),
            )
        )  # fmt: skip
    return tuple(found)


def _word(verdict: str) -> VerdictWord:
    known: dict[str, VerdictWord] = {"pass": "pass", "fail": "fail", "undecided": "undecided"}
    return known.get(verdict, "none")


def _match_fact(name: str, check: SpareCheck) -> Iterator[Fact]:
    if check.match is None:
        return
    score = check.match.score
    excluded: Words = Said("does not match")
    yield Fact(
        label=Said("Match of the spare for {module}, of 100 points", {"module": name}),
        value=excluded if score is None else Quantity(score, "points"),
        verdict="fail" if score is None else "pass",
    )


def _difference_fact(record: Record, name: str, check: SpareCheck) -> Iterator[Fact]:
    charge, limit = check.charge, record.limits.cell_difference_mv
    if charge.low_mv is None or charge.high_mv is None:
        return
    middle_mv = -(charge.low_mv + charge.high_mv) / 2.0
    yield Fact(
        label=Said(RESTED, {"module": name}),
        value=Quantity(middle_mv, "mV", -charge.high_mv, -charge.low_mv),
        verdict="none" if check.state.moved_since else _word(charge.verdict),
        limit=Quantity(limit.value, "mV"),
        limit_kind=limit.kind,
        limit_source=limit.source,
    )


def _temperature_fact(name: str, check: SpareCheck) -> Iterator[Fact]:
    if check.apart_c is None:
        return
    yield Fact(
        label=Said("Temperature of the spare for {module}, against the string", {"module": name}),
        value=Quantity(check.apart_c, "K"),
        verdict="pass" if abs(check.apart_c) <= SAME_TEMPERATURE_C + 1e-9 else "fail",
        limit=Quantity(SAME_TEMPERATURE_C, "K"),
        limit_kind="shop_default",
    )


def _plan_facts(name: str, check: SpareCheck) -> Iterator[Fact]:
    """Give the plan: how much, by what, how long, where to stop, what follows."""
    result, charge = check.charge.result, check.charge
    if result is None or charge.word != "move" or check.state.resting is not None:
        return
    into = result.direction is Direction.CHARGE
    way = "Charge to put into the spare for {module}"
    yield Fact(
        label=Said(
            way if into else "Charge to take out of the spare for {module}", {"module": name}
        ),
        value=Quantity(result.move_ah, "Ah", result.move_ah_low, result.move_ah_high),
    )
    figures: tuple[tuple[str, float | None, str], ...] = ()
    if charge.planned:
        figures = (
            ("Resistor for it, {module}", result.resistor_ohm, "ohm"),
            ("Power of the resistor at the start, {module}", result.resistor_w, "W"),
            ("Current at the start, {module}", result.start_a, "A"),
            ("Time it takes, {module}", result.hours, "h"),
            ("Stop at, current flowing, at the terminals, {module}", result.stop_terminal_v, "V"),
        )
    figures += (
        ("Rest afterwards, at least, {module}", check.rest_needed_h, "h"),
        ("May be left for the balancer, {module}", result.left_ah, "Ah"),
        ("Time for the balancer, {module}", result.bleed_hours, "h"),
    )
    for label, value, unit in figures:
        if value is not None:
            yield Fact(label=Said(label, {"module": name}), value=Quantity(value, unit))


def spare_facts(
    record: Record, name: str, check: SpareCheck, runs: tuple[Watched, ...]
) -> tuple[Fact, ...]:
    """Give the lines of proof for one spare: match, plan, charge moved, final difference."""
    moved = (
        Fact(
            label=Said(MOVED, {"module": name, "run": each.run.number}),
            value=Quantity(each.moved_ah, "Ah"),
        )
        for each in runs
        if each.readings
    )
    return (
        *_match_fact(name, check),
        *_temperature_fact(name, check),
        *_plan_facts(name, check),
        *moved,
        *_difference_fact(record, name, check),
    )


def spares_table(checks: Mapping[str, SpareCheck]) -> tuple[Table, ...]:
    """Give the reasons of each match, a line each."""
    rows: list[tuple[Words, ...]] = []
    for name, check in checks.items():
        if check.match is not None:
            score = check.match.score
            points: Words = Said("excluded") if score is None else Quantity(score, "points")
            rows += [(name, points, reason.text) for reason in check.match.reasons]
    headings = ("Module", "Points of 100", "Why")
    if not rows:
        return ()
    return (Table(title="Spares against the string", headings=headings, rows=tuple(rows)),)
