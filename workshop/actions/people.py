"""Adding people, changing them, their qualifications, their leaving and coming back."""

from dataclasses import asdict
from datetime import date
from typing import Final

from django.conf import settings

from workshop import clock, languages, pins
from workshop.actions.certificates import keep_certificate
from workshop.actions.events import blank_events, changes, write_event
from workshop.actions.permission import locked_person, require
from workshop.actions.pin import check_pin_shape
from workshop.details import PersonDetails
from workshop.errors import Conflict, InputRefused
from workshop.models import Person, Qualification
from workshop.people import MANAGER, QUALIFICATIONS, ROLES
from workshop.queries import Id, uuid_of
from workshop.writing import one_writer

ERASED: Final = "erased"


def _check_person(details: PersonDetails, *, other_than: Id = "") -> None:
    """Refuse an unknown role and a short name that is taken."""
    if details.role not in ROLES:
        raise InputRefused("not_one_of", field="role")
    if details.language and details.language not in dict(languages.choices()):
        raise InputRefused("not_one_of", field="language")
    for name in ("display_name", "short_name"):
        if not getattr(details, name).strip():
            raise InputRefused("required", field=name)
    rows = Person.objects.filter(short_name=details.short_name, active=True)
    if rows.exclude(pk=uuid_of(other_than)).exists():
        raise InputRefused("short_name_taken", field="short_name", short_name=details.short_name)


def _keep_a_manager(row: Person, *, field: str = "") -> None:
    """Refuse to lose the last manager who can sign on."""
    managers = Person.objects.filter(role=MANAGER, active=True).exclude(pin_hash="")
    if row.role == MANAGER and not managers.exclude(pk=row.pk).exists():
        raise Conflict("last_manager", field=field)


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
        write_event(row.id, "added", by=None)
    return str(row.id)


def add_person(*, details: PersonDetails, by: Id) -> str:
    """Add a person, who then sets their own PIN.

    Returns
    -------
    str
        Identifier of the new person.
    """
    with one_writer():
        manager = require(by, MANAGER)
        _check_person(details)
        row = Person.objects.create(**asdict(details), created_at=clock.now())
        write_event(row.id, "added", by=manager)
    return str(row.id)


def change_person(*, person_id: Id, details: PersonDetails, by: Id) -> None:
    """Change name, short name or role; the new role counts from the next page on.

    Raises
    ------
    Conflict
        Where the last manager who can sign on would lose the role.
    InputRefused
        Where name, short name or role cannot stand.
    """
    with one_writer():
        manager = require(by, MANAGER)
        row = locked_person(person_id)
        _check_person(details, other_than=person_id)
        if details.role != MANAGER:
            _keep_a_manager(row, field="role")
        after = asdict(details)
        changed = changes({name: getattr(row, name) for name in after}, after)
        if not changed:
            return
        Person.objects.filter(pk=row.pk).update(**after)
        write_event(row.id, "changed", by=manager, values={"changes": changed})


def set_language(*, language: str, by: Id) -> None:
    """Choose the language of one's own screens; empty for the shop's.

    Raises
    ------
    InputRefused
        Where there is no such language.
    """
    with one_writer():
        row = locked_person(by)
        if language and language not in dict(languages.choices()):
            raise InputRefused("not_one_of", field="language")
        changed = changes({"language": row.language}, {"language": language})
        if changed:
            Person.objects.filter(pk=row.pk).update(language=language)
            write_event(row.id, "changed", by=row, values={"changes": changed})


def retire_person(*, person_id: Id, by: Id) -> None:
    """Take a person off the sign-on page; what they signed stays theirs."""
    with one_writer():
        manager = require(by, MANAGER)
        row = locked_person(person_id)
        _keep_a_manager(row)
        Person.objects.filter(pk=row.pk).update(active=False)
        write_event(row.id, "retired", by=manager)


def return_person(*, person_id: Id, by: Id) -> None:
    """Put somebody back on the sign-on page; they set a new PIN."""
    with one_writer():
        manager = require(by, MANAGER)
        row = locked_person(person_id)
        if row.active:
            raise Conflict("works_here")
        if row.erased_at is not None:
            raise Conflict("erased")
        details = PersonDetails(
            display_name=row.display_name, short_name=row.short_name, role=row.role
        )
        _check_person(details, other_than=person_id)
        back = {"pin_hash": "", "pin_failures": 0, "pin_locked_until": None, "password_hash": ""}
        Person.objects.filter(pk=row.pk).update(active=True, **back)
        write_event(row.id, "returned", by=manager)


def erase_person(*, person_id: Id, by: Id) -> tuple[str, ...]:
    """Erase the personal data of somebody who has left: names, and papers of qualifications.

    Returns
    -------
    tuple of str
        Digests of files that no register needs any more.

    Raises
    ------
    Conflict
        While they work here, or where they were erased before.

    Notes
    -----
    Entries of jobs hold an identifier and no name, so every chain stays valid: what was signed
    was signed by one person who held what the entry says.
    """
    with one_writer():
        manager = require(by, MANAGER)
        row = locked_person(person_id)
        if row.active:
            raise Conflict("still_here", name=row.short_name)
        if row.erased_at is not None:
            raise Conflict("erased")
        name = f"{ERASED} {str(row.id)[:4]}"
        blank = {"display_name": name, "short_name": name, "pin_hash": "", "language": ""}
        told = {**blank, "password_hash": "", "erased_at": clock.now()}
        Person.objects.filter(pk=row.pk).update(**told)
        Qualification.objects.filter(person=row).update(certificate="")
        loose = blank_events(row.id)
        write_event(row.id, "erased", by=manager)
    return loose


def clear_pin(*, person_id: Id, by: Id) -> None:
    """Take a PIN that others may know out of use; nobody signs on with it any more."""
    with one_writer():
        manager = require(by, MANAGER)
        row = locked_person(person_id)
        _keep_a_manager(row)
        Person.objects.filter(pk=row.pk).update(pin_hash="", pin_failures=0, pin_locked_until=None)
        write_event(row.id, "pin_cleared", by=manager)


def set_qualification(
    *,
    person_id: Id,
    code: str,
    expires_on: date | None,
    certificate: str,
    by: Id,
    file: bytes | None = None,
) -> None:
    """Enter or renew a qualification; an expiry that has passed ends it.

    Raises
    ------
    InputRefused
        Where there is no such qualification, or the certificate's file is none.
    """
    with one_writer():
        manager = require(by, MANAGER)
        if code not in QUALIFICATIONS:
            raise InputRefused("not_one_of", field="code")
        row = locked_person(person_id)
        Qualification.objects.update_or_create(
            person=row,
            code=code,
            defaults={"expires_on": expires_on, "certificate": certificate},
        )
        kept = keep_certificate(file, by=manager)
        values = {
            "code": code,
            "expires_on": expires_on.isoformat() if expires_on else None,
            "certificate": certificate,
        }
        write_event(row.id, "qualified", by=manager, values=values, file=kept)


def remove_qualification(*, person_id: Id, code: str, by: Id) -> None:
    """Take a qualification away; what was done under it stays as it was.

    Raises
    ------
    InputRefused
        Where the person does not hold it.
    """
    with one_writer():
        manager = require(by, MANAGER)
        row = locked_person(person_id)
        removed, _ = Qualification.objects.filter(person=row, code=code).delete()
        if not removed:
            raise InputRefused("unknown", field="code")
        write_event(row.id, "unqualified", by=manager, values={"code": code})
