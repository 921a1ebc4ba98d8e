"""Looking into a backup: is it one, is every byte as it was written, is its database whole."""

import hashlib
import io
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from pathlib import Path, PurePosixPath
from typing import IO, Final

from workshop.backups import database
from workshop.backups import manifest as manifests
from workshop.backups.database import Contents
from workshop.backups.manifest import MANIFEST_NAME, Manifest
from workshop.backups.refusal import BackupRefused
from workshop.backups.sealing import PIECE_BYTES, SealedReader, WrongKey, is_sealed
from workshop.serving import data_folder
from workshop.signing_keys import SigningKey

CHUNK_BYTES: Final = 1024 * 1024
MANIFEST_LIMIT_BYTES: Final = 256 * 1024 * 1024
UNREADABLE: Final = (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, OSError, ValueError)
PLAIN_NAMES: Final = frozenset(
    {
        data_folder.DATABASE_NAME,
        data_folder.KEY_NAME,
        data_folder.PEPPER_NAME,
        data_folder.PRACTICE_NAME,
        data_folder.SEAL_NAME,
        data_folder.SEALS_NAME,
        data_folder.SIGNING_NAME,
        data_folder.SIGNINGS_NAME,
        data_folder.AUTHORITY_NAME,
        data_folder.AUTHORITY_KEY_NAME,
    }
)
"""What may lie at the top of a backup, beside the manifest and the attachments."""


@contextmanager
def opened(path: Path, key: bytes | None = None) -> Iterator[tuple[zipfile.ZipFile, Manifest]]:
    """Open a backup and read its manifest; no member has been looked at yet.

    Parameters
    ----------
    path : Path
        The file; one from before backups were encrypted is read as well.
    key : bytes | None
        What it was sealed with.

    Raises
    ------
    BackupRefused
        Where it is no backup, a damaged one, or one of a newer format.
    """
    with ExitStack() as stack:
        archive = stack.enter_context(_archive(path, key, stack))
        try:
            if archive.getinfo(MANIFEST_NAME).file_size > MANIFEST_LIMIT_BYTES:
                raise BackupRefused("not_backup", path=str(path))
            raw = archive.read(MANIFEST_NAME)
        except KeyError:
            raise BackupRefused("not_backup", path=str(path)) from None
        except UNREADABLE as reason:
            raise BackupRefused("damaged", path=str(path), why=str(reason)) from None
        manifest = manifests.read(raw, str(path))
        _check_names(archive, manifest, path)
        yield archive, manifest


def _archive(path: Path, key: bytes | None, stack: ExitStack) -> zipfile.ZipFile:
    try:
        file: IO[bytes] = stack.enter_context(path.open("rb"))
        if is_sealed(file):
            if key is None:
                raise BackupRefused("no_key", path=str(path))
            file = io.BufferedReader(SealedReader(file, key), PIECE_BYTES)
        return zipfile.ZipFile(file)
    except WrongKey as other:
        raise BackupRefused("other_key", path=str(path), name=str(other)) from None
    except UNREADABLE as reason:
        raise _not_opened(path, str(reason)) from None


def _not_opened(path: Path, why: str) -> BackupRefused:
    """Tell a backup that lost its end from a file that never was one."""
    try:
        with path.open("rb") as file:
            if is_sealed(file):
                return BackupRefused("damaged", path=str(path), why=why)
            begins_like_one = file.read(4) == b"PK\x03\x04"
    except OSError as reason:
        return BackupRefused("damaged", path=str(path), why=reason.strerror or str(reason))
    if begins_like_one:
        return BackupRefused("damaged", path=str(path), why="its end is missing")
    return BackupRefused("not_backup", path=str(path))


def _check_names(archive: zipfile.ZipFile, manifest: Manifest, path: Path) -> None:
    """Refuse members that the manifest does not name, and names that lead elsewhere."""
    inside = sorted(archive.namelist())
    named = sorted([MANIFEST_NAME, *(member.name for member in manifest.members)])
    if inside != named:
        raise BackupRefused("damaged", path=str(path), why="members are missing or added")
    odd = [member.name for member in manifest.members if not is_plain(member.name)]
    if odd:
        raise BackupRefused("damaged", path=str(path), why=f"it holds {odd[0]!r}")


def is_plain(name: str) -> bool:
    """Say whether a member belongs into a data folder.

    Examples
    --------
    >>> [is_plain(name) for name in ("pepper", "attachments/ab/abc", "attachments/../x", "/x")]
    [True, True, False, False]
    """
    if name in PLAIN_NAMES:
        return True
    parts = PurePosixPath(name).parts
    return (
        len(parts) > 1
        and parts[0] == data_folder.ATTACHMENTS_NAME
        and "/".join(parts) == name
        and not any(part in {".", ".."} or set(part) & set("\\:\0") for part in parts)
    )


def pour(
    source: IO[bytes], take: Callable[[bytes], object], most_bytes: int | None = None
) -> tuple[int, str]:
    """Read a file piece by piece; give its size [bytes] and its SHA-256.

    What is longer than ``most_bytes`` is read no further: it is not what was written.
    """
    digest, size = hashlib.sha256(), 0
    while piece := source.read(CHUNK_BYTES):
        if most_bytes is not None and size + len(piece) > most_bytes:
            return size + len(piece), ""
        digest.update(piece)
        take(piece)
        size += len(piece)
    return size, digest.hexdigest()


def unpack(archive: zipfile.ZipFile, manifest: Manifest, path: Path, folder: Path | None) -> None:
    """Read every member and compare it with the manifest, writing it into ``folder`` if given.

    Raises
    ------
    BackupRefused
        At the first member that differs.
    """
    for member in manifest.members:
        target = None if folder is None else folder / member.name
        try:
            with archive.open(member.name) as source:
                most = member.size_bytes
                found = pour(source, len, most) if target is None else _write(source, target, most)
        except UNREADABLE as reason:
            why = f"{member.name} cannot be read ({reason})"
            raise BackupRefused("damaged", path=str(path), why=why) from None
        if found != (member.size_bytes, member.sha256):
            why = f"{member.name} is not what was written"
            raise BackupRefused("damaged", path=str(path), why=why)


def unpack_database(archive: zipfile.ZipFile, target: Path) -> None:
    """Write the database of a backup into a file."""
    with archive.open(data_folder.DATABASE_NAME) as source:
        _write(source, target)


def _write(source: IO[bytes], target: Path, most_bytes: int | None = None) -> tuple[int, str]:
    """Write a member into a file for its owner only; give size and digest."""
    target.parent.mkdir(mode=data_folder.OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
    with data_folder.new_file(target) as file:
        return pour(source, file.write, most_bytes)


def check_signature(manifest: Manifest, keys: Mapping[str, SigningKey], path: Path) -> bool:
    """Hold the list of heads against its signature; say whether one of the keys made it.

    Raises
    ------
    BackupRefused
        Where a known key is named and its signature does not fit.
    """
    key = keys.get(manifest.key_id)
    if key is None:
        return False
    try:
        signature = bytes.fromhex(manifest.signature)
    except ValueError:
        signature = b""
    if not key.fits(manifests.signed_words(manifest), signature):
        why = "the signature of its list of heads does not fit"
        raise BackupRefused("damaged", path=str(path), why=why)
    return True


def check_database(file: Path, manifest: Manifest, path: Path) -> Contents:
    """Look at an unpacked database as closely as can be, and compare it with the manifest.

    Raises
    ------
    BackupRefused
        Where it is damaged or is not the one the manifest speaks of.
    """
    try:
        with database.reading(file, alone=True) as connection:
            why = database.faults(connection, manifest.heads)
            contents = None if why else database.contents_of(connection)
    except database.SqliteError as reason:
        raise BackupRefused("damaged", path=str(path), why=str(reason)) from None
    if contents is None:
        raise BackupRefused("damaged", path=str(path), why=why)
    if (contents.workshop_id, contents.heads) != (manifest.workshop_id, manifest.heads):
        why = "its database is not the one its manifest speaks of"
        raise BackupRefused("damaged", path=str(path), why=why)
    return contents
