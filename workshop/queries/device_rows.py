"""The devices of the shop, and which of them a token names."""

import hashlib
from dataclasses import dataclass
from datetime import datetime

from workshop.models import Device
from workshop.once_a_request import once_a_request
from workshop.queries.identifiers import Id, uuid_of

__all__ = ["DeviceInfo", "device", "device_of_token", "devices", "token_digest"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceInfo:
    """A tablet or computer that was taken in.

    Attributes
    ----------
    id, name : str
        Which.
    enrolled_at, seen_at : datetime
        When it was taken in, and when somebody last worked at it.
    enrolled_by, revoked_by : str
        Names of the managers; empty where a command did it.
    revoked_at : datetime | None
        Since when it is no longer one of the shop's.
    """

    id: str
    name: str
    enrolled_at: datetime
    enrolled_by: str
    seen_at: datetime
    revoked_at: datetime | None
    revoked_by: str


def token_digest(token: str) -> str:
    """Give what is kept of a token; it has 256 random bits, so nobody tries them out."""
    return hashlib.sha256(token.encode(errors="replace")).hexdigest()


def _info(row: Device) -> DeviceInfo:
    return DeviceInfo(
        id=str(row.id),
        name=row.name,
        enrolled_at=row.enrolled_at,
        enrolled_by="" if row.enrolled_by is None else row.enrolled_by.display_name,
        seen_at=row.seen_at,
        revoked_at=row.revoked_at,
        revoked_by="" if row.revoked_by is None else row.revoked_by.display_name,
    )


def devices() -> tuple[DeviceInfo, ...]:
    """Give every device by name, those revoked at the end."""
    rows = [_info(row) for row in Device.objects.select_related("enrolled_by", "revoked_by")]
    return tuple(sorted(rows, key=lambda each: (each.revoked_at is not None, each.name.casefold())))


def device(device_id: Id) -> DeviceInfo | None:
    """Give one device, or None where there is no such device."""
    rows = Device.objects.select_related("enrolled_by", "revoked_by")
    row = rows.filter(pk=uuid_of(device_id)).first()
    return None if row is None else _info(row)


@once_a_request
def device_of_token(token: str) -> DeviceInfo | None:
    """Give the device that keeps this token, revoked or not; None where there is none."""
    rows = Device.objects.select_related("enrolled_by", "revoked_by")
    row = rows.filter(token_digest=token_digest(token)).first()
    return None if row is None else _info(row)
