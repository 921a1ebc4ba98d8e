"""Practice jobs: whose each is, how far its own time runs ahead, what was done beside its record.

What says where the fault is (`seed`, `fault`) is for the server alone until the practice is over.
"""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from jobs.models import Practice, PracticeAct

__all__ = ["PracticeDone", "PracticeInfo", "acts_of", "ahead_of", "practice_of", "practices"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeInfo:
    """A practice job.

    Attributes
    ----------
    job_id, number : str
        The job.
    learner : str
        Whose it is.
    revision : uuid.UUID
        Revision of the pack definition of the simulated pack.
    seed : int
        What the simulated vehicle is made from.
    asked, fault : str
        What was asked for when it was begun, empty for anything; and what was drawn.
    ahead_s : int
        How far its time runs ahead of the shop's clock [s].
    begun_at, ended_at : datetime
        By the shop's clock.
    ended_how : str
        "finished" or "gave_up"; empty while it runs.
    score : Mapping | None
        What it came to, once it is over.
    """

    job_id: str
    number: str
    learner: str
    revision: uuid.UUID
    seed: int
    asked: str
    fault: str
    ahead_s: int
    begun_at: datetime
    ended_at: datetime | None
    ended_how: str
    score: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True)
class PracticeDone:
    """One thing that a learner did beside the record: what kind, when, and what about it."""

    kind: str
    at: datetime
    values: Mapping[str, Any]


def _info(row: Practice) -> PracticeInfo:
    return PracticeInfo(
        job_id=str(row.job_id),
        number=row.job.number,
        learner=str(row.learner),
        revision=row.revision,
        seed=row.seed,
        asked=row.asked,
        fault=row.fault,
        ahead_s=row.ahead_s,
        begun_at=row.begun_at,
        ended_at=row.ended_at,
        ended_how=row.ended_how,
        score=row.score,
    )


def _uuid(job_id: str | uuid.UUID) -> uuid.UUID:
    return job_id if isinstance(job_id, uuid.UUID) else uuid.UUID(job_id)


def practice_of(job_id: str | uuid.UUID) -> PracticeInfo | None:
    """Give what belongs to a practice job; None for a real one."""
    row = Practice.objects.select_related("job").filter(pk=_uuid(job_id)).first()
    return None if row is None else _info(row)


def practices(learner: str = "") -> tuple[PracticeInfo, ...]:
    """Give the practice jobs of a learner, or of everybody, newest first."""
    rows = Practice.objects.select_related("job")
    if learner:
        rows = rows.filter(learner=learner)
    return tuple(_info(row) for row in rows)


def ahead_of(job_id: uuid.UUID) -> timedelta:
    """Give how far a practice job's time runs ahead of the shop's clock."""
    found = Practice.objects.filter(pk=job_id).values_list("ahead_s", flat=True).first()
    return timedelta(seconds=found or 0)


def acts_of(job_id: str | uuid.UUID) -> tuple[PracticeDone, ...]:
    """Give what was done beside the record of a practice job, in order."""
    rows = PracticeAct.objects.filter(practice_id=_uuid(job_id)).order_by("id")
    return tuple(PracticeDone(row.kind, row.at, row.values) for row in rows)
