"""A disk of our own, whose power is cut or which is full: a file system in a file.

Needs root, loop devices and ext4. After a cut, what was acknowledged has to be there at the next
mount; what the system still held in memory is gone, as with a plug pulled.
"""

import fcntl
import os
import shutil
import struct
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import pytest

__all__ = ["Disk", "a_disk"]

# _IOR('X', 125, __u32) of ext4: shut down; the flag says without writing the journal first.
EXT4_IOC_SHUTDOWN = 0x8004587D
WITHOUT_LOG_FLUSH = struct.pack("I", 2)
SIZE_MB = 192
GONE_WITHIN_S = 20
FILLING, SPARE = "filling", "spare"
PIECES = (1024 * 1024, 4096, 1)


def _run(*words: str) -> None:
    subprocess.run(words, check=True, capture_output=True)


@dataclass(frozen=True)
class Disk:
    """A mounted disk of our own."""

    image: Path
    place: Path

    def cut_power(self) -> None:
        """Let everything that is not on the disk yet be lost; writing fails from now on."""
        descriptor = os.open(self.place, os.O_RDONLY)
        try:
            fcntl.ioctl(descriptor, EXT4_IOC_SHUTDOWN, WITHOUT_LOG_FLUSH)
        finally:
            os.close(descriptor)

    def come_back(self) -> None:
        """Mount it anew, as after the power is back; nobody may have a file open on it."""
        until = time.monotonic() + GONE_WITHIN_S
        while True:
            try:
                _run("umount", str(self.place))
                break
            except subprocess.CalledProcessError:
                # A process that was killed a moment ago may still be going.
                if time.monotonic() > until:
                    raise
                time.sleep(0.1)
        _run("mount", "-o", "loop", str(self.image), str(self.place))

    def fill_up(self, leaving_bytes: int = 0) -> None:
        """Take all the room there is, but for about so much."""
        spare = self.place / SPARE
        spare.write_bytes(bytes(leaving_bytes))
        descriptor = os.open(self.place / FILLING, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        try:
            for size in PIECES:
                with suppress(OSError):
                    while os.write(descriptor, bytes(size)):
                        pass
        finally:
            os.close(descriptor)
        spare.unlink()

    def make_room(self) -> None:
        """Give all of that back."""
        (self.place / FILLING).unlink()


@contextmanager
def a_disk(folder: Path, size_mb: int = SIZE_MB) -> Iterator[Disk]:
    """Make a disk, mounted inside the block; skip the test where this machine forbids that."""
    if sys.platform != "linux" or os.geteuid() != 0 or shutil.which("mkfs.ext4") is None:
        pytest.skip("a disk of our own needs Linux, root and mkfs.ext4")
    disk = Disk(folder / "disk.img", folder / "disk")
    disk.place.mkdir()
    try:
        with disk.image.open("wb") as file:
            file.truncate(size_mb * 1024 * 1024)
        _run("mkfs.ext4", "-q", "-F", str(disk.image))
        _run("mount", "-o", "loop", str(disk.image), str(disk.place))
    except (OSError, subprocess.CalledProcessError) as reason:
        pytest.skip(f"this machine mounts no disk of our own: {reason}")
    try:
        yield disk
    finally:
        with suppress(subprocess.CalledProcessError):
            _run("umount", "-l", str(disk.place))
