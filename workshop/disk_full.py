"""Telling a full disk from a fault of ours: nothing was written then, and nothing is damaged."""

import errno
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Final

__all__ = ["is_disk_full"]

SYSTEM_CODES: Final = frozenset({errno.ENOSPC, errno.EDQUOT})
# The second is said where the index of SQLite's log finds no room.
SQLITE_NAMES: Final = frozenset({"SQLITE_FULL", "SQLITE_IOERR_SHMSIZE"})
# Or no more than this is said there, by newer versions; then it is asked how much room there is.
SQLITE_UNSAID: Final = "SQLITE_IOERR"
POSTGRESQL_STATE: Final = "53100"
NO_ROOM_BYTES: Final = 64 * 1024
"""Less than this does not hold the index and the first frames of a log."""


def _causes(fault: BaseException | None) -> Iterator[BaseException]:
    """Give a fault and what led to it, each once."""
    seen: set[int] = set()
    while fault is not None and id(fault) not in seen:
        seen.add(id(fault))
        yield fault
        fault = fault.__cause__ or fault.__context__


def is_disk_full(fault: BaseException | None, folder: Path | None = None) -> bool:
    """Say whether a fault came of a disk, or a share of one, that has no room left.

    Parameters
    ----------
    fault : BaseException | None
        What was raised.
    folder : Path | None
        Where the data lie, asked for its room where the fault itself does not say.

    Examples
    --------
    >>> is_disk_full(OSError(errno.ENOSPC, "No space left on device"))
    True
    >>> is_disk_full(OSError(errno.EACCES, "Permission denied"))
    False
    """
    return any(
        (isinstance(each, OSError) and each.errno in SYSTEM_CODES)
        or getattr(each, "sqlite_errorname", "") in SQLITE_NAMES
        or (getattr(each, "sqlite_errorname", "") == SQLITE_UNSAID and _has_no_room(folder))
        or getattr(each, "sqlstate", "") == POSTGRESQL_STATE
        for each in _causes(fault)
    )


def _has_no_room(folder: Path | None) -> bool:
    return folder is not None and shutil.disk_usage(folder).free < NO_ROOM_BYTES
