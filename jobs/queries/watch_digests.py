"""The digests that chain the checks of a watch and its end, and what no longer fits them.

A watch itself is held against the entries of its job: it begins with a tick, and every tick has
one. A tick given again while it runs carries it on, so its source is the newest of its ticks.
"""

import uuid
from collections.abc import Iterator
from datetime import UTC, datetime

from jobs.core.entry import Json, Kind
from jobs.core.item import qualifier_parts
from jobs.core.seal import FIRST_PREVIOUS, canonical, link_hash
from jobs.models import Entry, Practice, QuarantineCheck, QuarantineWatch
from jobs.steps.module_swap.items import WATCH_STARTED

__all__ = ["check_digest", "ending_digest", "watch_faults"]


def _iso(moment: datetime | None) -> str | None:
    return None if moment is None else moment.astimezone(UTC).isoformat(timespec="microseconds")


def check_digest(row: QuarantineCheck, previous: str) -> str:
    """Give the digest of a check: of what it says and of the check before it."""
    content: Json = {
        "key": str(row.key),
        "watch": str(row.watch_id),
        "seq": row.seq,
        "at": _iso(row.at),
        "person": str(row.person),
        "values": row.values,
    }
    return link_hash(previous, canonical(content))


def ending_digest(row: QuarantineWatch, previous: str) -> str:
    """Give the digest of the end of a watch: of what it says and of the last check."""
    content: Json = {
        "watch": str(row.id),
        "at": _iso(row.ended_at),
        "person": str(row.ended_by),
        "how": row.ended_how,
        "to": row.ended_to,
        "note": row.ended_note,
    }
    return link_hash(previous, canonical(content))


def watch_faults(job_id: uuid.UUID) -> Iterator[str]:
    """Say which watches of a job, and which of their checks, were changed, removed or cut off.

    A practice job starts no watch, whatever is ticked in it.
    """
    if Practice.objects.filter(pk=job_id).exists():
        return
    yield from _start_faults(job_id)
    for watch in QuarantineWatch.objects.filter(job_id=job_id).prefetch_related("checks"):
        previous = FIRST_PREVIOUS
        for place, check in enumerate(watch.checks.all(), start=1):
            name = f"quarantine check {check.seq} of {watch.module}"
            if check.seq != place:
                yield f"a quarantine check of {watch.module} is missing before {check.seq}"
            if check_digest(check, previous) != check.digest:
                yield f"{name} was changed, or the one before it"
            previous = check.digest
        if watch.ended_at is not None and ending_digest(watch, previous) != watch.ended_digest:
            yield f"the end of the quarantine watch of {watch.module} does not fit its checks"


def _start_faults(job_id: uuid.UUID) -> Iterator[str]:
    """Say which watches do not begin as their first tick says, and which ticks have no watch."""
    ticks: dict[str, list[Entry]] = {}
    given = Entry.objects.filter(job_id=job_id, kind=Kind.VALUE, item=WATCH_STARTED.key)
    for tick in given.order_by("seq"):
        ticks.setdefault(qualifier_parts(tick.qualifier).get("module", ""), []).append(tick)
    watches: dict[str, list[QuarantineWatch]] = {}
    for watch in QuarantineWatch.objects.filter(job_id=job_id):
        watches.setdefault(watch.module, []).append(watch)
    for module in sorted(ticks.keys() | watches.keys()):
        yield from _module_faults(module, ticks.get(module, []), watches.get(module, []))


def _module_faults(
    module: str, ticks: list[Entry], watches: list[QuarantineWatch]
) -> Iterator[str]:
    """Give each watch of a module the ticks up to its source, and compare it with the first."""
    places = {tick.key: place for place, tick in enumerate(ticks)}
    begun = 0
    for watch in sorted(watches, key=lambda each: places.get(each.source, -1)):
        place = places.get(watch.source)
        if place is None or place < begun:
            yield f"no entry of the job starts the quarantine watch of {module}"
            continue
        first, last, begun = ticks[begun], ticks[place], place + 1
        if (watch.started_at, watch.started_by) != (first.at, first.person):
            yield f"the quarantine watch of {module} does not begin as entry {first.seq} says"
        if watch.ended_at is not None and watch.ended_at < last.at:
            yield f"entry {last.seq} starts a quarantine watch of {module} that had ended"
    if begun < len(ticks):
        yield f"entry {ticks[begun].seq} started a quarantine watch of {module} that is not there"
