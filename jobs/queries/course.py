"""The course of a job in time: what happened when, and what it waited for in between.

A wait is a gap between two entries: what held the job then is asked as Open jobs asks it, of the
record as it stood. Times are of the calendar, nights and days off among them. Pure but for the
entries, which are read once. Not here: the words (`jobs.views.course`).
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import lru_cache
from itertools import pairwise
from typing import Final
from uuid import UUID

from jobs.core.entry import Entry, Kind
from jobs.core.order import open_step
from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.core.section import Said
from jobs.queries.floor import Floor
from jobs.queries.folding import Grounds
from jobs.queries.holding import holding
from jobs.queries.records import JobInfo, fold_job, grounds_in_force
from jobs.queries.signed import record_after
from jobs.queries.upcoming import asked_now, upcoming
from jobs.steps import STEPS
from jobs.steps.fault_localisation.items import ANSWER, OTHER_NEW, PART_NEW, QUOTATION
from jobs.steps.module_swap.items import SPARE

__all__ = ["PARTIES", "Course", "Happening", "Wait", "course_of", "waited"]

WORKED_WITHIN: Final = timedelta(minutes=30)
"""A gap up to this counts as work going on: shop practice."""
PARTIES: Final = ("customer", "parts", "equipment", "time", "shop", "work")
"""Whom or what a job waits for: "time" is a cure, rest or waiting time, "work" is no wait."""
_PARTY: Final[Mapping[str, str]] = {
    "customer": "customer",
    "arrival": "customer",
    "collection": "customer",
    "cure": "time",
    "waiting_time": "time",
    "reading_24h": "time",
    "rest": "time",
    "equipment": "equipment",
}
_PARTS: Final = frozenset({SPARE.key, OTHER_NEW.key, PART_NEW.key})
"""Where one of these is the next to be entered, the job waits for a part."""
_GONE_BY: Final = Floor(names={}, pieces={}, known=False)
_KEPT: Final = 600
"""Courses kept in memory; each is of one head of one chain."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """A stretch of time in which one thing held the job.

    Attributes
    ----------
    party : str
        One of `PARTIES`.
    waits_for : str
        As `jobs.queries.holding` says it; empty for work.
    said : Said | Blocker | None
        What held it; None for work.
    since, until : datetime
        Its beginning and its end; the end of the last one is now while the job is open.
    """

    party: str
    waits_for: str = ""
    said: Said | Blocker | None = None
    since: datetime
    until: datetime

    @property
    def length_s(self) -> float:
        """How long it lasted [s]."""
        return (self.until - self.since).total_seconds()


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """Something that happened at a moment.

    Attributes
    ----------
    what : str
        "booked", "arrived", "begun", "signed", "not_needed", "reopened", "hold", "proof",
        "quoted", "answered", "accepted", "withdrawn" or "closed".
    step : str
        Slug of the step it belongs to; empty for none.
    detail : str
        Slug of the hold point, version of the quotation, answer, reason, or how it was closed.
    length_s : float | None
        Of a signature: how long the step had been worked on [s].
    """

    what: str
    at: datetime
    person: str
    step: str = ""
    detail: str = ""
    length_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """The course of a job.

    Attributes
    ----------
    happenings : tuple[Happening, ...]
        Oldest first.
    waits : tuple[Wait, ...]
        Stretches without a gap from the booking to the closing, or to now.
    """

    happenings: tuple[Happening, ...]
    waits: tuple[Wait, ...]

    @property
    def arrived_at(self) -> datetime | None:
        """When the vehicle or pack was taken in; None while nothing of intake was entered."""
        return next((each.at for each in self.happenings if each.what == "arrived"), None)

    @property
    def ends_at(self) -> datetime:
        """When it was closed; now while it is open."""
        return self.waits[-1].until if self.waits else self.happenings[-1].at


def waited(waits: tuple[Wait, ...], since: datetime | None = None) -> Mapping[str, float]:
    """Add up the time by whom or what it waited for.

    Parameters
    ----------
    waits : tuple[Wait, ...]
        The stretches.
    since : datetime | None
        From when on; None for all of it.

    Returns
    -------
    Mapping[str, float]
        Seconds by party, every one of `PARTIES`; their sum is the whole time [s].
    """
    found = dict.fromkeys(PARTIES, 0.0)
    for wait in waits:
        begin = wait.since if since is None else max(since, wait.since)
        found[wait.party] += max(0.0, (wait.until - begin).total_seconds())
    return found


def _party(record: Record, waits_for: str) -> str:
    """Say for whom: the next act of the shop is a wait for a part where the new part is due."""
    step = open_step(STEPS, record)
    if waits_for == "work" and step is not None:
        item = upcoming(record, step, asked_now(record, step)).item
        if item is not None and item.key in _PARTS:
            return "parts"
    return _PARTY.get(waits_for, "shop")


def _stretches(record: Record, until: datetime, arrives_on: date | None) -> Iterator[Wait]:
    """Part a gap where a time that ran was over: what was left waited for something else."""
    since = record.now
    while since < until:
        then = replace(record, now=since)
        held = holding(then, open_step(STEPS, then), _GONE_BY, arrives_on)
        over = held.until
        end = until if over is None or not since < over < until else over
        party = _party(then, held.waits_for)
        yield Wait(party=party, waits_for=held.waits_for, said=held.said, since=since, until=end)
        since = end


def _joined(waits: Iterator[Wait]) -> tuple[Wait, ...]:
    """Put stretches together that say the same one after the other."""
    found: list[Wait] = []
    for wait in waits:
        last = found[-1] if found else None
        if last is not None and (last.party, last.said) == (wait.party, wait.said):
            found[-1] = replace(last, until=wait.until)
        else:
            found.append(wait)
    return tuple(found)


def _gap(before: Record, entry: Entry, until: datetime, arrives_on: date | None) -> Iterator[Wait]:
    if until - entry.at <= WORKED_WITHIN:
        yield Wait(party="work", since=entry.at, until=until)
    else:
        yield from _stretches(replace(before, now=entry.at), until, arrives_on)


def _waits(record: Record, arrives_on: date | None) -> Iterator[Wait]:
    """Go through the gaps between entries; only the long ones are asked what held the job."""
    done = [entry for entry in record.entries if entry.kind is not Kind.REFUSAL]
    for entry, following in pairwise(done):
        long = following.at - entry.at > WORKED_WITHIN
        then = record_after(record, entry) if long else record
        yield from _gap(then, entry, following.at, arrives_on)


@dataclass(slots=True)
class _Begun:
    """Since when each step has been worked on, as the entries are gone through."""

    since: dict[str, datetime]

    def sees(self, entry: Entry) -> str:
        """Note a value; give the slug of the step that begins with it, or nothing."""
        slug = entry.item.partition(".")[0]
        if entry.kind is not Kind.VALUE or slug in self.since or not entry.belongs_to(slug):
            return ""
        self.since[slug] = entry.at
        return slug


def _signed(entry: Entry, begun: _Begun) -> Happening:
    slug, done = entry.value["step"], entry.value["outcome"] != "not_needed"
    since = begun.since.get(slug)
    return Happening(
        what="signed" if done else "not_needed",
        at=entry.at,
        person=entry.person,
        step=slug,
        length_s=(entry.at - since).total_seconds() if since is not None and done else None,
    )


def _reopened(entry: Entry, begun: _Begun) -> Happening:
    """Say which step was re-opened; it and the later ones it undid begin anew."""
    slug = entry.value["step"]
    for each in (slug, *entry.value["supersedes"]):
        begun.since.pop(each, None)
    begun.since[slug] = entry.at
    reason = entry.value["reason"]
    return Happening(what="reopened", at=entry.at, person=entry.person, step=slug, detail=reason)


_DETAILS: Final[Mapping[Kind, tuple[str, str]]] = {
    Kind.OPEN: ("booked", ""),
    Kind.HOLD: ("hold", "hold"),
    Kind.PROOF: ("proof", ""),
    Kind.COUNTERSIGN: ("accepted", "reason"),
    Kind.WITHDRAW: ("withdrawn", "reason"),
    Kind.CLOSE: ("closed", "how"),
}
"""Kinds that always tell: what happened, and where in the value its detail stands."""


def _told(entry: Entry) -> Happening | None:
    """Give what an entry tells by its kind alone, or as quotation or answer."""
    what, name = _DETAILS.get(entry.kind, ("", ""))
    if entry.kind is Kind.VALUE and entry.item == ANSWER.key:
        what, detail = "answered", str(entry.value)
    elif entry.kind is Kind.VALUE and entry.item == QUOTATION.key:
        what, detail = "quoted", ""
    else:
        detail = str(entry.value.get(name, "")) if name else ""
    if not what:
        return None
    step = entry.value.get("step", "") if isinstance(entry.value, dict) else ""
    return Happening(what=what, at=entry.at, person=entry.person, step=step, detail=detail)


def _happenings(record: Record) -> Iterator[Happening]:
    begun, quoted, first = _Begun({}), 0, STEPS[0].slug
    for entry in record.entries:
        slug = begun.sees(entry)
        if slug:
            what = "arrived" if slug == first else "begun"
            yield Happening(what=what, at=entry.at, person=entry.person, step=slug)
        if entry.kind is Kind.SIGN:
            yield _signed(entry, begun)
        elif entry.kind is Kind.REOPEN:
            yield _reopened(entry, begun)
        else:
            told = _told(entry)
            if told is not None and told.what == "quoted":
                quoted += 1
                told = replace(told, detail=str(quoted))
            if told is not None:
                yield told


@lru_cache(maxsize=_KEPT)
def _told_by(
    job_id: UUID, head: str, opened_at: datetime, arrives_on: date | None, on: Grounds
) -> Course:
    """Give the course up to the last entry; it is the same as long as no entry is added."""
    record = fold_job(job_id, head_hash=head, now=opened_at, grounds=on)
    waits = _joined(_waits(record, arrives_on))
    return Course(happenings=tuple(_happenings(record)), waits=waits)


def course_of(job: JobInfo, record: Record) -> Course:
    """Give the course of a job up to now, or to its closing.

    Parameters
    ----------
    job : JobInfo
        The job.
    record : Record
        As it stands.

    Returns
    -------
    Course
        A refused signature is no happening and ends no wait.
    """
    past = _told_by(UUID(job.id), job.head, job.opened_at, job.arrives_on, grounds_in_force())
    last = next(e for e in reversed(record.entries) if e.kind is not Kind.REFUSAL)
    if record.closed is not None or record.now <= last.at:
        return past
    tail = _gap(record, last, record.now, job.arrives_on)
    return replace(past, waits=_joined(iter((*past.waits, *tail))))
