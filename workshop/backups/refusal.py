"""Why a backup or a restore could not be done: a stable code with parameters.

The sentence is made when it is shown.
"""

from collections.abc import Mapping
from typing import Final

from django.utils.translation import gettext, gettext_noop
from typing_extensions import override

SENTENCES: Final[Mapping[str, str]] = {
    "restore_on_server": gettext_noop(
        "The data lie in PostgreSQL. Restore into a data folder without COLDBUS_DATABASE_URL; then "
        "move --to takes them into an empty database."
    ),
    "not_before_update": gettext_noop(
        "A database in PostgreSQL is not backed up before its update: make a backup with the "
        "version that served until now, or with the server's own tools (pg_dump)."
    ),
    "no_database": gettext_noop("There is no database at {path} to back up."),
    "unreadable": gettext_noop("The database cannot be read: {why}."),
    "no_folder": gettext_noop(
        "The backup folder {path} cannot be used: {why}. Is the disk or stick plugged in?"
    ),
    "no_room": gettext_noop(
        "The backup needs about {needed_mb} MB and {path} has {free_mb} MB free. Make room, or "
        "set COLDBUS_BACKUPS to a larger disk."
    ),
    "busy": gettext_noop("Another backup is being made at this moment. Try again in a minute."),
    "disk": gettext_noop("The backup could not be written: {why}."),
    "exists": gettext_noop("{path} exists already; nothing is overwritten. Choose another name."),
    "not_backup": gettext_noop("{path} is not a backup of Coldbus."),
    "damaged": gettext_noop("{path} is a damaged backup: {why}. Take another one."),
    "no_key": gettext_noop(
        "{path} is encrypted and the data folder has no key for it. Type the key from the sheet "
        "that was printed: --key."
    ),
    "other_key": gettext_noop(
        "{path} was encrypted with another key ({name}). Type the key from the sheet of that "
        "time: --key."
    ),
    "no_backup": gettext_noop("There is no good backup in {path} yet."),
    "newer_format": gettext_noop(
        "{path} was made by a newer Coldbus (backup format {format}). Bring this program up to "
        "date first."
    ),
    "newer_migrations": gettext_noop(
        "{path} was made by a newer Coldbus; this program does not know {names}. Bring this "
        "program up to date first."
    ),
    "other_workshop": gettext_noop(
        "{path} holds the data of the workshop “{theirs}”; this data folder belongs to “{ours}”. "
        "Nothing was changed. If the other workshop's data are really to take the place of these, "
        "say --as-new-workshop-data."
    ),
    "rename": gettext_noop(
        "The data folder {path} could not be renamed ({why}). The data are as they were."
    ),
    "failed_check": gettext_noop("The backup did not pass its check: {why}. It is kept as {name}."),
    "unexpected": gettext_noop("The backup stopped at an error of the program ({why})."),
}
"""Code to sentence."""


class BackupRefused(Exception):
    """A backup or a restore was refused.

    Parameters
    ----------
    code : str
        One of ``SENTENCES``.
    **parameters : str or int
        What the sentence needs.
    """

    def __init__(self, code: str, **parameters: str | int) -> None:
        super().__init__(code)
        self.code = code
        self.parameters = parameters

    @override
    def __str__(self) -> str:
        return sentence(self.code, self.parameters)


def sentence(code: str, parameters: Mapping[str, str | int]) -> str:
    """Say a refusal in the reader's language; an unknown code of an older program as it is."""
    text = SENTENCES.get(code)
    if text is None:
        return code
    try:
        return gettext(text).format(**parameters)
    except (KeyError, IndexError):
        return code
