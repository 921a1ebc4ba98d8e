"""Booking a job in: its number, its row, its chain and the first entry."""

import re
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from django.db.models import Max

from jobs.actions import chain
from jobs.actions.desk import Written, check_assigned, facts_row, write_row
from jobs.core.desk import ASSIGNED, Desk
from jobs.core.entry import Kind
from jobs.core.reason import InputRefused, Reason
from jobs.models import Job
from jobs.queries.belonging import open_jobs_of
from packs import actions as packs
from workshop import actions as registers
from workshop import queries as shop
from workshop.details import CustomerDetails, VehicleDetails
from workshop.errors import NotAllowed
from workshop.people import FRONT_DESK, MANAGER, TECHNICIAN
from workshop.ways import EXISTING
from workshop.writing import one_writer

__all__ = ["REASONS", "Arrival", "Booking", "book_arrival", "book_job", "next_number"]

NO_CUSTOMER = Reason("booking_customer", "There is no such customer. Choose one or add one.")
NO_VEHICLE = Reason("booking_vehicle", "There is no such vehicle. Choose one or add one.")
NOT_THEIRS = Reason(
    "booking_owner",
    "{vehicle} belongs to {owner}. Move it to this customer first, or choose again.",
)
NOTHING = Reason("booking_nothing", "Enter a vehicle, or the serial of a pack that arrives alone.")
PROMISED = Reason("booking_promised", "It cannot be promised before it arrives.")
PAST = Reason("booking_past", "It cannot be promised for a day that is over.")
OPEN_ALREADY = Reason(
    "booking_open", "{number} is open for this vehicle. Go there, or say that this is another job."
)
NOT_YOURS = Reason("booking_other", "This booking was made for another vehicle. Start again.")

REASONS = (
    NO_CUSTOMER,
    NO_VEHICLE,
    NOT_THEIRS,
    NOTHING,
    PROMISED,
    PAST,
    OPEN_ALREADY,
    NOT_YOURS,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Booking:
    """What the front desk books.

    Attributes
    ----------
    key : str
        Identifier of the booking (UUID); the same booking twice is one job.
    customer_id : str
        The customer.
    vehicle_id : str
        The vehicle; empty when a pack arrives alone.
    pack_id : str
        The pack, where its serial is known; needed when no vehicle arrives.
    arrives_on, promised_on : date | None
        Local dates.
    facts : Mapping[str, str]
        Who pays, insurer, claim, recall and warranty, where that is known.
    assigned : str
        Whose job it is; empty for nobody's yet.
    """

    key: str
    customer_id: str
    vehicle_id: str = ""
    pack_id: str = ""
    arrives_on: date | None = None
    promised_on: date | None = None
    facts: Mapping[str, str] = field(default_factory=dict)
    assigned: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """What the front desk enters together with a booking, where it is not known yet.

    Attributes
    ----------
    customer : CustomerDetails | None
        A new customer.
    vehicle : VehicleDetails | None
        A new vehicle.
    way : str
        The way on that was chosen where its plate or VIN is known already.
    pack_serial, pack_slug : str
        The pack, entered now if its serial is not known, and its kind; both may be empty.
    is_another : bool
        Whether a second job of the same vehicle is meant.
    """

    customer: CustomerDetails | None = None
    vehicle: VehicleDetails | None = None
    way: str = ""
    pack_serial: str = ""
    pack_slug: str = ""
    is_another: bool = False


def _whose(booking: Booking) -> tuple[str, str]:
    return booking.customer_id, booking.vehicle_id


def next_number(prefix: str) -> str:
    """Give the next number with a prefix: this workshop's own, or that of practice jobs."""
    rows = Job.objects.filter(number__regex=f"^{re.escape(prefix)}[0-9]+$")
    highest = rows.aggregate(highest=Max("number"))["highest"]
    running = int(highest.removeprefix(prefix)) + 1 if highest else 1
    return f"{prefix}{running:06d}"


def _check(booking: Booking, now: datetime) -> None:
    customer = shop.customer(booking.customer_id)
    if customer is None or customer.erased_at is not None:
        raise InputRefused(NO_CUSTOMER("customer"))
    if booking.vehicle_id and shop.vehicle(booking.vehicle_id) is None:
        raise InputRefused(NO_VEHICLE("vehicle"))
    if not booking.vehicle_id and not booking.pack_id:
        raise InputRefused(NOTHING("vehicle"))
    promised, arrives = booking.promised_on, booking.arrives_on
    if promised is not None and arrives is not None and promised < arrives:
        raise InputRefused(PROMISED("promised_on"))
    if promised is not None and promised < shop.local_day(now):
        raise InputRefused(PAST("promised_on"))


def _check_owner(booking: Booking) -> None:
    """Refuse a vehicle of somebody else; one without an owner goes with any customer."""
    vehicle = shop.vehicle(booking.vehicle_id) if booking.vehicle_id else None
    if vehicle is None or vehicle.customer_id in {"", None, booking.customer_id}:
        return
    named = vehicle.plate or vehicle.vin or f"{vehicle.make} {vehicle.model}"
    raise InputRefused(NOT_THEIRS("vehicle", vehicle=named, owner=vehicle.customer_name))


def book_job(*, booking: Booking, by: str, now: datetime) -> str:
    """Open a job for a vehicle or a pack.

    Parameters
    ----------
    booking : Booking
        What was booked.
    by : str
        Who booked it; front desk, technician or manager.
    now : datetime
        The server's time (UTC).

    Returns
    -------
    str
        The job's identifier, the same when the same booking is sent again.

    Raises
    ------
    InputRefused
        When customer or vehicle is unknown, the vehicle is another's, or the dates contradict
        each other.
    NotAllowed
        When nobody is signed on.
    """
    with one_writer():
        person = shop.person(by)
        if person is None or person.role not in {FRONT_DESK, TECHNICIAN, MANAGER}:
            raise NotAllowed("not_signed_on")
        _check(booking, now)
        known = Job.objects.filter(pk=uuid.UUID(booking.key)).first()
        if known is not None:
            if (str(known.customer_id), str(known.vehicle_id or "")) != _whose(booking):
                raise InputRefused(NOT_YOURS())
            return str(known.id)
        _check_owner(booking)
        info = shop.shop()
        job = Job.objects.create(
            id=uuid.UUID(booking.key),
            number=next_number(info.number_prefix),
            customer_id=uuid.UUID(booking.customer_id),
            vehicle_id=uuid.UUID(booking.vehicle_id) if booking.vehicle_id else None,
            physical_pack_id=uuid.UUID(booking.pack_id) if booking.pack_id else None,
            arrives_on=booking.arrives_on,
            promised_on=booking.promised_on,
            opened_at=now,
        )
        value = {
            "number": job.number,
            "customer": booking.customer_id,
            "vehicle": booking.vehicle_id,
            "pack": booking.pack_id,
        }
        key = str(uuid.uuid5(job.id, "open"))
        new = chain.NewEntry(key=key, kind=Kind.OPEN, person=by, at=now, value=value)
        chain.append(job, chain.first_head(job), new, workshop_id=info.workshop_id)
        _keep_at_the_desk(job, booking, by, now)
        return str(job.id)


def _keep_at_the_desk(job: Job, booking: Booking, by: str, now: datetime) -> None:
    """Write what was booked beside the record: who pays and whose job it is."""
    facts = facts_row(str(uuid.uuid5(job.id, "facts")), booking.facts, Desk())
    person = check_assigned(booking.assigned)
    if facts is not None:
        write_row(job, facts, by, now)
    if person:
        key = str(uuid.uuid5(job.id, "assigned"))
        write_row(job, Written(key=key, kind=ASSIGNED, values={"person": person}), by, now)


def _again(booking: Booking, arrival: Arrival) -> str:
    """Give the job of a booking that was sent before; empty where this is the first time."""
    known = Job.objects.filter(pk=uuid.UUID(booking.key)).select_related("customer").first()
    if known is None:
        return ""
    if known.customer is None:
        raise InputRefused(NOT_YOURS())
    customer, vehicle = str(known.customer_id), str(known.vehicle_id or "")
    typed = arrival.customer.name if arrival.customer is not None else known.customer.name
    same = (
        booking.customer_id in {"", customer}
        and booking.vehicle_id in {"", vehicle}
        and typed == known.customer.name
    )
    if not same and not arrival.way:
        raise InputRefused(NOT_YOURS())
    return str(known.id)


def _with_vehicle(booking: Booking, arrival: Arrival, by: str) -> Booking:
    """Enter who and what is new, and give the booking with their identifiers."""
    way, _, vehicle_id = arrival.way.partition(":")
    if arrival.vehicle is not None and way == EXISTING:
        entered = registers.enter_vehicle(
            details=arrival.vehicle, customer_id="", way=arrival.way, by=by
        )
        owner = shop.vehicle(entered)
        holder = owner.customer_id if owner is not None else ""
        return replace(booking, customer_id=holder, vehicle_id=vehicle_id)
    if arrival.customer is not None:
        customer_id = registers.add_customer(details=arrival.customer, by=by)
        booking = replace(booking, customer_id=customer_id)
        if booking.vehicle_id:
            registers.move_vehicle(vehicle_id=booking.vehicle_id, customer_id=customer_id, by=by)
    if arrival.vehicle is not None:
        entered = registers.enter_vehicle(
            details=arrival.vehicle, customer_id=booking.customer_id, way=arrival.way, by=by
        )
        booking = replace(booking, vehicle_id=entered)
    return booking


def _with_pack(booking: Booking, arrival: Arrival, by: str, now: datetime) -> Booking:
    """Enter the pack, or take the known one of that serial."""
    if not arrival.pack_serial.strip():
        return booking
    pack = packs.add_physical_pack(
        serial=arrival.pack_serial, slug=arrival.pack_slug or None, by=uuid.UUID(by), now=now
    )
    return replace(booking, pack_id=str(pack.id))


def book_arrival(*, booking: Booking, arrival: Arrival, by: str, now: datetime) -> str:
    """Open a job, and enter customer, vehicle and pack with it, all of it or nothing.

    Parameters
    ----------
    booking : Booking
        What was booked; customer and vehicle only where they are known.
    arrival : Arrival
        What was entered with it.
    by : str
        Who booked it.
    now : datetime
        The server's time (UTC).

    Returns
    -------
    str
        The job's identifier, the same when the same booking is sent again.

    Raises
    ------
    InputRefused
        As `book_job`, and where a job of the same vehicle is open and no other is meant.
    Refused
        As the registers of the shop and of packs refuse it.
    """
    with one_writer():
        known = _again(booking, arrival)
        if known:
            return known
        booking = _with_pack(_with_vehicle(booking, arrival, by), arrival, by, now)
        is_open = open_jobs_of([booking.vehicle_id]) if booking.vehicle_id else {}
        if is_open and not arrival.is_another:
            raise InputRefused(OPEN_ALREADY("another", number=is_open[booking.vehicle_id].number))
        return book_job(booking=booking, by=by, now=now)
