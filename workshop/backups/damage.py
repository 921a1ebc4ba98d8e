"""Looking at the database before the start: is it whole, and if not, which backups there are."""

import shlex
from dataclasses import dataclass
from datetime import UTC
from typing import Final

from workshop.backups import checking, database, shelf
from workshop.backups.keys import known_key
from workshop.backups.manifest import Manifest
from workshop.backups.places import Places
from workshop.backups.refusal import BackupRefused
from workshop.backups.shelf import OnShelf
from workshop.figures_text import moment
from workshop.serving import data_folder
from workshop.serving.static_files import MARKER_NAME

SHOWN: Final = 5
MISSING: Final = "it is not there, although this data folder was in use"
EMPTY: Final = "the file is empty, although this data folder was in use"


@dataclass(frozen=True, slots=True)
class GoodBackup:
    """A backup that opens, with what it tells about itself."""

    kept: OnShelf
    manifest: Manifest


def was_in_use(here: Places) -> bool:
    """Say whether a database stood here at an earlier start."""
    signs = (
        here.data / data_folder.EPOCH_NAME,
        here.data / MARKER_NAME,
        here.attachments,
        here.status,
    )
    return any(sign.exists() for sign in signs)


def fault_of(here: Places) -> str:
    """Say what is wrong with the database; "" where it is whole, or where the shop is new."""
    if not here.database.is_file():
        return MISSING if was_in_use(here) else ""
    if not here.database.stat().st_size:
        return EMPTY if was_in_use(here) else ""
    try:
        with database.reading(here.database) as live:
            said = database.quick_faults(live)
            if said:
                return said
            return EMPTY if database.is_bare(live) and was_in_use(here) else ""
    except database.SqliteError as reason:
        return str(reason)
    except BackupRefused as refused:
        return str(refused.parameters["why"])


def good_backups(here: Places) -> list[GoodBackup]:
    """List the newest good backups that can still be opened, newest first."""
    attempt = shelf.last_attempt(here)
    found: list[GoodBackup] = []
    for kept in shelf.kept_in(here.shelf, attempt.workshop_id if attempt else ""):
        if kept.failed:
            continue
        try:
            with checking.opened(kept.path, known_key(here.data)) as (_archive, manifest):
                found.append(GoodBackup(kept, manifest))
        except BackupRefused:
            continue
        if len(found) == SHOWN:
            break
    return found


def words_about(here: Places, fault: str) -> str:
    """Say what is damaged, what there is to go back to, and the command that goes back."""
    lines = [
        f"The database cannot be used: {fault}.",
        "",
        "Nothing was changed or overwritten. The damaged file stays where it is:",
        f"    {here.database}",
        "A restore sets the whole data folder aside under another name and deletes nothing.",
        "",
    ]
    backups = good_backups(here)
    if not backups:
        lines += [
            f"There is no good backup in {here.shelf}.",
            "If one lies elsewhere, on a stick or another disk, run:",
            "    python3 manage.py restore FILE",
            "Otherwise keep the data folder as it is: what is in it can often be recovered by",
            "somebody who knows SQLite.",
        ]
        return "\n".join(lines)
    lines += ["Good backups, newest first:", *(_line(each) for each in backups), ""]
    newest = shlex.quote(str(backups[0].kept.path))
    lines += ["To go back to the newest, run:", f"    python3 manage.py restore {newest}"]
    lines += ["It says first what would be lost, and asks."]
    return "\n".join(lines)


def _line(backup: GoodBackup) -> str:
    """Describe one backup in a line."""
    made_at = backup.manifest.made_at.astimezone()
    when = moment(made_at, made_at.tzinfo or UTC).replace("\u00a0", " ")
    told = backup.manifest
    return f"    {when}  {told.jobs} jobs, {told.entries} entries  {backup.kept.path}"
