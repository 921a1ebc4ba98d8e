"""Reading a job: its entries, folded into the record, and what is known around it.

How entries are added up, and what is kept of that: `folding`.
"""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import lru_cache

from django.db.models import QuerySet
from django.utils.translation import gettext

from jobs.core.limits import Limits, limits_from
from jobs.core.record import Record
from jobs.models import Attachment, ChainHead, Job, PersonalDatum
from jobs.queries.folding import Grounds, folded, local
from jobs.queries.practice import ahead_of
from jobs.queries.practice_shelf import CUSTOMER, VEHICLE, colleague_names
from packs.definition import Figure
from workshop import queries as shop
from workshop.limits import Limit
from workshop.registers import CustomerInfo, VehicleInfo

__all__ = [
    "AttachmentInfo",
    "JobInfo",
    "attachment",
    "fold_job",
    "grounds_in_force",
    "job_by_number",
    "job_info",
    "limits_in_force",
    "people_in",
    "personal_texts",
    "record_of",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobInfo:
    """A job's own columns and the names around it."""

    id: str
    number: str
    customer: CustomerInfo
    vehicle: VehicleInfo | None
    pack_serial: str
    arrives_on: date | None
    promised_on: date | None
    opened_at: datetime
    closed_at: datetime | None
    count: int
    head: str
    practice: bool = False

    @property
    def title(self) -> str:
        """Make and model, or the pack that came alone."""
        if self.vehicle is None:
            return gettext("Pack {serial}").format(serial=self.pack_serial)
        words = f"{self.vehicle.make} {self.vehicle.model}".strip()
        return f"{words}, {self.vehicle.body}" if self.vehicle.body else words

    @property
    def plate(self) -> str:
        """The plate, or the pack's serial where no vehicle came."""
        return self.vehicle.plate if self.vehicle is not None else self.pack_serial


@dataclass(frozen=True, slots=True)
class AttachmentInfo:
    """A stored picture or file."""

    sha256: str
    media_type: str
    stored_at: datetime


def limits_in_force() -> Limits:
    """Give the shop's limits as the steps see them."""
    found = shop.limits()
    last = _LIMITS.get("last")
    if last is None or last[0] is not found:
        limits = limits_from({key: _figure(each) for key, each in found.items()})
        # One object for equal limits, which is quickly recognised.
        last = (found, last[1] if last is not None and last[1] == limits else limits)
        _LIMITS["last"] = last
    return last[1]


@lru_cache(maxsize=256)
def _figure(limit: Limit) -> Figure:
    """Turn a limit into a figure, which nobody changes, once for each limit there was."""
    return Figure.model_validate({"value": limit.value, "kind": limit.kind, "source": limit.source})


_LIMITS: dict[str, tuple[Mapping[str, Limit], Limits]] = {}
"""The limits last given, with the register's own words of them that they were made of."""


def grounds_in_force() -> Grounds:
    """Give the limits and the zone in force."""
    return Grounds(limits_in_force(), shop.shop().zone)


def fold_job(
    job_id: uuid.UUID, *, head_hash: str, now: datetime, grounds: Grounds | None = None
) -> Record:
    """Give the record of a job whose chain ends in `head_hash`, as of `now`.

    Its times stand in the workshop's zone, so that a day is the day the workshop means.
    """
    on = grounds_in_force() if grounds is None else grounds
    record = folded(job_id, head_hash, on)
    return replace(record, now=local(now, on.zone))


def record_of(job_id: str | uuid.UUID, *, now: datetime) -> Record | None:
    """Give the record of a job as of `now`; None when there is no such job.

    The shop's time comes in; a practice job is given as of its own, which runs ahead.
    """
    try:
        wanted = uuid.UUID(str(job_id))
    except ValueError:
        return None
    head = ChainHead.objects.select_related("job").filter(job_id=wanted).first()
    if head is None:
        return None
    moment = now + ahead_of(wanted) if head.job.practice else now
    return fold_job(wanted, head_hash=head.hash, now=moment)


def _every_row() -> QuerySet[Job]:
    return Job.objects.select_related(
        "customer", "vehicle", "vehicle__customer", "physical_pack", "chainhead"
    )


def job_rows() -> QuerySet[Job]:
    """Give the real jobs with everything a list shows of them, in one query; never practice."""
    return _every_row().filter(practice=False)


def _customer(job: Job) -> CustomerInfo:
    customer = job.customer
    if customer is None:
        return CUSTOMER
    return CustomerInfo(
        id=str(customer.id),
        name=customer.name,
        phone=customer.phone,
        email=customer.email,
        address=customer.address,
        consent_at=customer.consent_at,
        note=customer.note,
    )


def _vehicle(job: Job) -> VehicleInfo | None:
    vehicle, customer = job.vehicle, _customer(job)
    if vehicle is None:
        return VEHICLE if job.practice else None
    return VehicleInfo(
        id=str(vehicle.id),
        plate=vehicle.plate,
        vin=vehicle.vin,
        make=vehicle.make,
        model=vehicle.model,
        year=vehicle.year,
        body=vehicle.body,
        customer_id=customer.id,
        customer_name=customer.name,
    )


def info_of(job: Job) -> JobInfo:
    """Give what is shown of a row made by `job_rows`."""
    return JobInfo(
        id=str(job.id),
        number=job.number,
        customer=_customer(job),
        vehicle=_vehicle(job),
        pack_serial="" if job.physical_pack is None else job.physical_pack.serial,
        arrives_on=job.arrives_on,
        promised_on=job.promised_on,
        opened_at=job.opened_at,
        closed_at=job.closed_at,
        count=job.chainhead.count,
        head=job.chainhead.hash,
        practice=job.practice,
    )


def job_info(job_id: str | uuid.UUID) -> JobInfo | None:
    """Give a job by its identifier, a practice job too; None when there is none."""
    try:
        wanted = uuid.UUID(str(job_id))
    except ValueError:
        return None
    row = _every_row().filter(pk=wanted).first()
    return None if row is None else info_of(row)


def job_by_number(number: str) -> JobInfo | None:
    """Give a job by its number; None when there is none."""
    row = job_rows().filter(number=number).first()
    return None if row is None else info_of(row)


def people_in(record: Record) -> Mapping[str, str]:
    """Give the display names of everybody who appears in a record."""
    ids = {entry.person for entry in record.entries if entry.person}
    ids |= {entry.paper["by"] for entry in record.entries if entry.paper is not None}
    if record.proof is not None:
        ids.add(record.proof.second)
    for signature in (*record.signatures.values(), *record.superseded):
        ids |= {signature.by.id, signature.second} - {""}
    return {**shop.names(ids), **_simulated(ids)}


def _simulated(ids: set[str]) -> dict[str, str]:
    """Give the names of the colleagues of practice who are among those asked for."""
    return {each: name for each, name in colleague_names().items() if each in ids}


def personal_texts(job_id: str | uuid.UUID) -> Mapping[str, str]:
    """Give the words about people by reference; erased ones are left out."""
    rows = PersonalDatum.objects.filter(job_id=job_id, erased_at__isnull=True)
    return {str(ref): text for ref, text in rows.values_list("ref", "text")}


def attachment(job_id: str | uuid.UUID, sha256: str) -> AttachmentInfo | None:
    """Give a stored picture or file of a job by its digest."""
    row = Attachment.objects.filter(job_id=job_id, sha256=sha256).first()
    return None if row is None else AttachmentInfo(row.sha256, row.media_type, row.stored_at)
