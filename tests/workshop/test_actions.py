from datetime import date, timedelta

import pytest

from workshop import actions, clock, queries
from workshop.clock import FixedClock
from workshop.details import (
    CustomerDetails,
    EquipmentDetails,
    EquipmentTest,
    PersonDetails,
    ShopDetails,
    VehicleDetails,
)
from workshop.errors import Conflict, InputRefused, NotAllowed, Refused
from workshop.people import FRONT_DESK, MANAGER, TECHNICIAN, holds

PIN = "4826"
TODAY = date(2026, 3, 2)
TABLE = EquipmentDetails(
    kind="lifting_table",
    label="T-01",
    ratings={"max_kg": 900},
    test=EquipmentTest(tested_on=date(2026, 1, 15)),
)
TORQUE = EquipmentDetails(
    kind="torque_tool",
    label="W-01",
    ratings={"low_nm": 5, "high_nm": 60, "tolerance_percent": 4, "cycle_limit": 10},
    test=EquipmentTest(tested_on=date(2026, 1, 15)),
)


def a_newcomer(short_name: str = "Moss", role: str = TECHNICIAN) -> PersonDetails:
    return PersonDetails(display_name=f"{short_name} Example", short_name=short_name, role=role)


# ---------------------------------------------------------------- people


@pytest.mark.django_db
@pytest.mark.usefixtures("time")
def test_the_first_person_is_a_manager_who_can_sign_on() -> None:
    first = actions.create_first_manager(details=a_newcomer(role=FRONT_DESK), pin=PIN)
    info = queries.person(first)
    assert info is not None
    assert info.role == MANAGER
    assert actions.check_pin(first, PIN, clock.now()).state == "right"


@pytest.mark.usefixtures("wren")
def test_there_is_only_one_first_manager() -> None:
    with pytest.raises(Conflict, match="exists already"):
        actions.create_first_manager(details=a_newcomer(), pin=PIN)


@pytest.mark.django_db
@pytest.mark.usefixtures("time")
def test_a_refused_first_manager_leaves_nobody_behind() -> None:
    with pytest.raises(InputRefused) as refused:
        actions.create_first_manager(details=a_newcomer(), pin="1234")
    assert (refused.value.field, refused.value.code) == ("pin", "pin_trivial")
    assert not queries.has_people()


def test_only_a_manager_adds_people(sorrel: str) -> None:
    with pytest.raises(NotAllowed, match="Only a manager"):
        actions.add_person(details=a_newcomer(), by=sorrel)


@pytest.mark.parametrize("by", ["", "nobody", "\x00", "5d0c9a3e-8a53-4a52-9d2e-0b1f6f3f7c11"])
@pytest.mark.django_db
@pytest.mark.usefixtures("time")
def test_nobody_known_may_not_add_people(by: str) -> None:
    with pytest.raises(NotAllowed, match="Sign on"):
        actions.add_person(details=a_newcomer(), by=by)


def test_two_people_do_not_share_a_short_name(wren: str) -> None:
    with pytest.raises(InputRefused) as refused:
        actions.add_person(details=a_newcomer("Wren"), by=wren)
    assert refused.value.field == "short_name"


def test_an_unknown_role_is_refused(wren: str) -> None:
    with pytest.raises(InputRefused) as refused:
        actions.add_person(details=a_newcomer(role="owner"), by=wren)
    assert refused.value.field == "role"


def test_a_qualification_counts_up_to_its_last_day(wren: str, sorrel: str) -> None:
    actions.set_qualification(
        person_id=sorrel, code="live_work", expires_on=TODAY, certificate="C 7", by=wren
    )
    info = queries.person(sorrel)
    assert info is not None
    assert holds(info, "live_work", TODAY)
    assert not holds(info, "live_work", TODAY + timedelta(days=1))
    assert not holds(info, "release", TODAY)


def test_renewing_a_qualification_does_not_double_it(wren: str, sorrel: str) -> None:
    for expires_on in (TODAY, None):
        actions.set_qualification(
            person_id=sorrel, code="release", expires_on=expires_on, certificate="", by=wren
        )
    info = queries.person(sorrel)
    assert info is not None
    assert [q.expires_on for q in info.qualifications] == [None]


def test_the_last_manager_stays(wren: str) -> None:
    with pytest.raises(Conflict, match="last manager"):
        actions.retire_person(person_id=wren, by=wren)


def test_who_has_left_holds_nothing_and_cannot_sign(wren: str, sorrel: str) -> None:
    actions.set_qualification(
        person_id=sorrel, code="live_work", expires_on=None, certificate="", by=wren
    )
    actions.retire_person(person_id=sorrel, by=wren)
    info = queries.person(sorrel)
    assert info is not None
    assert not holds(info, "live_work", TODAY)
    assert actions.check_pin(sorrel, PIN, clock.now()).state == "wrong"


# ---------------------------------------------------------------- PINs


def test_the_right_pin_is_right_and_a_wrong_one_counts(sorrel: str) -> None:
    assert actions.check_pin(sorrel, "9999", clock.now()).tries_left == 4
    assert actions.check_pin(sorrel, PIN, clock.now()).state == "right"
    assert actions.check_pin(sorrel, "9999", clock.now()).tries_left == 4


def test_five_wrong_pins_lock_even_the_right_one(sorrel: str, time: FixedClock) -> None:
    states = [actions.check_pin(sorrel, "9999", clock.now()).state for _ in range(5)]
    assert states == ["wrong"] * 4 + ["locked"]
    locked = actions.check_pin(sorrel, PIN, clock.now())
    assert (locked.state, locked.until) == ("locked", clock.now() + timedelta(minutes=1))
    time.advance(timedelta(minutes=1))
    assert actions.check_pin(sorrel, PIN, clock.now()).state == "right"


def test_a_try_after_the_lock_brings_a_longer_one(sorrel: str, time: FixedClock) -> None:
    for _ in range(5):
        actions.check_pin(sorrel, "9999", clock.now())
    time.advance(timedelta(minutes=1))
    again = actions.check_pin(sorrel, "9999", clock.now())
    assert again.until == clock.now() + timedelta(minutes=5)


def test_a_manager_lifts_the_lock(wren: str, sorrel: str) -> None:
    for _ in range(5):
        actions.check_pin(sorrel, "9999", clock.now())
    actions.unlock_pin(person_id=sorrel, by=wren)
    assert actions.check_pin(sorrel, PIN, clock.now()).state == "right"


@pytest.mark.parametrize(
    "person_id", ["", "nobody", "\x00", "5d0c9a3e-8a53-4a52-9d2e-0b1f6f3f7c11"]
)
@pytest.mark.django_db
@pytest.mark.usefixtures("time")
def test_an_unknown_person_is_simply_wrong(person_id: str) -> None:
    assert actions.check_pin(person_id, PIN, clock.now()).state == "wrong"


@pytest.mark.parametrize("pin", ["", "\x00", "9" * 10_000, "\ud800", "٤٨٢٦"])
def test_any_text_can_be_tried_as_a_pin(sorrel: str, pin: str) -> None:
    assert actions.check_pin(sorrel, pin, clock.now()).state == "wrong"


def test_somebody_without_a_pin_is_not_signed_on_by_an_empty_one(wren: str) -> None:
    newcomer = actions.add_person(details=a_newcomer(), by=wren)
    assert actions.check_pin(newcomer, "", clock.now()).state == "wrong"


def test_one_sets_ones_own_pin_and_nobody_elses(sorrel: str, ivy: str) -> None:
    actions.set_pin(person_id=sorrel, pin="7391", by=sorrel)
    assert actions.check_pin(sorrel, "7391", clock.now()).state == "right"
    with pytest.raises(NotAllowed, match="themselves"):
        actions.set_pin(person_id=sorrel, pin="8264", by=ivy)


def test_a_new_pin_differs_from_the_old(sorrel: str) -> None:
    with pytest.raises(InputRefused) as refused:
        actions.set_pin(person_id=sorrel, pin=PIN, by=sorrel)
    assert refused.value.code == "pin_unchanged"


def test_a_new_pin_ends_older_sessions(sorrel: str) -> None:
    mark = queries.session_mark(sorrel)
    assert queries.person_of_session(sorrel, mark) is not None
    actions.set_pin(person_id=sorrel, pin="7391", by=sorrel)
    assert queries.person_of_session(sorrel, mark) is None


# ---------------------------------------------------------------- customers and vehicles


def test_the_front_desk_adds_a_customer_and_a_vehicle(ivy: str) -> None:
    customer = actions.add_customer(details=CustomerDetails(name="Alba Quill"), by=ivy)
    vehicle = actions.add_vehicle(
        details=VehicleDetails(plate="TR 4410"), customer_id=customer, by=ivy
    )
    info = queries.vehicle(vehicle)
    assert info is not None
    assert (info.plate, info.customer_name) == ("TR 4410", "Alba Quill")
    assert queries.vehicles_of(customer) == (info,)


def test_a_technician_does_not_add_customers(sorrel: str) -> None:
    with pytest.raises(NotAllowed, match="front desk"):
        actions.add_customer(details=CustomerDetails(name="Alba Quill"), by=sorrel)


@pytest.mark.parametrize(
    ("plate", "customer_id", "field"), [("", None, "plate"), ("TR 1", "nobody", "customer")]
)
def test_a_vehicle_needs_a_plate_and_a_known_customer(
    ivy: str, plate: str, customer_id: str | None, field: str
) -> None:
    with pytest.raises(InputRefused) as refused:
        actions.add_vehicle(details=VehicleDetails(plate=plate), customer_id=customer_id, by=ivy)
    assert refused.value.field == field


# ---------------------------------------------------------------- equipment


def test_a_piece_without_a_due_date_is_due_twelve_months_after_its_test(wren: str) -> None:
    added = actions.add_equipment(details=TABLE, by=wren)
    snapshot = queries.equipment_snapshot(added, clock.now())
    assert snapshot == {
        "id": added,
        "kind": "lifting_table",
        "label": "T-01",
        "serial": "",
        "ratings": {"max_kg": 900.0},
        "tested_on": "2026-01-15",
        "due_on": "2027-01-15",
        "issued": False,
        "cycles": 0,
        "withdrawn": False,
        "unusable": None,
    }


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"kind": "spoon"}, "kind"),
        ({"label": " "}, "label"),
        ({"ratings": {}}, "max_kg"),
        ({"test": EquipmentTest()}, "tested_on"),
        ({"test": EquipmentTest(tested_on=date(2026, 3, 3))}, "tested_on"),
        (
            {"test": EquipmentTest(tested_on=date(2026, 1, 2), due_on=date(2026, 1, 1))},
            "due_on",
        ),
    ],
)
def test_a_piece_that_cannot_stand_names_its_field(
    wren: str, changes: dict[str, object], field: str
) -> None:
    fields = {
        "kind": TABLE.kind,
        "label": TABLE.label,
        "ratings": TABLE.ratings,
        "test": TABLE.test,
    }
    with pytest.raises(InputRefused) as refused:
        actions.add_equipment(details=EquipmentDetails(**(fields | changes)), by=wren)  # type: ignore[arg-type]
    assert refused.value.field == field


def test_a_label_is_free_again_after_withdrawal(wren: str) -> None:
    first = actions.add_equipment(details=TABLE, by=wren)
    with pytest.raises(InputRefused, match="in use"):
        actions.add_equipment(details=TABLE, by=wren)
    actions.withdraw_equipment(equipment_id=first, reason="bent ram", by=wren)
    actions.add_equipment(details=TABLE, by=wren)
    assert queries.equipment_snapshot(first, clock.now())["unusable"] == "withdrawn"


def test_a_withdrawal_is_final_and_needs_a_reason(wren: str) -> None:
    piece = actions.add_equipment(details=TABLE, by=wren)
    with pytest.raises(InputRefused):
        actions.withdraw_equipment(equipment_id=piece, reason="  ", by=wren)
    actions.withdraw_equipment(equipment_id=piece, reason="bent ram", by=wren)
    with pytest.raises(Conflict):
        actions.withdraw_equipment(equipment_id=piece, reason="again", by=wren)
    with pytest.raises(Conflict):
        actions.record_test(equipment_id=piece, test=EquipmentTest(tested_on=TODAY), by=wren)


def test_a_technician_may_withdraw_what_is_damaged_and_the_front_desk_may_not(
    wren: str, sorrel: str, ivy: str
) -> None:
    piece = actions.add_equipment(details=TABLE, by=wren)
    with pytest.raises(NotAllowed, match="technician"):
        actions.withdraw_equipment(equipment_id=piece, reason="bent ram", by=ivy)
    actions.withdraw_equipment(equipment_id=piece, reason="bent ram", by=sorrel)
    assert queries.equipment_snapshot(piece, clock.now())["withdrawn"] is True


def test_a_torque_tool_wears_and_begins_again_with_calibration(wren: str) -> None:
    tool = actions.add_equipment(details=TORQUE, by=wren)
    actions.count_torque_cycles(equipment_id=tool, cycles=10)
    assert queries.equipment_snapshot(tool, clock.now())["unusable"] == "cycles_used"
    actions.record_test(equipment_id=tool, test=EquipmentTest(tested_on=TODAY), by=wren)
    snapshot = queries.equipment_snapshot(tool, clock.now())
    assert (snapshot["cycles"], snapshot["unusable"]) == (0, None)


@pytest.mark.parametrize("cycles", [0, -1, 1001, 2**63])
def test_cycles_are_counted_in_sensible_numbers(wren: str, cycles: int) -> None:
    tool = actions.add_equipment(details=TORQUE, by=wren)
    with pytest.raises(InputRefused):
        actions.count_torque_cycles(equipment_id=tool, cycles=cycles)


def test_only_torque_tools_count_cycles(wren: str) -> None:
    table = actions.add_equipment(details=TABLE, by=wren)
    with pytest.raises(InputRefused):
        actions.count_torque_cycles(equipment_id=table, cycles=1)


# ---------------------------------------------------------------- the shop


def test_a_limit_can_be_tightened_and_keeps_its_provenance(wren: str) -> None:
    actions.set_limit(
        key="isolation_ohm_per_v", value=1000, source="insurer's letter", note="", by=wren
    )
    limit = queries.limits()["isolation_ohm_per_v"]
    assert (limit.value, limit.kind, limit.source) == (1000, "shop_default", "insurer's letter")


@pytest.mark.parametrize(
    ("key", "value"),
    [("isolation_ohm_per_v", 100.0), ("floor_v", 60.0), ("bonding_ohm", 5.0), ("floor_v", 0.0)],
)
def test_a_limit_that_protects_people_is_not_opened(wren: str, key: str, value: float) -> None:
    with pytest.raises(InputRefused, match="tightened"):
        actions.set_limit(key=key, value=value, source="", note="", by=wren)


def test_going_back_to_a_regulations_value_brings_its_name_back(wren: str) -> None:
    for value in (1000, 500):
        actions.set_limit(key="isolation_ohm_per_v", value=value, source="", note="", by=wren)
    limit = queries.limits()["isolation_ohm_per_v"]
    assert (limit.kind, limit.source[:8]) == ("regulation", "UN R100,")


@pytest.mark.parametrize("zone", ["Mars/Base", "Europe", "../etc", "", "\x00", "/etc/localtime"])
def test_a_time_zone_must_exist(wren: str, zone: str) -> None:
    with pytest.raises(InputRefused) as refused:
        actions.update_shop(details=ShopDetails(name="Example", time_zone=zone), by=wren)
    assert refused.value.field == "time_zone"


def test_the_shop_keeps_its_identifier_when_it_changes(wren: str) -> None:
    before = queries.shop()
    actions.update_shop(
        details=ShopDetails(name="Example Works", time_zone="Europe/Dublin"), by=wren
    )
    after = queries.shop()
    assert (after.name, after.workshop_id) == ("Example Works", before.workshop_id)


def test_every_refusal_can_be_said(wren: str) -> None:
    with pytest.raises(Refused) as refused:
        actions.set_limit(key="colour", value=1, source="", note="", by=wren)
    assert str(refused.value).endswith(".")
