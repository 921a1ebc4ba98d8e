"""Telling a full disk from a fault of ours: nothing was written then, and nothing is damaged."""

import errno
from collections.abc import Iterator
from typing import Final

__all__ = ["is_disk_full"]

SYSTEM_CODES: Final = frozenset({errno.ENOSPC, errno.EDQUOT})
# The second is said where the index of SQLite's log finds no room.
SQLITE_NAMES: Final = frozenset({"SQLITE_FULL", "SQLITE_IOERR_SHMSIZE"})
POSTGRESQL_STATE: Final = "53100"


def _causes(fault: BaseException | None) -> Iterator[BaseException]:
    """Give a fault and what led to it, each once."""
    seen: set[int] = set()
    while fault is not None and id(fault) not in seen:
        seen.add(id(fault))
        yield fault
        fault = fault.__cause__ or fault.__context__


def is_disk_full(fault: BaseException | None) -> bool:
    """Say whether a fault came of a disk, or a share of one, that has no room left.

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
        or getattr(each, "sqlstate", "") == POSTGRESQL_STATE
        for each in _causes(fault)
    )
