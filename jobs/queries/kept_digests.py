"""Checking that the files of a job, pictures and logs, are there as they were kept."""

import hashlib
from collections.abc import Iterator
from uuid import UUID

from jobs.models import Attachment, Entry
from workshop.kept_files import path_of

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
        path = path_of(sha256)
        if not path.is_file():
            yield f"the file {sha256[:12]} is missing"
            continue
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        if digest != sha256:
            yield f"the file {sha256[:12]} was changed"
    values = Entry.objects.filter(job_id=job_id, kind="value").values_list("seq", "value")
    for seq, value in values:
        named = str(value["sha256"]) if isinstance(value, dict) and "media_type" in value else ""
        if named and named not in kept:
            yield f"entry {seq} names the file {named[:12]}, which is not kept"
