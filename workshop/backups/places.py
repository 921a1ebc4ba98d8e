"""Where the data, the backups and the notes about them lie."""

import os
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from workshop.serving import data_folder

STATUS_NAME = "backup_status.json"
LOCK_NAME = "backup.lock"
KEY_VARIABLES = {
    data_folder.KEY_NAME: "COLDBUS_SECRET_KEY",
    data_folder.PEPPER_NAME: "COLDBUS_PEPPER",
    data_folder.SIGNING_NAME: "COLDBUS_SIGNING_KEY",
}


@dataclass(frozen=True, slots=True)
class Places:
    """The data folder and the folder of its backups."""

    data: Path
    shelf: Path
    on_server: bool = False
    """Whether the data lie in a database on a server, beside the files of the folder."""

    @property
    def database(self) -> Path:
        """The live database; only SQLite may open it."""
        return self.data / data_folder.DATABASE_NAME

    @property
    def attachments(self) -> Path:
        """The pictures and certificates."""
        return self.data / data_folder.ATTACHMENTS_NAME

    @property
    def status(self) -> Path:
        """The note of what came of the last backup."""
        return self.data / STATUS_NAME

    @property
    def lock(self) -> Path:
        """The file whose lock is held while a backup is made."""
        return self.data / LOCK_NAME


def is_sqlite() -> bool:
    """Say whether the data lie in the shop's own SQLite file."""
    return str(settings.DATABASES["default"]["ENGINE"]).endswith("sqlite3")


def places() -> Places:
    """Give the places of this installation."""
    data, shelf = Path(settings.COLDBUS_DATA), Path(settings.COLDBUS_BACKUPS)
    return Places(data, shelf, on_server=not is_sqlite())


def keys_from_outside() -> tuple[str, ...]:
    """Name the keys that the environment gives, so that no file of the folder holds them."""
    given = (name for name in KEY_VARIABLES.values() if os.environ.get(name, "").strip())
    return tuple(sorted(given))


def key_files(data: Path) -> list[Path]:
    """List the small files that a restored folder needs beside the database."""
    outside = keys_from_outside()
    names = [
        name
        for name in (
            data_folder.KEY_NAME,
            data_folder.PEPPER_NAME,
            data_folder.SEAL_NAME,
            data_folder.SEALS_NAME,
            data_folder.SIGNING_NAME,
            data_folder.SIGNINGS_NAME,
            data_folder.AUTHORITY_NAME,
            data_folder.AUTHORITY_KEY_NAME,
            data_folder.PRACTICE_NAME,
        )
        if KEY_VARIABLES.get(name) not in outside
    ]
    return [data / name for name in names if (data / name).is_file()]
