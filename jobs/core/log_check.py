"""What the logs of a job show together: each spread, each new module, cells that stand out.

Several logs add up: a charge shows the top, a drive the load. Where one fails, it fails; where one
passes, an undecided one does not matter. Limits are those in force now. Not here: the words of
report and page (`jobs.core.log_section`).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from jobs.core.limits import Limits
from jobs.core.log_entry import Log, LogAsked
from jobs.core.reason import Blocker, Reason
from packs.definition import Figure
from packs.physics.cycle_flags import NEW_MODULE_MV
from packs.physics.cycle_verdict import SHORTEST_LOG_S
from packs.physics.instrument import Verdict, at_most
from packs.words import joined, told

__all__ = ["REASONS", "LogPart", "Logged", "NewModule", "check_logs", "log_blockers"]

PartName = Literal["rest", "top", "load", "temperature"]
LABELS: Mapping[PartName, str] = {
    "rest": "Cell spread at rest, from the log",
    "top": "Cell spread at the top of the charge, from the log",
    "load": "Cell spread under load, from the log",
    "temperature": "Spread of the module temperatures, from the log",
}
_FIELDS: Mapping[PartName, str] = {
    "rest": "spread_rest_mv",
    "top": "spread_top_mv",
    "load": "spread_load_mv",
    "temperature": "temperature_spread_c",
}
_NOT_SHOWN: Mapping[PartName, str] = {"top": "charge_not_full", "load": "weak_load"}
"""Warning by which the calculation says that a moment does not show a spread in full."""
_NEXT: Mapping[PartName, frozenset[str]] = {
    "rest": frozenset({"record_rest", "rest_elsewhere", "finer_readings"}),
    "top": frozenset({"record_charge", "finer_readings"}),
    "load": frozenset({"record_drive", "finer_readings"}),
    "temperature": frozenset({"record_temperature", "measure_temperature"}),
}
MOMENTS = {"top": "at the end of the charge", "bottom": "at the lowest point", "load": "under load"}
NEAR_MV = 5.0
"""An offset this near its limit counts as shown only by a log that passed it [mV]: far more than
any log's own error. Shop default, no source."""

SPREAD_OPEN = Reason(
    "road_log_undecided",
    "{label}: {value:.1f} {unit}, between {low:.1f} and {high:.1f}; {limit:g} {unit} are allowed. "
    "The log does not decide it. {advice}",
    countersign=True,
)
WARM_OPEN = Reason(
    "road_log_temperature",
    "The log's temperatures do not decide whether {limit:g} °C are kept. {advice}",
)
MODULE_APART = Reason(
    "road_log_module",
    "New module {module}: {why} Go back to the module swap.",
    countersign=True,
)
MODULE_OPEN = Reason(
    "road_log_module_open",
    "New module {module} is not shown {moments} with the others. Record a charge to its end and a "
    "drive with strong acceleration, and read that log in too.",
    countersign=True,
)
DOUBT = Reason(
    "road_log_doubt",
    "{name} could be read in more than one way: {what} Strike it, settle that, and read it in "
    "again.",
)
SENSOR = Reason(
    "road_log_sensor",
    "In {name}, the readings of {cells} cannot be trusted. Check their sense leads, record again, "
    "and strike this log.",
)
OTHER_STRING = Reason(
    "road_log_other_string",
    "{name} was judged before pack definition or replaced modules changed. Strike it and read the "
    "file in again.",
)
REASONS = (SPREAD_OPEN, WARM_OPEN, MODULE_APART, MODULE_OPEN, DOUBT, SENSOR, OTHER_STRING)


@dataclass(frozen=True, slots=True, kw_only=True)
class LogPart:
    """One spread of the logs against its limit [mV or degC]."""

    name: PartName
    unit: str
    value: float
    low: float
    high: float
    limit: Figure
    verdict: Verdict
    advice: str = ""

    @property
    def label(self) -> str:
        """What it is, in words."""
        return LABELS[self.name]


@dataclass(frozen=True, slots=True, kw_only=True)
class NewModule:
    """How a module that was put in sits among the others, by all logs."""

    name: str
    verdict: Verdict
    why: str = ""
    missing: tuple[str, ...] = ()

    @property
    def moments(self) -> str:
        """The moments that no log shows, in words."""
        return joined([told(each) for each in self.missing]) if self.missing else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """What all logs say together.

    Attributes
    ----------
    files : tuple[str, ...]
        Digest of each, in the order read in.
    parts : tuple[LogPart, ...]
        Each spread that a log shows.
    modules : tuple[NewModule, ...]
        Modules put in by this job.
    odd : tuple[tuple[int, str, tuple[str, ...]], ...]
        Cells that stand out: number, module, flags.
    blockers : tuple[Blocker, ...]
        What is wrong with a log itself.
    """

    files: tuple[str, ...]
    parts: tuple[LogPart, ...]
    modules: tuple[NewModule, ...]
    odd: tuple[tuple[int, str, tuple[str, ...]], ...]
    blockers: tuple[Blocker, ...]

    def part(self, name: str) -> LogPart | None:
        """Give one spread; None where no log shows it."""
        return next((part for part in self.parts if part.name == name), None)

    def verdicts(self) -> list[Verdict]:
        """Give every verdict, spreads first."""
        return [part.verdict for part in self.parts] + [each.verdict for each in self.modules]

    @property
    def apart(self) -> bool:
        """Whether cells or new modules stand apart; temperatures aside."""
        spreads = [part.verdict for part in self.parts if part.unit == "mV"]
        return Verdict.FAIL in [*spreads, *(each.verdict for each in self.modules)]


def _codes(messages: Iterable[object]) -> set[str]:
    return {str(getattr(message, "code", "")) for message in messages}


def _in_doubt(log: Log) -> bool:
    return "settle_doubts" in _codes(log.result.advice)


def _verdict(log: Log, name: PartName, low: float, high: float, limit: float) -> Verdict:
    """Judge one spread of one log as the calculation does, against the limit in force."""
    warned = _codes(log.result.warnings)
    verdict = at_most(low, high, limit)
    shown = log.lasted_s >= SHORTEST_LOG_S and _NOT_SHOWN.get(name) not in warned
    steep = name == "rest" and "rest_in_knee" in warned
    if _in_doubt(log) or (steep and verdict is not Verdict.PASS):
        return Verdict.UNDECIDED
    return Verdict.UNDECIDED if verdict is Verdict.PASS and not shown else verdict


def part_of(log: Log, name: PartName, limits: Limits) -> LogPart | None:
    """Judge one spread of one log.

    Parameters
    ----------
    log : Log
        The log.
    name : str
        Which spread.
    limits : Limits
        The shop's limits in force.

    Returns
    -------
    LogPart | None
        None where the log does not carry it.
    """
    field = _FIELDS[name]
    ends = [getattr(log.result, f"{field}{share}") for share in ("", "_low", "_high")]
    if any(end is None for end in ends):
        return None
    value, low, high = ends
    limit: Figure = getattr(limits, field)
    following = [m.text for m in log.result.advice if m.code in _NEXT[name]]
    return LogPart(
        name=name,
        unit="degC" if name == "temperature" else "mV",
        value=value,
        low=low,
        high=high,
        limit=limit,
        verdict=_verdict(log, name, low, high, limit.value),
        advice=following[0] if following else "",
    )


def _telling(found: list[LogPart]) -> LogPart:
    """Give the one that decides: what fails, else what passes, else the newest."""
    for verdict in (Verdict.FAIL, Verdict.PASS):
        telling = [part for part in found if part.verdict is verdict]
        if telling:
            return telling[-1]
    return found[-1]


def _module(logs: tuple[Log, ...], name: str) -> NewModule:
    """Judge a new module by all logs: each moment has to be shown by one of them."""
    seen = [m for log in logs if not _in_doubt(log) for m in log.result.replaced if m.name == name]
    failing = [m for m in seen if m.verdict is Verdict.FAIL]
    passing = [m for m in seen if m.verdict is Verdict.PASS]
    if failing or passing:
        telling = (failing or passing)[-1]
        return NewModule(name=name, verdict=telling.verdict, why=telling.why)
    offsets = {
        moment: [mv for m in seen if (mv := getattr(m, f"offset_{moment}_mv")) is not None]
        for moment in MOMENTS
    }
    sure_mv = NEW_MODULE_MV - NEAR_MV
    missing = [m for m, found in offsets.items() if not found or max(map(abs, found)) > sure_mv]
    if not missing:
        why = told(
            "It stays within {allowed_mv:g} mV of the other cells in all logs together.",
            allowed_mv=NEW_MODULE_MV,
        )
        return NewModule(name=name, verdict=Verdict.PASS, why=why)
    words = tuple(MOMENTS[moment] for moment in missing)
    return NewModule(name=name, verdict=Verdict.UNDECIDED, missing=words)


def _log_blockers(log: Log, asked: LogAsked, key: str) -> list[Blocker]:
    """Say what is wrong with one log, whatever it shows."""
    found = []
    if not log.asked.same_string(asked):
        found.append(OTHER_STRING(key, name=log.name))
    if _in_doubt(log):
        found.append(DOUBT(key, name=log.name, what=" ".join(m.text for m in log.doubts[:2])))
    unsure = [cell for cell in log.result.cells if "sensor" in cell.flags]
    if unsure:
        cells = joined(
            [
                told("cell {number} in {module}", number=cell.index, module=cell.module)
                for cell in unsure[:8]
            ],
            "{first}, {second}",
        )
        found.append(SENSOR(key, name=log.name, cells=cells))
    return found


def check_logs(logs: tuple[Log, ...], asked: LogAsked, limits: Limits, key: str) -> Logged:
    """Judge all logs of a job together.

    Parameters
    ----------
    logs : tuple[Log, ...]
        In the order read in; at least one.
    asked : LogAsked
        What a log would be asked now.
    limits : Limits
        The shop's limits in force.
    key : str
        The item that takes logs.

    Returns
    -------
    Logged
        Each spread and module once, by the log that decides it.
    """
    names: tuple[PartName, ...] = ("rest", "top", "load", "temperature")
    parts = {n: [p for log in logs if (p := part_of(log, n, limits)) is not None] for n in names}
    odd = {
        cell.index: (cell.index, cell.module, cell.flags)
        for log in logs
        for cell in log.result.cells
        if cell.flags
    }
    return Logged(
        files=tuple(log.sha256 for log in logs),
        parts=tuple(_telling(found) for found in parts.values() if found),
        modules=tuple(_module(logs, name) for name in asked.replaced),
        odd=tuple(odd[index] for index in sorted(odd)),
        blockers=tuple(b for log in logs for b in _log_blockers(log, asked, key)),
    )


def _open_part(part: LogPart, key: str) -> Blocker:
    if part.name == "temperature":
        return WARM_OPEN(key, limit=part.limit.value, advice=part.advice)
    return SPREAD_OPEN(
        key,
        label=part.label,
        value=part.value,
        low=part.low,
        high=part.high,
        limit=part.limit.value,
        unit=part.unit,
        advice=part.advice,
    )


def log_blockers(logged: Logged, key: str, typed: Iterable[str]) -> list[Blocker]:
    """Say what of the logs stands against the release, spreads that fail excepted.

    Parameters
    ----------
    logged : Logged
        What all logs say together.
    key : str
        The item that takes logs.
    typed : Iterable[str]
        Spreads that were measured and typed besides, which decide what no log decides.

    Returns
    -------
    list[Blocker]
        What is undecided says what to record next.
    """
    decided = frozenset(typed)
    found = list(logged.blockers)
    found += [
        _open_part(part, key)
        for part in logged.parts
        if part.verdict is Verdict.UNDECIDED and part.name not in decided
    ]
    for module in logged.modules:
        if module.verdict is Verdict.FAIL:
            found.append(MODULE_APART(key, module=module.name, why=module.why))
        elif module.verdict is Verdict.UNDECIDED:
            found.append(MODULE_OPEN(key, module=module.name, moments=module.moments))
    return found
