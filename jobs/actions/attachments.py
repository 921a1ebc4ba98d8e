"""Keeping a picture: checked, re-encoded without location data, stored by its digest."""

import hashlib
import io
import os
import uuid
import warnings
from datetime import datetime
from pathlib import Path

from django.conf import settings
from PIL import Image, ImageOps, UnidentifiedImageError

from jobs.core.reason import InputRefused, Reason
from jobs.models import Attachment, Job
from workshop.writing import one_writer

__all__ = ["REASONS", "attachment_path", "keep_photo"]

SIZE_LIMIT = 12 * 1024 * 1024
PIXEL_LIMIT = 50_000_000
LONGEST_SIDE = 2000
QUALITY = 85

TOO_LARGE = Reason("photo_too_large", "The picture is larger than {limit_mb} MB.")
NO_PICTURE = Reason("photo_no_picture", "This file is not a JPEG, PNG or WebP picture.")
BOMB = Reason("photo_too_many_pixels", "The picture has too many pixels.")
NO_JOB = Reason("photo_no_job", "There is no such job.")

REASONS = (TOO_LARGE, NO_PICTURE, BOMB, NO_JOB)


def _reencoded(raw: bytes) -> bytes:
    """Decode and write again as JPEG: upright, at most 2000 px, nothing but the picture."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        try:
            with Image.open(io.BytesIO(raw), formats=["JPEG", "PNG", "WEBP"]) as picture:
                if picture.width * picture.height > PIXEL_LIMIT:
                    raise InputRefused(BOMB())
                upright = ImageOps.exif_transpose(picture).convert("RGB")
        except (Image.DecompressionBombError, Image.DecompressionBombWarning):
            raise InputRefused(BOMB()) from None
        except (UnidentifiedImageError, OSError, ValueError, SyntaxError):
            raise InputRefused(NO_PICTURE()) from None
    # A comment would otherwise be written again, whatever it says.
    upright.info = {}
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    written = io.BytesIO()
    upright.save(written, format="JPEG", quality=QUALITY, optimize=True)
    return written.getvalue()


def attachment_path(sha256: str) -> Path:
    """Give where the bytes of a digest lie."""
    return Path(settings.MEDIA_ROOT) / sha256[:2] / sha256


def _write(content: bytes, sha256: str) -> None:
    path = attachment_path(sha256)
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    unfinished = path.with_name(f"{path.name}.{uuid.uuid4().hex}")
    with unfinished.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    unfinished.replace(path)


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
        _write(content, sha256)
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
