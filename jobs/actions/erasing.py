"""Erasing what is personal about a customer: the register's row and the words in their jobs."""

from datetime import datetime
from uuid import UUID

from jobs.actions.upkeep import erase_personal
from jobs.models import Job
from workshop.actions import erase_customer as erase_in_register
from workshop.errors import Conflict
from workshop.writing import one_writer

__all__ = ["erase_customer"]


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
        return sum(erase_personal(job_id=job.id, now=now) for job in jobs)
