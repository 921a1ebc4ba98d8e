"""The shop's data folder: where it is, who may read it, and what disk it must not be on.

Imported before Django, so standard library only. Everything a shop must not lose lies here:
database, attachments, keys.
"""

import os
import secrets
import uuid
from dataclasses import dataclass
from pathlib import Path
from typing import IO

VARIABLE = "COLDBUS_DATA"
KEY_NAME = "secret_key"
PEPPER_NAME = "pepper"
PRACTICE_NAME = "practice"
DATABASE_NAME = "coldbus.sqlite3"
ATTACHMENTS_NAME = "attachments"
BACKUPS_NAME = "backups"
EPOCH_NAME = "epoch"
SERVING_NAME = "serving"
SEAL_NAME = "seal_key.pem"
SEALS_NAME = "seal_keys.json"
SIGNING_NAME = "signing_key.pem"
SIGNINGS_NAME = "signing_keys.json"
AUTHORITY_NAME = "authority.crt"
AUTHORITY_KEY_NAME = "authority.key"
EPOCHS_KEPT = 100
OWNER_ONLY_FOLDER = 0o700
OWNER_ONLY_FILE = 0o600

# The write-ahead log needs memory shared by all who open the file: one machine only.
NETWORK_FILE_SYSTEMS = frozenset(
    {"nfs", "nfs4", "cifs", "smb3", "smbfs", "ncpfs", "afs", "ceph", "glusterfs", "davfs"}
    | {"fuse.sshfs", "fuse.glusterfs", "fuse.davfs2", "fuse.rclone", "9p", "vboxsf"}
)
# A folder that a synchronising program copies behind our back.
SYNC_FOLDER_WORDS = ("dropbox", "onedrive", "nextcloud", "google drive", "icloud", "syncthing")


@dataclass(frozen=True)
class Mount:
    """One mounted file system."""

    point: Path
    kind: str


def location(root: Path) -> Path:
    """Return the data folder: COLDBUS_DATA, or .coldbus beside manage.py."""
    given = os.environ.get(VARIABLE, "").strip()
    return Path(given).expanduser().absolute() if given else root / ".coldbus"


def prepare(folder: Path) -> None:
    """Make the folder and its secrets, readable by their owner only.

    An empty one is made anew, as an older release could leave it behind at a power cut; but never
    the pepper of data that were in use, without which no PIN would be right any more. A database
    on a server shows by the epoch alone.
    """
    folder.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
    in_use = (folder / DATABASE_NAME).exists() or (folder / EPOCH_NAME).exists()
    for name in (KEY_NAME, PEPPER_NAME):
        path, is_needed = folder / name, name == PEPPER_NAME and in_use
        if path.is_file() and not path.stat().st_size and not is_needed:
            path.unlink()
        if not path.exists():
            make_secret(path)


def mark_as_practice(folder: Path) -> None:
    """Note for good that the data are invented, so that their clock may be set."""
    (folder / PRACTICE_NAME).write_text("Invented data; never book a real job here.\n", "ascii")


def is_practice(folder: Path) -> bool:
    """Say whether the data of the folder are invented."""
    return (folder / PRACTICE_NAME).exists()


def epoch_of(folder: Path) -> str:
    """Give the mark of this epoch of the data; "" before the first start.

    It changes when a backup is restored, or after an end without order: what was acknowledged
    before may be gone then, and whoever holds receipts sends again.
    """
    return next(iter(epochs_of_life(folder)), "")


def epochs_of_life(folder: Path) -> tuple[str, ...]:
    """Give the marks of all epochs since the data were last replaced, the present one first.

    What was recorded in one of them has to be there still.
    """
    file = folder / EPOCH_NAME
    return tuple(file.read_text(encoding="ascii").split()) if file.is_file() else ()


def begin_epoch(folder: Path, *, of_this_life: bool = False) -> str:
    """Write a new mark and return it; of the same life where the data were not replaced.

    The file keeps its time, which says since when there are data in the folder.
    """
    epoch = str(uuid.uuid4())
    before = epochs_of_life(folder)[: EPOCHS_KEPT - 1] if of_this_life else ()
    raw = "\n".join([epoch, *before, ""]).encode("ascii")
    replace_file(folder / EPOCH_NAME, raw, keep_time=True)
    return epoch


def begin_serving(folder: Path) -> None:
    """Note that the data are served from now on; the note outlives whoever is killed."""
    replace_file(folder / SERVING_NAME, b"Being served, or not stopped in order.\n")


def ended_in_order(folder: Path) -> bool:
    """Say whether whoever served the data last has stopped in order."""
    return not (folder / SERVING_NAME).exists()


def end_serving(folder: Path) -> None:
    """Take the note away again."""
    (folder / SERVING_NAME).unlink(missing_ok=True)


def new_file(path: Path) -> IO[bytes]:
    """Make a file that only its owner can read, and open it for writing; it must not exist."""
    descriptor = os.open(
        path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), OWNER_ONLY_FILE
    )
    return os.fdopen(descriptor, "wb")


def replace_file(path: Path, raw: bytes, *, keep_time: bool = False) -> None:
    """Put a file in place of the one before, through to the disk; only its owner can read it.

    ``keep_time`` gives it the time of the one before.
    """
    unfinished = path.with_name(f"{path.name}.new")
    unfinished.unlink(missing_ok=True)
    with new_file(unfinished) as file:
        file.write(raw)
        file.flush()
        os.fsync(file.fileno())
    if keep_time and path.exists():
        before = path.stat()
        os.utime(unfinished, ns=(before.st_atime_ns, before.st_mtime_ns))
    unfinished.replace(path)
    sync_folder(path.parent)


def make_file_once(path: Path, raw: bytes) -> None:
    """Put a file where none is, whole or not at all; of several who try at once, one does."""
    unfinished = path.with_name(f"{path.name}.{secrets.token_hex(4)}")
    with new_file(unfinished) as file:
        file.write(raw)
        file.flush()
        os.fsync(file.fileno())
    try:
        os.link(unfinished, path)
    except FileExistsError:
        pass
    finally:
        unfinished.unlink()
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Let a name given to a file survive a power cut, where the system offers that."""
    if os.name != "posix":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def make_secret(path: Path) -> None:
    """Write a new secret through to the disk, to a file that only its owner can read."""
    with new_file(path) as file:
        file.write((secrets.token_urlsafe(50) + "\n").encode("ascii"))
        file.flush()
        os.fsync(file.fileno())
    sync_folder(path.parent)


def read_mounts(table: str) -> list[Mount]:
    r"""Return the mounts in the text of /proc/mounts.

    Examples
    --------
    >>> read_mounts("box:/share /mnt/shop\\040data nfs4 rw 0 0")
    [Mount(point=PosixPath('/mnt/shop data'), kind='nfs4')]
    """
    mounts = []
    for line in table.splitlines():
        _device, point, kind, *_rest = line.split(" ")
        # Spaces are written as octal escapes there.
        plain = point.encode("latin-1").decode("unicode_escape")
        mounts.append(Mount(Path(plain.encode("latin-1").decode("utf-8", "replace")), kind))
    return mounts


def objection_to(folder: Path, mounts: list[Mount]) -> str | None:
    """Return why the folder cannot hold the data, or None where nothing speaks against it."""
    place = folder.resolve()
    if str(place).startswith("\\\\"):
        return f"{place} is on a network drive; the data must lie on this computer's own disk."
    # Later mounts cover earlier ones, so the last of the deepest is what one sees.
    holding = [mount for mount in reversed(mounts) if place.is_relative_to(mount.point)]
    deepest = max(holding, key=lambda mount: len(mount.point.parts), default=None)
    if deepest is not None and deepest.kind in NETWORK_FILE_SYSTEMS:
        return (
            f"{place} is on a network drive ({deepest.kind}); "
            "the data must lie on this computer's own disk."
        )
    for part in place.parts:
        if any(word in part.lower() for word in SYNC_FOLDER_WORDS):
            return (
                f"{place} lies in a synchronised folder ({part}), which would damage the "
                "database; set COLDBUS_DATA to a folder outside it."
            )
    return None


def mounts_here() -> list[Mount]:
    """Return this computer's mounts; none where the system does not list them."""
    table = Path("/proc/self/mounts")
    if not table.exists():
        return []
    return read_mounts(table.read_text(encoding="utf-8", errors="replace"))
