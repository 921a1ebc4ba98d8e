"""Setting, checking and unlocking of PINs and of the office's passwords."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from django.conf import settings

from workshop import passwords, pins
from workshop.actions.events import write_event
from workshop.actions.permission import locked_person, require
from workshop.actions.sign_ins import count_here, forgive, locked_here, note
from workshop.errors import InputRefused, NotAllowed
from workshop.models import Person, Shop
from workshop.people import FRONT_DESK, MANAGER
from workshop.queries import Id, uuid_of
from workshop.writing import one_writer


def check_pin_shape(pin: str) -> None:
    """Refuse a PIN that is not one, or that is guessed first."""
    fault = pins.fault_of(pin)
    if fault:
        raise InputRefused(fault, field="pin")


def set_pin(*, person_id: Id, pin: str, by: Id) -> None:
    """Set a person's PIN, typed by that person; ends their sessions and any lock.

    Raises
    ------
    InputRefused
        Where the PIN is no PIN, is trivial, or is the old one.
    NotAllowed
        Where ``by`` is neither the person nor a manager.
    """
    with one_writer():
        if uuid_of(by) != uuid_of(person_id):
            try:
                require(by, MANAGER)
            except NotAllowed:
                raise NotAllowed("not_own_pin") from None
        row = locked_person(person_id)
        check_pin_shape(pin)
        if row.pin_hash and pins.matches(row.pin_hash, pin, settings.COLDBUS_PEPPER):
            raise InputRefused("pin_unchanged", field="pin")
        row.pin_hash = pins.hash_pin(pin, settings.COLDBUS_PEPPER)
        row.pin_failures = 0
        row.pin_locked_until = None
        row.save(update_fields=("pin_hash", "pin_failures", "pin_locked_until"))
        write_event(row.id, "pin_set", by=Person.objects.get(pk=uuid_of(by)))


def set_password(*, password: str, by: Id) -> None:
    """Set one's own password, for what only the office does.

    Raises
    ------
    InputRefused
        Where it is too short, guessed first, or the old one.
    NotAllowed
        Where ``by`` does not work in the office.
    """
    with one_writer():
        row = require(by, FRONT_DESK, MANAGER)
        names = (row.display_name, row.short_name, Shop.objects.get(pk=1).name)
        fault = passwords.fault_of(password, names)
        if fault is not None:
            raise InputRefused(fault, field="password")
        if row.password_hash and pins.matches(row.password_hash, password, settings.COLDBUS_PEPPER):
            raise InputRefused("password_unchanged", field="password")
        row.password_hash = pins.hash_pin(password, settings.COLDBUS_PEPPER)
        row.save(update_fields=("password_hash",))
        write_event(row.id, "password_set", by=row)
        note("password_set", person=row)


def clear_password(*, person_id: Id, by: Id | None) -> None:
    """Take a password out of use; the person sets another with their PIN.

    Parameters
    ----------
    person_id : str or UUID
        Whose.
    by : str, UUID or None
        The manager; None for the command on the server.
    """
    with one_writer():
        manager = None if by is None else require(by, MANAGER)
        row = locked_person(person_id)
        Person.objects.filter(pk=row.pk).update(password_hash="")
        write_event(row.id, "password_cleared", by=manager)
        note("password_cleared", person=row, by=manager)


def ask_office_password(*, ask: bool, by: Id | None) -> None:
    """Say whether the password is asked before what only the office does.

    Raises
    ------
    NotAllowed
        Where the manager who turns it on has no password.
    """
    with one_writer():
        manager = None if by is None else require(by, MANAGER)
        if ask and (manager is None or not manager.password_hash):
            raise NotAllowed("password_first")
        shop = Shop.objects.get(pk=1)
        if shop.office_password != ask:
            Shop.objects.filter(pk=1).update(office_password=ask)
            told = {"changes": {"office_password": [shop.office_password, ask]}}
            write_event(shop.workshop_id, "changed", by=manager, values=told)


def unlock_pin(*, person_id: Id, by: Id) -> None:
    """Lift the lock that wrong tries have brought."""
    with one_writer():
        manager = require(by, MANAGER)
        row = locked_person(person_id)
        Person.objects.filter(pk=row.pk).update(pin_failures=0, pin_locked_until=None)
        forgive(row)
        write_event(row.id, "unlocked", by=manager)
        note("unlocked", person=row, by=manager)


@dataclass(frozen=True, slots=True)
class PinResult:
    """The answer to a PIN: right, wrong with the tries left, or locked until a time."""

    state: Literal["right", "wrong", "locked"]
    until: datetime | None = None
    tries_left: int = 0


def check_pin(person_id: Id, pin: str, now: datetime) -> PinResult:
    """Check a PIN and count the try in the same transaction.

    Parameters
    ----------
    person_id : str or UUID
        Whose PIN; an unknown person costs the same work and is answered "wrong".
    pin : str
        As typed.
    now : datetime
        Time of the try.

    Returns
    -------
    PinResult
        While a lock lasts, of the person or of the place, the PIN is not looked at.

    Notes
    -----
    Five wrong tries in a row lock for 1 min, the sixth for 5 min, each further one for 15 min: of
    one person wherever typed, and at one place for whomever typed.
    Call it outside a transaction that may be rolled back, or the count is rolled back with it.
    """
    return _checked(person_id, pin, now, column="pin_hash", wrong="pin_wrong")


def check_password(person_id: Id, password: str, now: datetime) -> PinResult:
    """Check a password as `check_pin` checks a PIN; the tries of both are counted together."""
    return _checked(person_id, password, now, column="password_hash", wrong="password_wrong")


def _checked(person_id: Id, typed: str, now: datetime, *, column: str, wrong: str) -> PinResult:
    with one_writer():
        rows = Person.objects.select_for_update()
        row = rows.filter(pk=uuid_of(person_id), active=True).first()
        if row is not None and row.pin_locked_until and now < row.pin_locked_until:
            return PinResult("locked", until=row.pin_locked_until)
        closed = locked_here(now)
        if closed is not None:
            return PinResult("locked", until=closed)
        stored = str(getattr(row, column)) if row else ""
        right = pins.matches(stored, typed, settings.COLDBUS_PEPPER)
        closed = count_here(row, right=right, now=now)
        if row is None or not stored:
            return PinResult("wrong", tries_left=pins.TRIES - 1)
        return _told(_count_try(row, right=right, now=now), row, closed, wrong)


def _told(result: PinResult, row: Person, closed: datetime | None, wrong: str) -> PinResult:
    """Log a wrong try; where the place was locked by it, say until when nothing is looked at."""
    if result.state == "right":
        return result
    if closed is not None:
        result = PinResult("locked", until=max(closed, result.until or closed))
    note("locked" if result.state == "locked" else wrong, person=row)
    return result


def _count_try(row: Person, *, right: bool, now: datetime) -> PinResult:
    """Keep the count of wrong tries in a row, and lock when it is full."""
    before = (row.pin_failures, row.pin_locked_until)
    row.pin_failures = 0 if right else row.pin_failures + 1
    lock = pins.lock_after(row.pin_failures)
    row.pin_locked_until = now + lock if lock else None
    if (row.pin_failures, row.pin_locked_until) != before:
        row.save(update_fields=("pin_failures", "pin_locked_until"))
    if right:
        return PinResult("right")
    if lock:
        return PinResult("locked", until=row.pin_locked_until)
    return PinResult("wrong", tries_left=pins.TRIES - row.pin_failures)
