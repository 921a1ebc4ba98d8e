"""The daily backup: a thread in the server's worker that asks every few minutes whether it is due.

In the worker, because nothing is forked from it: a parent that held a database open, or a lock of
SQLite, must not fork. Of several workers one does it (`serving.one_of_many`), and the lock of the
backups keeps any other out.
"""

import logging
import time
from datetime import UTC, datetime, tzinfo
from threading import Thread
from typing import Final
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import connections

from workshop import clock
from workshop.backups import database, drill, shelf
from workshop.backups.keeping import is_due, newest_good
from workshop.backups.live import live_database
from workshop.backups.making import Made, make
from workshop.backups.manifest import BY_HAND, DAILY
from workshop.backups.places import Places, is_sqlite, places
from workshop.backups.refusal import BackupRefused
from workshop.serving.one_of_many import is_the_one

FIRST_LOOK_AFTER_S: Final = 20
LOOK_EVERY_S: Final = 300
LOG = logging.getLogger("coldbus.backups")


def attend(here: Places, now: datetime, hour: int) -> Made | None:
    """Make the daily backup if it is due; None where it is not.

    Parameters
    ----------
    here : Places
        The data folder and the folder of its backups.
    now : datetime
        The time.
    hour : int
        Local hour at which the shop is usually closed [h].

    Raises
    ------
    BackupRefused
        Where it was due and nothing good came of it.
    """
    workshop_id, zone = _whose(here)
    attempt = shelf.last_attempt(here)
    newest = newest_good(shelf.kept_in(here.shelf, workshop_id), now)
    due = is_due(
        now,
        newest.made_at if newest else None,
        tried=attempt.tried_at if attempt and attempt.failed else None,
        zone=zone,
        hour=hour,
    )
    return make(here, DAILY, now) if due else None


def _whose(here: Places) -> tuple[str, tzinfo]:
    """Give workshop and zone; of a database that cannot be read, what was noted of it.

    The attempt itself is then to fail and to be noted, so that a page can say so.
    """
    try:
        with live_database(here) as live:
            workshop_id, _name, zone = live.whose()
    except (BackupRefused, database.SqliteError):
        noted = shelf.last_attempt(here)
        return noted.workshop_id if noted else "", UTC
    return workshop_id, ZoneInfo(zone)


def _look() -> None:
    """Attend once, and say in the log what came of it."""
    try:
        made = attend(places(), clock.now(), settings.COLDBUS_BACKUP_HOUR)
        if made is not None:
            LOG.info("Backup made and checked: %s", made.path)
            practised = drill.attend(places(), clock.now())
            if practised is not None:
                say = LOG.error if practised.why else LOG.info
                say("Restore drill of %s: %s", practised.name, practised.why or "verified")
    except BackupRefused as refused:
        if refused.code != "busy":
            LOG.warning("The daily backup failed: %s", refused)
    except Exception:
        # A thread that ended would end the backups without a word.
        LOG.exception("The daily backup stopped at an error; it is tried again.")
    finally:
        _leave_the_server()


def _leave_the_server() -> None:
    """Close this thread's connections: a server may have gone and come before the next look."""
    if not is_sqlite():
        connections.close_all()


def _keep_looking() -> None:
    """Look for as long as the worker runs."""
    time.sleep(FIRST_LOOK_AFTER_S)
    while True:
        _look()
        time.sleep(LOOK_EVERY_S)


def start_in_worker() -> bool:
    """Start the thread where this process is the worker of ``up``; say whether it was started."""
    if not is_the_one():
        return False
    Thread(target=_keep_looking, name="daily backup", daemon=True).start()
    return True


def begin_by_hand(here: Places) -> Thread:
    """Begin a backup beside the requests; what comes of it is noted as the last attempt."""

    def work() -> None:
        try:
            make(here, BY_HAND, clock.now())
        except BackupRefused as refused:
            LOG.warning("The backup failed: %s", refused)
        except Exception:
            LOG.exception("The backup by hand stopped at an error.")
        finally:
            _leave_the_server()

    thread = Thread(target=work, name="backup by hand", daemon=True)
    thread.start()
    return thread
