"""Reading a kept log and judging it: from the bytes in the data folder to what an entry stores.

The same file and the same question always give the same answer, so the last few are kept in
memory: what the page shows is what the door stores. Not here: keeping the file
(`jobs.actions.logs`), which column is what (`jobs.views.log_import`).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from functools import lru_cache
from importlib import import_module
from typing import Any
from uuid import UUID

import numpy as np

from jobs.core.entry import Entry, Json
from jobs.core.log_entry import (
    Log,
    LogAsked,
    read_columns,
    read_log_entry,
    stored_asked,
    stored_messages,
    stored_result,
)
from jobs.core.log_input import ABSENT, NO_PACK, NOT_A_LOG, LogSeen, misfits
from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.models import Attachment
from jobs.steps.road_test.items import LOG, log_asked
from packs.calculation_list import find
from packs.logs.dates import seconds_of_texts
from packs.logs.preview import LogPreview, preview_of
from packs.logs.wanted import Columns
from packs.physics.cycle import cycle
from packs.physics.cycle_case import CycleCase, CycleLog, CycleResult
from packs.physics.instrument import CalculationRefused, Message
from packs.strict_json import InputRefused
from workshop.kept_files import has_kept, open_kept, read_kept

__all__ = [
    "LOG_MEDIA_TYPE",
    "Looked",
    "computed_again",
    "judged_again",
    "kept_logs",
    "look",
    "look_at_kept",
]

LOG_MEDIA_TYPE = "text/csv"
KEPT = 16
EPOCHS_S = ((1e9, 4e9, 1.0), (1e12, 4e12, 1e-3), (1e15, 4e15, 1e-6), (1e18, 4e18, 1e-9))
"""Numbers that are times since 1970, between 2001 and 2096, and what makes them seconds."""
OF_DOUBT = {"outside_curve", "current_sign_suspect"}
"""Doubts that the calculation finds, beside those of the file itself."""
MOST_ODD_PERCENT = 0.5
"""Share of the rows at either end that is left out when the range is looked at [%]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What a file says, with what the calculation found in it."""

    rows: int
    lasted_s: float
    low_v: float
    high_v: float
    doubts: tuple[Message, ...]
    repairs: tuple[Message, ...]
    result: CycleResult


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """A log that was looked at: why it cannot be taken, or what would be stored."""

    blockers: tuple[Blocker, ...] = ()
    stored: Json = None
    repairs: tuple[Message, ...] = ()
    doubts: tuple[Message, ...] = ()


@lru_cache(maxsize=KEPT)
def _judged(sha256: str, columns: Columns, current_sign: str, asked: LogAsked) -> Judged:
    # What reads delimited text is heavy and wanted only where a log is read.
    read_log: Any = import_module("packs.logs.reading").read_log
    log: CycleLog = read_log(read_kept(sha256), columns, current_sign)
    result = cycle(
        CycleCase(
            log=log,
            modules=asked.modules,
            replaced=asked.replaced,
            rated_ah=asked.rated_ah,
            curve=asked.curve,
            limits=asked.limits,
        )
    )
    found = (message for message in result.warnings if message.code in OF_DOUBT)
    low_v, high_v = _range_v(log)
    return Judged(
        rows=int(log.time_s.size),
        lasted_s=float(log.time_s[-1] - log.time_s[0]),
        low_v=low_v,
        high_v=high_v,
        doubts=tuple(dict.fromkeys((*log.doubts, *found))),
        repairs=log.repairs,
        result=result,
    )


def _range_v(log: CycleLog) -> tuple[float, float]:
    """Give between what the middle cell reads, a few odd rows left out; NaN without readings."""
    there = np.isfinite(log.cell_v).any(axis=1)
    if not there.any():
        return float("nan"), float("nan")
    middle_v = np.nanmedian(log.cell_v[there], axis=1)
    low_v, high_v = np.percentile(middle_v, [MOST_ODD_PERCENT, 100.0 - MOST_ODD_PERCENT])
    return float(low_v), float(high_v)


@lru_cache(maxsize=KEPT)
def look_at_kept(sha256: str) -> LogPreview:
    """Look at the beginning of a kept file.

    Raises
    ------
    InputRefused
        Of `packs.strict_json`, when it is no log.
    """
    with open_kept(sha256) as file:
        return preview_of(file)


def _began(preview: LogPreview, column: str, zone: tzinfo | None) -> datetime | None:
    """Give when the first row was written; None where the log carries no date."""
    if column not in preview.names:
        return None
    place = preview.names.index(column)
    texts = [row[place].strip() for row in preview.rows if row[place].strip()]
    if not texts:
        return None
    try:
        number = float(texts[0])
    except ValueError:
        read = seconds_of_texts(texts)
        if read is None or read.of_day or read.doubts or not np.isfinite(read.seconds[0]):
            return None
        where = zone if read.local else UTC
        moment = datetime.fromtimestamp(float(read.seconds[0]), UTC)
        return moment.replace(tzinfo=where) if read.local else moment.astimezone(zone)
    scale = next((s for low, high, s in EPOCHS_S if low <= number <= high), None)
    return None if scale is None else datetime.fromtimestamp(number * scale, zone)


def _refusals(refused: InputRefused | CalculationRefused) -> Iterator[Blocker]:
    """Say what is wrong with a file or a column, with the field of the form."""
    problems = (
        refused.problems if isinstance(refused, InputRefused) else [(refused.path, refused.message)]
    )
    for path, message in problems[:4]:
        name = path.removeprefix("columns.")
        field = "cells" if name.startswith("cell_v") else name.partition(".")[0]
        where = {"time_s": "Time", "current_a": "Current", "cells": "Cells", "file": "The file"}
        words = where.get(field, "Temperatures" if field == "temperature_c" else "The log")
        yield NOT_A_LOG(LOG.key, "", where=words, what=message, field=field)


def _misfits(record: Record, parsed: Json, seen: LogSeen) -> tuple[Blocker, ...]:
    if record.pack is None:
        return (NO_PACK(LOG.key),)
    return tuple(
        misfits(
            LOG.key,
            record.pack,
            seen,
            opened=record.entries[0].at.date() if record.entries else record.now.date(),
            today=record.now.date() + timedelta(days=1),
            clock=parsed["clock"],
        )
    )


def look(record: Record, parsed: Json) -> Looked:
    """Read a kept log and judge it for this job.

    Parameters
    ----------
    record : Record
        The job as it stands.
    parsed : Json
        Which file and which columns, as `jobs.core.log_input.parse_log` gives it.

    Returns
    -------
    Looked
        What stands against taking it; where nothing does, the entry's value.
    """
    asked, columns = log_asked(record), read_columns(parsed["columns"])
    cells = LogSeen(cells=len(columns.cell_v))
    early = _misfits(record, parsed, cells)
    if early or asked is None:
        return Looked(blockers=early)
    sha256 = parsed["sha256"]
    if not has_kept(sha256):
        return Looked(blockers=(ABSENT(LOG.key),))
    try:
        preview = look_at_kept(sha256)
        judged = _judged(sha256, columns, parsed["current_sign"], asked)
    except (InputRefused, CalculationRefused) as refused:
        return Looked(blockers=tuple(_refusals(refused)))
    began = _began(preview, columns.time_s, record.now.tzinfo)
    seen = LogSeen(
        cells=cells.cells,
        low_v=judged.low_v if np.isfinite(judged.low_v) else None,
        high_v=judged.high_v if np.isfinite(judged.high_v) else None,
        began=None if began is None else began.date(),
    )
    late = _misfits(record, parsed, seen)
    stored = None if late else _stored(parsed, judged, asked, began)
    return Looked(blockers=late, stored=stored, repairs=judged.repairs, doubts=judged.doubts)


def _stored(parsed: Json, judged: Judged, asked: LogAsked, began: datetime | None) -> Json:
    """Write what an entry keeps of a log."""
    return {
        **parsed,
        "media_type": LOG_MEDIA_TYPE,
        "began": "" if began is None else began.isoformat(timespec="seconds"),
        "rows": str(judged.rows),
        "lasted_s": f"{judged.lasted_s:.3f}",
        "calculation": "cycle",
        "version": str(find("cycle").version),
        "asked": stored_asked(asked),
        "doubts": stored_messages(judged.doubts),
        "result": stored_result(judged.result),
    }


def computed_again(entry: Entry) -> Json:
    """Compute the result of an entry anew from the kept file, as the entry stores it.

    Parameters
    ----------
    entry : Entry
        A log that was read in.

    Returns
    -------
    Json
        What `stored_result` gives now; the entry's own "result" has to be the same.

    Raises
    ------
    FileNotFoundError
        Where the file is gone.
    """
    return stored_result(judged_again(read_log_entry(entry.value)))


def judged_again(log: Log) -> CycleResult:
    """Judge a log that was read in, anew from the kept file.

    Raises
    ------
    FileNotFoundError
        Where the file is gone.
    """
    return _judged(log.sha256, log.columns, log.current_sign, log.asked).result


def kept_logs(job_id: str | UUID) -> tuple[str, ...]:
    """Give the digests of the logs kept for a job, newest first, whether read in or not."""
    rows = Attachment.objects.filter(job_id=job_id, media_type=LOG_MEDIA_TYPE)
    there = rows.order_by("-stored_at").values_list("sha256", flat=True)
    return tuple(sha256 for sha256 in there if has_kept(sha256))
