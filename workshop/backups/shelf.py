"""The folder of backups: names that tell when, why and whether good; tidying; the last attempt.

A file gets its plain name only after it passed its check, so the name alone can be trusted.
"""

import contextlib
import json
import os
import re
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime, tzinfo
from functools import lru_cache
from pathlib import Path
from typing import IO, Final

from workshop.backups import keeping
from workshop.backups.keeping import Kept
from workshop.backups.manifest import REASONS
from workshop.backups.places import Places
from workshop.backups.refusal import BackupRefused
from workshop.serving.data_folder import BACKUPS_NAME, OWNER_ONLY_FOLDER
from workshop.serving.folder_lock import try_lock

STAMP: Final = "%Y%m%dT%H%M%SZ"
FAILED: Final = "-failed"
SUFFIX: Final = ".sealed"
PLAIN_SUFFIX: Final = ".zip"
"""Ending of backups from before they were encrypted."""
NAME: Final = re.compile(
    r"coldbus-(?P<shop>[0-9a-f]{8})-(?P<stamp>\d{8}T\d{6}Z)-"
    rf"(?P<reason>{'|'.join(REASONS)})(?P<failed>{FAILED})?"
)
PART: Final = ".part"
LOCK_ATTEMPTS: Final = 4
LOCK_WAIT_S: Final = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class OnShelf(Kept):
    """A backup with the file it is."""

    path: Path
    size_bytes: int
    shop: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """What came of the last attempt, and of which workshop the data are."""

    tried_at: datetime
    code: str = ""
    parameters: Mapping[str, str | int] = field(default_factory=dict)
    workshop_id: str = ""
    shop_name: str = ""

    @property
    def failed(self) -> bool:
        """Whether nothing good came of it."""
        return self.code != ""


def name_of(workshop_id: str, made_at: datetime, reason: str, *, failed: bool = False) -> str:
    """Give the name of a backup, without its ending."""
    stamp = made_at.astimezone(UTC).strftime(STAMP)
    return f"coldbus-{workshop_id[:8]}-{stamp}-{reason}{FAILED if failed else ''}"


def kept_in(folder: Path, workshop_id: str = "") -> list[OnShelf]:
    """List the backups in a folder, newest first; those of one workshop, or of all.

    Parameters
    ----------
    folder : Path
        Where to look; a folder that is not there holds none.
    workshop_id : str
        Whose; "" for everybody's.

    Returns
    -------
    list of OnShelf
        What the names tell; no file is opened.
    """
    try:
        with os.scandir(folder) as found:
            entries = [(Path(each.path), each.stat().st_size) for each in found if each.is_file()]
    except OSError:
        return []
    backups = [kept for path, size in entries if (kept := _kept(path, size)) is not None]
    ours = [each for each in backups if each.shop == workshop_id[:8] or not workshop_id]
    return sorted(ours, key=lambda each: (each.made_at, each.name), reverse=True)


def _kept(path: Path, size: int) -> OnShelf | None:
    """Read a name; None where it is not one of ours."""
    match = NAME.fullmatch(path.stem)
    if match is None or path.suffix not in {SUFFIX, PLAIN_SUFFIX}:
        return None
    try:
        made_at = datetime.strptime(match["stamp"], STAMP).replace(tzinfo=UTC)
    except ValueError:
        return None
    return OnShelf(
        name=path.stem,
        made_at=made_at,
        reason=match["reason"],
        failed=match["failed"] is not None,
        path=path,
        size_bytes=size,
        shop=match["shop"],
    )


def _changed_at_ns(path: Path) -> int:
    """Give when a file or folder changed last [ns]; 0 where it is not there."""
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return 0


def known(places: Places) -> tuple[list[OnShelf], Attempt | None]:
    """Give the workshop's backups and the last attempt; read again only when something changed."""
    # The note changes after each attempt, also on a disk whose folders keep time by the second.
    return _known(places, _changed_at_ns(places.shelf), _changed_at_ns(places.status))


@lru_cache(maxsize=4)
def _known(places: Places, shelf_ns: int, status_ns: int) -> tuple[list[OnShelf], Attempt | None]:
    """Read folder and note as they stood at those times."""
    del shelf_ns, status_ns
    attempt = last_attempt(places)
    return kept_in(places.shelf, attempt.workshop_id if attempt else ""), attempt


def ready(places: Places) -> Path:
    """Make the folder where needed, clear what an interrupted attempt left, and give it.

    Raises
    ------
    BackupRefused
        Where the folder cannot be made; the folder above it has to exist, so that a stick that is
        not plugged in is not replaced by a folder of that name.
    """
    try:
        places.shelf.mkdir(mode=OWNER_ONLY_FOLDER, exist_ok=True)
        for folder in (places.shelf, places.data):
            for left in folder.glob(f".coldbus-*{PART}"):
                left.unlink(missing_ok=True)
    except OSError as reason:
        why = reason.strerror or str(reason)
        raise BackupRefused("no_folder", path=str(places.shelf), why=why) from None
    return places.shelf


@contextmanager
def only_one(places: Places) -> Iterator[None]:
    """Hold the lock of the backups inside the block, over all processes.

    Raises
    ------
    BackupRefused
        Where a backup is being made.
    """
    with places.lock.open("a", encoding="ascii") as file:
        if not any(_locked(file) for _attempt in range(LOCK_ATTEMPTS)):
            raise BackupRefused("busy")
        yield


def _locked(file: IO[str]) -> bool:
    """Lock the file, or wait a moment: somebody may only be looking whether it is locked."""
    try:
        try_lock(file)
    except OSError:
        time.sleep(LOCK_WAIT_S)
        return False
    return True


def is_busy(places: Places) -> bool:
    """Say whether a backup is being made."""
    if not places.lock.exists():
        return False
    try:
        with only_one(places):
            return False
    except BackupRefused:
        return True


def note(places: Places, attempt: Attempt) -> None:
    """Write down what came of an attempt; a disk so full that this fails shows elsewhere."""
    content = {**asdict(attempt), "tried_at": attempt.tried_at.isoformat()}
    unfinished = places.status.with_suffix(".new")
    with contextlib.suppress(OSError):
        unfinished.write_text(json.dumps(content, indent=1), encoding="utf-8")
        unfinished.replace(places.status)


def last_attempt(places: Places) -> Attempt | None:
    """Read what came of the last attempt; None where there was none or the note is damaged."""
    try:
        content = json.loads(places.status.read_text(encoding="utf-8"))
        return Attempt(**{**content, "tried_at": datetime.fromisoformat(content["tried_at"])})
    except (OSError, ValueError, TypeError, KeyError):
        return None


def tidy(places: Places, workshop_id: str, now: datetime, zone: tzinfo) -> list[str]:
    """Remove what need not be kept any longer, of this workshop only; give the names."""
    backups = {each.name: each for each in kept_in(places.shelf, workshop_id)}
    gone = keeping.to_remove(backups.values(), now, zone)
    for name in gone:
        backups[name].path.unlink(missing_ok=True)
    return list(gone)


def lies_inside(places: Places) -> bool:
    """Say whether the backups lie in the data folder, and so move with it."""
    return places.shelf == places.data / BACKUPS_NAME
