"""Taking devices in by a code, and turning them away again.

A device keeps a token of 256 random bits; the database keeps its digest. A code is made by a
manager, takes in one device, and ends by itself. What was done stands in the device's history and
in the log of ways in.
"""

import hashlib
import hmac
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from django.conf import settings
from django.contrib.sessions.models import Session

from workshop import clock, place
from workshop.actions.events import write_event
from workshop.actions.permission import require
from workshop.actions.sign_ins import count_here, locked_here, note
from workshop.errors import InputRefused, NotAllowed
from workshop.models import Device, DeviceCode, Person, Shop
from workshop.people import MANAGER
from workshop.queries import Id, device_of_token, token_digest, uuid_of
from workshop.writing import one_writer

__all__ = [
    "CODE_LASTS",
    "NewCode",
    "enrol",
    "enrol_here",
    "let_only_enrolled",
    "make_device_code",
    "note_device_seen",
    "revoke_device",
]

CODE_LASTS: Final = timedelta(minutes=15)
CODE_LETTERS: Final = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
"""No 0 and O, no 1 and I: a code is read off one screen and typed on another."""
CODE_LENGTH: Final = 8
WRONG_CODES: Final = 30
"""Wrong codes, from wherever, after which one that is open takes nothing in any more."""
TOKEN_BYTES: Final = 32
SEEN_EVERY: Final = timedelta(minutes=10)
NAME_LETTERS: Final = 60
DEVICE_KEY: Final = "device"
"""What a session calls the device on which it began."""


@dataclass(frozen=True, slots=True)
class NewCode:
    """A code as it is shown once, and when it ends."""

    code: str
    ends_at: datetime


def _plain(code: str) -> str:
    return "".join(letter for letter in code.upper() if letter.isalnum())


def _digest(code: str) -> str:
    key = settings.SECRET_KEY.encode()
    return hmac.new(key, f"device code {code}".encode(), hashlib.sha256).hexdigest()


def make_device_code(*, by: Id | None, now: datetime) -> NewCode:
    """Make a code that takes in one device; those made before end.

    Parameters
    ----------
    by : str, UUID or None
        The manager; None for the command on the server.
    now : datetime
        The server's time (UTC).

    Returns
    -------
    NewCode
        Shown once: no more than a digest is kept.
    """
    with one_writer():
        manager = None if by is None else require(by, MANAGER)
        DeviceCode.objects.filter(used_at=None).delete()
        code = "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))
        ends_at = now + CODE_LASTS
        DeviceCode.objects.create(
            digest=_digest(code), made_at=now, made_by=manager, ends_at=ends_at
        )
        note("device_code", by=manager)
    return NewCode(f"{code[:4]}-{code[4:]}", ends_at)


def _checked_name(name: str) -> str:
    plain = " ".join(name.split())
    if not plain:
        raise InputRefused("required", field="name")
    if len(plain) > NAME_LETTERS:
        raise InputRefused("too_long", field="name", most=NAME_LETTERS)
    if Device.objects.filter(name__iexact=plain, revoked_at=None).exists():
        raise InputRefused("device_name_taken", field="name", name=plain)
    return plain


def _take_in(name: str, *, by: Person | None, now: datetime) -> str:
    """Write a device down and give its token; inside ``one_writer``."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    row = Device.objects.create(
        name=name, token_digest=token_digest(token), enrolled_at=now, enrolled_by=by, seen_at=now
    )
    write_event(row.id, "enrolled", by=by, values={"name": name})
    note("enrolled", by=by)
    return token


@contextmanager
def _counted_for_codes() -> Iterator[None]:
    """Count apart from PINs: a mistyped code keeps nobody from signing on, nor the reverse."""
    here = place.current()
    with place.at(here and f"code at {here}"):
        yield


def enrol(*, code: str, name: str, now: datetime) -> str:
    """Take the device in that sends a code.

    Parameters
    ----------
    code : str
        As typed: small letters, spaces and dashes do not matter.
    name : str
        How the shop calls the device.
    now : datetime
        The server's time (UTC).

    Returns
    -------
    str
        The token that the device keeps.

    Raises
    ------
    InputRefused
        Where the name does not do, or no open code is this one. Wrong codes are counted at the
        place and in all.
    """
    with one_writer():
        with _counted_for_codes():
            until = locked_here(now)
        if until is not None:
            raise InputRefused("code_locked", field="code")
        plain = _checked_name(name)
        found = DeviceCode.objects.select_for_update().filter(used_at=None, ends_at__gt=now)
        row = next((each for each in found if each.digest == _digest(_plain(code))), None)
        if row is not None and row.wrong_codes < WRONG_CODES:
            row.used_at = now
            row.save(update_fields=("used_at",))
            return _take_in(plain, by=row.made_by, now=now)
        for each in found:
            each.wrong_codes += 1
            each.save(update_fields=("wrong_codes",))
        with _counted_for_codes():
            count_here(None, right=False, now=now)
        note("code_wrong")
    raise InputRefused("code_wrong", field="code")


def enrol_here(*, name: str, by: Id, now: datetime) -> str:
    """Take in the device at which a manager stands, without a code; give its token."""
    with one_writer():
        manager = require(by, MANAGER)
        return _take_in(_checked_name(name), by=manager, now=now)


def revoke_device(*, device_id: Id, by: Id | None, now: datetime) -> None:
    """Turn a device away and end what is signed on at it; a code takes it in again.

    Raises
    ------
    InputRefused
        Where there is no such device.
    """
    with one_writer():
        manager = None if by is None else require(by, MANAGER)
        row = Device.objects.select_for_update().filter(pk=uuid_of(device_id)).first()
        if row is None:
            raise InputRefused("unknown", field="device")
        if row.revoked_at is not None:
            return
        row.revoked_at, row.revoked_by = now, manager
        row.save(update_fields=("revoked_at", "revoked_by"))
        write_event(row.id, "revoked", by=manager, values={"name": row.name})
        note("revoked", by=manager)
        for session in Session.objects.filter(expire_date__gt=now):
            if session.get_decoded().get(DEVICE_KEY) == str(row.id):
                session.delete()


def let_only_enrolled(*, only: bool, by: Id | None, token: str = "") -> None:
    """Say whether devices that were not taken in may be worked at.

    Parameters
    ----------
    only : bool
        True shuts all others out.
    by : str, UUID or None
        The manager; None for the command on the server, which opens only.
    token : str
        Of the device at which this is asked.

    Raises
    ------
    NotAllowed
        Where it would shut out the very device at which it is asked.
    """
    with one_writer():
        manager = None if by is None else require(by, MANAGER)
        here = device_of_token(token) if token else None
        if only and (here is None or here.revoked_at is not None):
            raise NotAllowed("device_here_first")
        shop = Shop.objects.get(pk=1)
        if shop.only_enrolled != only:
            Shop.objects.filter(pk=1).update(only_enrolled=only)
            told = {"changes": {"only_enrolled": [shop.only_enrolled, only]}}
            write_event(shop.workshop_id, "changed", by=manager, values=told)


def note_device_seen(device_id: Id, seen_at: datetime) -> None:
    """Note that somebody works at a device, at most every ten minutes."""
    if clock.now() - seen_at < SEEN_EVERY:
        return
    with one_writer():
        Device.objects.filter(pk=uuid_of(device_id)).update(seen_at=clock.now())
