"""Files that people send: pictures written again, and where bytes lie by their digest.

What may be sent where is judged by whoever keeps it.
"""

import hashlib
import io
import os
import uuid
import warnings
from pathlib import Path
from typing import Any, BinaryIO, Final, cast

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from PIL import Image, ImageOps, UnidentifiedImageError

LOCAL: Final = "django.core.files.storage.FileSystemStorage"
PIXEL_LIMIT: Final = 50_000_000
"""A picture with more pixels is refused before it is decoded."""

PIECE_BYTES: Final = 1024 * 1024
PICTURE_FORMATS: Final = ("JPEG", "PNG", "WEBP")


class NoPicture(Exception):
    """The bytes are no picture that can be read whole."""


class TooManyPixels(Exception):
    """It is a picture, but decoding it would cost too much."""


def picture_again(raw: bytes, *, longest_side_px: int, quality: int) -> bytes:
    """Decode a picture and write it again as JPEG: upright, smaller, nothing but the picture.

    Parameters
    ----------
    raw : bytes
        The file as it arrived.
    longest_side_px : int
        Its longest side afterwards at most [px].
    quality : int
        JPEG quality [1 to 95].

    Returns
    -------
    bytes
        The picture without place, comment or colour profile.

    Raises
    ------
    NoPicture
        Where it is none, or cut off.
    TooManyPixels
        Where it has more than ``PIXEL_LIMIT``.
    """
    # Comments and colour profiles would be written again from here.
    upright = _decoded(raw, "RGB")
    upright.thumbnail((longest_side_px, longest_side_px))
    written = io.BytesIO()
    upright.save(written, format="JPEG", quality=quality, optimize=True)
    return written.getvalue()


def drawing_again(raw: bytes, *, longest_side_px: int) -> bytes:
    """Decode a picture and write it again as PNG, which keeps edges sharp and holes clear.

    Raises
    ------
    NoPicture, TooManyPixels
        As ``picture_again``.
    """
    upright = _decoded(raw, "RGBA")
    upright.thumbnail((longest_side_px, longest_side_px))
    written = io.BytesIO()
    upright.save(written, format="PNG", optimize=True)
    return written.getvalue()


def _decoded(raw: bytes, mode: str) -> Image.Image:
    """Decode a picture upright, without anything that came along with it."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        try:
            with Image.open(io.BytesIO(raw), formats=PICTURE_FORMATS) as picture:
                if picture.width * picture.height > PIXEL_LIMIT:
                    raise TooManyPixels
                upright = ImageOps.exif_transpose(picture).convert(mode)
        except (Image.DecompressionBombError, Image.DecompressionBombWarning):
            raise TooManyPixels from None
        except (UnidentifiedImageError, OSError, ValueError, SyntaxError):
            raise NoPicture from None
    upright.info = {}
    return upright


def _is_local() -> bool:
    """Say whether the files lie in the data folder, not in a store elsewhere."""
    kept: dict[str, Any] = settings.STORAGES["default"]
    return bool(kept["BACKEND"] == LOCAL)


def _name_of(sha256: str) -> str:
    return f"{sha256[:2]}/{sha256}"


def path_of(sha256: str) -> Path:
    """Give where the bytes of a digest lie in the data folder."""
    return Path(settings.MEDIA_ROOT) / sha256[:2] / sha256


def has_kept(sha256: str) -> bool:
    """Say whether the bytes of a digest are there."""
    return path_of(sha256).is_file() if _is_local() else default_storage.exists(_name_of(sha256))


def open_kept(sha256: str) -> BinaryIO:
    """Open the bytes of a digest for reading.

    Raises
    ------
    OSError
        Where they are not there, or the store does not answer.
    """
    if _is_local():
        return path_of(sha256).open("rb")
    return cast(BinaryIO, default_storage.open(_name_of(sha256), "rb"))


def read_kept(sha256: str) -> bytes:
    """Give the bytes of a digest.

    Raises
    ------
    OSError
        As `open_kept`.
    """
    with open_kept(sha256) as file:
        return file.read()


def digest_of_kept(sha256: str) -> str:
    """Give the digest that the kept bytes have now, read piece by piece."""
    found = hashlib.sha256()
    with open_kept(sha256) as file:
        while piece := file.read(PIECE_BYTES):
            found.update(piece)
    return found.hexdigest()


def keep_bytes(content: bytes, sha256: str) -> None:
    """Write the bytes of a digest whole, or not at all."""
    if not _is_local():
        if not default_storage.exists(_name_of(sha256)):
            default_storage.save(_name_of(sha256), ContentFile(content))
        return
    path = path_of(sha256)
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    unfinished = path.with_name(f"{path.name}.{uuid.uuid4().hex}")
    try:
        with unfinished.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        unfinished.replace(path)
    finally:
        # A disk that is full keeps nothing of what did not fit.
        unfinished.unlink(missing_ok=True)


def forget_bytes(sha256: str) -> None:
    """Delete the bytes of a digest that nothing names any more."""
    if _is_local():
        path_of(sha256).unlink(missing_ok=True)
    else:
        default_storage.delete(_name_of(sha256))
