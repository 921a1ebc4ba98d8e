"""The digests that chain the checks of a watch and its end, and what no longer fits them."""

import uuid
from collections.abc import Iterator
from datetime import UTC, datetime

from jobs.core.entry import Json
from jobs.core.seal import FIRST_PREVIOUS, canonical, link_hash
from jobs.models import QuarantineCheck, QuarantineWatch

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
    """Say which checks of the watches of a job were changed, removed or cut off."""
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
