"""The restore drill: the newest backup is unpacked, brought up to date and verified, then removed.

That a file can be read says little; that a shop can start from it and every chain verifies is what
one needs to know before the day it is needed. It happens beside the data, in processes of its own.
"""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from django.conf import settings

from workshop.backups import checking, keys, shelf
from workshop.backups.keeping import newest_good
from workshop.backups.places import Places
from workshop.backups.refusal import BackupRefused
from workshop.serving import data_folder

__all__ = ["DUE_AFTER", "OVERDUE_AFTER", "Drill", "attend", "last_drill", "practise"]

NOTE_NAME: Final = "drill.json"
DUE_AFTER: Final = timedelta(days=7)
OVERDUE_AFTER: Final = timedelta(days=9)
NEW_FOR: Final = timedelta(days=1)
STEPS: Final = (("migrate", "--no-input", "-v", "0"), ("guard",), ("verify",))
STEP_WITHIN_S: Final = 3600


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill:
    """What came of a drill; `why` is empty where the backup proved restorable."""

    at: datetime
    name: str
    why: str = ""


def last_drill(data: Path) -> Drill | None:
    """Give what came of the last drill; None before the first, or where the note is lost."""
    try:
        content = json.loads((data / NOTE_NAME).read_bytes())
        at = datetime.fromisoformat(content["at"])
        return Drill(at=at, name=str(content["name"]), why=str(content["why"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


@contextmanager
def _scratch(here: Places, now: datetime) -> Iterator[Path]:
    """Give a folder beside the data, removed afterwards whatever happens."""
    folder = here.data.with_name(f"{here.data.name}.drill-{now.astimezone(UTC):%Y%m%dT%H%M%SZ}")
    for left in here.data.parent.glob(f"{here.data.name}.drill-*"):
        shutil.rmtree(left, ignore_errors=True)
    folder.mkdir(mode=data_folder.OWNER_ONLY_FOLDER)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _run(folder: Path, words: tuple[str, ...]) -> str:
    """Run a command on the unpacked data; give what went wrong, or ""."""
    inherited = {name: text for name, text in os.environ.items() if "COLDBUS" not in name}
    own = {"COLDBUS_DATA": str(folder), "COLDBUS_OWN_PYTHON": "1"}
    done = subprocess.run(  # noqa: S603 - our own program and words
        [sys.executable, str(Path(settings.BASE_DIR) / "manage.py"), *words],
        env={**inherited, **own},
        capture_output=True,
        text=True,
        check=False,
        timeout=STEP_WITHIN_S,
    )
    if done.returncode == 0:
        return ""
    said = (done.stdout + done.stderr).strip().splitlines()
    return f"{words[0]}: {said[-1] if said else done.returncode}"


def practise(here: Places, now: datetime) -> Drill:
    """Restore the newest good backup into a folder of its own, verify it there, and note it.

    Parameters
    ----------
    here : Places
        The data folder and the folder of its backups.
    now : datetime
        The time.

    Raises
    ------
    BackupRefused
        Where there is no backup.
    """
    attempt = shelf.last_attempt(here)
    kept = shelf.kept_in(here.shelf, attempt.workshop_id if attempt else "")
    newest = newest_good(kept, now)
    if newest is None:
        raise BackupRefused("no_backup", path=str(here.shelf))
    path = next(each.path for each in kept if each.name == newest.name)
    drill = Drill(at=now, name=newest.name, why=_faults(here, path, now))
    note = json.dumps({**asdict(drill), "at": now.isoformat()}).encode()
    data_folder.replace_file(here.data / NOTE_NAME, note)
    return drill


def _faults(here: Places, path: Path, now: datetime) -> str:
    """Go through the steps of a restore; give the first thing that is wrong, or ""."""
    try:
        with _scratch(here, now) as folder:
            with checking.opened(path, keys.known_key(here.data)) as (archive, manifest):
                checking.unpack(archive, manifest, path, folder)
            checking.check_database(folder / data_folder.DATABASE_NAME, manifest, path)
            data_folder.prepare(folder)
            steps = (_run(folder, words) for words in STEPS)
            return next((why for why in steps if why), "")
    except BackupRefused as refused:
        return str(refused.parameters.get("why", refused.code))
    except (OSError, subprocess.TimeoutExpired) as reason:
        return str(reason)


def attend(here: Places, now: datetime) -> Drill | None:
    """Practise where a week has passed and there is a backup; None where it is not due.

    Data that began less than a day ago are left alone: on its first day a shop has other things
    to do, and little to lose.
    """
    last = last_drill(here.data)
    if last is not None and now - last.at < DUE_AFTER:
        return None
    if last is None and _are_new(here.data, now):
        return None
    try:
        return practise(here, now)
    except BackupRefused:
        return None


def _are_new(data: Path, now: datetime) -> bool:
    try:
        since = datetime.fromtimestamp((data / data_folder.EPOCH_NAME).stat().st_mtime, UTC)
    except OSError:
        return True
    return now - since < NEW_FOR
