"""Checking that the files of a job, pictures and logs, are there as they were kept."""

from collections.abc import Iterator
from uuid import UUID

from jobs.models import Attachment, Entry
from workshop.kept_files import digest_of_kept, has_kept

__all__ = ["kept_faults"]


def kept_faults(job_id: UUID) -> Iterator[str]:
    """Name every file of a job that is gone or was changed, and every one an entry lacks.

    Parameters
    ----------
    job_id : UUID
        The job.

    Yields
    ------
    str
        What is wrong, with the beginning of the digest.
    """
    kept = set(Attachment.objects.filter(job_id=job_id).values_list("sha256", flat=True))
    for sha256 in sorted(kept):
        if not has_kept(sha256):
            yield f"the file {sha256[:12]} is missing"
            continue
        if digest_of_kept(sha256) != sha256:
            yield f"the file {sha256[:12]} was changed"
    values = Entry.objects.filter(job_id=job_id, kind="value").values_list("seq", "value")
    for seq, value in values:
        named = str(value["sha256"]) if isinstance(value, dict) and "media_type" in value else ""
        if named and named not in kept:
            yield f"entry {seq} names the file {named[:12]}, which is not kept"
