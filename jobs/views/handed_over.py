"""What one shift leaves to the next, as Today says it: notes to read, customers to call."""

import uuid
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.translation import gettext

from jobs.core.desk import PROMISE_REASONS, Note
from jobs.queries.records import JobInfo
from jobs.queries.today import ToCall, TodayInfo
from jobs.report.wording import Wording
from jobs.views.holding_words import on_day
from workshop.finding import dialled

__all__ = ["CallLine", "HandedOver", "NoteLine", "calls_to_make", "handed_over"]


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteLine:
    """A note in words: whose, when, about which job, and who has read it."""

    key: str
    text: str
    who: str
    writer: str
    at: datetime
    job: JobInfo | None = None
    reader: str = ""
    read_at: datetime | None = None
    act: str = ""


@dataclass(frozen=True, slots=True)
class HandedOver:
    """Notes that nobody has read, and those that were read today."""

    open: tuple[NoteLine, ...]
    read: tuple[NoteLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CallLine:
    """A customer to call: about what, since when, the number to tap."""

    job: JobInfo
    on: str
    late: bool
    about: str
    number: str


def _line(note: Note, job: JobInfo | None, words: Wording) -> NoteLine:
    done = note.done
    return NoteLine(
        key=note.event.key,
        text=note.text,
        who=words.name(note.event.person),
        writer=note.event.person,
        at=note.event.at,
        job=job,
        reader="" if done is None else words.name(done.person),
        read_at=None if done is None else done.at,
        act=str(uuid.uuid4()),
    )


def handed_over(found: TodayInfo, words: Wording, day: date) -> HandedOver:
    """Give the notes that stand, of the whole shop and of jobs, and those read today.

    Parameters
    ----------
    found : TodayInfo
        What Today is made of.
    words : Wording
        Names and the workshop's zone.
    day : date
        The workshop's day.

    Returns
    -------
    HandedOver
        Oldest first.
    """
    lines = [_line(note, None, words) for note in found.notes]
    lines += [_line(note, row.job, words) for row, note in found.job_notes]
    read = [each for each in lines if each.read_at is not None]
    return HandedOver(
        tuple(sorted((each for each in lines if each.read_at is None), key=lambda e: e.at)),
        tuple(e for e in read if e.read_at and e.read_at.astimezone(words.zone).date() == day),
    )


def _about(call: ToCall) -> str:
    """Say what to call about."""
    told = []
    if call.untold is not None:
        after = call.untold.values.get("after", "")
        why = PROMISE_REASONS.get(call.untold.values.get("why", ""), "")
        text = gettext("Promised day moved, not told yet")
        told.append(": ".join(filter(None, (text, gettext(why) if after and why else ""))))
    if call.due is not None:
        told.append(call.due.about or gettext("Call agreed"))
    return "; ".join(told)


def calls_to_make(found: TodayInfo, day: date) -> tuple[CallLine, ...]:
    """Give the customers to call, in words."""
    return tuple(
        CallLine(
            job=each.job,
            on=on_day(each.on, day),
            late=each.on < day,
            about=_about(each),
            number=dialled(each.job.customer.phone),
        )
        for each in found.to_call
    )
