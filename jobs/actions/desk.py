"""The one writer of what the desk keeps: facts, promised day, who works, keys, calls, notes.

Every change is another row with who and when. Words that may be about a person are kept apart from
codes, so that `erase_words` can take them. Practice jobs have no desk.
"""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Final

from jobs.core import desk
from jobs.core.reason import InputRefused, Reason
from jobs.models import DeskEvent, Job
from jobs.queries.desk import desk_now, keys_kept
from workshop import queries as shop
from workshop.errors import NotAllowed
from workshop.people import FRONT_DESK, MANAGER, TECHNICIAN, PersonInfo
from workshop.writing import one_writer

__all__ = [
    "REASONS",
    "Call",
    "Promise",
    "Sent",
    "Written",
    "assign",
    "check_assigned",
    "check_promise",
    "erase_words",
    "facts_row",
    "log_call",
    "log_text",
    "move",
    "move_promise",
    "set_facts",
    "settle",
    "write_note",
    "write_row",
]

WORDS_LIMIT: Final = 1000
SHORT_LIMIT: Final = 60

NO_JOB = Reason("desk_no_job", "There is no such job.")
KEY_USED = Reason("desk_key_used", "Something else was sent from this page. Reload it and go on.")
ERASED = Reason(
    "desk_erased", "The customer's data were erased on request. Nothing more is written about them."
)
NOTHING_NEW = Reason("desk_nothing_new", "Nothing was changed: it stands like this already.")
NOT_OFFERED = Reason("desk_not_offered", "Choose one of the offered values.")
PROMISED_PAST = Reason("desk_promised_past", "It cannot be promised for a day that is over.")
PROMISED_EARLY = Reason("desk_promised_early", "It cannot be promised before it arrives.")
SAY_WHY = Reason("desk_say_why", "Choose why the promised day moves.")
SAY_TOLD = Reason("desk_say_told", "Say whether the customer was told.")
RETIRED = Reason("desk_retired", "{name} has left the workshop. Choose somebody who works here.")
NO_PERSON = Reason("desk_no_person", "There is no such person. Choose one, or nobody.")
NOT_ON_JOBS = Reason(
    "desk_not_on_jobs", "{name} is at the front desk. A technician or manager is assigned."
)
KEYS_LOCKED = Reason(
    "desk_keys_locked",
    "The record says that {person} holds the keys, locked away. They hang nowhere else until the "
    "record says that isolation ended.",
)
DUE_PAST = Reason("desk_due_past", "The next call cannot be due on a day that is over.")
SAY_WHAT = Reason("desk_say_what", "Write what was said.")
WRITE_NOTE = Reason("desk_write_note", "Write the note.")
NO_EVENT = Reason("desk_no_event", "There is no such note. Reload the page.")
ALREADY = Reason("desk_already", "{person} did this already.")

REASONS = (NO_JOB, KEY_USED, ERASED, NOTHING_NEW, NOT_OFFERED, PROMISED_PAST, PROMISED_EARLY,
           SAY_WHY, SAY_TOLD, RETIRED, NO_PERSON, NOT_ON_JOBS, KEYS_LOCKED, DUE_PAST, SAY_WHAT,
           WRITE_NOTE, NO_EVENT, ALREADY)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """A row to write: the key that the page was given, its kind, what it says."""

    key: str
    kind: str
    values: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    due_on: date | None = None
    about: str = ""


def _person(by: str) -> PersonInfo:
    person = shop.person(by)
    if person is None or person.role not in {FRONT_DESK, TECHNICIAN, MANAGER} or not person.active:
        raise NotAllowed("not_signed_on")
    return person


def _job(job_id: str) -> Job:
    rows = Job.objects.select_for_update(of=("self",)).filter(practice=False)
    row = rows.select_related("customer").filter(pk=shop.uuid_of(job_id)).first()
    if row is None:
        raise InputRefused(NO_JOB())
    if row.customer is not None and row.customer.erased_at is not None:
        raise InputRefused(ERASED())
    return row


def _text(typed: str, most: int = WORDS_LIMIT) -> str:
    return typed.replace("\x00", " ").strip()[:most]


def write_row(job: Job | None, new: Written, by: str, now: datetime) -> None:
    """Add a row inside the caller's transaction; the same one sent again is one row."""
    known = DeskEvent.objects.filter(key=uuid.UUID(new.key)).first()
    if known is not None:
        if (known.job_id, known.kind, str(known.person)) != (job and job.id, new.kind, by):
            raise InputRefused(KEY_USED())
        return
    DeskEvent.objects.create(
        key=uuid.UUID(new.key),
        job=job,
        kind=new.kind,
        at=now,
        person=uuid.UUID(by),
        values=dict(new.values),
        words=dict(new.words),
        due_on=new.due_on,
        about=uuid.UUID(new.about) if new.about else None,
    )


def _is_known(key: str) -> bool:
    """Tell whether a page was sent before; it is not asked again what stands against it."""
    return DeskEvent.objects.filter(key=uuid.UUID(key)).exists()


def _offered(value: str, offered: Mapping[str, str], name: str) -> str:
    if value and value not in offered:
        raise InputRefused(NOT_OFFERED(name))
    return value


def set_facts(*, job_id: str, key: str, facts: Mapping[str, str], by: str, now: datetime) -> None:
    """Write who pays, insurer, claim, recall and warranty of a job; what is the same is left out.

    Parameters
    ----------
    job_id, key : str
        The job, and the key that the page was given.
    facts : Mapping[str, str]
        `payer` and `warranty` as codes; `insurer`, `claim`, `recall` in words.
    by : str
        Who writes; anybody of the workshop.
    now : datetime
        The server's time (UTC).

    Raises
    ------
    InputRefused
        With the field that has to be mended.
    NotAllowed
        When nobody is signed on.
    """
    with one_writer():
        _person(by)
        job, before = _job(job_id), desk_now(job_id)
        new = facts_row(key, facts, before)
        if new is None and not _is_known(key):
            raise InputRefused(NOTHING_NEW())
        if new is not None:
            write_row(job, new, by, now)


def facts_row(key: str, facts: Mapping[str, str], before: desk.Desk) -> Written | None:
    """Give the row that says what differs from what was known; None where nothing does."""
    said = {name: _text(facts.get(name, ""), SHORT_LIMIT) for name in facts}
    _offered(said.get("payer", ""), desk.PAYERS, "payer")
    _offered(said.get("warranty", ""), desk.WARRANTIES, "warranty")
    changed = {name: text for name, text in said.items() if text != getattr(before, name)}
    if not changed:
        return None
    codes = {name: text for name, text in changed.items() if name in {"payer", "warranty"}}
    words = {name: text for name, text in changed.items() if name not in codes}
    return Written(key=key, kind=desk.FACTS, values=codes, words=words)


def check_assigned(person_id: str) -> str:
    """Give the identifier of somebody to whom a job may be assigned; empty stands for nobody."""
    if not person_id:
        return ""
    person = shop.person(person_id)
    if person is None:
        raise InputRefused(NO_PERSON("person"))
    if not person.active:
        raise InputRefused(RETIRED("person", name=person.short_name))
    if person.role not in {TECHNICIAN, MANAGER}:
        raise InputRefused(NOT_ON_JOBS("person", name=person.short_name))
    return person.id


def assign(*, job_id: str, key: str, person_id: str, by: str, now: datetime) -> None:
    """Say whose job it is, or that it is nobody's."""
    with one_writer():
        _person(by)
        job, person = _job(job_id), check_assigned(person_id)
        if not _is_known(key) and desk_now(job_id).assigned == person:
            raise InputRefused(NOTHING_NEW("person"))
        write_row(job, Written(key=key, kind=desk.ASSIGNED, values={"person": person}), by, now)


def move(*, job_id: str, key: str, where: Mapping[str, str], by: str, now: datetime) -> None:
    """Write where the vehicle stands (`place`, `spot`) and where its keys hang (`hook`).

    Raises
    ------
    InputRefused
        Also where other keys are named while the record says that they are locked away.
    """
    with one_writer():
        _person(by)
        job, before, kept = _job(job_id), desk_now(job_id), keys_kept(job_id, now)
        _offered(where.get("place", ""), desk.PLACES, "place")
        said = {name: _text(where[name], SHORT_LIMIT) for name in ("place", "spot", "hook")
                if name in where}  # fmt: skip
        changed = {name: text for name, text in said.items() if text != getattr(before, name)}
        if "hook" in changed and kept is not None:
            raise InputRefused(KEYS_LOCKED("hook", person=kept.person))
        if not changed and not _is_known(key):
            raise InputRefused(NOTHING_NEW("place"))
        if changed:
            write_row(job, Written(key=key, kind=desk.MOVED, values=changed), by, now)


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """A promised day as moved: to when, why (a code and words), whether the customer knows."""

    promised_on: date | None
    why: str
    told: str
    note: str = ""


def check_promise(promised: date | None, arrives: date | None, today: date) -> None:
    """Refuse a promised day that is over, or before the arrival."""
    if promised is not None and arrives is not None and promised < arrives:
        raise InputRefused(PROMISED_EARLY("promised_on"))
    if promised is not None and promised < today:
        raise InputRefused(PROMISED_PAST("promised_on"))


def move_promise(*, job_id: str, key: str, new: Promise, by: str, now: datetime) -> None:
    """Move the promised day of a job, with the reason and whether the customer was told."""
    with one_writer():
        _person(by)
        job = _job(job_id)
        if _is_known(key):
            return
        if new.promised_on == job.promised_on:
            raise InputRefused(NOTHING_NEW("promised_on"))
        check_promise(new.promised_on, job.arrives_on, shop.local_day(now))
        if job.promised_on is not None and not new.why:
            raise InputRefused(SAY_WHY("why"))
        _offered(new.why, desk.PROMISE_REASONS, "why")
        if new.told not in {"yes", "no"}:
            raise InputRefused(SAY_TOLD("told"))
        days = {
            "before": "" if job.promised_on is None else job.promised_on.isoformat(),
            "after": "" if new.promised_on is None else new.promised_on.isoformat(),
        }
        row = Written(
            key=key,
            kind=desk.PROMISED,
            values={**days, "why": new.why, "told": new.told},
            words={"note": _text(new.note)} if new.note.strip() else {},
        )
        write_row(job, row, by, now)
        Job.objects.filter(pk=job.id).update(promised_on=new.promised_on)


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """A call with the customer: who called, what was said, when to call next and about what."""

    way: str
    text: str
    next_on: date | None = None
    next_about: str = ""
    told: bool = False


def log_call(*, job_id: str, key: str, call: Call, by: str, now: datetime) -> None:
    """Write down a call; the next one due is the one this says, so a call made is not due."""
    with one_writer():
        _person(by)
        job = _job(job_id)
        if not call.way or call.way not in desk.CALLS:
            raise InputRefused(NOT_OFFERED("way"))
        if not call.text.strip():
            raise InputRefused(SAY_WHAT("text"))
        known = _is_known(key)
        if call.next_on is not None and call.next_on < shop.local_day(now) and not known:
            raise InputRefused(DUE_PAST("next_on"))
        words = {"text": _text(call.text)}
        if call.next_on is not None and call.next_about.strip():
            words["next"] = _text(call.next_about, SHORT_LIMIT * 2)
        values = {"way": call.way, **({"told": "yes"} if call.told else {})}
        row = Written(
            key=key, kind=desk.CALL, values=values, words=words, due_on=call.next_on
        )  # fmt: skip
        write_row(job, row, by, now)


@dataclass(frozen=True, slots=True)
class Sent:
    """A message that went to a customer: which (one of `TEXTS`), how, and its words."""

    text: str
    way: str
    words: str


def log_text(*, job_id: str, key: str, sent: Sent, by: str, now: datetime) -> None:
    """Write down that a message went to the customer, word for word."""
    with one_writer():
        _person(by)
        job = _job(job_id)
        if sent.text not in desk.TEXTS:
            raise InputRefused(NOT_OFFERED("kind"))
        if sent.way not in desk.WAYS_SENT:
            raise InputRefused(NOT_OFFERED("way"))
        if not sent.words.strip():
            raise InputRefused(SAY_WHAT("words"))
        row = Written(
            key=key,
            kind=desk.TEXT,
            values={"text": sent.text, "way": sent.way},
            words={"text": _text(sent.words, 2 * WORDS_LIMIT)},
        )
        write_row(job, row, by, now)


def write_note(
    *, job_id: str = "", key: str, kind: str = desk.NOTE, text: str, by: str, now: datetime
) -> None:
    """Write a hand-over note of a job or of the whole workshop, or what a customer asks."""
    with one_writer():
        _person(by)
        job = _job(job_id) if job_id or kind != desk.NOTE else None
        if not text.strip():
            raise InputRefused(WRITE_NOTE("text"))
        write_row(job, Written(key=key, kind=kind, words={"text": _text(text)}), by, now)


def settle(*, about: str, key: str, by: str, now: datetime) -> None:
    """Say that a note was read, or a question answered; by name, once.

    Raises
    ------
    InputRefused
        Where there is no such note, or somebody was first.
    """
    with one_writer():
        _person(by)
        rows = DeskEvent.objects.select_related("job").filter(kind__in=(desk.NOTE, desk.ASKED))
        row = rows.filter(key=shop.uuid_of(about)).first()
        if row is None:
            raise InputRefused(NO_EVENT())
        done = DeskEvent.objects.filter(kind=desk.DONE, about=row.key).first()
        if done is not None and str(done.person) != by:
            raise InputRefused(ALREADY("", person=str(done.person)))
        if done is None:
            write_row(row.job, Written(key=key, kind=desk.DONE, about=str(row.key)), by, now)


def erase_words(*, job_id: uuid.UUID, now: datetime) -> int:
    """Erase every word that the desk wrote about a job; codes, days and who wrote stay.

    Returns
    -------
    int
        How many rows had words.
    """
    rows = DeskEvent.objects.filter(job_id=job_id, erased_at__isnull=True).exclude(words={})
    return rows.update(words={}, erased_at=now)
