"""Putting a backup in place of the data: everything is checked before anything is touched.

The backup is unpacked beside the data folder and checked there; only then the data folder is set
aside under another name and the new one takes its name. Nothing is deleted.
"""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from django.db.migrations.loader import MigrationLoader

from workshop.backups import checking, database, keys, shelf
from workshop.backups.database import Contents
from workshop.backups.lost import Besides, besides
from workshop.backups.manifest import Head, Manifest
from workshop.backups.places import Places
from workshop.backups.refusal import BackupRefused
from workshop.serving import data_folder, write_ahead
from workshop.signing_keys import trusted_keys

STAMP: Final = "%Y%m%dT%H%M%SZ"
MARGIN_BYTES: Final = 16 * 1024 * 1024
MB: Final = 1024 * 1024


@dataclass(frozen=True, slots=True)
class Present:
    """Whose data lie in the data folder now; without contents where they cannot be read."""

    workshop_id: str
    shop_name: str
    contents: Contents | None


@dataclass(frozen=True, slots=True)
class Loss:
    """What a job would lose: entries made since, or the whole job."""

    job: str
    entries: int
    whole: bool


@dataclass(frozen=True, slots=True)
class Plan:
    """A backup that was unpacked and checked, ready to take the place of the data."""

    places: Places
    manifest: Manifest
    folder: Path
    present: Present | None
    losses: tuple[Loss, ...]
    besides: Besides
    signed_here: bool = False


def losses(now: tuple[Head, ...], then: tuple[Head, ...]) -> tuple[Loss, ...]:
    """Compare the chain heads of the data with those of a backup.

    Examples
    --------
    >>> losses((Head("W1", 5, "e"), Head("W2", 2, "b")), (Head("W1", 3, "c"),))
    (Loss(job='W1', entries=2, whole=False), Loss(job='W2', entries=2, whole=True))
    """
    before = {head.job: head for head in then}
    lost = []
    for head in now:
        kept = before.get(head.job)
        if kept is None:
            lost.append(Loss(head.job, head.count, whole=True))
        elif head.count > kept.count:
            lost.append(Loss(head.job, head.count - kept.count, whole=False))
        elif (head.count, head.hash) == (kept.count, kept.hash):
            continue
        elif head.count == kept.count:
            # Same length, another end: the two went different ways at a place not known.
            lost.append(Loss(head.job, head.count, whole=False))
    return tuple(lost)


def present_in(here: Places) -> Present | None:
    """Say whose data lie in the folder; None where there are none.

    A database whose log is damaged is not opened: the index would be made anew, and `up` would
    know of no loss any more where the restore is declined.
    """
    if here.database.is_file() and write_ahead.log_fault(here.database) is not None:
        return _noted(here) or Present("", "", None)
    try:
        with database.reading(here.database) as live:
            if database.is_bare(live):
                return _noted(here)
            contents = database.contents_of(live)
    except BackupRefused as refused:
        return None if refused.code == "no_database" and not _noted(here) else _noted(here)
    except database.SqliteError:
        return _noted(here) or Present("", "", None)
    return Present(contents.workshop_id, contents.shop_name, contents)


def _besides(here: Places, present: Present | None, restored: Path) -> Besides:
    """Say what would be lost beside entries, where the present data can be read."""
    if present is None or present.contents is None:
        return Besides()
    with (
        database.reading(here.database) as live,
        database.reading(restored, alone=True) as then,
    ):
        return besides(live, then)


def _noted(here: Places) -> Present | None:
    """Take whose data they were from the note of the last backup."""
    attempt = shelf.last_attempt(here)
    if attempt is None or not attempt.workshop_id:
        return None
    return Present(attempt.workshop_id, attempt.shop_name, None)


@contextmanager
def prepared(
    here: Places, path: Path, now: datetime, *, foreign: bool, key: bytes | None = None
) -> Iterator[Plan]:
    """Check a backup fully, unpack it beside the data folder, and give the plan.

    Parameters
    ----------
    here : Places
        The data folder that it is to replace.
    path : Path
        The backup.
    now : datetime
        The time, for names.
    foreign : bool
        Whether another workshop's data may take the place of these.
    key : bytes | None
        The key typed from the sheet; that of the data folder where None.

    Yields
    ------
    Plan
        For ``put_in_place``. What was unpacked is removed after the block unless it was.

    Raises
    ------
    BackupRefused
        Where the file cannot be restored; the data folder has not been touched.
    """
    folder = here.data.with_name(f"{here.data.name}.restoring-{now.astimezone(UTC):{STAMP}}")
    try:
        key = keys.known_key(here.data) if key is None else key
        with checking.opened(path, key) as (archive, manifest):
            present = present_in(here)
            _refuse_foreign(path, manifest, present, foreign=foreign)
            _refuse_without_room(here.data.parent, manifest)
            folder.mkdir(mode=data_folder.OWNER_ONLY_FOLDER)
            checking.unpack(archive, manifest, path, folder)
        if key is not None:
            keys.take_along(key, folder)
        signed = checking.check_signature(manifest, trusted_keys(), path)
        restored = folder / data_folder.DATABASE_NAME
        contents = checking.check_database(restored, manifest, path)
        _refuse_newer(path, contents)
        held = present.contents.heads if present and present.contents else ()
        lost = losses(held, manifest.heads)
        beside = _besides(here, present, restored)
        yield Plan(here, manifest, folder, present, lost, beside, signed_here=signed)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _refuse_foreign(
    path: Path, manifest: Manifest, present: Present | None, *, foreign: bool
) -> None:
    """Refuse another workshop's backup."""
    if foreign or present is None or present.workshop_id in {"", manifest.workshop_id}:
        return
    raise BackupRefused(
        "other_workshop",
        path=str(path),
        theirs=manifest.shop_name or manifest.workshop_id,
        ours=present.shop_name or present.workshop_id,
    )


def _refuse_without_room(folder: Path, manifest: Manifest) -> None:
    """Refuse where what is inside does not fit on the disk of the data."""
    needed, free = manifest.size_bytes + MARGIN_BYTES, shutil.disk_usage(folder).free
    if free < needed:
        raise BackupRefused("no_room", needed_mb=needed // MB, free_mb=free // MB, path=str(folder))


def _refuse_newer(path: Path, contents: Contents) -> None:
    """Refuse a database that a newer program has changed."""
    loader = MigrationLoader(None, ignore_no_migrations=True)
    known = {f"{app}.{name}" for app, name in loader.disk_migrations}
    unknown = [name for name in contents.migrations if name not in known]
    if unknown:
        raise BackupRefused("newer_migrations", path=str(path), names=", ".join(unknown[:3]))


def put_in_place(plan: Plan, now: datetime) -> Path:
    """Set the data folder aside and let the restored one take its name; give the old one's.

    Raises
    ------
    BackupRefused
        Where the folders cannot be renamed; the data are as they were.
    """
    here, told = plan.places, plan.manifest
    data_folder.begin_epoch(plan.folder)
    moved = Places(plan.folder, here.shelf)
    shelf.note(
        moved,
        shelf.Attempt(tried_at=now, workshop_id=told.workshop_id, shop_name=told.shop_name),
    )
    data_folder.prepare(plan.folder)
    if hasattr(os, "sync"):
        os.sync()
    aside = here.data.with_name(f"{here.data.name}.before-restore-{now.astimezone(UTC):{STAMP}}")
    try:
        here.data.rename(aside)
    except OSError as reason:
        raise _not_renamed(here, reason) from None
    try:
        plan.folder.rename(here.data)
    except OSError as reason:
        aside.rename(here.data)
        raise _not_renamed(here, reason) from None
    data_folder.sync_folder(here.data.parent)
    return aside


def _not_renamed(here: Places, reason: OSError) -> BackupRefused:
    """Say that the folder stayed."""
    return BackupRefused("rename", path=str(here.data), why=reason.strerror or str(reason))


def take_backups_along(here: Places, aside: Path) -> bool:
    """Move the backups that lay in the old data folder into the new one; say whether it worked."""
    left = aside / data_folder.BACKUPS_NAME
    if not shelf.lies_inside(here) or not left.is_dir():
        return True
    try:
        left.rename(here.shelf)
    except OSError:
        return False
    return True
