"""What the shop does to jobs from outside: equipment withdrawn or corrected, words erased."""

import uuid
from datetime import datetime

from django.utils.translation import gettext

from jobs.actions import chain
from jobs.core.entry import Json, Kind
from jobs.models import Job, PersonalDatum
from jobs.queries.belonging import uses_equipment
from jobs.queries.records import fold_job
from workshop import queries as shop
from workshop.actions import correct_equipment as correct_in_register
from workshop.actions import withdraw_equipment as withdraw_in_register
from workshop.details import EquipmentDetails
from workshop.writing import one_writer

__all__ = ["correct_equipment", "erase_personal", "withdraw_equipment"]


def _tell(value: Json, *, by: str, now: datetime) -> int:
    """Write into every open job that uses a piece what became of it; give their number."""
    workshop_id = shop.shop().workshop_id
    told = 0
    for job in Job.objects.filter(closed_at__isnull=True, practice=False).order_by("id"):
        head = chain.lock_head(job.id)
        record = fold_job(job.id, head_hash=head.hash, now=now)
        if not uses_equipment(record, value["id"]):
            continue
        new = chain.NewEntry(
            key=str(uuid.uuid4()), kind=Kind.WITHDRAW, person=by, at=now, value=value
        )
        chain.append(job, head, new, workshop_id=workshop_id)
        told += 1
    return told


def withdraw_equipment(*, equipment_id: str, reason: str, by: str, now: datetime) -> int:
    """Withdraw a piece of equipment and say so in every open job that uses it.

    Returns
    -------
    int
        Number of open jobs that used it.

    Raises
    ------
    Refused
        As the register refuses it.
    """
    with one_writer():
        withdraw_in_register(equipment_id=equipment_id, reason=reason, by=by)
        return _tell({"id": equipment_id, "reason": reason}, by=by, now=now)


def correct_equipment(
    *, equipment_id: str, details: EquipmentDetails, why: str, by: str, now: datetime
) -> int:
    """Correct a piece in the register; where a rating changed, open jobs have to pick it again.

    Returns
    -------
    int
        Number of open jobs that used it with other ratings.

    Raises
    ------
    Refused
        As the register refuses it.
    """
    with one_writer():
        if not correct_in_register(equipment_id=equipment_id, details=details, why=why, by=by):
            return 0
        reason = gettext("rating corrected, pick it again: {why}").format(why=why.strip())
        value = {"id": equipment_id, "reason": reason, "corrected": True}
        return _tell(value, by=by, now=now)


def erase_personal(*, job_id: uuid.UUID, now: datetime) -> int:
    """Erase the words about people in a job; every chain stays valid.

    Returns
    -------
    int
        Number of texts erased.
    """
    with one_writer():
        rows = PersonalDatum.objects.filter(job_id=job_id, erased_at__isnull=True)
        return rows.update(text="", salt="", erased_at=now)
