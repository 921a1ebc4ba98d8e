from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client

from workshop import actions, clock, queries
from workshop.details import EquipmentDetails, EquipmentTest
from workshop.equipment import KINDS

TabletOf = Callable[[str], Client]
TODAY = date(2026, 3, 2)

PAGES = {
    "/shop/people/": {"wren"},
    "/shop/people/add/": {"wren"},
    "/shop/settings/": {"wren"},
    "/shop/settings/limits/floor_v/": {"wren"},
    "/shop/equipment/": {"wren", "sorrel", "ivy"},
    "/shop/equipment/add/gloves/": {"wren"},
    "/shop/customers/": {"wren", "ivy"},
    "/shop/customers/add/": {"wren", "ivy"},
    "/shop/vehicles/": {"wren", "ivy"},
    "/shop/my-pin/": {"wren", "sorrel", "ivy"},
}

RATINGS: dict[str, dict[str, str]] = {
    "meter": {
        "input_ohm": "10M",
        "input_tolerance_percent": "1",
        "accuracy_percent": "0,5",
        "accuracy_counts": "2",
        "resolution_v": "0.01",
        "rated_v": "1000",
    },
    "insulation_tester": {
        "test_voltages_v": "250 500; 1000",
        "accuracy_percent": "3",
        "rated_v": "1000",
    },
    "two_pole_indicator": {"rated_v": "1000", "below_v": "12"},
    "proving_unit": {"output_v": "690"},
    "shunt": {"ohm": "185k", "tolerance_percent": "0.1", "rated_v": "1000", "rated_w": "2"},
    "gloves": {"glove_class": "0", "cuff_size": "10", "issued": "on"},
    "face_shield": {"marking": "arc class 2"},
    "insulated_tools": {"rated_v": "1500"},
    "torque_tool": {
        "low_nm": "5",
        "high_nm": "60",
        "tolerance_percent": "4",
        "cycle_limit": "5000",
    },
    "lifting_table": {"max_kg": "900"},
    "pressure_gauge": {"resolution_pa": "1", "repeatability_pa": "2", "range_pa": "10000"},
    "milliohm_meter": {
        "accuracy_percent": "0.2",
        "accuracy_counts": "2",
        "resolution_mv": "0.001",
        "current_a": "10",
    },
    "thermometer": {"u_c": "0.5"},
    "lead_set": {"rated_v": "1000"},
    "current_source": {"max_a": "5", "max_v": "60"},
}


def text_of(client: Client, address: str) -> str:
    return client.get(address).content.decode().replace("\u00a0", " ")


def a_table(wren: str) -> str:
    return actions.add_equipment(
        details=EquipmentDetails(
            kind="lifting_table",
            label="T-01",
            ratings={"max_kg": 900},
            test=EquipmentTest(tested_on=date(2026, 1, 15)),
        ),
        by=wren,
    )


@pytest.mark.parametrize("address", PAGES)
def test_each_page_is_seen_by_its_roles_only(
    tablet_of: TabletOf, wren: str, sorrel: str, ivy: str, address: str
) -> None:
    everybody = {"wren": wren, "sorrel": sorrel, "ivy": ivy}
    seen = {
        name: tablet_of(person_id).get(address).status_code for name, person_id in everybody.items()
    }
    assert seen == {name: 200 if name in PAGES[address] else 403 for name in everybody}


# ---------------------------------------------------------------- people


def test_a_manager_adds_a_person_who_sets_a_pin(tablet_of: TabletOf, wren: str) -> None:
    tablet = tablet_of(wren)
    typed = {"display_name": "Moss Example", "short_name": "Moss", "role": "technician"}
    page = tablet.post("/shop/people/add/", typed)["Location"]
    assert "No PIN is set" in text_of(tablet, page)
    pin = {"pin": "7391", "pin_again": "7391"}
    assert tablet.post(f"{page}pin/", pin).status_code == 302
    moss = next(each for each in queries.people() if each.short_name == "Moss")
    assert actions.check_pin(moss.id, "7391", clock.now()).state == "right"


def test_a_taken_short_name_is_said_on_its_field(tablet_of: TabletOf, wren: str) -> None:
    typed = {"display_name": "Wren Other", "short_name": "Wren", "role": "technician"}
    answer = tablet_of(wren).post("/shop/people/add/", typed)
    assert answer.status_code == 422
    assert 'id="id_short_name_error"' in answer.content.decode()
    assert 'value="Wren Other"' in answer.content.decode()


def test_a_qualification_is_entered_and_its_expiry_shown(
    tablet_of: TabletOf, wren: str, sorrel: str
) -> None:
    tablet = tablet_of(wren)
    for code, expires_on in (("live_work", "2027-06-01"), ("release", "2026-03-01")):
        typed = {"code": code, "expires_on": expires_on, "certificate": "C 7"}
        assert tablet.post(f"/shop/people/{sorrel}/", typed).status_code == 302
    shown = text_of(tablet, "/shop/people/")
    assert "Work on live high-voltage systems, until 1 Jun 2027 (C 7)" in shown
    assert "expired 1 Mar 2026" in shown


def test_a_locked_pin_is_unlocked_from_the_persons_page(
    tablet_of: TabletOf, wren: str, sorrel: str
) -> None:
    for _ in range(5):
        actions.check_pin(sorrel, "9999", clock.now())
    tablet = tablet_of(wren)
    assert "until 08:01" in text_of(tablet, f"/shop/people/{sorrel}/")
    tablet.post(f"/shop/people/{sorrel}/unlock/")
    assert "until 08:01" not in text_of(tablet, f"/shop/people/{sorrel}/")


def test_a_person_leaves_after_one_question(tablet_of: TabletOf, wren: str, sorrel: str) -> None:
    tablet = tablet_of(wren)
    assert "no longer works here?" in text_of(tablet, f"/shop/people/{sorrel}/retire/")
    tablet.post(f"/shop/people/{sorrel}/retire/")
    assert [each.short_name for each in queries.people()] == ["Wren"]
    refused = tablet.post(f"/shop/people/{wren}/retire/")
    assert refused.status_code == 422
    assert "last manager" in refused.content.decode()


# ---------------------------------------------------------------- equipment


def test_every_kind_has_ratings_to_try() -> None:
    assert set(RATINGS) == set(KINDS)


@pytest.mark.parametrize("kind", RATINGS)
def test_a_piece_of_each_kind_is_added_and_shown(tablet_of: TabletOf, wren: str, kind: str) -> None:
    tablet = tablet_of(wren)
    address = f"/shop/equipment/add/{kind}/"
    typed = {"label": "X-01", "serial": "77", "tested_on": "2026-01-15", **RATINGS[kind]}
    assert tablet.get(address).status_code == 200
    page = tablet.post(address, typed)["Location"]
    assert "Not usable" not in text_of(tablet, page)
    (piece,) = queries.equipment_of_kind(kind, TODAY)
    assert piece.usable
    assert piece.label in text_of(tablet, "/shop/equipment/")


def test_ratings_are_shown_with_their_unit(tablet_of: TabletOf, wren: str) -> None:
    tablet = tablet_of(wren)
    typed = {"label": "M-01", "tested_on": "2026-01-15"} | RATINGS["meter"]
    shown = text_of(tablet, tablet.post("/shop/equipment/add/meter/", typed)["Location"])
    assert "10 MΩ" in shown
    assert "0.01 V" in shown
    assert "15 Jan 2027" in shown


@pytest.mark.parametrize(
    ("kind", "changes", "field"),
    [
        ("meter", {"input_ohm": "1.000,5"}, "input_ohm"),
        ("meter", {"rated_v": "1k"}, "rated_v"),
        ("meter", {"rated_v": ""}, "rated_v"),
        ("meter", {"rated_v": "0"}, "rated_v"),
        ("meter", {"accuracy_percent": "1e999"}, "accuracy_percent"),
        ("meter", {"label": ""}, "label"),
        ("meter", {"label": "a\x00b"}, "label"),
        ("meter", {"tested_on": "9999-12-31"}, "tested_on"),
        ("meter", {"tested_on": "2026-03-03"}, "tested_on"),
        ("meter", {"tested_on": ""}, "tested_on"),
        ("meter", {"due_on": "2026-01-01"}, "due_on"),
        ("gloves", {"glove_class": "9"}, "glove_class"),
        ("gloves", {"glove_class": "00", "max_dc_v": "1500"}, "max_dc_v"),
        ("insulation_tester", {"test_voltages_v": "250 x"}, "test_voltages_v"),
        ("torque_tool", {"high_nm": "1"}, "high_nm"),
        ("torque_tool", {"cycle_limit": "99999999999999"}, "cycle_limit"),
        ("two_pole_indicator", {"has_digits": "on"}, "resolution_v"),
    ],
)
def test_a_faulty_piece_names_its_field_and_keeps_what_was_typed(
    tablet_of: TabletOf, wren: str, kind: str, changes: dict[str, str], field: str
) -> None:
    typed = {"label": "X-01", "serial": "kept", "tested_on": "2026-01-15", **RATINGS[kind]}
    answer = tablet_of(wren).post(f"/shop/equipment/add/{kind}/", typed | changes)
    assert answer.status_code == 422
    assert f'id="id_{field}_error"' in answer.content.decode()
    assert 'value="kept"' in answer.content.decode()
    assert queries.all_equipment(TODAY) == ()


def test_a_new_test_moves_the_due_date(tablet_of: TabletOf, wren: str) -> None:
    table = a_table(wren)
    tablet = tablet_of(wren)
    typed = {"tested_on": "2026-03-01", "due_on": "2026-09-01", "certificate": "C 8"}
    page = tablet.post(f"/shop/equipment/{table}/test/", typed)["Location"]
    assert "1 Sep 2026" in text_of(tablet, page)


def test_lapsed_pieces_stand_first_with_their_reason(tablet_of: TabletOf, wren: str) -> None:
    a_table(wren)
    late = EquipmentDetails(
        kind="lifting_table",
        label="T-02",
        ratings={"max_kg": 900},
        test=EquipmentTest(tested_on=date(2025, 1, 15)),
    )
    actions.add_equipment(details=late, by=wren)
    shown = text_of(tablet_of(wren), "/shop/equipment/")
    assert shown.index("T-02") < shown.index("T-01")
    assert "lapsed on 15 January 2026" in shown


def test_a_withdrawn_piece_takes_no_test(tablet_of: TabletOf, wren: str) -> None:
    table = a_table(wren)
    actions.withdraw_equipment(equipment_id=table, reason="bent ram", by=wren)
    tablet = tablet_of(wren)
    assert tablet.get(f"/shop/equipment/{table}/test/").status_code == 404
    assert "bent ram" in text_of(tablet, f"/shop/equipment/{table}/")


# ---------------------------------------------------------------- customers and vehicles


def test_a_customer_is_added_changed_and_found(tablet_of: TabletOf, ivy: str) -> None:
    tablet = tablet_of(ivy)
    page = tablet.post("/shop/customers/add/", {"name": "Alba Quill", "consent": "on"})["Location"]
    assert "2 Mar 2026, 08:00" in text_of(tablet, page)
    assert 'value="Alba Quill"' in text_of(tablet, f"{page}change/")
    tablet.post(f"{page}change/", {"name": "Alba Quill-Reed", "consent": "on"})
    assert "Alba Quill-Reed" in text_of(tablet, "/shop/customers/?q=reed")
    assert "Nobody found" in text_of(tablet, "/shop/customers/?q=vetch")


def test_a_known_plate_warns_and_loses_nothing(tablet_of: TabletOf, ivy: str) -> None:
    tablet = tablet_of(ivy)
    first = tablet.post("/shop/customers/add/", {"name": "Alba Quill"})["Location"]
    second = tablet.post("/shop/customers/add/", {"name": "Bram Vetch"})["Location"]
    assert tablet.post(f"{first}vehicle/", {"plate": "tr 4410"}).status_code == 302
    typed = {"plate": "TR4410", "make": "Hollin", "model": "Carrier", "year": "2021"}
    warned = tablet.post(f"{second}vehicle/", typed)
    assert warned.status_code == 422
    assert "Alba Quill" in warned.content.decode()
    assert 'value="Hollin"' in warned.content.decode()
    assert len(queries.vehicles()) == 1
    assert tablet.post(f"{second}vehicle/", typed | {"way": "another"}).status_code == 302
    assert "Hollin Carrier, 2021" in text_of(tablet, second)


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({}, "plate"),
        ({"vin": "IOQ"}, "vin"),
        ({"vin": "A" * 18}, "vin"),
        ({"plate": "X", "year": "9" * 400}, "year"),
        ({"plate": "X", "year": "-1"}, "year"),
        ({"plate": "X\x00"}, "plate"),
    ],
)
def test_a_faulty_vehicle_names_its_field(
    tablet_of: TabletOf, ivy: str, typed: dict[str, str], field: str
) -> None:
    tablet = tablet_of(ivy)
    page = tablet.post("/shop/customers/add/", {"name": "Alba Quill"})["Location"]
    answer = tablet.post(f"{page}vehicle/", typed)
    assert answer.status_code == 422
    assert f'id="id_{field}_error"' in answer.content.decode()


def test_markup_in_a_name_stays_text(tablet_of: TabletOf, ivy: str) -> None:
    tablet = tablet_of(ivy)
    page = tablet.post("/shop/customers/add/", {"name": "<script>x</script>"})["Location"]
    assert "<script>x" not in text_of(tablet, page)


# ---------------------------------------------------------------- the shop


def test_the_shop_is_changed_and_its_zone_rules_the_pages(tablet_of: TabletOf, wren: str) -> None:
    tablet = tablet_of(wren)
    typed = {
        "name": "Example Works",
        "number_prefix": "EX",
        "time_zone": "Pacific/Auckland",
        "currency": "NZD",
    }
    assert tablet.post("/shop/settings/", typed).status_code == 302
    page = tablet.post("/shop/customers/add/", {"name": "Alba Quill", "consent": "on"})["Location"]
    assert "2 Mar 2026, 21:00" in text_of(tablet, page)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"time_zone": "Mars/Base"}, "time_zone"),
        ({"number_prefix": "low!"}, "number_prefix"),
        ({"currency": "euro"}, "currency"),
        ({"name": ""}, "name"),
        ({"email": "nobody"}, "email"),
    ],
)
def test_a_faulty_setting_names_its_field(
    tablet_of: TabletOf, wren: str, changes: dict[str, str], field: str
) -> None:
    typed = {"name": "Example", "number_prefix": "EX", "time_zone": "UTC", "currency": "EUR"}
    answer = tablet_of(wren).post("/shop/settings/", typed | changes)
    assert answer.status_code == 422
    assert f'id="id_{field}_error"' in answer.content.decode()


def test_limits_are_listed_with_kind_and_source(tablet_of: TabletOf, wren: str) -> None:
    shown = text_of(tablet_of(wren), "/shop/settings/")
    assert "500 Ω/V" in shown
    assert "UN R100, 5.1.3" in shown
    assert "no source" in shown


def test_a_limit_is_tightened_but_not_opened(tablet_of: TabletOf, wren: str) -> None:
    tablet = tablet_of(wren)
    address = "/shop/settings/limits/isolation_ohm_per_v/"
    opened = tablet.post(address, {"value": "100"})
    assert opened.status_code == 422
    assert "500 to 100000" in opened.content.decode()
    assert tablet.post(address, {"value": "1000", "source": "insurer"}).status_code == 302
    assert queries.limits()["isolation_ohm_per_v"].value == 1000


@pytest.mark.parametrize(
    "address",
    [
        "/shop/people/nobody/",
        "/shop/people/00000000-0000-0000-0000-000000000000/",
        "/shop/equipment/00000000-0000-0000-0000-000000000000/",
        "/shop/equipment/add/spoon/",
        "/shop/customers/00000000-0000-0000-0000-000000000000/vehicle/",
        "/shop/settings/limits/colour/",
    ],
)
def test_what_does_not_exist_is_not_found(tablet_of: TabletOf, wren: str, address: str) -> None:
    assert tablet_of(wren).get(address).status_code == 404


@pytest.mark.parametrize("search", ["%00", "%25", "%ff%fe", "a" * 5000, "%E2%80%AE"])
def test_any_search_is_answered(tablet_of: TabletOf, ivy: str, search: str) -> None:
    tablet = tablet_of(ivy)
    assert tablet.get(f"/shop/customers/?q={search}").status_code == 200
    assert tablet.get(f"/shop/vehicles/?q={search}").status_code == 200
