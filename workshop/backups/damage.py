"""Looking at the database before the start: is it whole, and if not, which ways on there are.

Damaged is what cannot be served; then a backup is restored. Lost is what was acknowledged and is
not there, while the rest is whole: the shop may go on with that, and every tablet sends again.
"""

import os
import shlex
import shutil
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import IntEnum
from pathlib import Path
from sqlite3 import Connection
from typing import Final

from workshop.backups import checking, database, shelf
from workshop.backups.keys import known_key
from workshop.backups.manifest import Manifest
from workshop.backups.places import Places
from workshop.backups.refusal import BackupRefused
from workshop.backups.shelf import OnShelf
from workshop.disk_full import is_disk_full
from workshop.figures_text import moment
from workshop.serving import data_folder, write_ahead
from workshop.serving.static_files import MARKER_NAME

SHOWN: Final = 5
LOOKED_AT: Final = 10
"""How many backups are opened to find one that can bear witness."""
STAMP: Final = "%Y%m%dT%H%M%SZ"
MISSING: Final = "it is not there, although this data folder was in use"
EMPTY: Final = "the file is empty, although this data folder was in use"


@dataclass(frozen=True, slots=True)
class GoodBackup:
    """A backup that opens, with what it tells about itself."""

    kept: OnShelf
    manifest: Manifest


class Weight(IntEnum):
    """How grave a finding is."""

    LOST = 1
    FOREIGN = 2
    DAMAGED = 3
    UNREAD = 4


@dataclass(frozen=True, slots=True)
class Found:
    """What is wrong, and how grave it is."""

    what: str
    weight: Weight

    @property
    def passable(self) -> bool:
        """Whether the shop may go on with what is there."""
        return self.weight < Weight.DAMAGED


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
    return _fault_in(here)


def _fault_in(here: Places, *, alone: bool = False) -> str:
    """Say what is wrong with a database that is there; ``alone`` leaves its log out."""
    try:
        with database.reading(here.database, alone=alone) as live:
            # The first reading tells a full disk from damage, which is not told apart below.
            is_bare = database.is_bare(live)
            said = database.quick_faults(live)
            if said:
                return said
            return EMPTY if is_bare and was_in_use(here) else ""
    except database.SqliteError as reason:
        if is_disk_full(reason, here.data):
            # Opening needs a little room; the database may well be whole.
            raise
        return str(reason)
    except BackupRefused as refused:
        return str(refused.parameters["why"])


def look(here: Places) -> Found | None:
    """Say what is wrong with the database and the log beside it; None where nothing is known."""
    log, found = _looked(here)
    if log is None:
        return found
    return Found(log.what, Weight.UNREAD if log.unread else Weight.LOST)


def _looked(here: Places) -> tuple[write_ahead.LogFault | None, Found | None]:
    """Say what is wrong with the log, and with the database as it is read with it.

    The log is looked at first, because opening the database changes the index beside it.
    """
    if not here.database.is_file() or not here.database.stat().st_size:
        said = fault_of(here)
        return None, Found(said, Weight.DAMAGED) if said else None
    fault = write_ahead.log_fault(here.database)
    if fault is not None:
        return fault, None
    log, _index = write_ahead.files_beside(here.database)
    has_log = log.is_file() and log.stat().st_size > 0
    witness = _witness(here)
    found = _judged(here, witness, has_log=has_log)
    if found is None or not has_log:
        return None, found
    without = _judged(here, witness, has_log=True, alone=True)
    if without is not None and without.weight >= found.weight:
        return None, found
    state = "whole" if without is None else "sounder"
    what = f"the log {log.name} beside it does not belong to it; without it the database is {state}"
    return write_ahead.LogFault(what, usable=False), found


def _judged(
    here: Places, witness: Manifest | None, *, has_log: bool, alone: bool = False
) -> Found | None:
    """Say the gravest that is wrong with a database; ``alone`` leaves its log out."""
    said = _fault_in(here, alone=alone)
    if said:
        return Found(said, Weight.DAMAGED)
    noted = shelf.last_attempt(here)
    with database.reading(here.database, alone=alone) as live:
        shops = database.rows(live, database.SHOP, "workshop_shop")
        if noted is not None and noted.workshop_id and shops:
            workshop_id, name, _zone = database.whose_rows(shops)
            if workshop_id != noted.workshop_id:
                what = f"the database is that of another workshop ({name})"
                return Found(what, Weight.FOREIGN)
        # Without a log nothing was mixed; what was changed by hand is for `verify` to tell.
        said = database.astray(live) if has_log else ""
        said = said or _behind(live, witness)
    return Found(said, Weight.LOST) if said else None


def _behind(live: Connection, witness: Manifest | None) -> str:
    """Say which entries of a backup are gone; "" where none are, or there is no such backup."""
    behind = [] if witness is None else list(database.behind(live, witness.heads))
    if not behind or witness is None:
        return ""
    others = f" and {len(behind) - 1} further jobs" if len(behind) > 1 else ""
    return f"job {behind[0]}{others} had entries in the backup of {_when(witness)} that are gone"


def _witness(here: Places) -> Manifest | None:
    """Find the newest good backup of these very data; what it holds has to be there still."""
    life = data_folder.epochs_of_life(here.data)
    for kept in shelf.kept_in(here.shelf)[:LOOKED_AT]:
        if kept.failed:
            continue
        try:
            with checking.opened(kept.path, known_key(here.data)) as (_archive, manifest):
                if manifest.epoch in life:
                    return manifest
        except BackupRefused:
            continue
    return None


def settle_log(here: Places, now: datetime) -> Path | None:
    """Set a log aside that is not whole, and take in what of it can be taken.

    Parameters
    ----------
    here : Places
        The data folder; nobody has its database open.
    now : datetime
        The time, for the name.

    Returns
    -------
    Path | None
        The folder in which log and index are kept as they were; None where the log is whole, or
        may not be read and so is left alone.
    """
    fault, _found = _looked(here)
    if fault is None or fault.unread:
        return None
    aside = here.data / f"log-set-aside-{now.astimezone(UTC):{STAMP}}"
    aside.mkdir(mode=data_folder.OWNER_ONLY_FOLDER)
    for path in write_ahead.files_beside(here.database):
        if not path.exists():
            continue
        if fault.usable:
            _copy_through(path, aside / path.name)
        else:
            path.replace(aside / path.name)
    data_folder.sync_folder(aside)
    data_folder.sync_folder(here.data)
    if fault.usable:
        database.take_log_in(here.database)
    return aside


def _copy_through(path: Path, target: Path) -> None:
    """Copy a file through to the disk."""
    with path.open("rb") as source, data_folder.new_file(target) as file:
        shutil.copyfileobj(source, file)
        file.flush()
        os.fsync(file.fileno())


def take_as_ours(here: Places, now: datetime) -> None:
    """Note that the data are those of the workshop in the database, which was another's before."""
    with database.reading(here.database) as live:
        workshop_id, name, _zone = database.whose(live)
    shelf.note(here, shelf.Attempt(tried_at=now, workshop_id=workshop_id, shop_name=name))


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


def words_of(here: Places, found: Found) -> str:
    """Say what was found, and the ways on."""
    if found.weight is Weight.UNREAD:
        return _words_about_unread(here, found.what)
    if found.passable:
        return words_about_loss(here, found.what)
    return words_about(here, found.what)


def _words_about_unread(here: Places, what: str) -> str:
    """Say that a file is not to be read: nothing may be missing at all."""
    lines = [
        f"The database cannot be opened: {what}.",
        "",
        "Nothing was changed, and nothing need be lost: as a rule the file belongs to another user",
        f"of this computer. All files of {here.data} have to",
        "belong to the one who starts the server. Do not delete it: what was recorded last lies in",
        "no other file.",
        "",
        "Where the disk itself fails, first copy what can still be read of the data folder. A",
        "restore sets the whole data folder aside under another name and deletes nothing.",
        *_ways_back(here),
    ]
    return "\n".join(lines)


def words_about_loss(here: Places, what: str) -> str:
    """Say what was lost, and the two ways on: with what is there, or back to a backup."""
    lines = [
        f"Entries that were acknowledged may be missing: {what}.",
        "",
        "Nothing was changed or overwritten. Two ways lead on. To go on with what is there, run:",
        "    python3 manage.py up --after-loss",
        "A damaged log is then set aside in the data folder, and every tablet sends again what it",
        "sent in the last seven days; nothing is recorded twice. Changes of registers and notes of",
        "the desk lie on no tablet: look through the latest.",
        "",
        "A restore sets the whole data folder aside under another name and deletes nothing.",
        *_ways_back(here),
    ]
    return "\n".join(lines)


def words_about(here: Places, fault: str) -> str:
    """Say what is damaged, what there is to go back to, and the command that goes back."""
    lines = [
        f"The database cannot be used: {fault}.",
        "",
        "Nothing was changed or overwritten. The damaged file stays where it is:",
        f"    {here.database}",
        "A restore sets the whole data folder aside under another name and deletes nothing.",
        "",
        *_ways_back(here),
    ]
    return "\n".join(lines)


def words_about_pepper(here: Places) -> str:
    """Say that the file is empty without which no PIN is right, and what there is to go back to."""
    what = f"its file {data_folder.PEPPER_NAME} is empty, and every PIN rests on that"
    if not here.on_server:
        return words_about(here, what)
    return (
        f"The database cannot be used: {what}. Nothing was changed. Bring\n"
        f"{here.data / data_folder.PEPPER_NAME} back; it is in every backup too, and\n"
        "manage.py restore FILE unpacks one where COLDBUS_DATA names another folder and\n"
        "COLDBUS_DATABASE_URL is not set."
    )


def _ways_back(here: Places) -> list[str]:
    """List the good backups and the command that goes back to the newest."""
    backups = good_backups(here)
    if not backups:
        return [
            f"There is no good backup in {here.shelf}.",
            "If one lies elsewhere, on a stick or another disk, run:",
            "    python3 manage.py restore FILE",
            "Otherwise keep the data folder as it is: what is in it can often be recovered by",
            "somebody who knows SQLite.",
        ]
    newest = shlex.quote(str(backups[0].kept.path))
    return [
        "Good backups, newest first:",
        *(_line(each) for each in backups),
        "",
        "To go back to the newest, run:",
        f"    python3 manage.py restore {newest}",
        "It says first what would be lost, and asks.",
    ]


def _line(backup: GoodBackup) -> str:
    """Describe one backup in a line."""
    told = backup.manifest
    return f"    {_when(told)}  {told.jobs} jobs, {told.entries} entries  {backup.kept.path}"


def _when(told: Manifest) -> str:
    """Say when a backup was made, on this computer's clock."""
    made_at = told.made_at.astimezone()
    return moment(made_at, made_at.tzinfo or UTC).replace("\u00a0", " ")
