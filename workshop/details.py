"""What a person enters about a customer, a vehicle, a piece of equipment, the shop.

Plain frozen data that forms fill and actions take. No Django, no identifiers, no rules.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonDetails:
    """A person of the shop."""

    display_name: str
    short_name: str
    role: str
    language: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CustomerDetails:
    """A customer and how to reach them."""

    name: str
    phone: str = ""
    email: str = ""
    address: str = ""
    consent_at: datetime | None = None
    note: str = ""
    language: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleDetails:
    """A vehicle as it stands on its papers."""

    plate: str = ""
    vin: str = ""
    make: str = ""
    model: str = ""
    year: int | None = None
    body: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class EquipmentTest:
    """The last test or calibration of a piece of equipment."""

    tested_on: date | None = None
    due_on: date | None = None
    certificate: str = ""
    issued: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class EquipmentDetails:
    """A piece of equipment with its ratings and its last test."""

    kind: str
    label: str
    serial: str = ""
    ratings: Mapping[str, Any] = field(default_factory=dict)
    test: EquipmentTest = EquipmentTest()


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopDetails:
    """What the shop prints about itself and how it counts."""

    name: str
    address: str = ""
    phone: str = ""
    email: str = ""
    number_prefix: str = "W"
    time_zone: str = "UTC"
    currency: str = "EUR"
    tax_percent: Decimal = Decimal(0)
    warranty_text: str = ""
    tax_number: str = ""
    opening_hours: str = ""
    torque_unit: str = ""
    pressure_unit: str = ""
    distance_unit: str = ""
    language: str = "en"
