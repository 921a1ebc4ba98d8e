"""A log of a charge or drive in the record: what was read, how, and what the calculation found.

Here: the typed value, its stored form with every number as a decimal string, and the item. The
fold never opens the file; its digest says which one it was. Not here: checking what was sent
(`jobs.core.log_input`), judging (`jobs.core.log_check`), reading the file (`jobs.queries.logs`).
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

from jobs.core.entry import Json
from jobs.core.item import Item, Shape
from jobs.core.limits import Limits
from packs.definition import PackDefinition
from packs.logs.wanted import Columns
from packs.physics.cycle_case import (
    CycleCell,
    CycleLimits,
    CycleModule,
    CycleResult,
    CycleWindow,
    ReplacedModule,
)
from packs.physics.instrument import Message, Verdict
from packs.words import Kept

__all__ = [
    "Log",
    "LogAsked",
    "asked_of",
    "log",
    "read_log_entry",
    "stored_asked",
    "stored_messages",
    "stored_result",
]

DECIMALS = 6
"""Decimals kept of a computed figure [mV, mohm, Ah, V]: far finer than any logger resolves."""
_WORDS = {"capacity_from", "energy_of", "weakest_module"}
_COUNTS = {name for name in CycleResult.__dataclass_fields__ if name.endswith("_cell")}
_NOT_PLAIN = {"window", "cells", "replaced", "verdict", "gaps_s", "advice", "warnings"}


@dataclass(frozen=True, slots=True, kw_only=True)
class LogAsked:
    """What the calculation was asked beside the log: the string as this job has it.

    Attributes
    ----------
    modules : tuple[CycleModule, ...]
        In series order from pack negative.
    replaced : tuple[str, ...]
        Modules put in by this job.
    rated_ah : float
        Capacity of a new pack [Ah].
    curve : str | None
        Open-circuit-voltage curve of the cells.
    limits : CycleLimits
        The shop's limits when it was judged.
    """

    modules: tuple[CycleModule, ...]
    replaced: tuple[str, ...]
    rated_ah: float
    curve: str | None
    limits: CycleLimits

    def same_string(self, other: "LogAsked") -> bool:
        """Tell whether both speak of the same string; limits are judged anew at each look."""
        names = ("modules", "replaced", "rated_ah", "curve")
        return all(getattr(self, name) == getattr(other, name) for name in names)


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """A log that was read in.

    Attributes
    ----------
    sha256, name : str
        Digest and name of the file.
    source : str
        Where it comes from, as the workshop calls it; empty where nobody said.
    columns : Columns
        Which column was taken as what, cells in order from pack negative.
    current_sign : str
        As `packs.logs.reading` takes it.
    clock : str
        Why the dates in it are wrong, in words; empty where they are not.
    began : str
        ISO time of its first row; empty where the log carries no date.
    rows : int
        Rows that could be used.
    lasted_s : float
        From first to last row [s].
    version : int
        Of the calculation.
    asked : LogAsked
        What it was asked.
    doubts : tuple[Message, ...]
        What in the file could be read in more than one way.
    result : CycleResult
        What it found.
    """

    sha256: str
    name: str
    source: str
    columns: Columns
    current_sign: str
    clock: str
    began: str
    rows: int
    lasted_s: float
    version: int
    asked: LogAsked
    doubts: tuple[Message, ...]
    result: CycleResult


def asked_of(pack: PackDefinition, replaced: Sequence[str], limits: Limits) -> LogAsked:
    """Give what the calculation is asked for this pack."""
    return LogAsked(
        modules=tuple(CycleModule(name=each.name, cells=each.cells) for each in pack.modules),
        replaced=tuple(replaced),
        rated_ah=pack.capacity_ah.value,
        curve=pack.curve,
        limits=CycleLimits(
            spread_rest_mv=limits.spread_rest_mv.value,
            spread_top_mv=limits.spread_top_mv.value,
            spread_load_mv=limits.spread_load_mv.value,
            temperature_spread_c=limits.temperature_spread_c.value,
        ),
    )


def _text(number: float | None) -> str | None:
    """Write a figure as the record keeps it: a decimal string without an exponent."""
    if number is None:
        return None
    return f"{round(number, DECIMALS) + 0.0:.{DECIMALS}f}".rstrip("0").rstrip(".")


def _number(text: Json) -> float | None:
    return None if text is None else float(text)


def stored_asked(asked: LogAsked) -> Json:
    """Write what was asked."""
    return {
        "modules": [[each.name, str(each.cells)] for each in asked.modules],
        "replaced": list(asked.replaced),
        "rated_ah": repr(asked.rated_ah),
        "curve": asked.curve,
        "limits": {each.name: repr(getattr(asked.limits, each.name)) for each in _LIMITS},
    }


def stored_messages(messages: Sequence[Message]) -> Json:
    """Write messages: code and sentence."""
    return [[message.code, message.text] for message in messages]


def _messages(stored: Json) -> tuple[Message, ...]:
    return tuple(Message(code, Kept(text)) for code, text in stored)


_LIMITS = fields(CycleLimits)
_CELL = ("offset_mv", "resistance_mohm", "resistance_mohm_low", "resistance_mohm_high")
_CELL_FIGURES = (*_CELL, "capacity_ah")
_OFFSETS = ("offset_top_mv", "offset_bottom_mv", "offset_load_mv")
_WINDOW = fields(CycleWindow)


def stored_result(result: CycleResult) -> Json:
    """Write a result in compact form; cells as rows in series order.

    Parameters
    ----------
    result : CycleResult
        What the calculation found.

    Returns
    -------
    Json
        Each cell: offset [mV], resistance with its interval [mohm], capacity [Ah], flags.
    """
    plain = {f.name: getattr(result, f.name) for f in fields(result) if f.name not in _NOT_PLAIN}
    window = result.window
    return {
        **{n: v if n in _WORDS else str(v) if n in _COUNTS and v is not None else _text(v)
           for n, v in plain.items()},
        "window": None if window is None else {f.name: _text(getattr(window, f.name))
                                               for f in _WINDOW},
        "cells": [[*(_text(getattr(cell, n)) for n in _CELL_FIGURES), " ".join(cell.flags)]
                  for cell in result.cells],
        "replaced": [[m.name, *(_text(getattr(m, n)) for n in _OFFSETS), str(m.verdict), m.why]
                     for m in result.replaced],
        "verdict": str(result.verdict),
        "gaps_s": [_text(gap) for gap in result.gaps_s],
        "advice": stored_messages(result.advice),
        "warnings": stored_messages(result.warnings),
    }  # fmt: skip


def _asked(stored: Json) -> LogAsked:
    limits = {name: float(text) for name, text in stored["limits"].items()}
    return LogAsked(
        modules=tuple(CycleModule(name=n, cells=int(cells)) for n, cells in stored["modules"]),
        replaced=tuple(stored["replaced"]),
        rated_ah=float(stored["rated_ah"]),
        curve=stored["curve"],
        limits=CycleLimits(**limits),
    )


def _cells(rows: Json, asked: LogAsked) -> tuple[CycleCell, ...]:
    names = [module.name for module in asked.modules for _ in range(module.cells)]
    found = []
    for index, (name, row) in enumerate(zip(names, rows, strict=True), start=1):
        figures = {n: _number(text) for n, text in zip(_CELL_FIGURES, row[:-1], strict=True)}
        flags = tuple(row[-1].split())
        flag = flags[0] if flags else ""
        found.append(CycleCell(index=index, module=name, flag=flag, flags=flags, **figures))
    return tuple(found)


def _replaced(rows: Json) -> tuple[ReplacedModule, ...]:
    return tuple(
        ReplacedModule(
            name=row[0],
            **{n: _number(text) for n, text in zip(_OFFSETS, row[1:4], strict=True)},
            verdict=Verdict(row[4]),
            why=Kept(row[5]),
        )
        for row in rows
    )


def _plain(name: str, stored: Json) -> Any:
    if name in _WORDS or stored is None:
        return stored
    return int(stored) if name in _COUNTS else float(stored)


def _result(stored: Json, asked: LogAsked) -> CycleResult:
    plain = {f.name: _plain(f.name, stored.get(f.name))
             for f in fields(CycleResult) if f.name not in _NOT_PLAIN}  # fmt: skip
    window = stored["window"]
    ends: dict[str, Any] = {} if window is None else {n: _number(t) for n, t in window.items()}
    return CycleResult(
        **plain,
        window=CycleWindow(**ends) if ends else None,
        cells=_cells(stored["cells"], asked),
        replaced=_replaced(stored["replaced"]),
        verdict=Verdict(stored["verdict"]),
        gaps_s=tuple(float(gap) for gap in stored["gaps_s"]),
        advice=_messages(stored["advice"]),
        warnings=_messages(stored["warnings"]),
    )


def read_columns(stored: Json) -> Columns:
    """Read which column was taken as what."""
    return Columns(
        time_s=stored["time_s"],
        current_a=stored["current_a"],
        cell_v=tuple(stored["cell_v"]),
        temperature_c=tuple(stored["temperature_c"]),
    )


def read_log_entry(stored: Json) -> Log:
    """Read a log as an entry keeps it."""
    asked = _asked(stored["asked"])
    return Log(
        sha256=stored["sha256"],
        name=stored["name"],
        source=stored["source"],
        columns=read_columns(stored["columns"]),
        current_sign=stored["current_sign"],
        clock=stored["clock"],
        began=stored["began"],
        rows=int(stored["rows"]),
        lasted_s=float(stored["lasted_s"]),
        version=int(stored["version"]),
        asked=asked,
        doubts=_messages(stored["doubts"]),
        result=_result(stored["result"], asked),
    )


def log(key: str, label: str, **more: Any) -> Item[Log]:
    """Make an item that takes logs, any number of them; none is ever taken from paper."""
    more |= {"many": "free", "on_paper": False, "needed": False}
    return Item(key=key, label=label, shape=Shape.LOG, read=read_log_entry, **more)
