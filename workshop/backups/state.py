"""How the backups stand, for one line of a page: a look at names and a note, no file is opened."""

import shutil
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final, Literal

from django.utils import timezone

from workshop.backups import shelf
from workshop.backups.drill import OVERDUE_AFTER as OVERDUE_AFTER_DRILL
from workshop.backups.drill import Drill, last_drill
from workshop.backups.keeping import OVERDUE_AFTER, newest_good
from workshop.backups.places import Places, places
from workshop.backups.refusal import sentence
from workshop.serving.data_folder import EPOCH_NAME

Code = Literal["fine", "none", "overdue", "failed"]
# Below this a day's photographs may not fit any more.
LOW_SPACE_BYTES: Final = 500 * 1024 * 1024
MB: Final = 1024 * 1024
FIRST_WITHIN: Final = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupState:
    """How the backups stand.

    ``code`` is one of: ``fine``; ``none``, nothing yet, as in the first minutes; ``overdue``, the
    newest good one is older than 26 h; ``failed``, the last attempt brought nothing good.
    ``is_new``: the data are younger than a day.
    """

    code: Code
    newest_at: datetime | None = None
    age: timedelta | None = None
    failed_at: datetime | None = None
    why: str = ""
    where: str = ""
    same_disk: bool = False
    low_space: bool = False
    free_mb: int = 0
    today: bool = False
    is_new: bool = False
    drill: Drill | None = None
    drill_late: bool = False

    @property
    def is_loud(self) -> bool:
        """Whether somebody has to do something now."""
        unproved = self.drill_late or (self.drill is not None and self.drill.why != "")
        return self.code in {"overdue", "failed"} or self.low_space or unproved


def backup_state(now: datetime) -> BackupState:
    """Say how the backups of this installation stand.

    Parameters
    ----------
    now : datetime
        The time.

    Returns
    -------
    BackupState
        For ``templates/workshop/backup_line.html``, under the name ``backup``.
    """
    return state_of(places(), now)


def state_of(here: Places, now: datetime) -> BackupState:
    """Say how the backups of one data folder stand."""
    backups, attempt = shelf.known(here)
    newest = newest_good(backups, now)
    newest_at = newest.made_at if newest else None
    failed_at = attempt.tried_at if attempt and attempt.failed else None
    if failed_at and newest_at and newest_at > failed_at:
        failed_at = None
    drill = last_drill(here.data)
    free_bytes = min(free_at(here.data), free_at(here.shelf))
    return BackupState(
        code=_code(here, now, newest_at, failed_at),
        newest_at=newest_at,
        age=now - newest_at if newest_at else None,
        failed_at=failed_at,
        why=sentence(attempt.code, attempt.parameters) if attempt and failed_at else "",
        where=str(here.shelf),
        same_disk=is_same_disk(here.data, here.shelf),
        low_space=free_bytes < LOW_SPACE_BYTES,
        free_mb=free_bytes // MB,
        is_new=_is_new(here, now),
        drill=drill,
        drill_late=drill is not None and now - drill.at > OVERDUE_AFTER_DRILL,
        today=newest_at is not None and timezone.localdate(newest_at) == timezone.localdate(now),
    )


def _code(
    here: Places, now: datetime, newest_at: datetime | None, failed_at: datetime | None
) -> Code:
    """Give the code, the gravest first."""
    if failed_at is not None:
        return "failed"
    since = newest_at or _first_start(here)
    if since is not None and now - since > OVERDUE_AFTER:
        return "overdue"
    return "fine" if newest_at else "none"


def _is_new(here: Places, now: datetime) -> bool:
    """Say whether the data began less than a day ago, before the first backup was due."""
    since = _first_start(here)
    return since is not None and timedelta() <= now - since < FIRST_WITHIN


def _first_start(here: Places) -> datetime | None:
    """Give when the data began their present life."""
    try:
        return datetime.fromtimestamp((here.data / EPOCH_NAME).stat().st_mtime, UTC)
    except OSError:
        return None


def _nearest(path: Path) -> Path:
    """Give the path or the nearest folder above it that is there."""
    return next((each for each in (path, *path.parents) if each.exists()), path)


def free_at(path: Path) -> int:
    """Give the free space where a path lies [bytes]."""
    return shutil.disk_usage(_nearest(path)).free


def is_same_disk(one: Path, other: Path) -> bool:
    """Say whether two paths lie on one disk, so that one fault takes both."""
    return _nearest(one).stat().st_dev == _nearest(other).stat().st_dev
