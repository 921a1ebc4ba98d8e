"""Collecting the static files into the data folder, only when one of them changed."""

import hashlib
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command

MARKER_NAME = "staticfiles.sha256"


def collect_changed() -> bool:
    """Collect where a source differs from what was collected last; say whether it was needed."""
    marker = Path(settings.COLDBUS_DATA) / MARKER_NAME
    fingerprint = fingerprint_of_sources()
    collected = Path(settings.STATIC_ROOT).is_dir()
    if collected and marker.is_file() and marker.read_text(encoding="ascii") == fingerprint:
        return False
    call_command("collectstatic", interactive=False, clear=True, verbosity=0)
    marker.write_text(fingerprint, encoding="ascii")
    return True


def fingerprint_of_sources() -> str:
    """Return a digest over name, size and time of every source file, and the way it is stored."""
    digest = hashlib.sha256(settings.STORAGES["staticfiles"]["BACKEND"].encode())
    for finder in get_finders():
        for name, storage in finder.list([]):
            state = Path(storage.path(name)).stat()
            digest.update(f"{name}\0{state.st_size}\0{state.st_mtime_ns}\n".encode())
    return digest.hexdigest()
