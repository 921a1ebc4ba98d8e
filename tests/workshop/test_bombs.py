"""Files that are small and want to be huge: refused, or read within the memory of any other."""

import io
import json
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import pytest
from PIL import Image

from tests.house.sources import ROOT

ROOM_MB = 400
"""Memory beyond that of the program itself; an honest photo of 48 megapixels takes about 300."""
WITHIN_S = 60
ASK = """
import resource, sys, time
from pathlib import Path
import django
django.setup()
from workshop.kept_files import NoPicture, TooManyPixels, drawing_again, picture_again

before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
raw = Path(sys.argv[1]).read_bytes()
said = []
for again in (
    lambda: picture_again(raw, longest_side_px=1600, quality=80),
    lambda: drawing_again(raw, longest_side_px=1200),
):
    try:
        said.append(f"taken {len(again()) < 4_000_000}")
    except (NoPicture, TooManyPixels) as refused:
        said.append(type(refused).__name__)
after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(__import__("json").dumps([said, (after - before) // 1024]))
"""


def a_chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def a_png(width: int, height: int, *more: bytes, data: bytes = b"") -> bytes:
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    parts = (a_chunk(b"IHDR", head), *more, a_chunk(b"IDAT", data), a_chunk(b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def swelling_text() -> bytes:
    """A picture of one pixel with a comment that unpacks to 300 MB."""
    packed = zlib.compress(bytes(300_000_000), 9)
    text = a_chunk(b"zTXt", b"Comment\0\0" + packed)
    return a_png(1, 1, text, data=zlib.compress(b"\0\0\0\0"))


def swelling_profile() -> bytes:
    packed = zlib.compress(bytes(300_000_000), 9)
    return a_png(1, 1, a_chunk(b"iCCP", b"p\0\0" + packed), data=zlib.compress(b"\0\0\0\0"))


def a_large_jpeg() -> bytes:
    """A true picture of a few pixels whose header says 65,500 by 65,500."""
    written = io.BytesIO()
    Image.new("RGB", (16, 16)).save(written, "JPEG")
    raw = bytearray(written.getvalue())
    at = raw.index(b"\xff\xc0") + 5
    raw[at : at + 4] = struct.pack(">HH", 65_500, 65_500)
    return bytes(raw)


def many_frames(kind: str) -> bytes:
    written = io.BytesIO()
    frames = [Image.new("RGB", (1000, 1000), (n % 256, n // 256, 0)) for n in range(60)]
    frames[0].save(written, kind, save_all=True, append_images=frames[1:])
    return written.getvalue()


def with_archive_behind() -> bytes:
    written = io.BytesIO()
    Image.new("RGB", (40, 20), "orange").save(written, "JPEG")
    return written.getvalue() + b"PK\x03\x04<script>alert(1)</script>"


BOMBS = {
    "says 50,000 pixels a side": (a_png(50_000, 50_000), "TooManyPixels"),
    "says 2 billion pixels a side": (a_png(2**31 - 1, 2**31 - 1), "TooManyPixels"),
    "jpeg that says 65,500": (a_large_jpeg(), "TooManyPixels"),
    "a comment of 300 MB": (swelling_text(), None),
    "a colour profile of 300 MB": (swelling_profile(), None),
    "gif of many frames": (many_frames("GIF"), "NoPicture"),
    "moving webp": (many_frames("WEBP"), None),
    "moving png": (many_frames("PNG"), None),
    "tiff": (many_frames("TIFF"), "NoPicture"),
    "svg": (b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>", "NoPicture"),
    "an archive behind a picture": (with_archive_behind(), "taken True"),
}


@pytest.mark.skipif(sys.platform != "linux", reason="memory is read as Linux tells it")
@pytest.mark.parametrize("name", BOMBS)
def test_a_picture_that_wants_to_be_huge_stays_small(tmp_path: Path, name: str) -> None:
    raw, expected = BOMBS[name]
    path = tmp_path / "picture"
    path.write_bytes(raw)
    asked = subprocess.run(
        [sys.executable, "-c", ASK, str(path)],
        cwd=ROOT,
        env={"DJANGO_SETTINGS_MODULE": "workshop.settings", "COLDBUS_DATA": str(tmp_path / "data")},
        capture_output=True,
        text=True,
        timeout=WITHIN_S,
        check=True,
    )
    said, grown_mb = json.loads(asked.stdout)
    assert grown_mb < ROOM_MB
    assert set(said) <= {"taken True", "NoPicture", "TooManyPixels"}
    if expected is not None:
        assert said == [expected, expected]
