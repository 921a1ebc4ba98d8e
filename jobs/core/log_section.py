"""What the logs of a job say on the screen and in the report, for technicians and for customers.

Here: facts, tables, the lanes, warnings and plain words of logs. Not here: the verdicts
(`jobs.core.log_check`), nor the rest of the step that asks for them.
"""

from jobs.core.lanes import WORDS, Lane, lanes
from jobs.core.log_check import Logged, LogPart
from jobs.core.log_entry import Log
from jobs.core.reason import Param
from jobs.core.section import Fact, Quantity, Said, Table, VerdictWord, Words
from packs.physics.cycle_case import CycleCell
from packs.physics.instrument import Verdict
from packs.picture import Picture
from packs.words import joined, told

__all__ = [
    "log_advice",
    "log_facts",
    "log_headline",
    "log_not_covered",
    "log_pictures",
    "log_plain",
    "log_tables",
    "log_warnings",
]

CONTRADICTS = {"mV": 5.0, "degC": 1.0}
"""A typed figure this far outside of what the log shows contradicts it: shop default, no source."""
_WORDS: dict[Verdict, VerdictWord] = {
    Verdict.PASS: "pass",
    Verdict.FAIL: "fail",
    Verdict.UNDECIDED: "undecided",
}
_H = 3600.0


def _best(logs: tuple[Log, ...]) -> Log | None:
    """Give the log with the surest capacity; None where no log gives one."""
    known = [log for log in logs if log.result.capacity_ah is not None]
    return min(known, key=_width_ah, default=None)


def _width_ah(log: Log) -> float:
    low_ah, high_ah = log.result.capacity_ah_low, log.result.capacity_ah_high
    return (high_ah or 0.0) - (low_ah or 0.0)


def _resting(logs: tuple[Log, ...]) -> Log | None:
    """Give the newest log that shows the cells at rest."""
    rested = (log for log in reversed(logs) if log.result.spread_rest_mv is not None)
    return next(rested, None)


def _part_fact(part: LogPart) -> Fact:
    return Fact(
        label=part.label,
        value=Quantity(part.value, part.unit, low=part.low, high=part.high),
        verdict=_WORDS[part.verdict],
        limit=Quantity(part.limit.value, part.unit),
        limit_kind=part.limit.kind,
        limit_source=part.limit.source,
    )


def _capacity_facts(logs: tuple[Log, ...]) -> tuple[Fact, ...]:
    log = _best(logs)
    if log is None:
        return ()
    found, facts = log.result, list[Fact]()
    shares = ("", "_low", "_high")
    for field, unit, label in (
        ("capacity_ah", "Ah", "Capacity, from the log"),
        ("state_of_health_percent", "percent", "Capacity against a new pack"),
    ):
        value, low, high = (getattr(found, f"{field}{share}") for share in shares)
        if value is not None:
            facts.append(Fact(label=label, value=Quantity(value, unit, low=low, high=high)))
    window = found.window
    if window is not None:
        said = Said(
            "from {from_percent:.0f} to {to_percent:.0f} % of charge",
            {"from_percent": window.from_soc_percent, "to_percent": window.to_soc_percent},
        )
        facts.append(Fact(label="Part of the charge it was counted over", value=said))
    return tuple(facts)


def log_facts(logs: tuple[Log, ...], logged: Logged) -> tuple[Fact, ...]:
    """Give each spread against its limit, each new module, and the capacity with its window."""
    modules = tuple(
        Fact(
            label=Said("New module {module}, against the other cells", {"module": module.name}),
            value=Said("{why}", {"why": module.why})
            if module.why
            else Said(
                "not shown {moments}", {"moments": joined([told(each) for each in module.missing])}
            ),
            verdict=_WORDS[module.verdict],
        )
        for module in logged.modules
    )
    return (*(_part_fact(part) for part in logged.parts), *modules, *_capacity_facts(logs))


def _quantity(value: float | None, unit: str) -> Words:
    return "–" if value is None else Quantity(value, unit)


def _files(logs: tuple[Log, ...]) -> Table:
    rows: tuple[tuple[Words, ...], ...] = tuple(
        (
            log.name,
            Said("{began_at}", {"began_at": log.began}) if log.began else "no date",
            Quantity(log.lasted_s / _H, "h"),
            str(log.rows),
            _quantity(log.result.counted_ah, "Ah"),
            log.sha256[:12],
        )
        for log in logs
    )
    headings = ("Log", "Began", "Lasted", "Rows", "Charge counted", "Digest, first part")
    return Table(title="Logs read in", headings=headings, rows=rows)


def _module_row(name: str, cells: list[CycleCell]) -> tuple[Words, ...]:
    offsets = [cell.offset_mv for cell in cells if cell.offset_mv is not None]
    ohms = [cell.resistance_mohm for cell in cells if cell.resistance_mohm is not None]
    capacities = [cell.capacity_ah for cell in cells if cell.capacity_ah is not None]
    return (
        name,
        _quantity(min(offsets, default=None), "mV"),
        _quantity(max(offsets, default=None), "mV"),
        _quantity(max(ohms, default=None), "mohm"),
        _quantity(min(capacities, default=None), "Ah"),
    )


def _modules(log: Log) -> Table:
    """Give the figures of each module: its furthest cells, by the log that shows most."""
    rows = tuple(
        _module_row(module.name, [c for c in log.result.cells if c.module == module.name])
        for module in log.asked.modules
    )
    headings = ("Module", "Lowest cell", "Highest cell", "Most resistance", "Least capacity")
    return Table(title="Modules in the log, against the median cell", headings=headings, rows=rows)


def _odd(logs: tuple[Log, ...], logged: Logged) -> Table:
    """Give each cell that stands out by the newest log in which it does."""
    cells = {cell.index: cell for log in logs for cell in log.result.cells if cell.flags}
    rows: tuple[tuple[Words, ...], ...] = tuple(
        (
            f"{module}, cell {number}",
            ", ".join(WORDS.get(flag, flag) for flag in flags),
            _quantity(cells[number].offset_mv, "mV"),
            _quantity(cells[number].resistance_mohm, "mohm"),
            _quantity(cells[number].capacity_ah, "Ah"),
        )
        for number, module, flags in logged.odd
    )
    headings = ("Cell", "What", "At rest", "Resistance", "Capacity")
    return Table(title="Cells that stand out", headings=headings, rows=rows)


def log_tables(logs: tuple[Log, ...], logged: Logged) -> tuple[Table, ...]:
    """Give the logs, the modules, and the cells that stand out."""
    log = _best(logs) or _resting(logs) or logs[-1]
    odd = _odd(logs, logged)
    return (_files(logs), _modules(log), *((odd,) if odd.rows else ()))


def log_pictures(logs: tuple[Log, ...], logged: Logged, limit_mv: float) -> tuple[Picture, ...]:
    """Draw the lanes from the newest log that shows the cells at rest."""
    log = _resting(logs)
    if log is None:
        return ()
    odd = {number: flags for number, _, flags in logged.odd}
    rows = []
    for module in log.asked.modules:
        cells = [cell for cell in log.result.cells if cell.module == module.name]
        rows.append(
            Lane(
                name=module.name,
                cells=tuple((cell.index, cell.offset_mv) for cell in cells),
                odd=tuple((c.index, odd[c.index]) for c in cells if c.index in odd),
                new=module.name in log.asked.replaced,
            )
        )
    drawn = lanes(rows, limit_mv=limit_mv)
    return () if drawn is None else (drawn,)


def log_headline(logged: Logged) -> tuple[VerdictWord, Said] | None:
    """Give what the logs say in a few words; None where they say nothing against it."""
    verdicts = logged.verdicts()
    if Verdict.FAIL in verdicts:
        return "fail", Said("Cells stand apart in the log.")
    if Verdict.UNDECIDED in verdicts or logged.blockers:
        return "undecided", Said("The log does not decide everything yet.")
    return None


def log_warnings(
    logs: tuple[Log, ...], logged: Logged, typed: dict[str, float]
) -> tuple[Said, ...]:
    """Say which typed figure contradicts the log, and which cells stand out."""
    said = []
    for part in logged.parts:
        value, room = typed.get(part.name), CONTRADICTS[part.unit]
        if value is not None and not part.low - room <= value <= part.high + room:
            words = (
                "{label}: {log:.1f} {unit}. What was typed, {typed:g} {unit}, contradicts it: "
                "strike the one that is wrong."
            )
            unit = "°C" if part.unit == "degC" else part.unit
            figures: dict[str, Param] = {
                "label": part.label,
                "log": part.value,
                "typed": value,
                "unit": unit,
            }
            said.append(Said(words, figures))
    for number, module, flags in logged.odd:
        what = " and ".join(WORDS.get(flag, flag) for flag in flags)
        words = "Cell {number} in {module} stands out: {what}. Look at its joints and sense lead."
        said.append(Said(words, {"number": number, "module": module, "what": what}))
    for log in logs:
        if log.clock:
            words = "The dates in {name} are wrong: {clock}"
            said.append(Said(words, {"name": log.name, "clock": log.clock}))
    return tuple(said)


def log_advice(logs: tuple[Log, ...], logged: Logged) -> tuple[Said, ...]:
    """Say what to record next, where the logs leave something open."""
    if log_headline(logged) is None or not logs:
        return ()
    shown = {part.name for part in logged.parts if part.verdict is not Verdict.UNDECIDED}
    settled = {"top": "record_charge", "load": "record_drive", "rest": "record_rest"}
    needless = {code for name, code in settled.items() if name in shown}
    open_yet = {m.text: None for log in logs for m in log.result.advice if m.code not in needless}
    return tuple(Said("{advice}", {"advice": text}) for text in open_yet)


def _capacity_plain(logs: tuple[Log, ...]) -> list[Said]:
    log = _best(logs)
    if log is None:
        return []
    found = log.result
    figures = {
        "ah": found.capacity_ah or 0.0,
        "low": found.capacity_ah_low or 0.0,
        "high": found.capacity_ah_high or 0.0,
        "percent": found.state_of_health_percent or 0.0,
    }
    words = "It holds {ah:.0f} Ah (between {low:.0f} and {high:.0f} Ah), {percent:.0f} % of new."
    return [Said(words, figures)]


def log_plain(logs: tuple[Log, ...], logged: Logged) -> tuple[Said, ...]:
    """Say to the customer what was recorded and what it showed."""
    hours = sum(log.lasted_s for log in logs) / _H
    cells = len(logs[-1].result.cells)
    said = [
        Said(
            "While it was charged and driven we recorded every one of its {cells} cells for "
            "{hours:.1f} hours.",
            {"cells": cells, "hours": hours},
        )
    ]
    apart = [part for part in logged.parts if part.unit == "mV"]
    if apart and all(part.verdict is Verdict.PASS for part in logged.parts):
        said.append(Said("The cells stayed together within our limits."))
    if logged.modules and all(module.verdict is Verdict.PASS for module in logged.modules):
        said.append(Said("The new module behaved like its neighbours."))
    weak = [
        told("cell {number} in module {module}", number=number, module=module)
        for number, module, flags in logged.odd
        if "sensor" not in flags
    ]
    if weak:
        named = joined(weak[:4], "{first}, {second}")
        words = "Not like the others: {named}. It may wear out sooner and is worth a later check."
        said.append(Said(words, {"named": named}))
    return (*said, *_capacity_plain(logs))


def log_not_covered(logs: tuple[Log, ...]) -> tuple[Said, ...]:
    """Say what the logs do not show."""
    log = _best(logs)
    window = None if log is None else log.result.window
    said = [Said("The logs show the cells only while they ran; what comes later they cannot show.")]
    if log is None or window is None:
        return (Said("The remaining life and the capacity of the battery were not tested."), *said)
    ends = sorted((window.from_soc_percent, window.to_soc_percent))
    words = (
        "The capacity was worked out from the part between {low:.0f} and {high:.0f} % of charge; "
        "the remaining life was not tested."
    )
    return (Said(words, {"low": ends[0], "high": ends[1]}), *said)
