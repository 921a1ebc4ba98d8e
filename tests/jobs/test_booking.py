"""Booking in, withdrawing equipment, erasing what is personal."""

import uuid
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from django.test import Client

from jobs.actions.booking import Booking, book_job
from jobs.actions.upkeep import erase_personal
from jobs.core.reason import InputRefused
from jobs.models import Entry, Job
from jobs.queries.records import job_by_number, job_info
from jobs.queries.verify import verify_all
from tests.jobs.conftest import MORNING, Shop
from workshop.actions import move_vehicle
from workshop.errors import NotAllowed
from workshop.models import Customer, Vehicle

NOBODY = "00000000-0000-4000-8000-000000000009"


def a_booking() -> Booking:
    return Booking(
        key=str(uuid.uuid4()),
        customer_id=str(Customer.objects.get().id),
        vehicle_id=str(Vehicle.objects.get().id),
        arrives_on=date(2026, 3, 3),
        promised_on=date(2026, 3, 6),
    )


def book(shop: Shop, booking: Booking, by: str = "lorne") -> str:
    return book_job(booking=booking, by=shop.people[by], now=shop.clock.now())


def test_jobs_are_numbered_with_the_shops_prefix_and_open_a_chain(shop: Shop) -> None:
    job = job_info(book(shop, a_booking()))
    assert job is not None
    assert (job.number, job.count, job.plate) == ("W000002", 1, "MK-4471")
    assert job_by_number("W000002") == job
    assert verify_all() == (2, ())


def test_the_same_booking_twice_is_one_job(shop: Shop) -> None:
    booking = a_booking()
    assert book(shop, booking) == book(shop, booking)
    assert Job.objects.count() == 2


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"customer_id": NOBODY}, "booking_customer"),
        ({"vehicle_id": NOBODY}, "booking_vehicle"),
        ({"vehicle_id": ""}, "booking_nothing"),
        ({"promised_on": date(2026, 3, 2)}, "booking_promised"),
        ({"arrives_on": None, "promised_on": date(2026, 3, 1)}, "booking_past"),
    ],
)
def test_a_booking_that_does_not_fit_is_refused(
    shop: Shop, change: dict[str, Any], code: str
) -> None:
    with pytest.raises(InputRefused) as refused:
        book(shop, replace(a_booking(), **change))
    assert refused.value.blocker.code == code
    assert Job.objects.count() == 1


def test_somebody_unknown_books_nothing(shop: Shop) -> None:
    with pytest.raises(NotAllowed):
        book_job(booking=a_booking(), by=str(uuid.uuid4()), now=shop.clock.now())


def test_erased_words_are_gone_and_the_chain_still_holds(shop: Shop) -> None:
    shop.enter("intake.complaint", "red lamp", by="lorne")
    assert erase_personal(job_id=uuid.UUID(shop.job), now=shop.clock.now()) == 1
    assert verify_all() == (1, ())
    assert Entry.objects.count() == 2


def test_the_booking_page_keeps_what_was_typed_and_names_the_field(
    shop: Shop, client_of: Callable[[str], Client]
) -> None:
    client, booking = client_of("lorne"), a_booking()
    form = {
        "key": booking.key,
        "customer": booking.customer_id,
        "vehicle": booking.vehicle_id,
        "another": "on",
        "arrives_on": "2026-03-09",
        "promised_on": "2026-03-06",
    }
    refused = client.post("/jobs/book/", form)
    assert refused.status_code == 422
    page = refused.content.decode()
    assert "It cannot be promised before it arrives." in page
    assert 'value="2026-03-06"' in page
    taken = client.post("/jobs/book/", {**form, "promised_on": "2026-03-10"})
    assert taken.status_code == 302
    assert Job.objects.count() == 2


@pytest.mark.parametrize("junk", ["\x00", "x" * 5000, "<script>", "9999-99-99", "💥"])
def test_junk_in_the_booking_form_is_refused_kindly(
    shop: Shop, client_of: Callable[[str], Client], junk: str
) -> None:
    fields = ("key", "customer", "vehicle", "pack_serial", "arrives_on", "promised_on")
    answer = client_of("lorne").post("/jobs/book/", dict.fromkeys(fields, junk))
    assert answer.status_code == 422
    assert b"<script>" not in answer.content.split(b"</head>")[1]


def test_a_pack_that_arrives_alone_is_booked_by_its_serial(
    shop: Shop, client_of: Callable[[str], Client]
) -> None:
    customer = str(Customer.objects.get().id)
    form = {"key": str(uuid.uuid4()), "customer": customer, "pack_serial": "HC-0881"}
    assert client_of("lorne").post("/jobs/book/", form).status_code == 302
    job = job_by_number("W000002")
    assert job is not None
    assert (job.title, job.plate, job.vehicle) == ("Pack HC-0881", "HC-0881", None)


def test_a_booking_without_vehicle_or_pack_is_refused(
    shop: Shop, client_of: Callable[[str], Client]
) -> None:
    form = {"key": str(uuid.uuid4()), "customer": str(Customer.objects.get().id)}
    answer = client_of("lorne").post("/jobs/book/", form)
    assert answer.status_code == 422
    assert "Enter a vehicle, or the serial of a pack that arrives alone." in answer.content.decode()


def somebody_else() -> str:
    return str(Customer.objects.create(name="Orrin Haulage", created_at=MORNING).id)


def test_a_vehicle_of_somebody_else_is_not_booked(shop: Shop) -> None:
    with pytest.raises(InputRefused) as caught:
        book(shop, replace(a_booking(), customer_id=somebody_else()))
    assert caught.value.blocker.code == "booking_owner"
    assert caught.value.blocker.params["owner"] == Customer.objects.get(name="Ferrin Dairy").name
    assert Job.objects.count() == 1


def test_a_vehicle_that_was_moved_to_its_new_owner_is_booked(shop: Shop) -> None:
    first = a_booking()
    known = book(shop, first)
    booking = replace(first, key=str(uuid.uuid4()), customer_id=somebody_else())
    move_vehicle(
        vehicle_id=booking.vehicle_id, customer_id=booking.customer_id, by=shop.people["lorne"]
    )
    assert book(shop, booking)
    assert book(shop, first) == known


def test_a_vehicle_of_nobody_is_booked_for_whoever_brings_it(shop: Shop) -> None:
    Vehicle.objects.update(customer=None)
    assert book(shop, replace(a_booking(), customer_id=somebody_else()))
