"""What the shop has to know of its tablets: which of them still hold entries that never came."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final
from uuid import UUID

from jobs.models import DroppedEntry, Job, Tablet, Verdict
from jobs.steps import STEPS
from workshop.people import PersonInfo

__all__ = ["GRACE", "HeldBack", "held_back", "open_pages", "tablet_name"]

GRACE: Final = timedelta(minutes=5)
"""How long a tablet may be behind before it is told of: it may just be sending."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldBack:
    """A tablet that made entries which never arrived.

    Attributes
    ----------
    name : str
        Its name, or the beginning of its identifier.
    made, arrived : int
        How many it made, and how many of them arrived or were dropped.
    since : datetime
        When the gap was seen first.
    last_at : datetime
        When the tablet was heard last.
    """

    name: str
    made: int
    arrived: int
    since: datetime
    last_at: datetime


def _arrived(row: Tablet) -> int:
    """Count what arrived or was dropped; all up to a number is known to be whole."""
    above = {"device_seq__gt": row.whole_up_to, "device_seq__lte": row.made}
    answered = set(
        Verdict.objects.filter(device=row.device, **above).values_list("device_seq", flat=True)
    )
    dropped = set(
        DroppedEntry.objects.filter(tablet=row, **above).values_list("device_seq", flat=True)
    )
    return row.whole_up_to + len(answered | dropped)


def held_back(now: datetime) -> tuple[HeldBack, ...]:
    """Give the tablets that still hold entries, longest first."""
    rows = Tablet.objects.filter(missing_since__lte=now - GRACE).order_by("missing_since")
    return tuple(
        HeldBack(
            name=str(row), made=row.made, arrived=_arrived(row), since=since, last_at=row.last_at
        )
        for row in rows
        if (since := row.missing_since) is not None
    )


def tablet_name(device: str) -> str:
    """Give the name of a tablet; empty where it has none."""
    return Tablet.objects.filter(pk=device).values_list("name", flat=True).first() or ""


def open_pages(
    asked: Iterable[UUID], person: PersonInfo, address: str = "/jobs/{job}/{slug}/"
) -> dict[str, list[str]]:
    """Give the addresses of the step pages of those jobs asked for that are open.

    Parameters
    ----------
    asked : Iterable[UUID]
        Jobs that the tablet has opened.
    person : PersonInfo
        Who is signed on; a practice is its learner's alone.
    address : str
        Address of a step's page.

    Returns
    -------
    dict[str, list[str]]
        Eight addresses by job.
    """
    rows = Job.objects.filter(pk__in=list(asked), closed_at__isnull=True)
    rows = rows.filter(practice=False) | rows.filter(practice_run__learner=UUID(person.id))
    return {
        str(job): [address.format(job=job, slug=step.slug) for step in STEPS]
        for job in rows.values_list("id", flat=True)
    }
