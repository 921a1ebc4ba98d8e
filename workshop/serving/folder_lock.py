"""The lock of the data folder: one process at a time may write there.

The operating system drops the lock when its process ends, however it ends, so a lock file
left lying about means nothing. The server's worker writes under the lock of its parent.
"""

import os
import sys
from pathlib import Path
from typing import IO

LOCK_NAME = "writer.lock"
# Tells the server's worker which process holds the lock on its behalf.
HOLDER_VARIABLE = "COLDBUS_LOCK_HOLDER"

if sys.platform == "win32":
    import msvcrt

    def try_lock(file: IO[str]) -> None:
        """Lock a byte far behind the text, so that others can still read the text."""
        file.seek(1024)
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        file.seek(0)
else:
    import fcntl

    def try_lock(file: IO[str]) -> None:
        """Lock the file for this process, or fail at once."""
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


def is_taken(folder: Path) -> bool:
    """Say whether a process writes in a data folder.

    Raises
    ------
    OSError
        Where the lock file cannot be opened.
    """
    path = folder / LOCK_NAME
    if not path.exists():
        return False
    with path.open(encoding="utf-8") as file:
        try:
            try_lock(file)
        except OSError:
            return True
    return False


class FolderInUse(Exception):
    """Another process writes in the data folder."""


class FolderLock:
    """The lock of one data folder, held from ``take`` to ``release``."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / LOCK_NAME
        self._file: IO[str] | None = None

    @property
    def is_held(self) -> bool:
        """Whether this process, or the server process that started it, holds the lock."""
        return self._file is not None or os.environ.get(HOLDER_VARIABLE) == str(os.getppid())

    def take(self, purpose: str) -> None:
        """Take the lock and note what for; taking it twice is harmless.

        Raises
        ------
        FolderInUse
            Where another process has it; the sentence says which and what it does.
        """
        if self.is_held:
            return
        file = self.path.open("a+", encoding="utf-8")
        try:
            try_lock(file)
        except OSError:
            file.seek(0)
            holder = file.read().strip() or "another process"
            file.close()
            raise FolderInUse(
                f"The data folder {self.path.parent} is in use by {holder}. "
                "Stop it first (Ctrl+C in its window), or do this in the browser."
            ) from None
        file.seek(0)
        file.truncate()
        file.write(f"{purpose}, process {os.getpid()}")
        file.flush()
        self._file = file

    def release(self) -> None:
        """Give the lock back."""
        if self._file is not None:
            self._file.close()
            self._file = None
