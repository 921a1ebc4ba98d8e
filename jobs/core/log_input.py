"""What is sent to read a log in, and why a log cannot be taken.

Here: the strict check of the mapping, and whether a log fits the vehicle at all. `field` in the
parameters of a reason says where on the form it stands. Not here: reading the file.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from jobs.core.entry import Json
from jobs.core.item import Item
from jobs.core.plain_text import cleaned
from jobs.core.reason import Blocker, InputRefused, Param, Reason
from packs.definition import PackDefinition

__all__ = ["LOG_LIMIT_MB", "MOST_COLUMNS", "REASONS", "LogSeen", "misfits", "parse_log"]

LOG_LIMIT_MB = 40
SIGNS = ("charge_positive", "discharge_positive")
MOST_COLUMNS, LONGEST_NAME, LONGEST_WORDS = 480, 200, 500
SAG_V, OVER_V = 0.3, 0.05
"""How far the middle cell may sag below, or read above, what the definition allows [V]: shop
defaults, no source. A log of another chemistry or car lies further out."""
_SHA256 = re.compile(r"[0-9a-f]{64}")

NOT_A_LOG = Reason("log_not_read", "{where}: {what}.")
TOO_LARGE = Reason("log_too_large", "The file is larger than {limit_mb} MB. Export fewer columns.")
TOO_WIDE = Reason(
    "log_too_wide", "The file has {got} columns; {most} can be shown. Export fewer columns."
)
ABSENT = Reason("log_absent", "The file of the log has not arrived. Choose it again.")
BAD_SHAPE = Reason("log_bad_shape", "Choose the columns of the log again: {what}.")
NO_PACK = Reason("log_no_pack", "Choose the pack definition first: a log is read for its cells.")
CELLS = Reason(
    "log_cells",
    "{got} cell columns are taken, but this pack has {needed} cells in series ({modules} modules). "
    "Correct the columns, or take the log of this vehicle.",
)
VOLTS = Reason(
    "log_volts",
    "The cells read {got_low:.2f} to {got_high:.2f} V; this kind of pack has {low:.2f} to "
    "{high:.2f} V. Check the columns, and which car the log is from.",
)
EARLY = Reason(
    "log_early",
    "The log begins on {began}, before this job ({opened}): it shows the pack before the repair, "
    "or another car. Where only the logger's clock was wrong, say below how you know.",
)
LATE = Reason(
    "log_late",
    "The log begins on {began}, which has not come yet. Where only the logger's clock was wrong, "
    "say below how you know.",
)
REASONS = (NOT_A_LOG, TOO_LARGE, TOO_WIDE, ABSENT, BAD_SHAPE, NO_PACK, CELLS, VOLTS, EARLY, LATE)


@dataclass(frozen=True, slots=True, kw_only=True)
class LogSeen:
    """What of a log is held against the vehicle.

    Attributes
    ----------
    cells : int
        Columns taken as cells.
    low_v, high_v : float | None
        Lowest and highest the middle cell reads [V]; None where it was not read so far.
    began : date | None
        Day of its first row; None where it carries no date.
    """

    cells: int
    low_v: float | None = None
    high_v: float | None = None
    began: date | None = None


def _refuse(item: Item[Any], what: str, field: str) -> InputRefused:
    return InputRefused(BAD_SHAPE(item.key, "", what=what, field=field))


def _words(item: Item[Any], raw: Json, field: str, longest: int) -> str:
    if not isinstance(raw, str) or len(raw) > longest:
        raise _refuse(item, f"{field} is no text of up to {longest} characters", field)
    return cleaned(raw)


def _names(item: Item[Any], raw: Json, field: str) -> list[str]:
    named = isinstance(raw, list) and len(raw) <= MOST_COLUMNS
    if not named or not all(isinstance(n, str) and 0 < len(n) <= LONGEST_NAME for n in raw):
        raise _refuse(item, f"{field} is no list of column names", field)
    return list(raw)


def _columns(item: Item[Any], raw: Json) -> Json:
    given = raw if isinstance(raw, dict) else {}
    single = {n: _names(item, [given.get(n)], n)[0] for n in ("time_s", "current_a")}
    cells = _names(item, given.get("cell_v"), "cell_v")
    if not cells:
        raise _refuse(item, "no column is taken as a cell", "cell_v")
    temperatures = _names(item, given.get("temperature_c", []), "temperature_c")
    return {**single, "cell_v": cells, "temperature_c": temperatures}


def parse_log(item: Item[Any], raw: Json) -> Json:
    """Check which file is meant and which column is taken as what.

    Parameters
    ----------
    item : Item
        What was asked.
    raw : Json
        ``{"sha256", "name", "source", "columns", "current_sign", "clock"}``.

    Returns
    -------
    Json
        The same, whole; what the file says is added by the door.

    Raises
    ------
    InputRefused
        When a part is missing or no such thing.
    """
    given = raw if isinstance(raw, dict) else {}
    digest, sign = given.get("sha256"), given.get("current_sign")
    if not isinstance(digest, str) or not _SHA256.fullmatch(digest):
        raise InputRefused(ABSENT(item.key))
    if sign not in SIGNS:
        raise _refuse(item, "say whether charging or discharging is positive", "current_sign")
    return {
        "sha256": digest,
        "name": _words(item, given.get("name", ""), "name", LONGEST_NAME) or "log",
        "source": _words(item, given.get("source", ""), "source", LONGEST_NAME),
        "columns": _columns(item, given.get("columns")),
        "current_sign": sign,
        "clock": _words(item, given.get("clock", ""), "clock", LONGEST_WORDS),
    }


def _said(reason: Reason, item: str, field: str, **params: Param) -> Blocker:
    return reason(item, "", field=field, **params)


def misfits(
    item: str, pack: PackDefinition, seen: LogSeen, *, opened: date, today: date, clock: str
) -> Iterator[Blocker]:
    """Say why a log is not one of this vehicle after its repair.

    Parameters
    ----------
    item : str
        Key of the item that asks for it.
    pack : PackDefinition
        The pack definition in force.
    seen : LogSeen
        What was read so far.
    opened, today : date
        The day on which the job began, and today.
    clock : str
        Why the dates in the log are wrong; where it says, they refuse nothing.

    Yields
    ------
    Blocker
        One for each thing that does not fit, with the field it stands at.
    """
    if seen.cells != pack.cells_total:
        yield _said(CELLS, item, "cells", got=seen.cells, needed=pack.cells_total,
                    modules=len(pack.modules))  # fmt: skip
    low_v, high_v = pack.cell_low_v.value, pack.cell_high_v.value
    if seen.low_v is not None and seen.high_v is not None:
        out = seen.low_v < low_v - SAG_V or seen.high_v > high_v + OVER_V
        if out:
            yield _said(VOLTS, item, "cells", got_low=seen.low_v, got_high=seen.high_v,
                        low=low_v, high=high_v)  # fmt: skip
    if seen.began is None or clock:
        return
    began = f"{seen.began:%d %b %Y}"
    if seen.began < opened:
        yield _said(EARLY, item, "clock", began=began, opened=f"{opened:%d %b %Y}")
    elif seen.began > today:
        yield _said(LATE, item, "clock", began=began)
