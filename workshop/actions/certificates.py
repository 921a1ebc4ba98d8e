"""Keeping a certificate as a file: judged by its content, stored by its digest.

A picture is decoded and written again without anything but the picture. A PDF is kept as it is:
it is only ever handed back as a download. The name that a file came with is never used.
"""

import hashlib
import io
import os
import uuid
import warnings
from pathlib import Path
from typing import Final

from django.conf import settings
from PIL import Image, ImageOps, UnidentifiedImageError

from workshop import clock
from workshop.errors import InputRefused
from workshop.models import Certificate, Person

FILE_LIMIT_BYTES: Final = 10 * 1024 * 1024
PIXEL_LIMIT: Final = 50_000_000
LONGEST_SIDE_PX: Final = 3000
QUALITY: Final = 88
PDF: Final = "application/pdf"
JPEG: Final = "image/jpeg"
PDF_START, PDF_END = b"%PDF-", b"%%EOF"
PDF_TAIL_BYTES: Final = 2048
FIELD: Final = "file"


def _as_picture(raw: bytes) -> bytes:
    """Decode a picture and write it again: upright, as JPEG, nothing but the picture."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        try:
            with Image.open(io.BytesIO(raw), formats=["JPEG", "PNG"]) as picture:
                if picture.width * picture.height > PIXEL_LIMIT:
                    raise InputRefused("file_too_many_pixels", field=FIELD)
                upright = ImageOps.exif_transpose(picture).convert("RGB")
        except (Image.DecompressionBombError, Image.DecompressionBombWarning):
            raise InputRefused("file_too_many_pixels", field=FIELD) from None
        except (UnidentifiedImageError, OSError, ValueError, SyntaxError):
            raise InputRefused("file_no_certificate", field=FIELD) from None
    # Comments and colour profiles would be written again from here.
    upright.info = {}
    upright.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
    written = io.BytesIO()
    upright.save(written, format="JPEG", quality=QUALITY, optimize=True)
    return written.getvalue()


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


def certificate_path(sha256: str) -> Path:
    """Give where the bytes of a digest lie."""
    return Path(settings.MEDIA_ROOT) / sha256[:2] / sha256


def _write(content: bytes, sha256: str) -> None:
    path = certificate_path(sha256)
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    unfinished = path.with_name(f"{path.name}.{uuid.uuid4().hex}")
    with unfinished.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    unfinished.replace(path)


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
    _write(content, sha256)
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
