"""Keeping the file of a log, and reading it in when its entry passes the door.

A file is kept whole, as it came, by its digest; what it says is judged by `jobs.queries.logs`.
"""

import hashlib
import uuid
from datetime import datetime
from typing import IO

from jobs.actions.context import Act
from jobs.core.draft import Draft
from jobs.core.entry import Json, Kind
from jobs.core.log_input import (
    ABSENT,
    LOG_LIMIT_MB,
    MOST_COLUMNS,
    NOT_A_LOG,
    TOO_LARGE,
    TOO_WIDE,
    parse_log,
)
from jobs.core.reason import InputRefused, Reason
from jobs.models import Attachment, Job
from jobs.queries.logs import LOG_MEDIA_TYPE, look
from jobs.queries.records import record_of
from jobs.steps.road_test.items import LOG
from packs.actions import remember_log_source
from packs.logs.preview import preview_of
from packs.strict_json import InputRefused as FileRefused
from workshop.kept_files import keep_bytes
from workshop.writing import one_writer

__all__ = ["REASONS", "ahead", "keep_log", "take_log"]

LIMIT_BYTES = LOG_LIMIT_MB * 1024 * 1024
NO_JOB = Reason("log_no_job", "There is no such job.")
REASONS = (NO_JOB,)


def keep_log(*, job_id: str, file: IO[bytes], by: str, now: datetime) -> str:
    """Check that a file is a log at all, and keep it as it came.

    Parameters
    ----------
    job_id : str
        The job.
    file : IO[bytes]
        The file as it arrives.
    by : str
        Who sent it.
    now : datetime
        The server's time (UTC).

    Returns
    -------
    str
        Its digest.

    Raises
    ------
    InputRefused
        When it is too large, packed, a picture or no delimited text, or there is no such job.
    """
    content = file.read(LIMIT_BYTES + 1)
    if len(content) > LIMIT_BYTES:
        raise InputRefused(TOO_LARGE(LOG.key, "", limit_mb=LOG_LIMIT_MB, field="file"))
    try:
        columns = len(preview_of(content).names)
    except FileRefused as refused:
        what = refused.problems[0][1]
        said = NOT_A_LOG(LOG.key, "", where="The file", what=what, field="file")
        raise InputRefused(said) from None
    if columns > MOST_COLUMNS:
        raise InputRefused(TOO_WIDE(LOG.key, "", got=columns, most=MOST_COLUMNS, field="file"))
    sha256 = hashlib.sha256(content).hexdigest()
    with one_writer():
        job = Job.objects.filter(pk=uuid.UUID(job_id)).first()
        if job is None:
            raise InputRefused(NO_JOB())
        keep_bytes(content, sha256)
        Attachment.objects.get_or_create(
            job=job,
            sha256=sha256,
            defaults={
                "media_type": LOG_MEDIA_TYPE,
                "size_bytes": len(content),
                "stored_by": uuid.UUID(by),
                "stored_at": now,
            },
        )
    return sha256


def take_log(act: Act, parsed: Json) -> Json:
    """Read a log in: give what its entry stores, and remember the columns of its source.

    Parameters
    ----------
    act : Act
        The draft and the job.
    parsed : Json
        What was sent, checked.

    Returns
    -------
    Json
        The entry's value with the result of the calculation.

    Raises
    ------
    InputRefused
        When the file was not kept for this job, or is none of this vehicle.
    """
    if not Attachment.objects.filter(
        job=act.job, sha256=parsed["sha256"], media_type=LOG_MEDIA_TYPE
    ).exists():
        raise InputRefused(ABSENT(LOG.key))
    looked = look(act.record, parsed)
    if looked.stored is None:
        raise InputRefused(looked.blockers[0])
    if parsed["source"]:
        remember_log_source(
            name=parsed["source"],
            columns=parsed["columns"],
            current_sign=parsed["current_sign"],
            by=uuid.UUID(act.by.id),
            now=act.now,
        )
    return looked.stored


def ahead(draft: Draft, now: datetime) -> None:
    """Judge a log before the one writer is waited for; the door then finds the result ready.

    A large log takes seconds, in which nobody else could enter anything.
    """
    if draft.kind is not Kind.VALUE or draft.item != LOG.key:
        return
    record = record_of(draft.job, now=now)
    if record is None:
        return
    try:
        look(record, parse_log(LOG, draft.value))
    except InputRefused:
        return
