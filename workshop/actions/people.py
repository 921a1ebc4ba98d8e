"""Adding people, their qualifications, and their leaving."""

from dataclasses import asdict
from datetime import date

from django.conf import settings

from workshop import clock, pins
from workshop.actions.permission import locked_person, require
from workshop.actions.pin import check_pin_shape
from workshop.details import PersonDetails
from workshop.errors import Conflict, InputRefused
from workshop.models import Person, Qualification
from workshop.people import MANAGER, QUALIFICATIONS, ROLES
from workshop.queries import Id
from workshop.writing import one_writer


def _check_person(details: PersonDetails) -> None:
    """Refuse an unknown role and a short name that is taken."""
    if details.role not in ROLES:
        raise InputRefused("not_one_of", field="role")
    for name in ("display_name", "short_name"):
        if not getattr(details, name).strip():
            raise InputRefused("required", field=name)
    if Person.objects.filter(short_name=details.short_name, active=True).exists():
        raise InputRefused("short_name_taken", field="short_name", short_name=details.short_name)


def create_first_manager(*, details: PersonDetails, pin: str) -> str:
    """Add the first person, a manager with every qualification still to be entered.

    Returns
    -------
    str
        Identifier of the new person.

    Raises
    ------
    Conflict
        Where there is anybody already.
    InputRefused
        Where name, short name or PIN cannot stand.
    """
    with one_writer():
        if Person.objects.exists():
            raise Conflict("people_exist")
        check_pin_shape(pin)
        manager = PersonDetails(
            display_name=details.display_name, short_name=details.short_name, role=MANAGER
        )
        _check_person(manager)
        row = Person.objects.create(
            **asdict(manager),
            pin_hash=pins.hash_pin(pin, settings.COLDBUS_PEPPER),
            created_at=clock.now(),
        )
    return str(row.id)


def add_person(*, details: PersonDetails, by: Id) -> str:
    """Add a person, who then sets their own PIN.

    Returns
    -------
    str
        Identifier of the new person.
    """
    with one_writer():
        require(by, MANAGER)
        _check_person(details)
        row = Person.objects.create(**asdict(details), created_at=clock.now())
    return str(row.id)


def retire_person(*, person_id: Id, by: Id) -> None:
    """Take a person off the sign-on page; what they signed stays theirs."""
    with one_writer():
        require(by, MANAGER)
        row = locked_person(person_id)
        managers = Person.objects.filter(role=MANAGER, active=True).exclude(pin_hash="")
        if row.role == MANAGER and not managers.exclude(pk=row.pk).exists():
            raise Conflict("last_manager")
        Person.objects.filter(pk=row.pk).update(active=False)


def set_qualification(
    *, person_id: Id, code: str, expires_on: date | None, certificate: str, by: Id
) -> None:
    """Enter or renew a qualification; an expiry that has passed ends it."""
    with one_writer():
        require(by, MANAGER)
        if code not in QUALIFICATIONS:
            raise InputRefused("not_one_of", field="code")
        Qualification.objects.update_or_create(
            person=locked_person(person_id),
            code=code,
            defaults={"expires_on": expires_on, "certificate": certificate},
        )
