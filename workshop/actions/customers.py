"""Customers and their vehicles: adding, correcting, changing hands, erasing on request.

That a customer with an open job is not erased is decided by the jobs, which know of it.
"""

from dataclasses import asdict, replace
from typing import Final

from workshop import clock, languages, queries
from workshop.actions.events import changes, write_event
from workshop.actions.permission import require
from workshop.details import CustomerDetails, VehicleDetails
from workshop.errors import Conflict, InputRefused
from workshop.models import Customer, Person, Vehicle
from workshop.people import FRONT_DESK, MANAGER
from workshop.queries import Id, uuid_of
from workshop.ways import ANOTHER, CHANGED_HANDS, EXISTING, may_be_another
from workshop.writing import one_writer

ERASED: Final = "erased"


def add_customer(*, details: CustomerDetails, by: Id) -> str:
    """Add a customer and give the identifier."""
    with one_writer():
        person = require(by, FRONT_DESK, MANAGER)
        _check_customer(details)
        row = Customer.objects.create(**asdict(details), created_at=clock.now())
        write_event(row.id, "added", by=person)
    return str(row.id)


def change_customer(*, customer_id: Id, details: CustomerDetails, by: Id) -> None:
    """Correct what is known about a customer; the history names the fields, not the words."""
    with one_writer():
        person = require(by, FRONT_DESK, MANAGER)
        _check_customer(details)
        row = _customer_row(customer_id)
        after = asdict(details)
        changed = [name for name in after if getattr(row, name) != after[name]]
        Customer.objects.filter(pk=row.pk).update(**after)
        if changed:
            write_event(row.id, "changed", by=person, values={"fields": changed})


def _check_customer(details: CustomerDetails) -> None:
    """Refuse a customer without a name, and a language that there is none of."""
    if not details.name.strip():
        raise InputRefused("required", field="name")
    if details.language and details.language not in dict(languages.choices()):
        raise InputRefused("not_one_of", field="language")


def _customer_row(customer_id: Id) -> Customer:
    """Fetch and lock a customer that was not erased."""
    rows = Customer.objects.select_for_update()
    row = rows.filter(pk=uuid_of(customer_id), erased_at__isnull=True).first()
    if row is None:
        raise InputRefused("unknown", field="customer")
    return row


def erase_customer(*, customer_id: Id, by: Id) -> None:
    """Blank a customer's row and the plates of their vehicles, which are nobody's then.

    Notes
    -----
    A vehicle keeps its VIN, make and history: those say what was repaired, not for whom.
    """
    with one_writer():
        person = require(by, MANAGER)
        row = _customer_row(customer_id)
        blank = asdict(CustomerDetails(name=ERASED))
        Customer.objects.filter(pk=row.pk).update(**blank, erased_at=clock.now())
        for vehicle in Vehicle.objects.filter(customer=row):
            plate = "" if vehicle.vin else ERASED
            Vehicle.objects.filter(pk=vehicle.pk).update(plate=plate, customer=None)
            left = {"customer": "", "before": str(row.id)}
            write_event(vehicle.id, "changed_hands", by=person, values=left)
        write_event(row.id, "erased", by=person)


# ---------------------------------------------------------------- vehicles


def add_vehicle(*, details: VehicleDetails, customer_id: Id | None, by: Id) -> str:
    """Add a vehicle and give the identifier; a plate or VIN known already is no obstacle."""
    with one_writer():
        person = require(by, FRONT_DESK, MANAGER)
        if not (details.plate or details.vin):
            raise InputRefused("required", field="plate")
        owner = None if customer_id is None else _customer_row(customer_id)
        row = Vehicle.objects.create(**asdict(details), customer=owner, created_at=clock.now())
        values = {"customer": str(owner.id) if owner else ""}
        write_event(row.id, "added", by=person, values=values)
    return str(row.id)


def enter_vehicle(*, details: VehicleDetails, customer_id: Id, way: str, by: Id) -> str:
    """Enter the vehicle of a customer, by the way that a person chose where it is known already.

    Parameters
    ----------
    details : VehicleDetails
        As typed.
    customer_id : str or UUID
        Whose it is.
    way : str
        One of the ways of ``workshop.ways``, with the vehicle meant; empty where none was asked.
    by : str or UUID
        Who enters it.

    Returns
    -------
    str
        Identifier of the vehicle, new or known.

    Raises
    ------
    Conflict
        Where plate or VIN is known already and no way on was chosen that fits.
    """
    with one_writer():
        alike = queries.vehicles_like(details.plate, details.vin)
        if not alike or (way == ANOTHER and may_be_another(details, alike)):
            return add_vehicle(details=details, customer_id=customer_id, by=by)
        chosen, _, vehicle_id = way.partition(":")
        if vehicle_id not in {each.id for each in alike}:
            raise Conflict("vehicle_known", field="way")
        person = require(by, FRONT_DESK, MANAGER)
        if chosen == CHANGED_HANDS:
            move_vehicle(vehicle_id=vehicle_id, customer_id=customer_id, by=by)
        elif chosen != EXISTING:
            raise Conflict("vehicle_known", field="way")
        _fill_gaps(vehicle_id, details, person)
        return vehicle_id


def _vehicle_row(vehicle_id: Id) -> Vehicle:
    """Fetch and lock a vehicle."""
    row = Vehicle.objects.select_for_update().filter(pk=uuid_of(vehicle_id)).first()
    if row is None:
        raise InputRefused("unknown", field="vehicle")
    return row


def _details_of(row: Vehicle) -> VehicleDetails:
    return VehicleDetails(
        plate=row.plate,
        vin=row.vin,
        make=row.make,
        model=row.model,
        year=row.year,
        body=row.body,
    )


def _fill_gaps(vehicle_id: Id, typed: VehicleDetails, person: Person) -> None:
    """Keep what was typed where the register knows nothing yet."""
    row = _vehicle_row(vehicle_id)
    known = _details_of(row)
    new = {name: value for name, value in asdict(typed).items() if not getattr(known, name)}
    _write_vehicle(row, replace(known, **new), person)


def _write_vehicle(row: Vehicle, details: VehicleDetails, person: Person) -> None:
    """Write a vehicle's columns and say what changed; a plate says whose it is, so only that."""
    after = asdict(details)
    changed = changes(asdict(_details_of(row)), after)
    if not changed:
        return
    Vehicle.objects.filter(pk=row.pk).update(**after)
    values = {"fields": list(changed)}
    write_event(row.id, "changed", by=person, values=values)


def change_vehicle(*, vehicle_id: Id, details: VehicleDetails, way: str, by: Id) -> None:
    """Correct a vehicle; a plate or VIN that another vehicle has needs the word that both stay.

    Raises
    ------
    Conflict
        Where another vehicle has the plate or VIN, and nothing or the wrong thing was chosen.
    """
    with one_writer():
        person = require(by, FRONT_DESK, MANAGER)
        row = _vehicle_row(vehicle_id)
        if not (details.plate or details.vin):
            raise InputRefused("required", field="plate")
        alike = queries.vehicles_like(details.plate, details.vin, other_than=vehicle_id)
        if alike and not (way == ANOTHER and may_be_another(details, alike)):
            raise Conflict("vehicle_known", field="way")
        _write_vehicle(row, details, person)


def move_vehicle(*, vehicle_id: Id, customer_id: Id, by: Id) -> None:
    """Give a vehicle to another customer; who had it before stays in its history."""
    with one_writer():
        person = require(by, FRONT_DESK, MANAGER)
        row, owner = _vehicle_row(vehicle_id), _customer_row(customer_id)
        if row.customer_id == owner.id:
            return
        before = str(row.customer_id) if row.customer_id else ""
        Vehicle.objects.filter(pk=row.pk).update(customer=owner)
        values = {"customer": str(owner.id), "before": before}
        write_event(row.id, "changed_hands", by=person, values=values)
