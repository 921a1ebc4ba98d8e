"""The log of ways in, and who is signed on where."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

from django.contrib.sessions.models import Session

from workshop.models import Person, SignIn
from workshop.queries.identifiers import Id, uuid_of
from workshop.queries.person_rows import person_of_session
from workshop.queries.slices import Slice, sliced
from workshop.sign_in_chain import FIRST, line_digest

__all__ = [
    "OpenSession",
    "SignInInfo",
    "open_sessions",
    "session_keys",
    "sign_in_digest",
    "sign_in_end",
    "sign_in_faults",
    "sign_ins",
]

NAME_LETTERS: Final = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class SignInInfo:
    """A line of the log.

    Attributes
    ----------
    kind : str
        What happened, such as "signed_on".
    at : datetime
        When.
    person, by : str
        Names: whose way in it was, and who did it where it was somebody else.
    place : str
        Where, as ``workshop.place`` names it.
    """

    kind: str
    at: datetime
    person: str
    by: str
    place: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenSession:
    """Somebody signed on at a browser.

    Attributes
    ----------
    name : str
        A digest of the session's key: names it on a page, opens nothing.
    person_id, person : str
        Who.
    place : str
        Where.
    seen_at : datetime
        When it was last touched.
    """

    name: str
    person_id: str
    person: str
    place: str
    seen_at: datetime


def _info(row: SignIn) -> SignInInfo:
    return SignInInfo(
        kind=row.kind,
        at=row.at,
        person="" if row.person is None else row.person.display_name,
        by="" if row.by is None else row.by.display_name,
        place=row.place,
    )


def sign_ins(*, person: Id = "", place: str = "", page: int = 1) -> Slice[SignInInfo]:
    """Give one page of the log, newest first, of one person or one place where they are named."""
    rows = SignIn.objects.select_related("person", "by")
    if person:
        rows = rows.filter(person=uuid_of(person))
    if place:
        rows = rows.filter(place=place)
    return sliced(rows, page, _info)


def sign_in_faults() -> Iterator[str]:
    """Say which lines of the log were changed, put in, or removed before another one."""
    previous = FIRST
    for row in SignIn.objects.order_by("id").iterator():
        if line_digest(row, previous) != row.digest:
            yield f"line {row.pk} of the log of sign-ins was changed, or the one before"
        previous = row.digest


def sign_in_end() -> tuple[int, str]:
    """Give how many lines the log has and the digest of the last."""
    count = SignIn.objects.count()
    return count, sign_in_digest(count) or FIRST


def sign_in_digest(count: int) -> str | None:
    """Give the digest of the line at a place, counted from one; None where there is none."""
    rows = SignIn.objects.order_by("id").values_list("digest", flat=True)
    return next(iter(rows[count - 1 : count]), None) if count else None


def _named(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()[:NAME_LETTERS]


def _held(row: Session) -> dict[str, Any]:
    held: dict[str, Any] = row.get_decoded()
    return held


def open_sessions(now: datetime) -> tuple[OpenSession, ...]:
    """Give who is signed on where, last touched first; sessions that a new PIN ended are none."""
    found = []
    for row in Session.objects.filter(expire_date__gt=now):
        held = _held(row)
        who = person_of_session(str(held.get("person", "")), str(held.get("mark", "")))
        if who is not None:
            seen_at = datetime.fromtimestamp(float(held.get("seen_s", 0)), UTC)
            found.append(
                OpenSession(
                    name=_named(row.session_key),
                    person_id=who.id,
                    person=who.display_name,
                    place=str(held.get("place", "")),
                    seen_at=seen_at,
                )
            )
    return tuple(sorted(found, key=lambda each: each.seen_at, reverse=True))


def session_keys(name: str) -> dict[str, Person | None]:
    """Give the keys that a name stands for, with whose they are; for the action that ends one."""
    return {
        row.session_key: Person.objects.filter(pk=uuid_of(_held(row).get("person", ""))).first()
        for row in Session.objects.all()
        if _named(row.session_key) == name
    }
