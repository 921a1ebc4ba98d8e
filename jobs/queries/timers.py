"""Times that run in a job: waiting time, cure, rest of a spare, reading again after 24 h."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.core.section import Said
from jobs.core.step import Step
from jobs.steps.de_energise_check.assessment import isolated_at
from jobs.steps.isolation_readings.gate import AGAIN_H as READ_AGAIN_H
from jobs.steps.module_swap.items import SPARE_CELL_V, SPARES
from jobs.steps.reassembly.items import LID_ON
from jobs.steps.road_test.assessment import AGAIN_H
from jobs.steps.road_test.items import AFTER_24H, DRIVE_KM

__all__ = ["TIMED", "Timer", "cure_over", "timer_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Timer:
    """A time that runs.

    Attributes
    ----------
    waits_for : str
        "cure", "waiting_time", "rest" or "reading_24h"; "work" once a reading is due.
    said : Said
        What runs until when.
    since, until : datetime
        Its beginning and its end.
    item : str
        Key of the item that waits for it.
    """

    waits_for: str
    said: Said
    since: datetime
    until: datetime
    item: str


def _waiting(record: Record, blocker: Blocker) -> Timer | None:
    since, until = isolated_at(record), datetime.fromisoformat(str(blocker.params["until_at"]))
    if since is None:
        return None
    said = Said("Waiting time until {until_at}", {"until_at": until.isoformat()})
    return Timer(waits_for="waiting_time", said=said, since=since, until=until, item="")


def _curing(record: Record, blocker: Blocker) -> Timer | None:
    on, until = record.given(LID_ON), datetime.fromisoformat(str(blocker.params["until_at"]))
    if on is None:
        return None
    said = Said("Sealant cures until {until_at}", {"until_at": until.isoformat()})
    return Timer(waits_for="cure", said=said, since=on.at, until=until, item=LID_ON.key)


def _resting(record: Record, blocker: Blocker) -> Timer | None:
    """Count the rest that was missing from the voltage that was read too early."""
    read = record.given(SPARE_CELL_V, blocker.qualifier)
    if read is None:
        return None
    missing_h = float(blocker.params["needed_h"]) - float(blocker.params["rest_h"])
    until = read.at + timedelta(hours=missing_h)
    if until <= record.now:
        return None
    said = Said("Spare rests until {until_at}", {"until_at": until.isoformat()})
    return Timer(waits_for="rest", said=said, since=read.at, until=until, item=SPARE_CELL_V.key)


def _rests_after_charge(record: Record, blocker: Blocker) -> Timer | None:
    """Count the rest of a spare whose charge was moved, from the current off."""
    off = [entry.at for entry in record.live.get(SPARES.off.key, ())]
    until = datetime.fromisoformat(str(blocker.params["until_at"]))
    if not off:
        return None
    said = Said("Spare rests until {until_at}", {"until_at": until.isoformat()})
    return Timer(waits_for="rest", said=said, since=off[-1], until=until, item=SPARES.again_v.key)


def _again(record: Record, *, since: datetime, hours: float, item: str) -> Timer:
    until = since + timedelta(hours=hours)
    due = record.now >= until
    text = (
        "24 h isolation reading due since {due_at}"
        if due
        else "24 h isolation reading due {due_at}"
    )
    said = Said(text, {"due_at": until.isoformat()})
    return Timer(
        waits_for="work" if due else "reading_24h",
        said=said,
        since=until if due else since,
        until=until,
        item=item,
    )


def _after_drive(record: Record, _blocker: Blocker) -> Timer | None:
    drive = record.given(DRIVE_KM)
    if drive is None:
        return None
    return _again(record, since=drive.at, hours=AGAIN_H, item=AFTER_24H.key)


def _not_found(record: Record, blocker: Blocker) -> Timer | None:
    due = datetime.fromisoformat(str(blocker.params["due_at"]))
    since = due - timedelta(hours=READ_AGAIN_H)
    # The conditions before the last one are read first, at any time.
    given = {entry.qualifier for entry in record.live.get(blocker.item, ())}
    if blocker.qualifier in given:
        return None
    return _again(record, since=since, hours=READ_AGAIN_H, item=blocker.item)


TIMED: Final[dict[str, Callable[[Record, Blocker], Timer | None]]] = {
    "proof_wait": _waiting,
    "reassembly_curing": _curing,
    "swap_rest": _resting,
    "swap_resting": _rests_after_charge,
    "road_24h_missing": _after_drive,
    "isolation_repeat_24h": _not_found,
}
"""Codes of what is missing while a time runs, with how that time is counted."""


def timer_of(record: Record, blockers: Iterable[Blocker]) -> Timer | None:
    """Give the time that runs and ends last, of those that stand in the way.

    Parameters
    ----------
    record : Record
        The job as it stands.
    blockers : Iterable[Blocker]
        What is missing in its open step.

    Returns
    -------
    Timer | None
        None where nothing runs.
    """
    found = [TIMED[b.code](record, b) for b in blockers if b.code in TIMED]
    return max((each for each in found if each is not None), key=lambda t: t.until, default=None)


def cure_over(record: Record, step: Step[Any] | None) -> datetime | None:
    """Give when the sealant had cured, while the step in which the lid went on is still open.

    Parameters
    ----------
    record : Record
        The job as it stands.
    step : Step | None
        Its open step.

    Returns
    -------
    datetime | None
        None where nothing cures, or not yet long enough.
    """
    on, pack = record.given(LID_ON), record.pack
    mine = step is not None and step.slug == LID_ON.key.partition(".")[0]
    if not mine or on is None or pack is None or pack.lid.cure_h is None:
        return None
    until = on.at + timedelta(hours=pack.lid.cure_h.value)
    return until if until <= record.now else None
