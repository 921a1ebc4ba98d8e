"""Files that people send: pictures written again, and where bytes lie by their digest.

What may be sent where is judged by whoever keeps it.
"""

import io
import os
import uuid
import warnings
from pathlib import Path
from typing import Final

from django.conf import settings
from PIL import Image, ImageOps, UnidentifiedImageError

PIXEL_LIMIT: Final = 50_000_000
"""A picture with more pixels is refused before it is decoded."""

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
    with warnings.catch_warnings():
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        try:
            with Image.open(io.BytesIO(raw), formats=PICTURE_FORMATS) as picture:
                if picture.width * picture.height > PIXEL_LIMIT:
                    raise TooManyPixels
                upright = ImageOps.exif_transpose(picture).convert("RGB")
        except (Image.DecompressionBombError, Image.DecompressionBombWarning):
            raise TooManyPixels from None
        except (UnidentifiedImageError, OSError, ValueError, SyntaxError):
            raise NoPicture from None
    # Comments and colour profiles would be written again from here.
    upright.info = {}
    upright.thumbnail((longest_side_px, longest_side_px))
    written = io.BytesIO()
    upright.save(written, format="JPEG", quality=quality, optimize=True)
    return written.getvalue()


def path_of(sha256: str) -> Path:
    """Give where the bytes of a digest lie."""
    return Path(settings.MEDIA_ROOT) / sha256[:2] / sha256


def keep_bytes(content: bytes, sha256: str) -> None:
    """Write the bytes of a digest whole, or not at all."""
    path = path_of(sha256)
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    unfinished = path.with_name(f"{path.name}.{uuid.uuid4().hex}")
    with unfinished.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    unfinished.replace(path)
