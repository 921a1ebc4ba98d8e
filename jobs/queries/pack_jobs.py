"""What the registers of packs show of jobs: which job holds a spare, which jobs a pack was in."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from uuid import UUID

from django.urls import reverse

from jobs.core.entry import Kind
from jobs.core.record import Record
from jobs.models import Entry, Job, QuarantineWatch
from jobs.queries.leak_history import leaks_of
from jobs.queries.records import fold_job, grounds_in_force, info_of, job_rows
from jobs.steps.module_swap.items import CONDITION, QUARANTINE_PLACE, REMOVED_SERIAL
from packs.project import JobRef, PackLeaks, RemovedModule

__all__ = ["jobs_by_number", "jobs_of_packs", "leaks_of_pack", "removed_modules", "watch_on"]

JOBS_SEARCHED = 40
"""Newest jobs with a removed module that are looked through."""


def _ref(row: Job) -> JobRef:
    info = info_of(row)
    title = ", ".join(part for part in (info.title, info.plate) if part)
    address = reverse("jobs:job", args=(row.id,))
    return JobRef(row.number, address, title, row.opened_at, row.closed_at)


def jobs_by_number(numbers: Iterable[str]) -> Mapping[str, JobRef]:
    """Find jobs by their numbers; unknown numbers are left out."""
    return {row.number: _ref(row) for row in job_rows().filter(number__in=set(numbers))}


def jobs_of_packs(ids: Iterable[UUID]) -> Mapping[UUID, tuple[JobRef, ...]]:
    """Give the jobs that each pack was in, newest first."""
    found = defaultdict(list)
    for row in job_rows().filter(physical_pack_id__in=set(ids)).order_by("-opened_at"):
        if row.physical_pack_id is not None:
            found[row.physical_pack_id].append(_ref(row))
    return {pack: tuple(jobs) for pack, jobs in found.items()}


def _removed(row: Job, record: Record) -> list[RemovedModule]:
    pack, found = record.pack, list[RemovedModule]()
    known = {} if pack is None else {module.name: module for module in pack.modules}
    conditions = {choice.value: choice.label for choice in CONDITION.choices}
    for given in record.all(REMOVED_SERIAL):
        name, at = given.part("module"), given.entry.qualifier
        if pack is None or name not in known:
            continue
        condition = record.get(CONDITION, at) or ""
        found.append(
            RemovedModule(
                job=_ref(row),
                module=name,
                serial=given.value,
                part=known[name].part,
                chemistry=pack.chemistry,
                cells=known[name].cells,
                place=record.get(QUARANTINE_PLACE, at) or "",
                condition=conditions.get(condition, ""),
                taken_at=given.at,
            )
        )
    return found


def removed_modules(number: str = "") -> tuple[RemovedModule, ...]:
    """Give the modules that jobs took out, newest first; of one job where a number is given."""
    entries = Entry.objects.filter(kind=str(Kind.VALUE), item=REMOVED_SERIAL.key)
    rows = job_rows().filter(id__in=entries.values("job_id")).order_by("-opened_at")
    if number:
        rows = rows.filter(number=number)
    found, grounds = list[RemovedModule](), grounds_in_force()
    for row in rows[:JOBS_SEARCHED]:
        head = row.chainhead.hash
        record = fold_job(row.id, head_hash=head, now=row.opened_at, grounds=grounds)
        found += _removed(row, record)
    return tuple(sorted(found, key=lambda each: each.taken_at, reverse=True))


def leaks_of_pack(slug: str) -> PackLeaks:
    """Give what leaked in the jobs of a kind of pack, with the jobs behind each number."""
    found = leaks_of(slug)
    rows = job_rows().filter(id__in=found.looked_at).order_by("-opened_at")
    refs = {row.id: _ref(row) for row in rows}

    def named(jobs: Iterable[UUID]) -> tuple[JobRef, ...]:
        wanted = frozenset(jobs)
        return tuple(ref for job, ref in refs.items() if job in wanted)

    return PackLeaks(
        looked_at=tuple(refs.values()),
        modules=tuple((name, named(jobs)) for name, jobs in found.modules.items()),
        parts=tuple((name, named(jobs)) for name, jobs in found.parts.items()),
        in_pack=named(found.in_pack),
    )


def watch_on(serial: str) -> str:
    """Tell of a removed module whether its watch is "running" or "over"; empty for any other."""
    ends = list(QuarantineWatch.objects.filter(serial=serial).values_list("ended_at", flat=True))
    if not serial or not ends:
        return ""
    return "running" if None in ends else "over"
