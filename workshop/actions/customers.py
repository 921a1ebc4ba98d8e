"""Customers and their vehicles."""

from dataclasses import asdict

from workshop import clock
from workshop.actions.permission import require
from workshop.details import CustomerDetails, VehicleDetails
from workshop.errors import InputRefused
from workshop.models import Customer, Vehicle
from workshop.people import FRONT_DESK, MANAGER
from workshop.queries import Id, uuid_of
from workshop.writing import one_writer


def add_customer(*, details: CustomerDetails, by: Id) -> str:
    """Add a customer and give the identifier."""
    with one_writer():
        require(by, FRONT_DESK, MANAGER)
        if not details.name.strip():
            raise InputRefused("required", field="name")
        row = Customer.objects.create(**asdict(details), created_at=clock.now())
    return str(row.id)


def change_customer(*, customer_id: Id, details: CustomerDetails, by: Id) -> None:
    """Correct what is known about a customer."""
    with one_writer():
        require(by, FRONT_DESK, MANAGER)
        if not details.name.strip():
            raise InputRefused("required", field="name")
        changed = Customer.objects.filter(pk=uuid_of(customer_id)).update(**asdict(details))
        if not changed:
            raise InputRefused("unknown", field="customer")


def add_vehicle(*, details: VehicleDetails, customer_id: Id | None, by: Id) -> str:
    """Add a vehicle and give the identifier; a plate or VIN known already is no obstacle."""
    with one_writer():
        require(by, FRONT_DESK, MANAGER)
        if not (details.plate or details.vin):
            raise InputRefused("required", field="plate")
        owner = None
        if customer_id is not None:
            owner = Customer.objects.filter(pk=uuid_of(customer_id)).first()
            if owner is None:
                raise InputRefused("unknown", field="customer")
        row = Vehicle.objects.create(**asdict(details), customer=owner, created_at=clock.now())
    return str(row.id)
