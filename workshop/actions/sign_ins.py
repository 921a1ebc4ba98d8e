"""The log of ways in, and the count of wrong PINs at one place.

A place is counted beside the person, so that nobody tries one PIN after another for everybody in
the shop. Words for what is logged are in ``workshop.views.sign_ins``.
"""

from datetime import datetime, timedelta
from typing import Final

from django.contrib.sessions.models import Session

from workshop import clock, pins, place
from workshop.actions.permission import require
from workshop.models import Person, PlaceTries, SignIn
from workshop.people import MANAGER
from workshop.queries import Id, session_keys, uuid_of
from workshop.sign_in_chain import FIRST, line_digest
from workshop.writing import one_writer, take_turn

__all__ = ["count_here", "end_session", "forgive", "locked_here", "note", "note_of"]

LOG_TURN: Final = 7201
CALM: Final = timedelta(hours=1)
"""After this long without a wrong PIN a place begins anew."""


def note(kind: str, *, person: Person | None = None, by: Person | None = None) -> None:
    """Add to the log behind its last line; called last inside ``one_writer``."""
    take_turn(LOG_TURN)
    last = SignIn.objects.order_by("id").values_list("digest", flat=True).last()
    row = SignIn(at=clock.now(), kind=kind, person=person, by=by, place=place.current())
    row.digest = line_digest(row, FIRST if last is None else last)
    row.save(force_insert=True)


def note_of(kind: str, *, person_id: Id, by: Id | None = None) -> None:
    """Add to the log what happened to somebody at the place of this request."""
    with one_writer():
        person = Person.objects.filter(pk=uuid_of(person_id)).first()
        who = None if by is None else Person.objects.filter(pk=uuid_of(by)).first()
        note(kind, person=person, by=who)


def locked_here(now: datetime) -> datetime | None:
    """Say until when no PIN is looked at here; None where they are."""
    row = PlaceTries.objects.filter(pk=place.current()).first()
    until = None if row is None else row.locked_until
    return until if until is not None and now < until else None


def count_here(person: Person | None, *, right: bool, now: datetime) -> datetime | None:
    """Count a try at this place; called inside ``one_writer``.

    Parameters
    ----------
    person : Person or None
        Whose PIN was tried. A right one forgives that person's wrong ones only: whoever knows
        their own PIN cannot wipe out what they tried for others.
    right : bool
        Whether it fitted.
    now : datetime
        Time of the try.

    Returns
    -------
    datetime or None
        Until when the place is locked by this try.
    """
    here = place.current()
    row = PlaceTries.objects.select_for_update().filter(pk=here).first()
    if not here or (right and row is None):
        return None
    row = row or PlaceTries(place=here, people=[], last_at=now)
    who = "" if person is None else str(person.id)
    before = [] if now - row.last_at > CALM else row.people
    row.people = [each for each in before if each != who] if right else [*before, who]
    lock = None if right else pins.lock_after(len(row.people))
    row.locked_until = None if lock is None else now + lock
    row.last_at = now
    row.save()
    return row.locked_until


def forgive(person: Person) -> None:
    """Take a person's wrong PINs off every place, with the locks; inside ``one_writer``."""
    for row in PlaceTries.objects.select_for_update():
        kept = [each for each in row.people if each != str(person.id)]
        if kept != row.people:
            row.people = kept
            row.locked_until = row.locked_until if len(kept) >= pins.TRIES else None
            row.save(update_fields=("people", "locked_until"))


def end_session(*, name: str, by: Id) -> bool:
    """Sign somebody off at another browser: a manager anybody, everybody themselves.

    Parameters
    ----------
    name : str
        The session as `workshop.queries.open_sessions` names it.
    by : str or UUID
        Who does it.

    Returns
    -------
    bool
        False where there is no such session any more.

    Raises
    ------
    NotAllowed
        Where it is somebody else's, and ``by`` is no manager.
    """
    with one_writer():
        found = session_keys(name)
        for key, person in found.items():
            own = person is not None and person.pk == uuid_of(by)
            who = person if own else require(by, MANAGER)
            Session.objects.filter(pk=key).delete()
            note("ended", person=person, by=who)
    return bool(found)
