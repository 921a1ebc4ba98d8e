"""The daily verification of the whole record, by a thread of the server beside the requests."""

import time
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import connection

from jobs.models import Job
from jobs.queries.record_check import RecordCheck, as_note, last_check, note_path
from jobs.queries.verify import Fault, verify_around, verify_job
from workshop import queries as shop
from workshop.backups.keeping import is_due
from workshop.serving import data_folder
from workshop.signing_keys import trusted_keys

__all__ = ["PAUSE_S", "attend", "check_record"]

PAUSE_S: Final = 0.01
"""Rest after each job, so that tablets are answered meanwhile [s]."""


def check_record(now: datetime, *, pause_s: float = 0.0) -> RecordCheck:
    """Verify every job and note what came of it.

    Parameters
    ----------
    now : datetime
        The server's time (UTC).
    pause_s : float
        Rest after each job [s].

    Returns
    -------
    RecordCheck
        What came of it.
    """
    keys, faults, count = trusted_keys(), list[Fault](), 0
    for job_id in list(Job.objects.order_by("number").values_list("id", flat=True)):
        faults += verify_job(job_id, keys)
        count += 1
        time.sleep(pause_s)
    faults += verify_around()
    first = faults[0] if faults else Fault("", 0, "")
    check = RecordCheck(at=now, jobs=count, faults=len(faults), job=first.job, seq=first.seq)
    data_folder.replace_file(note_path(), as_note(check))
    return check


def attend(now: datetime) -> RecordCheck | None:
    """Verify the record where the day's verification is due; None where it is not."""
    last = last_check()
    zone = ZoneInfo(shop.shop().time_zone)
    newest = None if last is None else last.at
    try:
        if not is_due(now, newest, tried=None, zone=zone, hour=settings.COLDBUS_BACKUP_HOUR):
            return None
        return check_record(now, pause_s=PAUSE_S)
    finally:
        # This thread sleeps for an hour now.
        connection.close()
