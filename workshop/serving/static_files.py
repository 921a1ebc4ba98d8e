"""Collecting the static files into the data folder, only when one of them changed."""

import hashlib
import os
import shutil
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command

from workshop.serving import data_folder

MARKER_NAME = "staticfiles.sha256"


def collect_changed() -> bool:
    """Collect where a source differs from what was collected last; say whether it was needed.

    What was collected is on the disk before the marker says so. Whatever a power cut left without
    a marker is thrown away unread.
    """
    marker = Path(settings.COLDBUS_DATA) / MARKER_NAME
    fingerprint = fingerprint_of_sources()
    root = Path(settings.STATIC_ROOT)
    if root.is_dir() and marker.is_file() and marker.read_text(encoding="ascii") == fingerprint:
        return False
    marker.unlink(missing_ok=True)
    data_folder.sync_folder(marker.parent)
    shutil.rmtree(root, ignore_errors=True)
    call_command("collectstatic", interactive=False, verbosity=0)
    _sync_files(root)
    data_folder.replace_file(marker, fingerprint.encode("ascii"))
    return True


def _sync_files(root: Path) -> None:
    """Bring every file below a folder to the disk, with its name."""
    for folder, _, names in os.walk(root):
        for name in names:
            with (Path(folder) / name).open("rb+") as file:
                os.fsync(file.fileno())
        data_folder.sync_folder(Path(folder))


def fingerprint_of_sources() -> str:
    """Return a digest over name, size and time of every source file, and the way it is stored."""
    digest = hashlib.sha256(settings.STORAGES["staticfiles"]["BACKEND"].encode())
    for finder in get_finders():
        for name, storage in finder.list([]):
            state = Path(storage.path(name)).stat()
            digest.update(f"{name}\0{state.st_size}\0{state.st_mtime_ns}\n".encode())
    return digest.hexdigest()
