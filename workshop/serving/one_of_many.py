"""Which of several workers looks after what is to be done once: the first that takes the lock.

The lock is the system's, so that it falls free when that worker ends and the next one, started in
its place, takes it.
"""

import os
from pathlib import Path
from typing import IO

from django.conf import settings

from workshop.serving.folder_lock import HOLDER_VARIABLE, try_lock

__all__ = ["is_the_one"]

LOCK_NAME = "upkeep.lock"
_held: dict[Path, IO[str]] = {}


def is_the_one() -> bool:
    """Say whether this process is a worker of ``up``, and the one that looks after things."""
    if os.environ.get(HOLDER_VARIABLE) != str(os.getppid()):
        return False
    path = Path(settings.COLDBUS_DATA) / LOCK_NAME
    if path in _held:
        return True
    file = path.open("a+", encoding="utf-8")
    try:
        try_lock(file)
    except OSError:
        file.close()
        return False
    _held[path] = file
    return True
