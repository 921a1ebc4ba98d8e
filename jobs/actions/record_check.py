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

__all__ = ["RESTS", "attend", "check_record"]

RESTS: Final = 3.0
"""How many times as long as a job took the thread rests after it, so that tablets are answered
meanwhile: a shop with years of jobs takes a good while to verify."""


def check_record(now: datetime, *, rests: float = 0.0) -> RecordCheck:
    """Verify every job and note what came of it.

    Parameters
    ----------
    now : datetime
        The server's time (UTC).
    rests : float
        Rest after each job, in times that it took.

    Returns
    -------
    RecordCheck
        What came of it.
    """
    keys, faults, count = trusted_keys(), list[Fault](), 0
    for job_id in list(Job.objects.order_by("number").values_list("id", flat=True)):
        begun_s = time.monotonic()
        faults += verify_job(job_id, keys)
        count += 1
        time.sleep(rests * (time.monotonic() - begun_s))
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
        return check_record(now, rests=RESTS)
    finally:
        # This thread sleeps for an hour now.
        connection.close()
