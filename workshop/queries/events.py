"""What was done to a row of a register, newest first, and the certificates that came with it."""

from datetime import UTC, datetime

from workshop.models import Person, RegisterEvent
from workshop.queries.identifiers import Id, uuid_of
from workshop.registers import EventInfo
from workshop.row_digests import rows_digest


def _event_info(row: RegisterEvent) -> EventInfo:
    """Turn a row, with its person and file fetched, into plain data."""
    return EventInfo(
        kind=row.kind,
        at=row.at,
        by=row.by.display_name if row.by else "",
        values=row.values,
        sha256=row.file.sha256 if row.file else "",
        media_type=row.file.media_type if row.file else "",
    )


def history(subject: Id) -> tuple[EventInfo, ...]:
    """Give what was done to a row of a register, newest first."""
    rows = RegisterEvent.objects.filter(subject=uuid_of(subject)).select_related("by", "file")
    return tuple(_event_info(row) for row in rows.order_by("-number"))


def certificate_of(subject: Id, sha256: str) -> EventInfo | None:
    """Give the event with which a certificate came; None where none did."""
    rows = RegisterEvent.objects.filter(subject=uuid_of(subject), file__sha256=sha256)
    row = rows.select_related("by", "file").order_by("number").first()
    return _event_info(row) if row else None


def history_digest(until: datetime) -> tuple[int, str]:
    """Give the number of events of all registers up to a moment, and one digest of them.

    Of events about a person only that they happened: the rest is erased on request.
    """
    rows = RegisterEvent.objects.filter(at__lte=until).iterator()
    people = set(Person.objects.values_list("id", flat=True))
    return rows_digest(
        {
            "subject": str(row.subject),
            "number": row.number,
            "kind": row.kind,
            "values": {} if row.subject in people else row.values,
            "file": "" if row.subject in people else str(row.file_id),
            "at": row.at.astimezone(UTC).isoformat(),
            "by": str(row.by_id),
        }
        for row in rows
    )
