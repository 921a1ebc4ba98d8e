"""The booking page: found by anything, entered together, nothing typed twice, nothing lost."""

import re
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from jobs.actions.booking import Arrival, Booking, book_arrival
from jobs.models import Job
from jobs.queries.records import job_by_number
from packs.queries import physical_packs
from tests.jobs.conftest import MORNING, Shop
from workshop import queries
from workshop.details import CustomerDetails, VehicleDetails
from workshop.models import Customer, Vehicle

ClientOf = Callable[[str], Client]
BOOK = "/jobs/book/"
HALDEN_VIN = "1J9RP1A36A1644345"
NEW = {
    "new": "1",
    "customer-name": "Alba Quill",
    "customer-phone": "0131 496 0021",
    "customer-consent": "on",
    "vehicle-plate": "tr 4410",
    "vehicle-make": "Hollin",
    "vehicle-year": "2021",
    "arrives": "today",
    "promised": "week",
}


def typed(**changes: str) -> dict[str, str]:
    """Give what a new customer's booking sends."""
    return {**NEW, "key": str(uuid.uuid4()), **changes}


def van() -> Vehicle:
    return Vehicle.objects.get(plate="MK-4471")


def owner_of_van() -> str:
    owner = van().customer
    return "" if owner is None else owner.name


def text_of(client: Client, **asked: str) -> str:
    return client.get(BOOK, asked).content.decode().replace("\u00a0", " ")


def counts() -> tuple[int, int, int]:
    return Customer.objects.count(), Vehicle.objects.count(), Job.objects.count()


@pytest.fixture
def desk(shop: Shop, client_of: ClientOf) -> Client:
    return client_of("lorne")


# ---------------------------------------------------------------- the short way


@pytest.mark.parametrize("search", ["MK4471", "mk 4471", "ferrin", "dairy mk", "Orrin"])
def test_a_known_vehicle_is_one_choice_away(desk: Client, search: str) -> None:
    page = text_of(desk, q=search)
    address = f"?customer={van().customer_id}&amp;vehicle={van().id}"
    assert address in page
    assert "Ferrin Dairy" in page


def test_a_known_vehicle_is_booked_with_two_taps_after_the_search(desk: Client, shop: Shop) -> None:
    Job.objects.update(closed_at=MORNING)
    page = text_of(desk, customer=str(van().customer_id), vehicle=str(van().id))
    sent = dict(
        re.findall(r'<input type="hidden" name="(key|customer|vehicle)" value="(.*?)"', page)
    )
    sent |= dict(re.findall(r'name="(arrives|promised)" value="([^"]*)"[^>]*checked', page))
    answer = desk.post(BOOK, sent)
    assert answer.status_code == 302
    job = job_by_number("W000002")
    assert job is not None
    assert (job.plate, job.arrives_on, job.promised_on) == ("MK-4471", MORNING.date(), None)


def test_an_open_job_is_said_before_a_second_one_is_opened(desk: Client, shop: Shop) -> None:
    who = {"customer": str(van().customer_id), "vehicle": str(van().id)}
    assert "W000001 is open for it since 2 Mar" in text_of(desk, q="MK4471")
    warned = text_of(desk, **who)
    assert "W000001 is open for this vehicle since" in warned
    assert f"/jobs/{shop.job}/" in warned
    assert "Open the job" not in warned
    refused = desk.post(BOOK, {**who, "key": str(uuid.uuid4()), "promised": "week"})
    assert refused.status_code == 422
    assert Job.objects.count() == 1
    assert "Open the job" in text_of(desk, **who, another="1")
    again = {**who, "key": str(uuid.uuid4()), "another": "on"}
    assert desk.post(BOOK, again).status_code == 302
    assert Job.objects.count() == 2


def test_a_closed_job_does_not_stand_in_the_way(desk: Client, shop: Shop) -> None:
    Job.objects.update(closed_at=MORNING)
    who = {"customer": str(van().customer_id), "vehicle": str(van().id)}
    assert "is open" not in text_of(desk, **who)
    assert desk.post(BOOK, {**who, "key": str(uuid.uuid4())}).status_code == 302


@pytest.mark.parametrize(
    ("days", "arrives", "promised"),
    [
        ({"arrives": "today", "promised": "week"}, "2026-03-02", "2026-03-09"),
        ({"arrives": "tomorrow", "promised": "tomorrow"}, "2026-03-03", "2026-03-03"),
        (
            {"arrives": "other", "arrives_on": "2026-03-20", "promised": "other",
             "promised_on": "2026-03-21"},
            "2026-03-20",
            "2026-03-21",
        ),
        ({"arrives": "today", "arrives_on": "2026-03-20", "promised": ""}, "2026-03-02", "None"),
    ],
)  # fmt: skip
def test_quick_days_are_counted_from_today(
    desk: Client, days: dict[str, str], arrives: str, promised: str
) -> None:
    assert desk.post(BOOK, typed(promised="") | days).status_code == 302
    job = Job.objects.get(number="W000002")
    assert (str(job.arrives_on), str(job.promised_on)) == (arrives, promised)


# ---------------------------------------------------------------- not known yet


def test_customer_vehicle_and_booking_are_entered_together(desk: Client) -> None:
    assert desk.post(BOOK, typed()).status_code == 302
    job = job_by_number("W000002")
    assert job is not None
    assert job.vehicle is not None
    assert (job.customer.name, job.customer.phone) == ("Alba Quill", "0131 496 0021")
    assert job.customer.consent_at == MORNING
    assert (job.vehicle.plate, job.vehicle.customer_name) == ("TR 4410", "Alba Quill")


def test_the_same_form_twice_is_one_customer_one_vehicle_one_job(desk: Client) -> None:
    form = typed()
    first, second = (desk.post(BOOK, form)["Location"] for _ in range(2))
    assert first == second
    assert counts() == (2, 2, 2)


def test_the_same_key_for_somebody_else_is_refused(desk: Client) -> None:
    form = typed()
    desk.post(BOOK, form)
    other = desk.post(BOOK, {**form, "customer-name": "Bram Vetch"})
    assert other.status_code == 422
    assert "Start again" in other.content.decode()


@pytest.mark.parametrize(
    ("search", "field"),
    [
        ("TR 4410", "vehicle-plate"),
        ("0131 496 0021", "customer-phone"),
        ("Quill", "customer-name"),
        ("1J9RP1A36A1644345", "vehicle-vin"),
        ("desk@quill.example", "customer-email"),
    ],
)
def test_what_was_searched_for_stands_in_its_field(desk: Client, search: str, field: str) -> None:
    page = text_of(desk, new="1", q=search)
    assert re.search(rf'name="{field}" value="{re.escape(search)}"', page)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"customer-name": ""}, "customer-name"),
        ({"customer-email": "nobody"}, "customer-email"),
        ({"vehicle-vin": "1J9RP1A36A16443IO"}, "vehicle-vin"),
        ({"vehicle-vin": "1" * 25}, "vehicle-vin"),
        ({"vehicle-year": "1066"}, "vehicle-year"),
        ({"vehicle-plate": ""}, "vehicle-plate"),
        ({"arrives": "other", "arrives_on": ""}, "arrives_on"),
        ({"arrives": "week", "promised": "tomorrow"}, "promised_on"),
        ({"promised": "other", "promised_on": "2026-03-01"}, "promised_on"),
        ({"promised": "other", "promised_on": "9999-99-99"}, "promised_on"),
        ({"pack_serial": "HC-1", "pack_slug": "spoon"}, "pack_slug"),
    ],
)
def test_bad_input_is_said_at_its_field_and_nothing_is_lost_or_entered(
    desk: Client, changes: dict[str, str], field: str
) -> None:
    answer = desk.post(BOOK, typed() | changes)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert f'id="id_{field}_error"' in page
    assert 'value="Hollin"' in page
    assert counts() == (1, 1, 1)


def test_a_vehicle_of_nothing_but_its_make_asks_for_plate_or_vin(desk: Client) -> None:
    answer = desk.post(BOOK, typed() | {"vehicle-plate": ""})
    assert "Enter the plate or the VIN." in answer.content.decode()


@pytest.mark.parametrize(
    ("vin", "words"),
    [("1J9RP1A36A1644346", "check digit"), ("1J9RP1A3", "17 characters"), (HALDEN_VIN, "")],
)
def test_a_doubtful_vin_warns_and_never_blocks(desk: Client, vin: str, words: str) -> None:
    answer = desk.post(BOOK, typed() | {"vehicle-vin": vin}, follow=True)
    assert answer.redirect_chain
    said = [str(each) for each in answer.context["messages"]]
    assert len(said) == (1 if words else 0)
    assert all(words in each for each in said)


def test_a_pack_alone_takes_the_known_one_of_its_serial(desk: Client, shop: Shop) -> None:
    for _ in range(2):
        pack = {"customer": str(van().customer_id), "key": str(uuid.uuid4())}
        assert desk.post(BOOK, {**pack, "pack_serial": "HC-0881"}).status_code == 302
    assert [each.serial for each in physical_packs()] == ["HC-0881"]
    assert '<option value="HC-0881">' in text_of(desk, customer=str(van().customer_id))


def test_nothing_is_entered_where_the_booking_is_refused_last(shop: Shop) -> None:
    arrival = Arrival(
        customer=CustomerDetails(name="Alba Quill"),
        vehicle=VehicleDetails(plate="TR 4410"),
        pack_serial="HC-0881",
    )
    booking = Booking(
        key=str(uuid.uuid4()), customer_id="", promised_on=MORNING.date().replace(day=1)
    )
    with pytest.raises(Exception, match="booking_past"):
        book_arrival(booking=booking, arrival=arrival, by=shop.people["lorne"], now=MORNING)
    assert counts() == (1, 1, 1)
    assert physical_packs() == ()


# ---------------------------------------------------------------- a plate that is known already


def conflict(**changes: str) -> dict[str, str]:
    return typed(**{"vehicle-plate": "MK 4471", **changes})


def test_a_known_plate_says_who_has_it_and_offers_three_ways(desk: Client) -> None:
    answer = desk.post(BOOK, conflict())
    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'id="id_vehicle-plate_error"' in page
    assert "Ferrin Dairy" in page
    for way in (f"existing:{van().id}", f"changed_hands:{van().id}", "another"):
        assert f'value="{way}"' in page
    assert 'value="Alba Quill"' in page
    assert counts() == (1, 1, 1)


def test_it_changed_hands_and_keeps_its_history(desk: Client) -> None:
    Job.objects.update(closed_at=MORNING)
    before = str(van().customer_id)
    form = conflict(**{"vehicle-way": f"changed_hands:{van().id}"})
    assert desk.post(BOOK, form).status_code == 302
    assert counts() == (2, 1, 2)
    assert owner_of_van() == "Alba Quill"
    moved = next(e for e in queries.history(str(van().id)) if e.kind == "changed_hands")
    assert moved.values["before"] == before
    # What was typed fills the gaps of the register, and writes over nothing.
    assert (van().make, van().year) == ("Halden", 2021)


def test_another_vehicle_keeps_both(desk: Client) -> None:
    assert desk.post(BOOK, conflict(**{"vehicle-way": "another"})).status_code == 302
    assert counts() == (2, 2, 2)
    assert owner_of_van() == "Ferrin Dairy"


def test_the_known_customer_is_taken_with_the_vehicle(desk: Client) -> None:
    Job.objects.update(closed_at=MORNING)
    form = conflict(**{"vehicle-way": f"existing:{van().id}"})
    assert desk.post(BOOK, form).status_code == 302
    assert counts() == (1, 1, 2)
    job = job_by_number("W000002")
    assert job is not None
    assert (job.customer.name, job.plate) == ("Ferrin Dairy", "MK-4471")


def test_the_same_vin_is_never_another_vehicle(desk: Client) -> None:
    Vehicle.objects.update(vin=HALDEN_VIN)
    form = typed(**{"vehicle-vin": HALDEN_VIN.lower(), "vehicle-way": "another"})
    page = desk.post(BOOK, form).content.decode()
    assert 'id="id_vehicle-vin_error"' in page
    assert 'value="another"' not in page
    assert counts() == (1, 1, 1)


@pytest.mark.parametrize("way", ["existing:" + "0" * 36, "changed_hands:x", "spoon", "another:1"])
def test_a_way_that_was_not_offered_is_refused(desk: Client, way: str) -> None:
    assert desk.post(BOOK, conflict(**{"vehicle-way": way})).status_code == 422
    assert counts() == (1, 1, 1)


# ---------------------------------------------------------------- who may


def test_a_technician_books_what_is_known_and_enters_nobody(
    shop: Shop, client_of: ClientOf
) -> None:
    floor = client_of("aster")
    assert "New customer" not in text_of(floor, q="ferrin")
    refused = floor.post(BOOK, typed())
    assert refused.status_code == 422
    assert "Only front desk or a manager can do this." in refused.content.decode()
    assert counts() == (1, 1, 1)
    who = {"customer": str(van().customer_id), "vehicle": str(van().id), "another": "on"}
    assert floor.post(BOOK, {**who, "key": str(uuid.uuid4())}).status_code == 302


def test_nobodys_vehicle_gets_the_new_customer(desk: Client) -> None:
    lone = Vehicle.objects.create(plate="ZZ 900", created_at=MORNING)
    assert f"?vehicle={lone.id}&amp;new=1" in text_of(desk, q="ZZ900")
    form: dict[str, Any] = {"new": "1", "vehicle": str(lone.id), "customer-name": "Bram Vetch"}
    assert desk.post(BOOK, {**form, "key": str(uuid.uuid4())}).status_code == 302
    lone.refresh_from_db()
    assert lone.customer is not None
    assert lone.customer.name == "Bram Vetch"
