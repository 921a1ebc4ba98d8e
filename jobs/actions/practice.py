"""Beginning a practice job, letting its time pass, writing down what is done beside its record.

A practice job goes through the same door as a real one; nothing here moves the shop's clock.
"""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from jobs.actions import chain
from jobs.actions.booking import next_number
from jobs.core.entry import Json, Kind
from jobs.core.reason import InputRefused, Reason
from jobs.models import Job, Practice, PracticeAct
from jobs.queries.practice import ahead_of
from jobs.queries.practice_shelf import PREFIX
from workshop import queries as shop
from workshop.errors import NotAllowed
from workshop.writing import one_writer

__all__ = [
    "REASONS",
    "NewPractice",
    "begin_practice",
    "end_practice",
    "job_time",
    "let_time_pass",
    "note_act",
]

NOT_PRACTICE = Reason("not_practice", "Only in practice can time be let pass.")
TIME_LENGTH = Reason("practice_time", "Let between a second and four weeks pass.")
OVER = Reason("practice_over", "This practice is over.")
REASONS = (NOT_PRACTICE, TIME_LENGTH, OVER)

LONGEST_S = 28 * 86_400


@dataclass(frozen=True, slots=True, kw_only=True)
class NewPractice:
    """A practice job to begin.

    Attributes
    ----------
    key : str
        Identifier (UUID); the same one twice is one job.
    revision : uuid.UUID
        Revision of the pack definition.
    seed : int
        What the simulated vehicle is made from.
    asked, fault : str
        What was asked for, and what was drawn.
    bench : Mapping
        What the stickers of the practice instruments and spares say; nothing of the fault.
    """

    key: str
    revision: uuid.UUID
    seed: int
    asked: str
    fault: str
    bench: Mapping[str, Any]


def job_time(job: Job, now: datetime) -> datetime:
    """Give the time that counts in a job: the shop's, or what a practice job has let pass more."""
    return now + ahead_of(job.id) if job.practice else now


def begin_practice(*, new: NewPractice, by: str, now: datetime) -> str:
    """Open a practice job; give its identifier, the same when it is sent again.

    Raises
    ------
    NotAllowed
        When nobody is signed on.
    """
    with one_writer():
        person = shop.person(by)
        if person is None or not person.active:
            raise NotAllowed("not_signed_on")
        known = Practice.objects.filter(pk=uuid.UUID(new.key)).first()
        if known is not None:
            return str(known.job_id)
        job = Job.objects.create(
            id=uuid.UUID(new.key), number=next_number(PREFIX), practice=True, opened_at=now
        )
        Practice.objects.create(
            job=job,
            learner=uuid.UUID(by),
            revision=new.revision,
            seed=new.seed,
            asked=new.asked,
            fault=new.fault,
            begun_at=now,
        )
        bench = {**new.bench, "on": shop.local_day(now).isoformat()}
        names = {"number": job.number, "customer": "", "vehicle": "", "pack": ""}
        value: Json = {**names, "practice": bench}
        key = str(uuid.uuid5(job.id, "open"))
        entry = chain.NewEntry(key=key, kind=Kind.OPEN, person=by, at=now, value=value)
        chain.append(job, chain.first_head(job), entry, workshop_id=shop.shop().workshop_id)
        return str(job.id)


def _running(job_id: str) -> Practice:
    """Give a practice job that is not over; refuse a real job."""
    row = Practice.objects.select_for_update().filter(pk=shop.uuid_of(job_id)).first()
    if row is None:
        raise InputRefused(NOT_PRACTICE())
    if row.ended_at is not None:
        raise InputRefused(OVER())
    return row


def let_time_pass(*, job_id: str, step: timedelta, now: datetime) -> None:
    """Let time pass in one practice job; the shop's clock stands as it did.

    Raises
    ------
    InputRefused
        For a real job, a practice that is over, or a time that is none.
    """
    seconds = int(step.total_seconds())
    with one_writer():
        row = _running(job_id)
        if not 1 <= seconds <= LONGEST_S:
            raise InputRefused(TIME_LENGTH("seconds"))
        row.ahead_s += seconds
        row.save(update_fields=("ahead_s",))
        at = now + timedelta(seconds=row.ahead_s)
        PracticeAct.objects.create(practice=row, kind="passed", at=at, values={"seconds": seconds})


def note_act(*, job_id: str, kind: str, values: Mapping[str, Any], now: datetime) -> None:
    """Write down what was done beside the record of a practice job that is not over."""
    with one_writer():
        row = _running(job_id)
        at = now + timedelta(seconds=row.ahead_s)
        PracticeAct.objects.create(practice=row, kind=kind, at=at, values=dict(values))


def end_practice(*, job_id: str, how: str, score: Mapping[str, Any], now: datetime) -> None:
    """End a practice and keep what it came to; nothing happens where it is over already."""
    with one_writer():
        rows = Practice.objects.filter(pk=shop.uuid_of(job_id), ended_at__isnull=True)
        rows.update(ended_at=now, ended_how=how, score=dict(score))
