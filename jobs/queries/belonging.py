"""Jobs by what they belong to: a customer, a vehicle, a piece of equipment that they use."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from jobs.core.entry import Entry
from jobs.core.record import Record
from jobs.models import Job
from jobs.queries.records import JobInfo, fold_job, info_of, job_rows

__all__ = [
    "JobNamed",
    "jobs_of_customer",
    "jobs_of_vehicle",
    "open_jobs_of",
    "open_jobs_using",
    "uses_equipment",
]


@dataclass(frozen=True, slots=True)
class JobNamed:
    """An open job, as far as it has to be named."""

    id: str
    number: str
    opened_at: datetime


def open_jobs_of(vehicle_ids: Iterable[str]) -> Mapping[str, JobNamed]:
    """Give the newest open job of each vehicle that has one, by the vehicle's identifier."""
    wanted = {UUID(each) for each in vehicle_ids}
    rows = Job.objects.filter(
        vehicle_id__in=wanted, closed_at__isnull=True, practice=False
    ).order_by("opened_at")
    return {str(row.vehicle_id): JobNamed(str(row.id), row.number, row.opened_at) for row in rows}


def jobs_of_customer(customer_id: UUID) -> tuple[JobInfo, ...]:
    """Give a customer's jobs, newest first."""
    return tuple(info_of(row) for row in job_rows().filter(customer_id=customer_id))


def jobs_of_vehicle(vehicle_id: UUID) -> tuple[JobInfo, ...]:
    """Give a vehicle's jobs, newest first, whoever it belonged to."""
    return tuple(info_of(row) for row in job_rows().filter(vehicle_id=vehicle_id))


def _uses(entry: Entry, equipment_id: str) -> bool:
    return isinstance(entry.value, dict) and entry.value.get("id") == equipment_id


def uses_equipment(record: Record, equipment_id: str) -> bool:
    """Tell whether a value that stands in a record is this piece of equipment."""
    return any(_uses(entry, equipment_id) for values in record.live.values() for entry in values)


def open_jobs_using(equipment_id: str, *, now: datetime) -> tuple[JobInfo, ...]:
    """Give the open jobs that use a piece of equipment: those that its withdrawal is told to."""
    infos = [info_of(row) for row in job_rows().filter(closed_at__isnull=True)]
    return tuple(
        info
        for info in infos
        if uses_equipment(fold_job(UUID(info.id), head_hash=info.head, now=now), equipment_id)
    )
