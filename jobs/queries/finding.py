"""Finding customers, vehicles and jobs by whatever somebody says on the telephone."""

from dataclasses import dataclass
from typing import Final

from django.db.models import F, Q

from jobs.queries.desk import jobs_with_claim
from jobs.queries.records import JobInfo, info_of, job_by_number, job_rows
from workshop import queries as shop
from workshop.queries import Found

__all__ = ["FoundAll", "find_all", "job_numbered"]

MOST_JOBS: Final = 30
LEAST_OF_NUMBER: Final = 2
"""Letters from which a search looks into numbers of jobs, packs and claims."""


@dataclass(frozen=True, slots=True)
class FoundAll:
    """What a search found: jobs, the open ones first, and customers with their vehicles."""

    jobs: tuple[JobInfo, ...] = ()
    groups: tuple[Found, ...] = ()


def job_numbered(search: str) -> JobInfo | None:
    """Give the job whose whole number was typed; None where it is something else."""
    return job_by_number(search.replace("\x00", "").strip().upper())


def find_all(search: str) -> FoundAll:
    """Find by name, plate, VIN or its end, telephone however spaced, job number or claim.

    Parameters
    ----------
    search : str
        As typed.

    Returns
    -------
    FoundAll
        Nothing for an empty search.
    """
    text = search.replace("\x00", " ")[: shop.SEARCH_LENGTH].strip()
    if not text:
        return FoundAll()
    groups = shop.find(text)
    customers = {each.customer.id for each in groups if each.customer and not each.vehicles}
    vehicles = {vehicle.id for each in groups for vehicle in each.vehicles}
    meant = Q(customer__in=customers) | Q(vehicle__in=vehicles)
    if len(text) >= LEAST_OF_NUMBER:
        meant |= Q(number__icontains=text) | Q(physical_pack__serial__icontains=text)
        meant |= Q(pk__in=jobs_with_claim(text))
    rows = job_rows().filter(meant)
    ordered = rows.order_by(F("closed_at").desc(nulls_first=True), "-opened_at", "number")
    return FoundAll(tuple(info_of(row) for row in ordered[:MOST_JOBS]), groups)
