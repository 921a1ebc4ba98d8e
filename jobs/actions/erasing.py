"""Erasing what is personal of a customer, and of somebody who worked here.

Of a customer the register's row and the words in their jobs; of a person the name and the papers.
"""

from datetime import datetime
from uuid import UUID

from jobs.actions.desk import erase_words
from jobs.actions.upkeep import erase_personal
from jobs.models import Attachment, Job
from workshop.actions import erase_customer as erase_in_register
from workshop.actions import erase_person as erase_person_in_register
from workshop.errors import Conflict
from workshop.kept_files import forget_bytes
from workshop.writing import one_writer

__all__ = ["erase_customer", "erase_person"]


def erase_customer(*, customer_id: UUID, by: str, now: datetime) -> int:
    """Erase a customer's personal data everywhere, in one transaction; every chain stays valid.

    Parameters
    ----------
    customer_id : UUID
        The customer who asked for it.
    by : str
        Who does it; a manager.
    now : datetime
        The server's time (UTC).

    Returns
    -------
    int
        Number of texts erased in jobs.

    Raises
    ------
    Conflict
        While a job of theirs is open.
    Refused
        As the register refuses it.
    """
    with one_writer():
        jobs = Job.objects.filter(customer_id=customer_id).order_by("opened_at")
        still_open = jobs.filter(closed_at__isnull=True).first()
        if still_open is not None:
            raise Conflict("open_job", number=still_open.number)
        erase_in_register(customer_id=customer_id, by=by)
        return sum(
            erase_personal(job_id=job.id, now=now) + erase_words(job_id=job.id, now=now)
            for job in jobs
        )


def erase_person(*, person_id: UUID, by: str) -> None:
    """Erase the personal data of somebody who has left; every chain stays valid.

    Parameters
    ----------
    person_id : UUID
        Who asked for it.
    by : str
        Who does it; a manager.

    Raises
    ------
    Conflict
        While they work here, or where they were erased before.
    """
    with one_writer():
        loose = erase_person_in_register(person_id=person_id, by=by)
        needed = set(Attachment.objects.filter(sha256__in=loose).values_list("sha256", flat=True))
    # Only now: a transaction that was taken back would miss its files.
    for sha256 in set(loose) - needed:
        forget_bytes(sha256)
