import json
from datetime import UTC, date, datetime, timedelta

import pytest
from pytest_django import DjangoAssertNumQueries

from jobs.core.item import read_person
from workshop import actions, clock, queries
from workshop.details import (
    CustomerDetails,
    EquipmentDetails,
    EquipmentTest,
    ShopDetails,
    VehicleDetails,
)
from workshop.errors import InputRefused

TODAY = date(2026, 3, 2)
UNKNOWN = ["", "nobody", "\x00", "1" * 5000, "5d0c9a3e-8a53-4a52-9d2e-0b1f6f3f7c11"]


def a_pair_of_gloves(wren: str, label: str, tested_on: date) -> str:
    return actions.add_equipment(
        details=EquipmentDetails(
            kind="gloves",
            label=label,
            ratings={"glove_class": "0"},
            test=EquipmentTest(tested_on=tested_on, issued=True),
        ),
        by=wren,
    )


def test_a_persons_snapshot_holds_no_name(wren: str, sorrel: str) -> None:
    for code, expires_on in (("live_work", date(2027, 1, 1)), ("release", date(2026, 3, 1))):
        actions.set_qualification(
            person_id=sorrel, code=code, expires_on=expires_on, certificate="C 7", by=wren
        )
    snapshot = queries.person_snapshot(sorrel, TODAY)
    assert snapshot == {
        "id": sorrel,
        "role": "technician",
        "qualifications": [{"code": "live_work", "expires_on": "2027-01-01"}],
    }
    assert "Sorrel" not in json.dumps(snapshot)
    assert read_person(snapshot).holds("live_work", TODAY)


@pytest.mark.django_db
@pytest.mark.parametrize("unknown", UNKNOWN)
def test_what_is_not_in_a_register_is_refused_or_none(unknown: str) -> None:
    with pytest.raises(InputRefused):
        queries.person_snapshot(unknown, TODAY)
    with pytest.raises(InputRefused):
        queries.equipment_snapshot(unknown, clock.now())
    assert queries.person(unknown) is None
    assert queries.person_of_session(unknown, "") is None
    assert queries.session_mark(unknown) == ""
    assert queries.customer(unknown) is None
    assert queries.vehicle(unknown) is None
    assert queries.vehicles_of(unknown) == ()
    assert queries.equipment_piece(unknown, TODAY) is None
    assert queries.names([unknown]) == {}


def test_who_has_left_gives_no_snapshot_but_keeps_the_name(wren: str, sorrel: str) -> None:
    actions.retire_person(person_id=sorrel, by=wren)
    with pytest.raises(InputRefused):
        queries.person_snapshot(sorrel, TODAY)
    assert queries.names([sorrel]) == {sorrel: "Sorrel Example"}
    assert [each.short_name for each in queries.people()] == ["Wren"]
    assert len(queries.people(with_former=True)) == 2


@pytest.mark.usefixtures("wren", "sorrel", "ivy")
def test_people_are_read_in_two_queries(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    with django_assert_num_queries(2):
        assert len(queries.people()) == 3


def test_gloves_show_the_day_on_which_they_lapse(wren: str) -> None:
    good = a_pair_of_gloves(wren, "G-1", date(2026, 1, 15))
    late = a_pair_of_gloves(wren, "G-2", date(2025, 8, 1))
    pairs = {pair.id: pair for pair in queries.equipment_of_kind("gloves", TODAY)}
    assert (pairs[good].due_on, pairs[good].usable) == (date(2026, 7, 15), True)
    assert not pairs[late].usable
    assert str(pairs[late].reason) == "test or calibration lapsed on 1 February 2026"
    assert queries.equipment_snapshot(late, clock.now())["unusable"] == "lapsed"


def test_withdrawn_pieces_are_not_offered(wren: str) -> None:
    pair = a_pair_of_gloves(wren, "G-1", date(2026, 1, 15))
    actions.withdraw_equipment(equipment_id=pair, reason="pinhole", by=wren)
    assert queries.equipment_of_kind("gloves", TODAY) == ()
    assert queries.all_equipment(TODAY) == ()
    assert len(queries.all_equipment(TODAY, with_withdrawn=True)) == 1


def test_a_day_begins_in_the_workshops_zone(wren: str) -> None:
    actions.update_shop(
        details=ShopDetails(name="Example Works", time_zone="Pacific/Auckland"), by=wren
    )
    assert queries.local_day(datetime(2026, 3, 2, 12, 0, tzinfo=UTC)) == TODAY + timedelta(days=1)


def test_customers_are_found_by_any_word_and_by_plate(ivy: str) -> None:
    alba = actions.add_customer(
        details=CustomerDetails(name="Alba Quill", phone="555 0101"), by=ivy
    )
    actions.add_customer(details=CustomerDetails(name="Bram Vetch"), by=ivy)
    actions.add_vehicle(details=VehicleDetails(plate="TR 4410"), customer_id=alba, by=ivy)
    for search in ("quill", "alba 0101", "4410", "QUILL alba"):
        assert [each.id for each in queries.customers(search)] == [alba]
    assert len(queries.customers("")) == 2
    assert queries.customers("alba vetch") == ()


@pytest.mark.django_db
@pytest.mark.parametrize("search", ["\x00", "%", "_", "'", "a" * 100_000, "% " * 50_000, "\\"])
def test_any_text_can_be_searched_for(search: str) -> None:
    assert queries.customers(search) == ()
    assert queries.vehicles(search) == ()


def test_a_vehicle_is_known_again_whatever_the_spaces_in_its_plate(ivy: str) -> None:
    details = VehicleDetails(plate="TR 44-10", vin="AAAB1C2D3E4F5G6H7")
    vehicle = actions.add_vehicle(details=details, customer_id=None, by=ivy)
    for plate, vin in (("tr4410", ""), ("TR 44 10", ""), ("", "aaab1c2d3e4f5g6h7")):
        assert [each.id for each in queries.vehicles_like(plate, vin)] == [vehicle]
    assert queries.vehicles_like("", "") == ()
    assert [each.id for each in queries.vehicles("TR4410")] == [vehicle]
