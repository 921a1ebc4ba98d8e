"""The watch on a removed module: started and kept true by the door, checked and ended by people.

Here: `follow`, which the door calls after an entry of a job, `add_check` and `end_watch`.
Checks are chained by their digests and never changed; a wrong figure is corrected by another check.
"""

import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from jobs.core.entry import Kind
from jobs.core.item import qualifier_of, qualifier_parts
from jobs.core.reason import InputRefused, Reason
from jobs.core.record import Record
from jobs.core.seal import FIRST_PREVIOUS
from jobs.core.watch import Check, Word, in_force
from jobs.core.watch_check import TypedCheck, judge, read_check, stored
from jobs.models import Entry, Job, QuarantineCheck, QuarantineWatch
from jobs.queries.quarantine import checks_of, known_signs, watch
from jobs.queries.records import fold_job, limits_in_force
from jobs.queries.watch_digests import check_digest, ending_digest
from jobs.steps.module_swap.items import (
    CONDITION,
    QUARANTINE_CLASS,
    QUARANTINE_PLACE,
    REMOVED_SERIAL,
    WATCH_STARTED,
)
from workshop import queries as shop
from workshop.actions import check_pin
from workshop.errors import NotAllowed
from workshop.people import LIVE_WORK, MANAGER, TECHNICIAN, PersonInfo, holds
from workshop.writing import one_writer

__all__ = ["ENDINGS", "HANDED_OVER", "REASONS", "Ending", "NewCheck", "add_check", "end_watch",
           "follow", "may_end", "write_end"]  # fmt: skip

CORRECTED_WITHIN: Final = timedelta(minutes=30)
"""How long a check may be corrected; later the figures stand."""
TO_LIMIT: Final = 200
NOTE_LIMIT: Final = 1000
HANDED_OVER: Final = "handed_over"
ENDINGS: Final = {
    "kept": "Kept here",
    "disposal": "Sent to disposal",
    "returned": "Returned to its owner",
    HANDED_OVER: "Handed over before its time",
}
"""How a watch ends to its title; all but the last are a release after the whole time."""
_FOLLOWED: Final = {
    "serial": REMOVED_SERIAL,
    "place": QUARANTINE_PLACE,
    "quarantine_class": QUARANTINE_CLASS,
    "condition": CONDITION,
}
"""What the job says of a module, by the column that repeats it."""
_FOLLOWED_KEYS: Final = frozenset(item.key for item in _FOLLOWED.values())

NO_WATCH = Reason("watch_unknown", "There is no such watch.")
ENDED = Reason("watch_ended", "The watch was ended. Nothing can be added to it.")
KEY_USED = Reason("watch_key_used", "Something else was sent from this page. Reload it and go on.")
NOT_LAST = Reason("watch_not_last", "Only the last check can be corrected, within 30 min.")
SAY_WHAT = Reason("watch_say_what", "Say what was wrong in the last check.")
CORRECTOR = Reason(
    "watch_corrector", "A check that raised the alarm is corrected by somebody qualified for it."
)
END_ROLE = Reason(
    "watch_end_role",
    "A technician or manager qualified for work on live high-voltage systems ends a watch.",
)
HOW = Reason("watch_how", "Choose where the module goes.")
TO_WHOM = Reason("watch_to_whom", "Say where to, or to whom.")
WHY_EARLY = Reason("watch_why_early", "Say why it is handed over before its time.")
WHY_MISSED = Reason("watch_why_missed", "Checks were missed. Say why it may go all the same.")
PIN = Reason("watch_pin", "The PIN is not right.")

REASONS = (NO_WATCH, ENDED, KEY_USED, NOT_LAST, SAY_WHAT, CORRECTOR, END_ROLE, HOW, TO_WHOM,
           WHY_EARLY, WHY_MISSED, PIN)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class NewCheck:
    """A check as sent: its key, its watch, what was typed, and which check it corrects."""

    key: str
    watch_id: str
    typed: TypedCheck
    corrects: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """The end of a watch as sent: where the module goes, to whom, and why where that is needed."""

    key: str
    watch_id: str
    how: str
    to: str
    note: str = ""


# ---------------------------------------------------------------- what the door does


def _start(job: Job, entry: Entry, module: str) -> None:
    """Start a watch, or let the tick given again carry the one that runs."""
    running = QuarantineWatch.objects.filter(job=job, module=module, ended_at__isnull=True)
    if running.update(source=entry.key) == 0:
        QuarantineWatch.objects.create(
            job=job,
            module=module,
            started_at=entry.at,
            started_by=entry.person,
            source=entry.key,
        )


def _facts(record: Record, module: str) -> dict[str, str | bool]:
    """Give what the record says of a module now."""
    at = qualifier_of(module=module)
    told = {name: record.get(item, at) or "" for name, item in _FOLLOWED.items()}
    return {**told, "struck": record.given(WATCH_STARTED, at) is None}


def follow(job: Job, entry: Entry, *, now: datetime) -> None:
    """Start a watch where an entry says so, and copy what the job now says of watched modules.

    Parameters
    ----------
    job : Job
        The job.
    entry : Entry
        The entry just written; the transaction is still open.
    now : datetime
        The server's time (UTC).

    Notes
    -----
    Striking or voiding the tick ends no watch: it is marked as struck and goes on until a person
    ends it. A watch that was ended keeps what the job said then.
    """
    if entry.kind == Kind.VALUE and entry.item == WATCH_STARTED.key:
        _start(job, entry, qualifier_parts(entry.qualifier).get("module", ""))
    elif entry.item not in _FOLLOWED_KEYS and entry.kind not in {Kind.STRIKE, Kind.REOPEN}:
        return
    running = tuple(QuarantineWatch.objects.filter(job=job, ended_at__isnull=True))
    if not running:
        return
    record = fold_job(job.id, head_hash=entry.hash, now=now)
    for row in running:
        QuarantineWatch.objects.filter(pk=row.pk).update(**_facts(record, row.module))


# ---------------------------------------------------------------- checks


def _locked(watch_id: str) -> QuarantineWatch:
    rows = QuarantineWatch.objects.select_for_update()
    row = rows.filter(pk=shop.uuid_of(watch_id)).first()
    if row is None:
        raise InputRefused(NO_WATCH())
    return row


def may_end(person: PersonInfo, now: datetime) -> bool:
    """Tell whether somebody may end a watch and hand a module over."""
    able = person.role in {TECHNICIAN, MANAGER}
    return able and holds(person, LIVE_WORK, shop.local_day(now))


def _active(by: str) -> PersonInfo:
    person = shop.person(by)
    if person is None or not person.active:
        raise NotAllowed("not_signed_on")
    return person


def _may_correct(
    new: NewCheck, checks: tuple[Check, ...], person: PersonInfo, now: datetime
) -> None:
    """Refuse to correct any but the last check, soon after it, with a word about what was wrong."""
    last = next(reversed(in_force(checks)), None)
    if last is None or last.key != new.corrects or now - last.at > CORRECTED_WITHIN:
        raise InputRefused(NOT_LAST("corrects"))
    if not new.typed.note.strip():
        raise InputRefused(SAY_WHAT("note"))
    if last.word is not Word.CALM and not may_end(person, now):
        raise InputRefused(CORRECTOR("corrects"))


def _is_same(known: QuarantineCheck, new: NewCheck, by: str) -> bool:
    """Tell whether a key brings what it brought before."""
    readings = read_check(new.typed)
    again = stored(readings, Word.CALM, (), limits=limits_in_force(), corrects=new.corrects)
    typed = ("ambient_c", "points", "signs", "note", "corrects")
    same = all(known.values[name] == again[name] for name in typed)
    return same and str(known.person) == by and str(known.watch_id) == new.watch_id


def add_check(*, new: NewCheck, by: str, now: datetime) -> Word:
    """Write a check; the same one sent again is one check.

    Parameters
    ----------
    new : NewCheck
        What was sent.
    by : str
        Who checked: anybody of the workshop.
    now : datetime
        The server's time (UTC).

    Returns
    -------
    Word
        What it comes to.

    Raises
    ------
    InputRefused
        With the field that has to be mended.
    NotAllowed
        When nobody is signed on.
    """
    with one_writer():
        person, row = _active(by), _locked(new.watch_id)
        known = QuarantineCheck.objects.filter(pk=uuid.UUID(new.key)).first()
        if known is not None:
            if not _is_same(known, new, by):
                raise InputRefused(KEY_USED())
            return Word(known.values["word"])
        if row.ended_at is not None:
            raise InputRefused(ENDED())
        readings, checks, limits = read_check(new.typed), checks_of(row), limits_in_force()
        if new.corrects:
            _may_correct(new, checks, person, now)
        earlier = tuple(check for check in checks if check.key != new.corrects)
        word, reasons = judge(readings, earlier, at=now, known=known_signs(row), limits=limits)
        last = row.checks.last()
        check = QuarantineCheck(
            key=uuid.UUID(new.key),
            watch=row,
            seq=1 if last is None else last.seq + 1,
            at=now,
            person=uuid.UUID(by),
            values=stored(readings, word, reasons, limits=limits, corrects=new.corrects),
        )
        previous = FIRST_PREVIOUS if last is None else last.digest
        check.digest = check_digest(check, previous)
        check.save(force_insert=True)
        return word


# ---------------------------------------------------------------- the end


def _may_end(row: QuarantineWatch, ending: Ending, now: datetime) -> None:
    """Refuse an end for which its time has not come, or that says too little."""
    info = watch(str(row.id), now)
    if info is None or ending.how not in ENDINGS:
        raise InputRefused(HOW("how"))
    if ending.how != HANDED_OVER and info.release:
        raise InputRefused(info.release[0])
    if not ending.to.strip():
        raise InputRefused(TO_WHOM("to"))
    if not ending.note.strip():
        if ending.how == HANDED_OVER:
            raise InputRefused(WHY_EARLY("note"))
        if info.schedule.missed:
            raise InputRefused(WHY_MISSED("note"))


def end_watch(*, ending: Ending, by: str, pin: str, now: datetime) -> None:
    """End a watch: release the module when its time is over, or hand it over before.

    Parameters
    ----------
    ending : Ending
        What was sent; the same once more changes nothing.
    by : str
        Who ends it: a technician or manager qualified for live high-voltage work.
    pin : str
        Their PIN.
    now : datetime
        The server's time (UTC).

    Raises
    ------
    InputRefused
        With what stands against it, or the field that has to be mended.
    NotAllowed
        When nobody is signed on.
    """
    if not may_end(_active(by), now):
        raise InputRefused(END_ROLE())
    if check_pin(by, pin, now).state != "right":
        raise InputRefused(PIN("pin"))
    with one_writer():
        row = _locked(ending.watch_id)
        if row.ended_at is not None:
            if str(row.ended_key) == ending.key:
                return
            raise InputRefused(ENDED())
        _may_end(row, ending, now)
        write_end(row, ending, by, now)


def write_end(row: QuarantineWatch, ending: Ending, by: str, now: datetime) -> None:
    """Write the end of a watch that may end; the transaction is open and the row locked."""
    row.ended_at, row.ended_by, row.ended_key = now, uuid.UUID(by), uuid.UUID(ending.key)
    row.ended_how = ending.how
    row.ended_to = ending.to.strip()[:TO_LIMIT]
    row.ended_note = ending.note.strip()[:NOTE_LIMIT]
    last = row.checks.last()
    previous = FIRST_PREVIOUS if last is None else last.digest
    row.ended_digest = ending_digest(row, previous)
    names = ("at", "by", "key", "how", "to", "note", "digest")
    row.save(update_fields=[f"ended_{name}" for name in names])
