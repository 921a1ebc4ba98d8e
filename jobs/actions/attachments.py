"""Keeping a picture: checked, re-encoded without location data, stored by its digest."""

import hashlib
import uuid
from datetime import datetime

from jobs.core.reason import InputRefused, Reason
from jobs.models import Attachment, Job
from workshop.kept_files import NoPicture, TooManyPixels, keep_bytes, picture_again
from workshop.writing import one_writer

__all__ = ["REASONS", "keep_photo"]

SIZE_LIMIT = 12 * 1024 * 1024
LONGEST_SIDE = 2000
QUALITY = 85

TOO_LARGE = Reason("photo_too_large", "The picture is larger than {limit_mb} MB.")
NO_PICTURE = Reason("photo_no_picture", "This file is not a JPEG, PNG or WebP picture.")
BOMB = Reason("photo_too_many_pixels", "The picture has too many pixels.")
NO_JOB = Reason("photo_no_job", "There is no such job.")

REASONS = (TOO_LARGE, NO_PICTURE, BOMB, NO_JOB)


def _reencoded(raw: bytes) -> bytes:
    """Write a picture again: upright, at most 2000 px, nothing but the picture."""
    try:
        return picture_again(raw, longest_side_px=LONGEST_SIDE, quality=QUALITY)
    except TooManyPixels:
        raise InputRefused(BOMB()) from None
    except NoPicture:
        raise InputRefused(NO_PICTURE()) from None


def keep_photo(*, job_id: str, raw: bytes, by: str, now: datetime) -> tuple[str, str]:
    """Check, re-encode and keep a picture of a job.

    Parameters
    ----------
    job_id : str
        The job.
    raw : bytes
        The file as it arrived.
    by : str
        Who took it.
    now : datetime
        The server's time (UTC).

    Returns
    -------
    tuple[str, str]
        Digest and media type of what was kept.

    Raises
    ------
    InputRefused
        When it is no picture, too large, or the job does not exist.
    """
    if len(raw) > SIZE_LIMIT:
        raise InputRefused(TOO_LARGE(limit_mb=SIZE_LIMIT // 1024 // 1024))
    content = _reencoded(raw)
    sha256 = hashlib.sha256(content).hexdigest()
    with one_writer():
        job = Job.objects.filter(pk=uuid.UUID(job_id)).first()
        if job is None:
            raise InputRefused(NO_JOB())
        keep_bytes(content, sha256)
        Attachment.objects.get_or_create(
            job=job,
            sha256=sha256,
            defaults={
                "media_type": "image/jpeg",
                "size_bytes": len(content),
                "stored_by": uuid.UUID(by),
                "stored_at": now,
            },
        )
    return sha256, "image/jpeg"
