"""People of the shop, their sessions and their snapshots."""

import hashlib
import hmac
from collections.abc import Iterable
from datetime import date
from typing import Any

from django.conf import settings

from workshop.errors import InputRefused
from workshop.models import Person
from workshop.once_a_request import kept_register
from workshop.people import PersonInfo, QualificationInfo
from workshop.queries.identifiers import Id, uuid_of


def _person_info(row: Person) -> PersonInfo:
    """Turn a row, with its qualifications fetched, into plain data."""
    return PersonInfo(
        id=str(row.id),
        display_name=row.display_name,
        short_name=row.short_name,
        role=row.role,
        qualifications=tuple(
            QualificationInfo(each.code, each.expires_on, each.certificate)
            for each in row.qualifications.all()
        ),
        active=row.active,
        has_pin=row.pin_hash != "",
        has_password=row.password_hash != "",
        pin_locked_until=row.pin_locked_until,
        language=row.language,
        erased=row.erased_at is not None,
    )


def people(*, with_former: bool = False) -> tuple[PersonInfo, ...]:
    """Give the people of the shop by name; those who have left only on request."""
    rows = Person.objects.prefetch_related("qualifications")
    if not with_former:
        rows = rows.filter(active=True)
    return tuple(_person_info(row) for row in rows)


def has_people() -> bool:
    """Say whether the first manager exists."""
    return Person.objects.exists()


@kept_register
def _person_row(person_id: Id) -> Person | None:
    """Fetch a row by any text."""
    rows = Person.objects.prefetch_related("qualifications")
    return rows.filter(pk=uuid_of(person_id)).first()


def person(person_id: Id) -> PersonInfo | None:
    """Give one person, or None where there is no such person."""
    row = _person_row(person_id)
    return _person_info(row) if row else None


def password_hash(person_id: Id) -> str:
    """Give what is kept of a password; "" where there is none."""
    row = _person_row(person_id)
    return row.password_hash if row else ""


def _mark_of(row: Person) -> str:
    """Give a text that changes with the PIN, so that a new PIN ends older sessions."""
    return hmac.new(settings.SECRET_KEY.encode(), row.pin_hash.encode(), hashlib.sha256).hexdigest()


def session_mark(person_id: Id) -> str:
    """Give the mark that a session keeps beside the person; "" for an unknown person."""
    row = _person_row(person_id)
    return _mark_of(row) if row else ""


def person_of_session(person_id: Id, mark: str) -> PersonInfo | None:
    """Give the active person of a session, or None where PIN or person have changed since."""
    row = _person_row(person_id)
    if row is None or not row.active or not hmac.compare_digest(_mark_of(row), mark):
        return None
    return _person_info(row)


def person_snapshot(person_id: Id, today: date) -> dict[str, Any]:
    """Give a person as an entry keeps them: no name, only what they may do on that day.

    Raises
    ------
    InputRefused
        Where there is no such person in the shop (any more).
    """
    info = person(person_id)
    if info is None or not info.active:
        raise InputRefused("unknown", field="person")
    held = [q for q in info.qualifications if q.expires_on is None or q.expires_on >= today]
    return {
        "id": info.id,
        "role": info.role,
        "qualifications": [
            {"code": q.code, "expires_on": q.expires_on.isoformat() if q.expires_on else None}
            for q in held
        ],
    }


def names(ids: Iterable[Id]) -> dict[str, str]:
    """Give display names by identifier; unknown identifiers are left out."""
    rows = Person.objects.filter(pk__in={uuid_of(each) for each in ids}).values_list(
        "id", "display_name"
    )
    return {str(key): name for key, name in rows}
