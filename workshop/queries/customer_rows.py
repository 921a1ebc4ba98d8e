"""Customers and vehicles, and finding them by what somebody says on the telephone."""

from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Q, QuerySet

from workshop.finding import close_plate
from workshop.models import Customer, Vehicle
from workshop.queries.identifiers import LIST_LENGTH, Id, uuid_of, words
from workshop.queries.matching import (
    NOTHING,
    customer_rows,
    customers_found,
    vehicle_rows,
    vehicles_found,
)
from workshop.queries.slices import Slice, sliced
from workshop.registers import CustomerInfo, VehicleInfo

FOUND_LENGTH = 20
"""Customers shown while somebody is still typing."""


@dataclass(frozen=True, slots=True)
class Found:
    """A customer and those of their vehicles that a search means; None where nobody owns them."""

    customer: CustomerInfo | None
    vehicles: tuple[VehicleInfo, ...]


def _customer_info(row: Customer) -> CustomerInfo:
    """Turn a row into plain data."""
    return CustomerInfo(
        id=str(row.id),
        name=row.name,
        phone=row.phone,
        email=row.email,
        address=row.address,
        consent_at=row.consent_at,
        note=row.note,
        erased_at=row.erased_at,
        language=row.language,
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
    rows = _customers(search)
    return tuple(_customer_info(row) for row in rows[:LIST_LENGTH])


def _customers(search: str) -> QuerySet[Customer]:
    rows = customer_rows()
    if not words(search):
        return rows
    owners = vehicle_rows().filter(vehicles_found(search)).values("customer_id")
    return rows.filter(customers_found(search) | Q(pk__in=owners))


def customers_page(search: str, page: int) -> Slice[CustomerInfo]:
    """Give one page of the customers that a search finds; of all without one."""
    return sliced(_customers(search), page, _customer_info)


def customer(customer_id: Id) -> CustomerInfo | None:
    """Give one customer, or None where there is no such customer."""
    row = Customer.objects.filter(pk=uuid_of(customer_id)).first()
    return _customer_info(row) if row else None


def customer_names(ids: Iterable[Id]) -> dict[str, str]:
    """Give the names of customers by identifier; unknown identifiers are left out."""
    rows = Customer.objects.filter(pk__in={uuid_of(each) for each in ids})
    return {str(key): name for key, name in rows.values_list("id", "name")}


def vehicles(search: str = "") -> tuple[VehicleInfo, ...]:
    """Give vehicles whose plate, VIN, make, model or owner holds every word; at most 100."""
    rows = vehicle_rows().filter(vehicles_found(search))
    return tuple(_vehicle_info(row) for row in rows[:LIST_LENGTH])


def vehicles_page(search: str, page: int) -> Slice[VehicleInfo]:
    """Give one page of the vehicles that a search finds; of all without one."""
    return sliced(vehicle_rows().filter(vehicles_found(search)), page, _vehicle_info)


def vehicle(vehicle_id: Id) -> VehicleInfo | None:
    """Give one vehicle, or None where there is no such vehicle."""
    row = vehicle_rows().filter(pk=uuid_of(vehicle_id)).first()
    return _vehicle_info(row) if row else None


def vehicles_of(*customer_ids: Id) -> tuple[VehicleInfo, ...]:
    """Give the vehicles of customers."""
    wanted = {uuid_of(each) for each in customer_ids}
    rows = vehicle_rows().filter(customer_id__in=wanted)
    return tuple(_vehicle_info(row) for row in rows)


def vehicles_like(plate: str, vin: str, *, other_than: Id = "") -> tuple[VehicleInfo, ...]:
    """Give vehicles that already carry this plate, spaces and dashes aside, or this VIN."""
    close, same = close_plate(plate), NOTHING
    if close:
        same |= Q(close_plate__iexact=close)
    if vin:
        same |= Q(vin__iexact=vin)
    rows = vehicle_rows().filter(same).exclude(pk=uuid_of(other_than))
    return tuple(_vehicle_info(row) for row in rows[:LIST_LENGTH])


def find(search: str) -> tuple[Found, ...]:
    """Find whom and what a search means: name, plate, VIN or its end, telephone number.

    Parameters
    ----------
    search : str
        As typed; nothing is found by an empty one.

    Returns
    -------
    tuple of Found
        Customers with the vehicles meant: those found by their own words, or all of a customer
        who was found by name or number; vehicles that nobody owns come last.
    """
    if not words(search):
        return ()
    meant = [_vehicle_info(r) for r in vehicle_rows().filter(vehicles_found(search))[:LIST_LENGTH]]
    named = customer_rows().filter(customers_found(search))[:FOUND_LENGTH]
    people = {str(row.id): _customer_info(row) for row in named}
    whole = vehicles_of(*people)
    owners = {each.customer_id for each in meant if each.customer_id} - set(people)
    people |= _customers_by_id(owners)
    shown = {each.id: each for each in (*whole, *meant)}.values()
    found = [
        Found(info, tuple(each for each in shown if each.customer_id == key))
        for key, info in people.items()
    ]
    nobodys = tuple(each for each in meant if not each.customer_id)
    return (*found[:FOUND_LENGTH], *((Found(None, nobodys),) if nobodys else ()))


def _customers_by_id(ids: Iterable[str]) -> dict[str, CustomerInfo]:
    wanted: set[UUID] = {uuid_of(each) for each in ids}
    return {str(row.id): _customer_info(row) for row in customer_rows().filter(pk__in=wanted)}
