"""The one reader of the shop's registers: frozen data out, never rows.

Identifiers are text outside the database. A snapshot is what an entry of a job keeps, so it
holds no name. Nothing here writes; see ``workshop.actions``.
"""

import hashlib
import hmac
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db.models import F, Q, QuerySet, Value
from django.db.models.functions import Replace

from workshop import equipment
from workshop import limits as limit_table
from workshop.errors import InputRefused
from workshop.models import Customer, Equipment, Person, Shop, ShopLimit, Vehicle
from workshop.people import PersonInfo, QualificationInfo
from workshop.registers import CustomerInfo, EquipmentInfo, ShopInfo, VehicleInfo

Id = str | UUID
NIL = UUID(int=0)
LIST_LENGTH = 100
SEARCH_LENGTH = 60


def uuid_of(given: Id) -> UUID:
    """Read an identifier; the nil UUID, which no row bears, where it cannot be one."""
    if isinstance(given, UUID):
        return given
    try:
        return UUID(given)
    except (ValueError, AttributeError, TypeError):
        return NIL


def shop() -> ShopInfo:
    """Give the workshop's own row.

    Raises
    ------
    LookupError
        Where the row is missing: the migrations have not been run.
    """
    row = Shop.objects.first()
    if row is None:
        raise LookupError("The row of the shop is missing; run the migrations.")
    return ShopInfo(
        workshop_id=str(row.workshop_id),
        name=row.name,
        address=row.address,
        phone=row.phone,
        email=row.email,
        number_prefix=row.number_prefix,
        time_zone=row.time_zone,
        currency=row.currency,
        warranty_text=row.warranty_text,
    )


def local_day(now: datetime) -> date:
    """Give the day it is in the workshop's zone."""
    return now.astimezone(shop().zone).date()


def limits() -> dict[str, limit_table.Limit]:
    """Give every limit in force by its key, the shop's own values in place of the defaults."""
    own = {row.key: row for row in ShopLimit.objects.all()}
    return {
        key: replace(
            limit,
            value=own[key].value,
            kind=own[key].kind,
            source=own[key].source,
            note=own[key].note,
        )
        if key in own
        else limit
        for key, limit in limit_table.DEFAULTS.items()
    }


# ---------------------------------------------------------------- people


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
        pin_locked_until=row.pin_locked_until,
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


def _person_row(person_id: Id) -> Person | None:
    """Fetch a row by any text."""
    rows = Person.objects.prefetch_related("qualifications")
    return rows.filter(pk=uuid_of(person_id)).first()


def person(person_id: Id) -> PersonInfo | None:
    """Give one person, or None where there is no such person."""
    row = _person_row(person_id)
    return _person_info(row) if row else None


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


# ---------------------------------------------------------------- equipment


def _snapshot_of(row: Equipment, today: date) -> dict[str, Any]:
    """Give a row as an entry keeps it, the last usable day in place of the bare due date."""
    last_day = equipment.lapses_on(
        row.kind, tested_on=row.tested_on, due_on=row.due_on, issued=row.issued
    )
    snapshot: dict[str, Any] = {
        "id": str(row.id),
        "kind": row.kind,
        "label": row.label,
        "serial": row.serial,
        "ratings": row.ratings,
        "tested_on": row.tested_on.isoformat() if row.tested_on else None,
        "due_on": last_day.isoformat() if last_day else None,
        "issued": row.issued,
        "cycles": row.cycles,
        "withdrawn": row.withdrawn_at is not None,
    }
    reason = equipment.usable(snapshot, today)
    return snapshot | {"unusable": reason.code if reason else None}


def _equipment_info(row: Equipment, today: date) -> EquipmentInfo:
    """Turn a row into plain data with its reason."""
    snapshot = _snapshot_of(row, today)
    due_on = snapshot["due_on"]
    return EquipmentInfo(
        id=snapshot["id"],
        kind=row.kind,
        label=row.label,
        serial=row.serial,
        ratings=row.ratings,
        tested_on=row.tested_on,
        due_on=date.fromisoformat(due_on) if due_on else None,
        certificate=row.certificate,
        cycles=row.cycles,
        issued=row.issued,
        withdrawn_at=row.withdrawn_at,
        withdrawn_reason=row.withdrawn_reason,
        reason=equipment.usable(snapshot, today),
    )


def equipment_snapshot(equipment_id: Id, now: datetime) -> dict[str, Any]:
    """Give a piece as an entry keeps it: rating, last usable day, and what bars it today.

    Raises
    ------
    InputRefused
        Where there is no such piece.
    """
    row = Equipment.objects.filter(pk=uuid_of(equipment_id)).first()
    if row is None:
        raise InputRefused("unknown", field="equipment")
    return _snapshot_of(row, local_day(now))


def equipment_piece(equipment_id: Id, today: date) -> EquipmentInfo | None:
    """Give one piece, or None where there is no such piece."""
    row = Equipment.objects.filter(pk=uuid_of(equipment_id)).first()
    return _equipment_info(row, today) if row else None


def equipment_of_kind(kind: str, today: date) -> tuple[EquipmentInfo, ...]:
    """Give the pieces of a kind that are not withdrawn, each with whether it may be used."""
    rows = Equipment.objects.filter(kind=kind, withdrawn_at__isnull=True)
    return tuple(_equipment_info(row, today) for row in rows)


def all_equipment(today: date, *, with_withdrawn: bool = False) -> tuple[EquipmentInfo, ...]:
    """Give every piece by kind and label; withdrawn ones only on request."""
    rows = Equipment.objects.all()
    if not with_withdrawn:
        rows = rows.filter(withdrawn_at__isnull=True)
    return tuple(_equipment_info(row, today) for row in rows)


# ---------------------------------------------------------------- customers and vehicles


def _words(search: str) -> list[str]:
    """Split what was typed into a few words that a database can look for."""
    return search.replace("\x00", " ")[:SEARCH_LENGTH].split()[:5]


def _customer_info(row: Customer) -> CustomerInfo:
    """Turn a row into plain data."""
    return CustomerInfo(
        str(row.id), row.name, row.phone, row.email, row.address, row.consent_at, row.note
    )


def _vehicle_info(row: Vehicle) -> VehicleInfo:
    """Turn a row, with its customer fetched, into plain data."""
    return VehicleInfo(
        id=str(row.id),
        plate=row.plate,
        vin=row.vin,
        make=row.make,
        model=row.model,
        year=row.year,
        body=row.body,
        customer_id=str(row.customer_id) if row.customer_id else "",
        customer_name=row.customer.name if row.customer else "",
    )


def customers(search: str = "") -> tuple[CustomerInfo, ...]:
    """Give customers whose name, telephone, mail or plate holds every word; at most 100."""
    rows = Customer.objects.all()
    for word in _words(search):
        rows = rows.filter(
            Q(name__icontains=word)
            | Q(phone__icontains=word)
            | Q(email__icontains=word)
            | Q(vehicles__plate__icontains=word)
        )
    return tuple(_customer_info(row) for row in rows.distinct()[:LIST_LENGTH])


def customer(customer_id: Id) -> CustomerInfo | None:
    """Give one customer, or None where there is no such customer."""
    row = Customer.objects.filter(pk=uuid_of(customer_id)).first()
    return _customer_info(row) if row else None


def _vehicle_rows() -> QuerySet[Vehicle]:
    """Fetch vehicles with their customer, and the plate without its spaces."""
    close = Replace(Replace(F("plate"), Value(" "), Value("")), Value("-"), Value(""))
    return Vehicle.objects.select_related("customer").annotate(close_plate=close)


def vehicles(search: str = "") -> tuple[VehicleInfo, ...]:
    """Give vehicles whose plate, VIN, make, model or owner holds every word; at most 100."""
    rows = _vehicle_rows()
    for word in _words(search):
        rows = rows.filter(
            Q(close_plate__icontains=word.replace("-", ""))
            | Q(plate__icontains=word)
            | Q(vin__icontains=word)
            | Q(make__icontains=word)
            | Q(model__icontains=word)
            | Q(customer__name__icontains=word)
        )
    return tuple(_vehicle_info(row) for row in rows[:LIST_LENGTH])


def vehicle(vehicle_id: Id) -> VehicleInfo | None:
    """Give one vehicle, or None where there is no such vehicle."""
    row = _vehicle_rows().filter(pk=uuid_of(vehicle_id)).first()
    return _vehicle_info(row) if row else None


def vehicles_of(customer_id: Id) -> tuple[VehicleInfo, ...]:
    """Give the vehicles of a customer."""
    rows = _vehicle_rows().filter(customer_id=uuid_of(customer_id))
    return tuple(_vehicle_info(row) for row in rows)


def vehicles_like(plate: str, vin: str) -> tuple[VehicleInfo, ...]:
    """Give vehicles that already carry this plate, spaces and dashes aside, or this VIN."""
    close = plate.replace(" ", "").replace("-", "")
    same = Q(pk__in=[])
    if close:
        same |= Q(close_plate__iexact=close)
    if vin:
        same |= Q(vin__iexact=vin)
    return tuple(_vehicle_info(row) for row in _vehicle_rows().filter(same)[:LIST_LENGTH])
