"""What is said of a spare's match and charge: advice, warnings, times, pictures.

Here: sentences for screen and report. Not here: the lines of proof (`spare_facts`), any figure
that is not handed in (`spare_check`, `charge_watch`).
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import timedelta

from jobs.core.charge_picture import charge_picture
from jobs.core.charge_watch import Course, plan_of
from jobs.core.reason import Param
from jobs.core.record import Record
from jobs.core.section import CountDown, Fact, Said, Table
from jobs.core.spare_charge import USUAL_U_MV
from jobs.core.spare_check import SpareCheck, rests_until
from jobs.core.spare_facts import Watched, spare_facts, spares_table, watched_runs
from jobs.core.spare_items import SpareItems
from packs.definition import PackDefinition
from packs.picture import Picture
from packs.words import told

__all__ = ["SparesSaid", "spares_said"]

_CAUTIONS = frozenset({"attended", "cell_cut_off", "resistor_hot"})
"""Advice of `charge` that has to be read before the current flows."""
_SAID_ELSEWHERE = frozenset({"same_temperature", "none_suits", "test_first", "join"})
_PACES = {
    "faster": "{module}: the voltage runs ahead of the plan. The module holds less than entered, "
    "or more current flows. Switch off and check both before going on.",
    "slower": "{module}: the voltage lags behind the plan. The module holds more than entered, "
    "or less current flows. Check the leads and the current.",
    "start": "{module}: the first reading is not where the plan begins. Check the current, the "
    "resistor, and the resistance of the module that was entered.",
}


def _text(words: str) -> Said:
    """Say a sentence that came with its figures."""
    return Said("{words}", {"words": words})


def _advice(name: str, check: SpareCheck) -> Iterator[Said]:
    """Say what to do next about one spare: move charge, or what to do where no plan can be made.

    Parameters
    ----------
    name : str
        The place of the spare.
    check : SpareCheck
        What is known of it.

    Yields
    ------
    Said
        In the order in which it is done.
    """
    charge, state = check.charge, check.state
    if state.flowing is None and state.resting is None:
        if charge.word == "move" and not charge.planned and not charge.means_refused:
            yield Said(
                "{module}: charge has to be moved. Say what moves it: a resistor discharges only.",
                {"module": name},
            )
        if charge.word == "no_curve":
            yield Said(
                "{module}: no voltage curve is known for this pack, so no plan can be made. Bring "
                "spare and string to the same end of the scale as the maker says, count the charge "
                "back, let both rest and compare.",
                {"module": name},
            )
        if charge.result is not None and (charge.planned or charge.word in {"flat", "undecided"}):
            for each in charge.result.advice:
                if each.code not in _CAUTIONS | _SAID_ELSEWHERE:
                    yield _text(told("{name}: {text}", name=name, text=each.text))
    if check.match is not None:
        yield from (_text(e.text) for e in check.match.advice if e.code not in _SAID_ELSEWHERE)


def _run_warnings(record: Record, name: str, watched: Watched) -> Iterator[Said]:
    """Say what is wrong while current flows, the most urgent first."""
    run, course, at = watched.run, watched.course, {"module": name}
    got_v = watched.readings[-1].terminal_v if watched.readings else 0.0
    warm_c = record.limits.charge_warm_c.value
    if run.warm and run.warm[-1].value >= warm_c:
        yield Said(
            "{module} is warm: {got_c:g} °C, the limit is {limit_c:g} °C. Switch the current off, "
            "let it cool. Smell, swelling or hissing: everybody out.",
            {**at, "got_c": run.warm[-1].value, "limit_c": warm_c},
        )
    if course.limit:
        yield Said(
            "{module}: {got_v:.2f} V at the terminals is the limit of its cells. Switch off now.",
            {**at, "got_v": got_v},
        )
    elif course.stop:
        yield Said(
            "{module}: stop now. {got_v:.2f} V at the terminals, planned was {stop_v:.2f} V. "
            "Switch off and tick it: the rest begins with the tick.",
            {**at, "got_v": got_v, "stop_v": watched.plan.stop_v},
        )
    elif course.pace in _PACES:
        yield Said(_PACES[course.pace], at)


def _warnings(
    record: Record, name: str, check: SpareCheck, runs: tuple[Watched, ...]
) -> tuple[Said, ...]:
    """Say what to be careful about with one spare: before the current, and while it flows.

    Parameters
    ----------
    record : Record
        The job as it stands.
    name : str
        The place of the spare.
    check : SpareCheck
        What is known of it.
    runs : tuple[Watched, ...]
        Its runs.

    Returns
    -------
    tuple[Said, ...]
        What the readings say first, then the cautions that belong to the act.
    """
    found, charge = list[Said](), check.charge
    if runs and check.state.flowing is runs[-1].run:
        found += _run_warnings(record, name, runs[-1])
    if check.state.resting is None:
        if charge.means_refused:
            found.append(
                Said(
                    "{module}: not with this: {why}. Strike what moves the charge, choose again.",
                    {"module": name, "why": charge.means_refused},
                )
            )
        if charge.planned and charge.result is not None:
            found += [_text(e.text) for e in charge.result.warnings]
            found += [_text(e.text) for e in charge.result.advice if e.code in _CAUTIONS]
        if charge.word == "flat" and charge.result is not None:
            found += [_text(e.text) for e in charge.result.warnings if e.code == "hysteresis"]
    if check.match is not None:
        found += [_text(each.text) for each in check.match.warnings]
    return tuple(found)


def _counts(name: str, check: SpareCheck, runs: tuple[Watched, ...]) -> Iterator[CountDown]:
    """Count down to the planned end of a run, and to the end of its rest."""
    until = rests_until(check)
    at: dict[str, Param] = {"module": name}
    if until is not None:
        yield CountDown(
            text=Said("Spare for {module} rests for", at),
            until=until,
            over=Said("Spare for {module} has rested: read its voltage.", at),
        )
    if runs and check.state.flowing is runs[-1].run and runs[-1].run.volts:
        watched = runs[-1]
        stop = {**at, "stop_v": watched.plan.stop_v}
        yield CountDown(
            text=Said("{module}: stop at {stop_v:.2f} V, expected in about", stop),
            until=watched.run.volts[0].at + timedelta(hours=watched.plan.whole_h),
            over=Said("{module}: read the terminals now, stop at {stop_v:.2f} V.", stop),
        )


def _pictures(name: str, runs: tuple[Watched, ...], check: SpareCheck) -> Iterator[Picture]:
    """Draw each run against its plan, and the plan alone before the current flows."""
    for each in runs:
        title = f"Moving charge in the spare for {name}"
        yield charge_picture(each.plan, each.readings, each.course, now_h=each.now_h, title=title)
    charge, state = check.charge, check.state
    waits = state.flowing is None and state.resting is None and charge.planned
    if waits and charge.case is not None and charge.result is not None:
        plan = plan_of(charge.case, charge.result)
        if plan is not None:
            course = Course(left_h=plan.whole_h)
            title = f"Plan for the spare for {name}"
            yield charge_picture(plan, (), course, now_h=0.0, title=title)


def _plain(
    record: Record, items: SpareItems, name: str, check: SpareCheck, runs: tuple[Watched, ...]
) -> Iterator[Said]:
    """Say to the customer how the spare matches, what charge was moved, how close it stands."""
    at = {"module": name}
    if check.match is not None and check.match.score is not None:
        known = record.has(items.string_ah) or record.has(items.string_mohm)
        yield Said(
            "It was compared with the modules that stay and matches them."
            if known
            else "It is of the same kind; what the modules that stay still hold was not known."
        )
    out_ah = sum(each.moved_ah for each in runs if not each.plan.charging)
    in_ah = sum(each.moved_ah for each in runs if each.plan.charging)
    for moved, words in (
        (
            out_ah,
            "Before it was fitted, {moved_ah:.1f} Ah were taken out of the module for {module}.",
        ),
        (in_ah, "Before it was fitted, {moved_ah:.1f} Ah were put into the module for {module}."),
    ):
        if moved > 0.0:
            yield Said(words, {**at, "moved_ah": moved})
    charge = check.charge
    if charge.verdict == "pass" and charge.low_mv is not None and charge.high_mv is not None:
        apart_mv = abs(charge.low_mv + charge.high_mv) / 2.0
        if not check.state.moved_since:
            yield Said(
                "At rest its cells stood {apart_mv:.0f} mV from those of the other modules.",
                {**at, "apart_mv": apart_mv},
            )


def _taken(record: Record, items: SpareItems, checks: Mapping[str, SpareCheck]) -> Iterator[Said]:
    """Say what was taken where nothing was entered."""
    judged = [check.charge for check in checks.values() if check.charge.case is not None]
    if not judged:
        return
    if record.get(items.cell_u_mv) is None:
        yield Said(
            "Each cell voltage is taken as within {u_mv:g} mV, which nobody entered.",
            {"u_mv": USUAL_U_MV},
        )
    if any(each.case is not None and each.case.module_resistance_ohm <= 0.0 for each in judged):
        yield Said("The spare's own resistance is not known; voltages under current leave it out.")


@dataclass(frozen=True, slots=True, kw_only=True)
class SparesSaid:
    """Everything that is said of the spares; facts and plain words by the place of each."""

    facts: Mapping[str, tuple[Fact, ...]]
    plain: Mapping[str, tuple[Said, ...]]
    advice: tuple[Said, ...]
    warnings: tuple[Said, ...]
    tables: tuple[Table, ...]
    counts: tuple[CountDown, ...]
    pictures: tuple[Picture, ...]
    taken: tuple[Said, ...]


def spares_said(
    record: Record, items: SpareItems, pack: PackDefinition, checks: Mapping[str, SpareCheck]
) -> SparesSaid:
    """Say everything about the spares of a step.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : SpareItems
        The step's items.
    pack : PackDefinition
        The pack.
    checks : Mapping[str, SpareCheck]
        What is known of each, by its place.

    Returns
    -------
    SparesSaid
        For screen and report.
    """
    runs = {name: watched_runs(record, items, pack, name, c) for name, c in checks.items()}
    every = [(name, check, runs[name]) for name, check in checks.items()]
    return SparesSaid(
        facts={name: spare_facts(record, name, check, ran) for name, check, ran in every},
        plain={name: tuple(_plain(record, items, name, c, ran)) for name, c, ran in every},
        advice=tuple(said for name, check, _ in every for said in _advice(name, check)),
        warnings=tuple(w for name, c, ran in every for w in _warnings(record, name, c, ran)),
        tables=spares_table(checks),
        counts=tuple(count for name, c, ran in every for count in _counts(name, c, ran)),
        pictures=tuple(one for name, c, ran in every for one in _pictures(name, ran, c)),
        taken=tuple(_taken(record, items, checks)),
    )
