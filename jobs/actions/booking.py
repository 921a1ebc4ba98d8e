"""Booking a job in: its number, its row, its chain and the first entry."""

import uuid
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Max

from jobs.actions import chain
from jobs.core.entry import Kind
from jobs.core.reason import InputRefused, Reason
from jobs.models import Job
from workshop import queries as shop
from workshop.errors import NotAllowed
from workshop.people import FRONT_DESK, MANAGER, TECHNICIAN
from workshop.writing import one_writer

__all__ = ["REASONS", "Booking", "book_job"]

NO_CUSTOMER = Reason("booking_customer", "There is no such customer. Choose one or add one.")
NO_VEHICLE = Reason("booking_vehicle", "There is no such vehicle. Choose one or add one.")
NOTHING = Reason("booking_nothing", "Choose a vehicle, or a pack that arrives alone.")
PROMISED = Reason("booking_promised", "It cannot be promised before it arrives.")
NOT_YOURS = Reason("booking_other", "This booking was made for another vehicle. Start again.")

REASONS = (NO_CUSTOMER, NO_VEHICLE, NOTHING, PROMISED, NOT_YOURS)


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
    """

    key: str
    customer_id: str
    vehicle_id: str = ""
    pack_id: str = ""
    arrives_on: date | None = None
    promised_on: date | None = None


def _next_number(prefix: str) -> str:
    """Give the next number of this workshop: its prefix and a running number."""
    rows = Job.objects.filter(number__startswith=prefix)
    highest = rows.aggregate(highest=Max("number"))["highest"]
    running = int(highest.removeprefix(prefix)) + 1 if highest else 1
    return f"{prefix}{running:06d}"


def _check(booking: Booking) -> None:
    if shop.customer(booking.customer_id) is None:
        raise InputRefused(NO_CUSTOMER("customer"))
    if booking.vehicle_id and shop.vehicle(booking.vehicle_id) is None:
        raise InputRefused(NO_VEHICLE("vehicle"))
    if not booking.vehicle_id and not booking.pack_id:
        raise InputRefused(NOTHING("vehicle"))
    promised, arrives = booking.promised_on, booking.arrives_on
    if promised is not None and arrives is not None and promised < arrives:
        raise InputRefused(PROMISED("promised_on"))


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
        When customer or vehicle is unknown or the dates contradict each other.
    NotAllowed
        When nobody is signed on.
    """
    with one_writer():
        person = shop.person(by)
        if person is None or person.role not in {FRONT_DESK, TECHNICIAN, MANAGER}:
            raise NotAllowed("not_signed_on")
        _check(booking)
        known = Job.objects.filter(pk=uuid.UUID(booking.key)).first()
        if known is not None:
            if str(known.customer_id) != booking.customer_id:
                raise InputRefused(NOT_YOURS())
            return str(known.id)
        info = shop.shop()
        job = Job.objects.create(
            id=uuid.UUID(booking.key),
            number=_next_number(info.number_prefix),
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
        return str(job.id)
