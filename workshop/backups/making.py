"""Making a backup: copy, pack, read back, and only then give it its name."""

import os
import re
import shutil
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from importlib import metadata
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from workshop import signing_keys
from workshop.backups import checking, database, keys, shelf
from workshop.backups import manifest as manifests
from workshop.backups.database import Contents
from workshop.backups.live import live_database
from workshop.backups.manifest import MANIFEST_NAME, Manifest, Member
from workshop.backups.places import Places, key_files, keys_from_outside
from workshop.backups.refusal import BackupRefused
from workshop.backups.sealing import SealedWriter
from workshop.serving import data_folder

MARGIN_BYTES: Final = 16 * 1024 * 1024
MB: Final = 1024 * 1024
# A picture on its way gets its name when it is written; it belongs to no entry before.
UNFINISHED: Final = re.compile(r".*\.[0-9a-f]{32}")


@dataclass(frozen=True, slots=True)
class Made:
    """A backup that passed its check."""

    path: Path
    manifest: Manifest


@dataclass(frozen=True, slots=True)
class _Order:
    """What is to be made."""

    places: Places
    reason: str
    now: datetime
    folder: Path
    to: Path | None


def make(places: Places, reason: str, now: datetime, to: Path | None = None) -> Made:
    """Make a backup and check it; reads the live database and writes nothing there.

    Parameters
    ----------
    places : Places
        The data folder and the folder of its backups.
    reason : str
        One of ``manifest.REASONS``.
    now : datetime
        The time.
    to : Path or None
        A folder or a file elsewhere, for a copy that is not counted among the shop's own.

    Returns
    -------
    Made
        The file, checked.

    Raises
    ------
    BackupRefused
        Where nothing good came of it; the last attempt is noted unless ``to`` is given.
    """
    with shelf.only_one(places):
        known = shelf.last_attempt(places)
        try:
            made = _made(places, reason, now, to)
        except BackupRefused as refused:
            if to is None:
                whose = (known.workshop_id, known.shop_name) if known else ("", "")
                shelf.note(
                    places,
                    shelf.Attempt(
                        tried_at=now,
                        code=refused.code,
                        parameters=refused.parameters,
                        workshop_id=whose[0],
                        shop_name=whose[1],
                    ),
                )
            raise
        if to is None:
            told = made.manifest
            shelf.note(
                places,
                shelf.Attempt(tried_at=now, workshop_id=told.workshop_id, shop_name=told.shop_name),
            )
        return made


def _made(places: Places, reason: str, now: datetime, to: Path | None) -> Made:
    """Make it; whatever the disk or SQLite says becomes a refusal."""
    folder = shelf.ready(places) if to is None else _folder_of(to)
    try:
        return _in_steps(_Order(places, reason, now, folder, to))
    except OSError as reason_:
        raise BackupRefused("disk", why=reason_.strerror or str(reason_)) from None
    except database.SqliteError as reason_:
        raise BackupRefused("unreadable", why=str(reason_)) from None


def _folder_of(to: Path) -> Path:
    """Give the folder that a path given by hand means."""
    folder = to if to.is_dir() else to.parent
    if not folder.is_dir():
        raise BackupRefused("no_folder", path=str(folder), why="there is no such folder")
    if to.is_file():
        raise BackupRefused("exists", path=str(to))
    return folder


def _in_steps(order: _Order) -> Made:
    """Copy, pack, check, name."""
    stem = f".coldbus-{order.now:%H%M%S}-{os.getpid()}"
    # What is not sealed lies in the data folder only, never on a stick.
    copied = order.places.data / f"{stem}-database{shelf.PART}"
    packed = order.folder / f"{stem}{shelf.PART}"
    again = order.places.data / f"{stem}-again{shelf.PART}"
    try:
        data_folder.new_file(copied).close()
        with live_database(order.places) as live:
            _refuse_without_room(order, live.size_bytes())
            least = live.heads()
            live.copy(copied)
        with database.reading(copied, alone=True) as connection:
            why = database.faults(connection, least)
            contents = database.contents_of(connection)
        manifest = _pack(order, copied, packed, contents)
        why = why or _read_back(order, packed, again, manifest)
        return _name(order, packed, manifest, why, ZoneInfo(contents.time_zone))
    finally:
        for left in (copied, packed, again):
            left.unlink(missing_ok=True)


def _refuse_without_room(order: _Order, database_bytes: int) -> None:
    """Refuse where copy and file do not fit; a full disk would stop the shop."""
    pictures = sum(path.stat().st_size for path in _attachments(order.places))
    needed = 3 * database_bytes + pictures + MARGIN_BYTES
    for folder in (order.folder, order.places.data):
        free = shutil.disk_usage(folder).free
        if free < needed:
            raise BackupRefused(
                "no_room", needed_mb=needed // MB, free_mb=free // MB, path=str(folder)
            )


def _attachments(places: Places) -> Iterator[Path]:
    """List the pictures and certificates, those on their way left out."""
    for path in sorted(places.attachments.rglob("*")):
        if path.is_file() and not UNFINISHED.fullmatch(path.name):
            yield path


def _pack(order: _Order, copied: Path, packed: Path, contents: Contents) -> Manifest:
    """Write everything into one file, the manifest last."""
    places = order.places
    with data_folder.new_file(packed) as file:
        sealed = SealedWriter(file, keys.key_of(places.data))
        with zipfile.ZipFile(sealed, "w", allowZip64=True) as archive:
            members = [_put(archive, copied, data_folder.DATABASE_NAME, order.now, squeeze=True)]
            members += [
                _put(archive, path, path.name, order.now) for path in key_files(places.data)
            ]
            members += [
                _put(archive, path, path.relative_to(places.data).as_posix(), order.now)
                for path in _attachments(places)
            ]
            manifest = _manifest(order, contents, tuple(members))
            archive.writestr(
                _info(MANIFEST_NAME, order.now, squeeze=True), manifests.write(manifest)
            )
        sealed.finish()
        file.flush()
        os.fsync(file.fileno())
    return manifest


def _info(name: str, now: datetime, *, squeeze: bool) -> zipfile.ZipInfo:
    """Describe a member: for its owner only, squeezed where that pays."""
    # The format knows no earlier year.
    info = zipfile.ZipInfo(name, max(now.timetuple()[:6], (1980, 1, 1, 0, 0, 0)))
    info.external_attr = data_folder.OWNER_ONLY_FILE << 16
    info.compress_type = zipfile.ZIP_DEFLATED if squeeze else zipfile.ZIP_STORED
    return info


def _put(
    archive: zipfile.ZipFile, path: Path, name: str, now: datetime, *, squeeze: bool = False
) -> Member:
    """Write one file into the archive, piece by piece."""
    info = _info(name, now, squeeze=squeeze)
    with path.open("rb") as source, archive.open(info, "w", force_zip64=True) as target:
        size, digest = checking.pour(source, target.write)
    return Member(name, size, digest)


def _manifest(order: _Order, contents: Contents, members: tuple[Member, ...]) -> Manifest:
    """Say what is inside."""
    held = {member.name.rsplit("/", 1)[-1] for member in members}
    manifest = Manifest(
        workshop_id=contents.workshop_id,
        shop_name=contents.shop_name,
        app_version=_version(),
        migrations=contents.latest_migrations,
        made_at=order.now,
        reason=order.reason,
        jobs=contents.jobs,
        entries=contents.entries,
        heads=contents.heads,
        members=members,
        epoch=data_folder.epoch_of(order.places.data),
        missing_attachments=tuple(each for each in contents.attachments if each not in held),
        keys_from_outside=keys_from_outside(),
    )
    signed = signing_keys.sign(manifests.signed_words(manifest))
    return replace(manifest, key_id=signed.key_id, signature=signed.signature.hex())


def _version() -> str:
    """Give the program's version; it is not always installed as a package."""
    try:
        return metadata.version("coldbus")
    except metadata.PackageNotFoundError:
        return "0"


def _read_back(order: _Order, packed: Path, again: Path, manifest: Manifest) -> str:
    """Read the finished file as a restore would; say what is wrong, or ""."""
    try:
        with checking.opened(packed, keys.key_of(order.places.data)) as (archive, told):
            if told != manifest:
                return "its manifest reads differently"
            checking.unpack(archive, told, packed, None)
            checking.unpack_database(archive, again)
        checking.check_database(again, manifest, packed)
    except BackupRefused as refused:
        return str(refused.parameters.get("why", refused))
    return ""


def _name(order: _Order, packed: Path, manifest: Manifest, why: str, zone: ZoneInfo) -> Made:
    """Give the file its name, set apart where it failed, and tidy the shelf."""
    stem = shelf.name_of(manifest.workshop_id, order.now, order.reason, failed=bool(why))
    target = order.folder / f"{stem}{shelf.SUFFIX}"
    if order.to is not None and not order.to.is_dir() and not why:
        target = order.to
    if target.exists():
        raise BackupRefused("exists", path=str(target))
    packed.replace(target)
    data_folder.sync_folder(order.folder)
    if order.to is None:
        shelf.tidy(order.places, manifest.workshop_id, order.now, zone)
    if why:
        raise BackupRefused("failed_check", why=why, name=target.name)
    return Made(target, manifest)
