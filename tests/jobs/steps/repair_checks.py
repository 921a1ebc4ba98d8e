"""What tests of the later rooms ask of a bench: what blocks, what is refused, what raises."""

from collections.abc import Callable, Iterable
from datetime import UTC
from typing import Any

from jobs.core.entering import enter_gate
from jobs.core.entry import Entry, Kind
from jobs.core.flow import gate, hold_gate
from jobs.core.item import Item, PersonUsed, qualifier_of
from jobs.core.reason import Blocker, say
from jobs.core.record import Record, fold
from jobs.core.seal import sealed
from jobs.core.step import Step
from tests.builders import REVISION, Bench

Change = Callable[[Bench], object]


def again(bench: Bench, item: Item[Any], raw: Any = True, **parts: str) -> Entry:
    """Strike what an item has and enter it again."""
    without(bench, item, **parts)
    return bench.put(item, raw, **parts)


def without(bench: Bench, item: Item[Any], **parts: str) -> None:
    """Strike what an item has."""
    wanted = qualifier_of(**parts)
    for entry in bench.record().live.get(item.key, ()):
        if not parts or entry.qualifier == wanted:
            bench.add(Kind.STRIKE, {"key": entry.key, "reason": "test"})


def found(bench: Bench, step: Step[Any]) -> tuple[Blocker, ...]:
    """Give what stands against signing a step, whatever comes before it, each said once."""
    standing = gate((step,), bench.record(), step)
    for blocker in standing:
        assert "{" not in say(blocker.text, blocker.params, names={}, zone=UTC)
    return standing


def codes(bench: Bench, step: Step[Any]) -> set[str]:
    """Give the codes of what stands against signing a step."""
    return {blocker.code for blocker in found(bench, step)}


def held(bench: Bench, step: Step[Any], name: str) -> tuple[Blocker, ...]:
    """Give what stands against passing a hold point that was not passed yet."""
    record = bench.record()
    holds = {place: e for place, e in record.holds.items() if place != (step.slug, name)}
    record = Record(**{**_fields(record), "holds": holds})
    return hold_gate((step,), record, step, name)


def named(cases: Iterable[tuple[str, Change]]) -> list[str]:
    """Give each case a name of its own: its code, numbered."""
    return [f"{code}-{number}" for number, (code, _) in enumerate(cases)]


def _fields(record: Record) -> dict[str, Any]:
    return {name: getattr(record, name) for name in Record.__dataclass_fields__}


def entered_in_order(bench: Bench, step: Step[Any]) -> list[str]:
    """Enter a step's values again one by one through its gates; give what was refused."""
    refused, before = [], Bench(now=bench.now, pack=bench.pack)
    own = {entry.key: entry for entry in bench.entries if entry.item.startswith(step.slug + ".")}
    for entry in bench.entries:
        before.now = entry.at
        if entry.key in own:
            by = PersonUsed(entry.person, "technician", {"live_work": None})
            key, qualifier = entry.item, entry.qualifier
            blockers = enter_gate((step,), before.record(), key=key, qualifier=qualifier, by=by)
            refused += [f"{entry.item}: {one.code}" for one in blockers]
        if entry.kind is Kind.HOLD and entry.value["step"] == step.slug:
            name = entry.value["hold"]
            blockers = hold_gate((step,), before.record(), step, name)
            refused += [f"{name}: {one.code} {one.item}" for one in blockers]
        before.entries.append(entry)
    return refused


def speaks(bench: Bench, step: Step[Any], kept: Iterable[int]) -> None:
    """Run everything a step computes on some of the entries; nothing may raise."""
    chosen = sorted(set(kept))
    entries = [bench.entries[index] for index in chosen if index < len(bench.entries)]
    packs = {} if bench.pack is None else {REVISION: bench.pack}
    for pack in (bench.pack, None):
        record = Bench(now=bench.now, pack=pack, entries=entries).record()
        result = step.assess(record)
        sealed(result)
        step.items(record)
        step.holds(record, result)
        step.blockers(record, result)
        step.section(record, result)
    assert fold([], now=bench.now, limits=bench.limits, packs=packs).live == {}
