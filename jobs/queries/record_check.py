"""What came of the last daily verification of the record, as a note in the data folder."""

import json
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from django.conf import settings

__all__ = ["NOTE_NAME", "RecordCheck", "last_check", "note_path"]

NOTE_NAME: Final = "record_check.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordCheck:
    """When the record was verified, how much of it, and what was wrong.

    ``job`` and ``seq`` are the place of the first fault: number of the job, empty where the fault
    belongs to none, and number of the entry.
    """

    at: datetime
    jobs: int
    faults: int
    job: str = ""
    seq: int = 0


def note_path() -> Path:
    """Give the place of the note."""
    return Path(settings.COLDBUS_DATA) / NOTE_NAME


def last_check() -> RecordCheck | None:
    """Give what came of the last verification; None before the first, or where it is lost."""
    try:
        content = json.loads(note_path().read_bytes())
        at = datetime.fromisoformat(content["at"])
        return RecordCheck(
            at=at,
            jobs=int(content["jobs"]),
            faults=int(content["faults"]),
            job=str(content["job"]),
            seq=int(content["seq"]),
        )
    except (OSError, ValueError, KeyError, TypeError):
        return None


def as_note(check: RecordCheck) -> bytes:
    """Give the bytes of the note."""
    return json.dumps({**asdict(check), "at": check.at.isoformat()}).encode()
