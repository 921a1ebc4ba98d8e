"""What the server's worker looks after by itself beside the backups.

The keys that seal PINs, and once a day the whole record, which another app verifies: it is named
by string.
"""

import logging
import time
from threading import Thread
from typing import Final

from django.utils.module_loading import import_string

from workshop import clock, seal_keys
from workshop.serving.one_of_many import is_the_one

__all__ = ["look", "start_in_worker"]

FIRST_LOOK_AFTER_S: Final = 60
LOOK_EVERY_S: Final = 3600
RECORD_CHECK: Final = "jobs.actions.record_check.attend"
"""Dotted path of the function that verifies the record where that is due."""
LOG = logging.getLogger("coldbus.upkeep")


def look() -> None:
    """Look once, and say in the log what came of it."""
    try:
        if seal_keys.attend(clock.now()):
            LOG.info("Another key for sealing PINs is in use; the former still opens for a while.")
        checked = import_string(RECORD_CHECK)(clock.now())
        if checked is not None:
            say = LOG.info if checked.faults == 0 else LOG.error
            say("The record was verified: jobs %d, faults %d.", checked.jobs, checked.faults)
    except Exception:
        # A thread that ended would end the upkeep without a word.
        LOG.exception("The upkeep stopped at an error; it is tried again.")


def _keep_looking() -> None:
    """Look for as long as the worker runs."""
    time.sleep(FIRST_LOOK_AFTER_S)
    while True:
        look()
        time.sleep(LOOK_EVERY_S)


def start_in_worker() -> bool:
    """Start the thread in one worker of ``up``; say whether it was started."""
    if not is_the_one():
        return False
    Thread(target=_keep_looking, name="upkeep", daemon=True).start()
    return True
