"""Reading a job: its entries, folded into the record, and what is known around it.

The fold is kept by the head of the chain, so that a list of open jobs folds only what changed;
what this process writes is added to it once it stands (`went_on`).
"""

import json
import uuid
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, timezone
from functools import lru_cache
from threading import Lock
from zoneinfo import ZoneInfo

from django.db import connection
from django.db.models import Q, QuerySet
from django.utils.translation import gettext

from jobs.core.entry import Entry, Json, Kind
from jobs.core.limits import Limits, limits_from
from jobs.core.record import Record, fold
from jobs.models import Attachment, ChainHead, Job, PersonalDatum
from jobs.models import Entry as EntryRow
from jobs.queries.practice import ahead_of
from jobs.queries.practice_shelf import CUSTOMER, VEHICLE, colleague_names
from packs import queries as packs
from packs.definition import Figure, PackDefinition
from workshop import queries as shop
from workshop.limits import Limit
from workshop.registers import CustomerInfo, VehicleInfo

__all__ = [
    "AttachmentInfo",
    "Grounds",
    "JobInfo",
    "attachment",
    "catch_up",
    "fold_job",
    "grounds_in_force",
    "job_by_number",
    "job_info",
    "limits_in_force",
    "local",
    "people_in",
    "personal_texts",
    "record_of",
    "went_on",
]

JOBS_KEPT = 128
"""Folded jobs kept in memory; a shop has a few dozen open at once."""
JOBS_AT_ONCE = 50
"""Jobs whose further entries are read by one statement."""


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


def local(moment: datetime, zone: ZoneInfo) -> datetime:
    """Give a time with the zone's offset at that time.

    A fixed offset, not the zone itself: two times of one zone are subtracted by the clock on the
    wall, which is an hour off across a clock change.
    """
    there = moment.astimezone(zone)
    return there.replace(tzinfo=timezone(there.utcoffset() or timedelta()))


def _entry(row: EntryRow, zone: ZoneInfo) -> Entry:
    return Entry(
        key=str(row.key),
        seq=row.seq,
        kind=Kind(row.kind),
        item=row.item,
        qualifier=row.qualifier,
        value=row.value,
        person=str(row.person),
        at=local(row.at, zone),
        effect=row.effect,
        paper=row.paper,
    )


def _definitions(entries: tuple[Entry, ...]) -> dict[str, PackDefinition]:
    named = {entry.value["revision"] for entry in entries if entry.kind is Kind.REVISION}
    return {each: packs.revision(uuid.UUID(each)).definition for each in named}


@dataclass(frozen=True, slots=True)
class Grounds:
    """What a fold stands on beside the entries: the shop's limits and its time zone."""

    limits: Limits
    zone: ZoneInfo


@dataclass(frozen=True, slots=True)
class _Kept:
    """A record, what it was folded on, and the hash of its last entry.

    The hash is what the database says of the chain now, so that a record kept by one process cannot
    outlive what another one wrote.
    """

    on: Grounds
    head_hash: str
    record: Record

    def and_(self, head_hash: str, entries: tuple[Entry, ...]) -> "_Kept":
        """Add entries."""
        before, packs_named = self.record, _definitions(entries)
        record = fold(entries, now=before.now, limits=before.limits, packs=packs_named, onto=before)
        return _Kept(self.on, head_hash, record)


_KEPT: OrderedDict[uuid.UUID, _Kept] = OrderedDict()
"""The records last asked for, by their jobs; the last asked for at the end."""
_TURN = Lock()


def _rows(*since: tuple[uuid.UUID, int]) -> list[EntryRow]:
    """Read the entries of jobs, each job's after a place in its chain."""
    asked = Q()
    for job_id, seq in since:
        asked |= Q(job_id=job_id, seq__gt=seq)
    return list(EntryRow.objects.filter(asked).order_by("seq").defer("canonical", "signature"))


def _whole(job_id: uuid.UUID, on: Grounds) -> _Kept:
    """Read all entries of a job and add them up."""
    rows = _rows((job_id, 0))
    entries = tuple(_entry(row, on.zone) for row in rows)
    packs_named = _definitions(entries)
    found = fold(entries, now=entries[0].at, limits=on.limits, packs=packs_named)
    return _Kept(on, rows[-1].hash, found)


def _carried_on(kept: _Kept, rows: list[EntryRow], head_hash: str) -> _Kept | None:
    """Add what came since to a record; None where that is not what follows it."""
    if not rows or rows[0].previous != kept.head_hash or rows[-1].hash != head_hash:
        return None
    return kept.and_(head_hash, tuple(_entry(row, kept.on.zone) for row in rows))


def _folded(job_id: uuid.UUID, head_hash: str, on: Grounds) -> Record:
    with _TURN:
        kept = _KEPT.get(job_id)
    if kept is None or kept.on != on:
        kept = _whole(job_id, on)
    elif kept.head_hash != head_hash:
        rows = _rows((job_id, len(kept.record.entries)))
        kept = _carried_on(kept, rows, head_hash) or _whole(job_id, on)
    _keep(job_id, kept)
    return kept.record


def catch_up(heads: Mapping[uuid.UUID, str], on: Grounds) -> None:
    """Add to the records that are kept what another process wrote, asking once for many jobs.

    Parameters
    ----------
    heads : Mapping[uuid.UUID, str]
        Hash of the last entry of each job's chain; those not kept are left to `fold_job`.
    on : Grounds
        What they will be folded on.
    """
    with _TURN:
        kept = {job: _KEPT[job] for job in heads if job in _KEPT}
    behind = [job for job, each in kept.items() if each.on == on and each.head_hash != heads[job]]
    for begin in range(0, len(behind), JOBS_AT_ONCE):
        some = behind[begin : begin + JOBS_AT_ONCE]
        found: dict[uuid.UUID, list[EntryRow]] = {job: [] for job in some}
        for row in _rows(*((job, len(kept[job].record.entries)) for job in some)):
            found[row.job_id].append(row)
        for job, rows in found.items():
            further = _carried_on(kept[job], rows, heads[job])
            if further is not None:
                _keep(job, further)


def _keep(job_id: uuid.UUID, found: _Kept) -> None:
    with _TURN:
        _KEPT[job_id] = found
        _KEPT.move_to_end(job_id)
        while len(_KEPT) > JOBS_KEPT:
            _KEPT.popitem(last=False)


def _as_read(value: Json) -> Json:
    """Give a value as the database gives it back; jsonb has its own order of the fields."""
    if connection.vendor == "postgresql":
        value = _by_length(value)
    return json.loads(json.dumps(value))


def _by_length(value: Json) -> Json:
    if isinstance(value, dict):
        names = sorted(value, key=lambda name: (len(name.encode()), name.encode()))
        return {name: _by_length(value[name]) for name in names}
    return [_by_length(each) for each in value] if isinstance(value, list | tuple) else value


def went_on(row: EntryRow) -> None:
    """Add an entry to the record kept of its job; called when its transaction stands.

    Where something else was kept meanwhile, nothing is added: the next reader goes on from that.
    """
    with _TURN:
        kept = _KEPT.get(row.job_id)
    if kept is not None and kept.head_hash == row.previous:
        value, paper = _as_read([row.value, row.paper])
        entry = replace(_entry(row, kept.on.zone), value=value, paper=paper)
        _keep(row.job_id, kept.and_(row.hash, (entry,)))


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
    folded = _folded(job_id, head_hash, on)
    return replace(folded, now=local(now, on.zone))


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
