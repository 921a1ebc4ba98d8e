"""Customers and vehicles: correcting, changing hands, erasing, who may."""

from collections.abc import Callable

import pytest
from django.test import Client

from workshop import actions, queries
from workshop.details import CustomerDetails, VehicleDetails
from workshop.errors import Conflict, InputRefused, NotAllowed

TabletOf = Callable[[str], Client]
VIN = "1J9RP1A36A1644345"


@pytest.fixture
def alba(ivy: str) -> str:
    details = CustomerDetails(name="Alba Quill", phone="0131 496 0021", note="rings twice")
    return actions.add_customer(details=details, by=ivy)


@pytest.fixture
def bram(ivy: str) -> str:
    return actions.add_customer(details=CustomerDetails(name="Bram Vetch"), by=ivy)


@pytest.fixture
def van(ivy: str, alba: str) -> str:
    details = VehicleDetails(plate="TR 4410", vin=VIN, make="Hollin")
    return actions.add_vehicle(details=details, customer_id=alba, by=ivy)


def text_of(client: Client, address: str) -> str:
    return client.get(address).content.decode().replace("\u00a0", " ")


def test_a_vehicle_changes_hands_and_shows_who_had_it(
    tablet_of: TabletOf, ivy: str, alba: str, bram: str, van: str
) -> None:
    tablet = tablet_of(ivy)
    assert "Bram Vetch" in text_of(tablet, f"/shop/vehicles/{van}/owner/?q=vetch")
    answer = tablet.post(f"/shop/vehicles/{van}/owner/", {"customer": bram})
    assert answer.status_code == 302
    page = text_of(tablet, f"/shop/vehicles/{van}/")
    assert "from Alba Quill to Bram Vetch" in page
    assert [each.id for each in queries.vehicles_of(bram)] == [van]
    assert queries.vehicles_of(alba) == ()


@pytest.mark.parametrize("customer", ["", "nobody", "00000000-0000-0000-0000-000000000000"])
def test_a_vehicle_is_not_given_to_nobody(
    tablet_of: TabletOf, ivy: str, alba: str, van: str, customer: str
) -> None:
    answer = tablet_of(ivy).post(f"/shop/vehicles/{van}/owner/", {"customer": customer})
    assert answer.status_code == 422
    assert [each.id for each in queries.vehicles_of(alba)] == [van]


def test_giving_it_to_its_owner_changes_nothing(ivy: str, alba: str, van: str) -> None:
    actions.move_vehicle(vehicle_id=van, customer_id=alba, by=ivy)
    assert [each.kind for each in queries.history(van)] == ["added"]


def test_a_vehicle_is_corrected(tablet_of: TabletOf, ivy: str, van: str) -> None:
    tablet = tablet_of(ivy)
    typed = {"plate": "tr 4411", "vin": VIN, "make": "Hollin", "model": "Carrier"}
    assert tablet.post(f"/shop/vehicles/{van}/change/", typed).status_code == 302
    page = text_of(tablet, f"/shop/vehicles/{van}/")
    assert "TR 4411" in page
    assert "Plate, Model" in page


def test_a_corrected_plate_that_another_has_asks_whether_both_stay(
    tablet_of: TabletOf, ivy: str, bram: str, van: str
) -> None:
    other = actions.add_vehicle(details=VehicleDetails(plate="ZZ 900"), customer_id=bram, by=ivy)
    tablet, address = tablet_of(ivy), f"/shop/vehicles/{other}/change/"
    asked = tablet.post(address, {"plate": "TR-4410", "make": "Kept"})
    assert asked.status_code == 422
    assert "Alba Quill" in asked.content.decode()
    assert 'value="Kept"' in asked.content.decode()
    assert "changed_hands" not in asked.content.decode()
    assert tablet.post(address, {"plate": "TR-4410", "way": "another"}).status_code == 302


def test_a_corrected_vin_that_another_has_is_refused(
    tablet_of: TabletOf, ivy: str, bram: str, van: str
) -> None:
    other = actions.add_vehicle(details=VehicleDetails(plate="ZZ 900"), customer_id=bram, by=ivy)
    typed = {"plate": "ZZ 900", "vin": VIN, "way": "another"}
    answer = tablet_of(ivy).post(f"/shop/vehicles/{other}/change/", typed)
    assert answer.status_code == 422
    assert 'id="id_vin_error"' in answer.content.decode()


def test_a_vin_is_read_with_spaces_and_dashes(ivy: str, tablet_of: TabletOf, bram: str) -> None:
    typed = {"vin": "1j9rp1a3 6-A1644345"}
    assert tablet_of(ivy).post(f"/shop/customers/{bram}/vehicle/", typed).status_code == 302
    assert queries.vehicles_of(bram)[0].vin == VIN


def test_a_short_frame_number_keeps_its_dash_and_warns(
    ivy: str, tablet_of: TabletOf, bram: str
) -> None:
    answer = tablet_of(ivy).post(
        f"/shop/customers/{bram}/vehicle/", {"vin": "AB12-004521"}, follow=True
    )
    assert queries.vehicles_of(bram)[0].vin == "AB12-004521"
    assert "frame number" in answer.content.decode()


def test_a_known_customers_vehicle_is_taken_as_it_is(
    tablet_of: TabletOf, ivy: str, bram: str, van: str
) -> None:
    typed = {"plate": "TR4410", "way": f"existing:{van}", "model": "Carrier"}
    answer = tablet_of(ivy).post(f"/shop/customers/{bram}/vehicle/", typed)
    assert answer["Location"] == f"/shop/vehicles/{van}/"
    info = queries.vehicle(van)
    assert info is not None
    assert (info.customer_name, info.model) == ("Alba Quill", "Carrier")


def test_a_change_of_a_customer_names_fields_and_never_words(
    tablet_of: TabletOf, ivy: str, alba: str
) -> None:
    tablet = tablet_of(ivy)
    tablet.post(f"/shop/customers/{alba}/change/", {"name": "Alba Reed", "phone": "0131 496 0021"})
    (changed, _) = queries.history(alba)
    assert changed.values == {"fields": ["name", "note"]}
    assert "Name, Note" in text_of(tablet, f"/shop/customers/{alba}/")


def test_an_erased_row_keeps_its_key_and_no_word(
    tablet_of: TabletOf, wren: str, ivy: str, alba: str, van: str
) -> None:
    actions.erase_customer(customer_id=alba, by=wren)
    info, car = queries.customer(alba), queries.vehicle(van)
    assert info is not None
    assert car is not None
    assert (info.name, info.phone, info.note, info.consent_at) == ("erased", "", "", None)
    assert (car.plate, car.vin, car.customer_id) == ("", VIN, "")
    assert "erased on request" in text_of(tablet_of(ivy), f"/shop/customers/{alba}/")
    assert tablet_of(ivy).get(f"/shop/customers/{alba}/change/").status_code == 404
    with pytest.raises(InputRefused):
        actions.change_customer(customer_id=alba, details=CustomerDetails(name="x"), by=ivy)
    with pytest.raises(InputRefused):
        actions.move_vehicle(vehicle_id=van, customer_id=alba, by=ivy)


def test_a_vehicle_without_vin_keeps_a_row_without_its_plate(
    wren: str, ivy: str, alba: str
) -> None:
    car = actions.add_vehicle(details=VehicleDetails(plate="ZZ 900"), customer_id=alba, by=ivy)
    actions.erase_customer(customer_id=alba, by=wren)
    info = queries.vehicle(car)
    assert info is not None
    assert info.plate == "erased"


def test_only_a_manager_erases_and_only_the_desk_moves(
    wren: str, ivy: str, sorrel: str, alba: str, bram: str, van: str
) -> None:
    for by in (ivy, sorrel):
        with pytest.raises(NotAllowed):
            actions.erase_customer(customer_id=alba, by=by)
    with pytest.raises(NotAllowed):
        actions.move_vehicle(vehicle_id=van, customer_id=bram, by=sorrel)
    with pytest.raises(Conflict):
        actions.enter_vehicle(
            details=VehicleDetails(plate="TR4410"), customer_id=bram, way="", by=ivy
        )
