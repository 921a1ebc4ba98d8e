"""Keeping a certificate as a file: judged by its content, stored by its digest.

A picture is decoded and written again without anything but the picture. A PDF is kept as it is:
it is only ever handed back as a download. The name that a file came with is never used.
"""

import hashlib
from typing import Final

from workshop import clock
from workshop.errors import InputRefused
from workshop.kept_files import NoPicture, TooManyPixels, keep_bytes, picture_again
from workshop.models import Certificate, Person

FILE_LIMIT_BYTES: Final = 10 * 1024 * 1024
LONGEST_SIDE_PX: Final = 3000
QUALITY: Final = 88
PDF: Final = "application/pdf"
JPEG: Final = "image/jpeg"
PDF_START, PDF_END = b"%PDF-", b"%%EOF"
PDF_TAIL_BYTES: Final = 2048
FIELD: Final = "file"


def _as_picture(raw: bytes) -> bytes:
    """Write a picture again: upright, as JPEG, nothing but the picture."""
    try:
        return picture_again(raw, longest_side_px=LONGEST_SIDE_PX, quality=QUALITY)
    except TooManyPixels:
        raise InputRefused("file_too_many_pixels", field=FIELD) from None
    except NoPicture:
        raise InputRefused("file_no_certificate", field=FIELD) from None


def read_certificate(raw: bytes) -> tuple[bytes, str]:
    """Judge a file by its content and give what is kept, with its media type.

    Raises
    ------
    InputRefused
        Where it is too large, broken, or neither a PDF nor a JPEG or PNG picture.
    """
    if len(raw) > FILE_LIMIT_BYTES:
        limit_mb = FILE_LIMIT_BYTES // 1024 // 1024
        raise InputRefused("file_too_large", field=FIELD, limit_mb=limit_mb)
    if not raw:
        raise InputRefused("file_empty", field=FIELD)
    if raw.startswith(PDF_START):
        if PDF_END not in raw[-PDF_TAIL_BYTES:]:
            raise InputRefused("file_cut_off", field=FIELD)
        return raw, PDF
    return _as_picture(raw), JPEG


def keep_certificate(raw: bytes | None, *, by: Person) -> Certificate | None:
    """Keep a file, once for each content; called inside ``one_writer``.

    Returns
    -------
    Certificate or None
        None where no file was sent.

    Raises
    ------
    InputRefused
        As ``read_certificate``.
    """
    if raw is None:
        return None
    content, media_type = read_certificate(raw)
    sha256 = hashlib.sha256(content).hexdigest()
    keep_bytes(content, sha256)
    row, _ = Certificate.objects.get_or_create(
        sha256=sha256,
        defaults={
            "media_type": media_type,
            "size_bytes": len(content),
            "stored_at": clock.now(),
            "stored_by": by,
        },
    )
    return row
