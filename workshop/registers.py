"""What pages and actions see of a register: frozen data that ``workshop.queries`` fills.

People are in ``workshop.people``, limits in ``workshop.limits``. Identifiers are text.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from workshop import equipment
from workshop.units import Units


@dataclass(frozen=True, slots=True)
class ShopInfo:
    """The workshop itself."""

    workshop_id: str
    name: str
    address: str
    phone: str
    email: str
    number_prefix: str
    time_zone: str
    currency: str
    tax_percent: Decimal
    warranty_text: str
    tax_number: str = ""
    opening_hours: str = ""
    torque_unit: str = ""
    pressure_unit: str = ""
    distance_unit: str = ""
    language: str = "en"
    logo_sha256: str = ""
    only_enrolled: bool = False
    office_password: bool = False

    @property
    def zone(self) -> ZoneInfo:
        """The zone in which its days begin."""
        return ZoneInfo(self.time_zone)

    @property
    def units(self) -> Units:
        """The units in which it reads and writes."""
        return Units(
            torque=self.torque_unit, pressure=self.pressure_unit, distance=self.distance_unit
        )


@dataclass(frozen=True, slots=True)
class EquipmentInfo:
    """A piece of equipment, with why it may not be used, if so."""

    id: str
    kind: str
    label: str
    serial: str
    ratings: Mapping[str, Any]
    tested_on: date | None
    due_on: date | None
    certificate: str
    cycles: int
    issued: bool
    withdrawn_at: datetime | None
    withdrawn_reason: str
    reason: equipment.Unusable | None

    @property
    def kind_title(self) -> str:
        """The title shown for the kind."""
        return equipment.KINDS[self.kind].title if self.kind in equipment.KINDS else self.kind

    @property
    def usable(self) -> bool:
        """Whether it may be used on the day asked for."""
        return self.reason is None


@dataclass(frozen=True, slots=True)
class CustomerInfo:
    """A customer."""

    id: str
    name: str
    phone: str
    email: str
    address: str
    consent_at: datetime | None
    note: str
    erased_at: datetime | None = None
    language: str = ""


@dataclass(frozen=True, slots=True)
class VehicleInfo:
    """A vehicle and whose it is."""

    id: str
    plate: str
    vin: str
    make: str
    model: str
    year: int | None
    body: str
    customer_id: str
    customer_name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EventInfo:
    """Something that was done to a row of a register.

    Attributes
    ----------
    kind : str
        What was done, such as "test".
    at : datetime
        When.
    by : str
        Name of the person who did it; empty where nobody was signed on yet.
    values : Mapping
        What it was about; never words about a customer.
    sha256, media_type : str
        The certificate that came with it; empty without one.
    """

    kind: str
    at: datetime
    by: str
    values: Mapping[str, Any]
    sha256: str = ""
    media_type: str = ""
