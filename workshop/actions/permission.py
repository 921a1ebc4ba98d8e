"""Who may change a register: the check that every action begins with."""

from typing import Final

from workshop.errors import InputRefused, NotAllowed
from workshop.models import Person
from workshop.people import FRONT_DESK, MANAGER, TECHNICIAN
from workshop.queries import Id, uuid_of

_REFUSALS: Final = {
    frozenset({MANAGER}): "not_a_manager",
    frozenset({FRONT_DESK, MANAGER}): "not_front_desk",
    frozenset({TECHNICIAN, MANAGER}): "not_technician",
}


def require(by: Id, *roles: str) -> Person:
    """Refuse unless the person is active and has one of the roles."""
    row = Person.objects.filter(pk=uuid_of(by), active=True).first()
    if row is None:
        raise NotAllowed("not_signed_on")
    if row.role not in roles:
        raise NotAllowed(_REFUSALS[frozenset(roles)])
    return row


def locked_person(person_id: Id) -> Person:
    """Fetch and lock a person's row."""
    row = Person.objects.select_for_update().filter(pk=uuid_of(person_id)).first()
    if row is None:
        raise InputRefused("unknown", field="person")
    return row
