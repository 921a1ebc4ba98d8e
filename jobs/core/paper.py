"""Values that were written on a printed sheet and typed in afterwards.

Here: what such an entry says of itself, and what stands against taking it. A sheet ends at its
step's next hold point, so nothing behind one may have been written before it was passed. Not
here: which lines a sheet prints (`jobs.views.sheet`).
"""

import re
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from jobs.core.entry import Entry, Json, Kind
from jobs.core.item import Item, Shape
from jobs.core.order import Steps, find_item
from jobs.core.reason import Blocker, InputRefused, Param, Reason
from jobs.core.record import Record
from jobs.core.step import Step

__all__ = [
    "REASONS",
    "Paper",
    "as_written",
    "on_paper",
    "paper_gate",
    "read_paper",
    "sheet_number",
    "stored_paper",
]

NO_SHEET = Reason("paper_sheet", "“{sheet}” is not the number of a sheet of this step and job.")
NO_TIME = Reason("paper_time", "Say when it was written: day and time as on the sheet.")
TOO_EARLY = Reason("paper_early", "It was written before its sheet was printed. Check the time.")
TOO_LATE = Reason("paper_late", "It cannot have been written later than now. Check the time.")
NO_WRITER = Reason("paper_writer", "Say who wrote it on the sheet.")
NOT_THIS = Reason("paper_not_this", "This is never taken from paper: enter it where it is done.")
ONLY_VALUES = Reason(
    "paper_only_values", "Paper carries readings and notes. Sign, strike and confirm on the screen."
)
BEFORE_HOLD = Reason(
    "paper_before_hold",
    "It was written before the hold point ahead of it was passed. Paper never passes one: "
    "do it again.",
)
BEFORE_STEP = Reason(
    "paper_before_step",
    "It was written before this step was opened. What was done then does not count: do it again.",
)
OUT_OF_ORDER = Reason(
    "paper_out_of_order",
    "Something of this step was done after that time ({done_at}). A sheet is typed in in the order "
    "of its times, before the step goes on on the screen.",
)
BEFORE_PROOF = Reason(
    "paper_before_proof", "It was written while the circuit was not proven dead. Do it again."
)

REASONS = (
    NO_SHEET,
    NO_TIME,
    TOO_EARLY,
    TOO_LATE,
    NO_WRITER,
    NOT_THIS,
    ONLY_VALUES,
    BEFORE_HOLD,
    BEFORE_STEP,
    OUT_OF_ORDER,
    BEFORE_PROOF,
)

SLACK = timedelta(minutes=1)
"""A sheet carries hours and minutes, the record seconds too."""

OLDEST, NEVER = 2000, 2200
"""Years between which something was written by hand."""

_SHEET = re.compile(r"(?P<job>.{1,20})-(?P<step>[1-8])-(?P<count>[0-9]{1,7})")
_ID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_NEVER = frozenset({Shape.SIGNATURE, Shape.PHOTO, Shape.DRAWN})


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """Where a value stood before it was typed in.

    Attributes
    ----------
    sheet : str
        Number printed on the sheet.
    written_at : datetime
        When it was written, as on the sheet.
    by : str
        Identifier of the person who wrote it.
    """

    sheet: str
    written_at: datetime
    by: str


def sheet_number(number: str, step: int, count: int) -> str:
    """Give the number of a sheet: job, step, and how many entries the job had when printed.

    Examples
    --------
    >>> sheet_number("Q000004", 4, 126)
    'Q000004-4-126'
    """
    return f"{number}-{step}-{count}"


def on_paper(item: Item[Any]) -> bool:
    """Tell whether a value of the item may be written on a sheet and typed in later."""
    return item.on_paper and item.shape not in _NEVER


def _refuse(reason: Reason, **params: Param) -> InputRefused:
    return InputRefused(reason(**params))


def read_paper(raw: Json) -> Paper:
    """Read what was sent of the sheet.

    Parameters
    ----------
    raw : Json
        ``{"sheet": ..., "written_at": ..., "by": ...}``, the time with its offset.

    Returns
    -------
    Paper
        The same, typed.

    Raises
    ------
    InputRefused
        When sheet, time or writer is missing or cannot be read.
    """
    given = raw if isinstance(raw, dict) else {}
    sheet, by = str(given.get("sheet", "")).strip(), str(given.get("by", ""))
    if not _SHEET.fullmatch(sheet):
        raise _refuse(NO_SHEET, sheet=sheet[:40])
    try:
        written_at = datetime.fromisoformat(str(given.get("written_at", "")))
    except ValueError:
        raise _refuse(NO_TIME) from None
    if written_at.tzinfo is None or not OLDEST <= written_at.year < NEVER:
        raise _refuse(NO_TIME)
    if not _ID.fullmatch(by):
        raise _refuse(NO_WRITER)
    return Paper(sheet=sheet, written_at=written_at, by=by)


def stored_paper(paper: Paper, written_at: str) -> Json:
    """Give the form in which an entry keeps it; the time as the chain writes times."""
    return {"sheet": paper.sheet, "written_at": written_at, "by": paper.by}


def _printed(steps: Steps, record: Record, step: Step[Any], paper: Paper) -> datetime | None:
    """Give when the sheet was printed at the earliest; None where the number is not one of ours."""
    match = _SHEET.fullmatch(paper.sheet)
    if match is None or not 1 <= int(match["count"]) <= len(record.entries):
        return None
    opened = record.entries[0].value if record.entries else None
    number = opened.get("number") if isinstance(opened, dict) else None
    if match["job"] != number or steps[int(match["step"]) - 1].slug != step.slug:
        return None
    return record.entries[int(match["count"]) - 1].at


def _guarded(step: Step[Any], record: Record, item: Item[Any], paper: Paper) -> tuple[Blocker, ...]:
    """Say that a hold point or the proof ahead of it did not stand yet when it was written."""
    found = []
    passed = record.holds.get((step.slug, item.hold))
    if passed is not None and paper.written_at < passed.at - SLACK:
        found.append(BEFORE_HOLD(item.key))
    proof = record.proof
    if item.needs_proof and proof is not None and paper.written_at < proof.at - SLACK:
        found.append(BEFORE_PROOF(item.key))
    return tuple(found)


def _opened_at(steps: Steps, record: Record, step: Step[Any]) -> datetime:
    """Give when the step was opened last: by the signature before it, or by a re-opening."""
    before = [each.slug for each in steps[: steps.index(step)]]
    signed = [record.signatures[slug].at for slug in before if slug in record.signatures]
    again = record.reopened.get(step.slug)
    return max([record.entries[0].at, *signed, *([] if again is None else [again.at])])


def _done_at(entry: Entry) -> datetime:
    """Give when something was done: when it was written, or entered where it was done."""
    if entry.paper is None:
        return entry.at
    return datetime.fromisoformat(entry.paper["written_at"])


def _last_done(record: Record, step: Step[Any]) -> datetime | None:
    """Give when the last value of a step was entered or written, or one was struck."""
    mine = {e.key for e in record.entries if e.kind is Kind.VALUE and e.belongs_to(step.slug)}
    done = [
        _done_at(entry)
        for entry in record.entries
        if entry.key in mine or (entry.kind is Kind.STRIKE and entry.value["key"] in mine)
    ]
    return max(done, default=None)


def _in_order(
    steps: Steps, record: Record, step: Step[Any], item: Item[Any], paper: Paper
) -> tuple[Blocker, ...]:
    """Say that it was written before the step was opened, or before what was entered since.

    Gates tell before from after by the order of entries, so that has to be the order of the acts.
    """
    if item.key in {f"{step.slug}.note", f"{step.slug}.photo"}:
        return ()
    if paper.written_at < _opened_at(steps, record, step) - SLACK:
        return (BEFORE_STEP(item.key),)
    last = _last_done(record, step)
    if last is not None and paper.written_at < last - SLACK:
        return (OUT_OF_ORDER(item.key, done_at=last.isoformat()),)
    return ()


def paper_gate(steps: Steps, record: Record, *, key: str, paper: Paper) -> tuple[Blocker, ...]:
    """Say what stands against taking a value from paper, beside what stands against any value.

    Parameters
    ----------
    steps : Steps
        The steps in order.
    record : Record
        The job as it stands.
    key : str
        The item.
    paper : Paper
        The sheet it stands on.

    Returns
    -------
    tuple[Blocker, ...]
        Empty when it may be taken.

    Notes
    -----
    Waits and cure times count from the typing in, never from the sheet: a time written by hand
    opens no gate.
    """
    found = find_item(steps, record, key)
    if found is None:
        return ()
    step, item = found
    if not on_paper(item):
        return (NOT_THIS(key),)
    printed = _printed(steps, record, step, paper)
    if printed is None:
        return (NO_SHEET(key, sheet=paper.sheet),)
    if paper.written_at < printed - SLACK:
        return (TOO_EARLY(key),)
    if paper.written_at > record.now + SLACK:
        return (TOO_LATE(key),)
    return (
        *_guarded(step, record, item, paper),
        *_in_order(steps, record, step, item, paper),
    )


def as_written(record: Record, paper: Paper) -> Record:
    """Give the record as of the time of writing, for what lapses: hold points and the proof."""
    return replace(record, now=min(record.now, paper.written_at))
