"""The invented workshop entered in the registers, each row through the action a person uses.

Here: `open_shop`, and `Shop`, which knows everything by the name it has in the scenario.
Not here: jobs (`player`, `loading`).
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from jobs.practice.scenario import (
    EquipmentData,
    PersonData,
    Scenario,
    SpareData,
    pack_text,
)
from packs import actions as packs
from packs.definition import PackDefinition
from packs.queries import latest_revision
from packs.spare_tests import SpareTest
from packs.spares import QUARANTINED, NewSpare
from workshop import actions, queries
from workshop.details import (
    CustomerDetails,
    EquipmentDetails,
    EquipmentTest,
    PersonDetails,
    ShopDetails,
    VehicleDetails,
)
from workshop.equipment import CALIBRATION_MONTHS, add_months

__all__ = ["Shop", "Vehicle", "open_shop"]


@dataclass(frozen=True, slots=True)
class Vehicle:
    """A vehicle of the scenario with its identifiers."""

    id: str
    customer_id: str
    customer: str
    vin: str
    title: str


@dataclass(frozen=True, slots=True)
class Shop:
    """The workshop as entered: identifiers by the name that the scenario uses."""

    pin: str
    people: dict[str, str]
    names: dict[str, str]
    equipment: dict[str, str]
    vehicles: dict[str, Vehicle]
    spares: dict[str, UUID]
    packs: dict[str, PackDefinition]
    revisions: dict[str, str]


def _person(data: PersonData, manager: str | None, pin: str, today: date) -> str:
    details = PersonDetails(
        display_name=data.display_name, short_name=data.short_name, role=data.role
    )
    if manager is None:
        person = actions.create_first_manager(details=details, pin=pin)
    else:
        person = actions.add_person(details=details, by=manager)
        actions.set_pin(person_id=person, pin=pin, by=person)
    for held in data.qualifications:
        actions.set_qualification(
            person_id=person,
            code=held.code,
            expires_on=today + timedelta(days=held.expires_in_days),
            certificate=held.certificate,
            by=manager or person,
        )
    return person


def _equipment(data: EquipmentData, manager: str, today: date) -> str:
    tested = None if data.tested_days_ago is None else today - timedelta(days=data.tested_days_ago)
    dated = tested is not None and data.kind != "gloves"
    due = add_months(tested, CALIBRATION_MONTHS) if tested is not None and dated else None
    return actions.add_equipment(
        details=EquipmentDetails(
            kind=data.kind,
            label=data.label,
            serial=data.serial,
            ratings=dict(data.ratings),
            test=EquipmentTest(tested_on=tested, due_on=due, issued=data.issued),
        ),
        by=manager,
    )


def _spare(data: SpareData, manager: str, today: datetime) -> UUID:
    """Enter a spare as of the day of its test, when it came in."""
    test, now = data.test, today - timedelta(days=data.test.tested_days_ago)
    info = packs.add_spare(
        new=NewSpare(
            serial=data.serial,
            part=data.part,
            chemistry=data.chemistry,
            cells=data.cells,
            provenance=data.provenance,
            place=data.place,
            test=SpareTest(
                capacity_ah=test.capacity_ah,
                resistance_mohm=test.resistance_mohm,
                cell_v=test.cell_v,
                tested_on=now.date(),
                insulation_ohm=test.insulation_ohm,
                insulation_comparator=test.insulation_comparator,
                insulation_test_v=test.insulation_test_v,
            ),
        ),
        by=UUID(manager),
        now=now,
    )
    if data.quarantined:
        packs.move_spare(
            spare_id=info.id, state=QUARANTINED, place=data.place, by=UUID(manager), now=now
        )
    return info.id


def _vehicles(data: Scenario, manager: str, now: datetime) -> dict[str, Vehicle]:
    found = {}
    for customer in data.customers:
        customer_id = actions.add_customer(
            details=CustomerDetails(
                name=customer.name,
                phone=customer.phone,
                email=customer.email,
                address=customer.address,
                consent_at=now,
            ),
            by=manager,
        )
        for each in customer.vehicles:
            vehicle_id = actions.add_vehicle(
                details=VehicleDetails(**each.model_dump()), customer_id=customer_id, by=manager
            )
            title = f"{each.make} {each.model}, {each.body}"
            found[each.plate] = Vehicle(vehicle_id, customer_id, customer.name, each.vin, title)
    return found


def open_shop(data: Scenario, *, now: datetime) -> Shop:
    """Enter the workshop: people with PINs, equipment, pack definitions, spares, customers.

    Parameters
    ----------
    data : Scenario
        The workshop.
    now : datetime
        The day from which the scenario counts its days.

    Returns
    -------
    Shop
        Identifiers by name.

    Raises
    ------
    Conflict
        Where the database has people already.
    """
    today = queries.local_day(now)
    people: dict[str, str] = {}
    manager: str | None = None
    for person in data.people:
        people[person.short_name] = _person(person, manager, data.pin, today)
        manager = manager or people[person.short_name]
    chief = manager or ""
    actions.update_shop(details=ShopDetails(**data.shop.model_dump()), by=chief)
    for slug in data.packs:
        packs.add_pack_revision(toml=pack_text(slug), by=UUID(chief), now=now)
    revisions = {slug: latest_revision(slug) for slug in data.packs}
    return Shop(
        pin=data.pin,
        people=people,
        names={each.short_name: each.display_name for each in data.people},
        equipment={each.label: _equipment(each, chief, today) for each in data.equipment},
        vehicles=_vehicles(data, chief, now),
        spares={each.serial: _spare(each, chief, now) for each in data.spares},
        packs={slug: info.definition for slug, info in revisions.items()},
        revisions={slug: str(info.id) for slug, info in revisions.items()},
    )
