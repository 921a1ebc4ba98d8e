"""Adding a job's entries up once: the record is kept by the head of its chain.

A list of open jobs folds only what changed: what this process writes is added once it stands
(`went_on`), what another one wrote is read for many jobs at once (`catch_up`).
"""

import json
import uuid
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, timezone
from threading import Lock
from zoneinfo import ZoneInfo

from django.db import connection
from django.db.models import Q

from jobs.core.entry import Entry, Json, Kind
from jobs.core.limits import Limits
from jobs.core.record import Record, fold
from jobs.models import Entry as EntryRow
from packs import queries as packs
from packs.definition import PackDefinition

__all__ = ["Grounds", "catch_up", "folded", "local", "went_on"]

JOBS_KEPT = 128
"""Folded jobs kept in memory; a shop has a few dozen open at once."""
JOBS_AT_ONCE = 50
"""Jobs whose further entries are read by one statement."""


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

    def with_more(self, head_hash: str, entries: tuple[Entry, ...]) -> "_Kept":
        """Add the entries that follow, the last of them with this hash."""
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
    return kept.with_more(head_hash, tuple(_entry(row, kept.on.zone) for row in rows))


def folded(job_id: uuid.UUID, head_hash: str, on: Grounds) -> Record:
    """Give the record of a job whose chain ends in a hash, as of its first entry."""
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
        _keep(row.job_id, kept.with_more(row.hash, (entry,)))
