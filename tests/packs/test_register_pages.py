"""The registers of spares and of packs by serial: searching, filtering, sorting, adding, moving."""

import re
from collections.abc import Iterator
from datetime import date
from uuid import UUID, uuid4

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from packs import actions, queries
from packs.spare_tests import SpareTest
from packs.spares import IN_STOCK, QUARANTINED, RESERVED, NewSpare
from tests.packs.changed_definition import text_of
from tests.packs.tablet import MORNING, at_the_tablet, words
from workshop import clock

pytestmark = pytest.mark.django_db

SOUND = SpareTest(capacity_ah=112.0, cell_v=3.56, insulation_ohm=5.5e8, tested_on=date(2026, 2, 20))


@pytest.fixture(autouse=True)
def morning() -> Iterator[None]:
    with clock.use_fixed(MORNING):
        yield


@pytest.fixture
def technician() -> Client:
    return at_the_tablet("technician")


@pytest.fixture
def desk() -> Client:
    return at_the_tablet("front_desk")


def a_spare(serial: str, **more: object) -> UUID:
    plain: dict[str, object] = {
        "part": "OB-M6-120",
        "chemistry": "nmc",
        "cells": 6,
        "provenance": "Donor van",
        "place": "Rack 2",
        "test": SOUND,
    }
    new = NewSpare(serial=serial, **{**plain, **more})  # type: ignore[arg-type]
    return actions.add_spare(new=new, by=None, now=MORNING).id


@pytest.fixture
def shelf() -> dict[str, UUID]:
    """Five spares, one of each sort that the register tells apart."""
    found = {
        "A-1": a_spare("A-1"),
        "B-1": a_spare("B-1", part="LU-12-66", chemistry="lmo_blend", cells=12, place="Rack 9"),
        "C-1": a_spare("C-1", test=SpareTest(), provenance="Dismantler"),
        "D-1": a_spare("D-1", state=QUARANTINED, place="Yard"),
        "E-1": a_spare("E-1"),
    }
    actions.hold_spare(spare_id=found["E-1"], job="Q000077", module="M4", by=None, now=MORNING)
    return found


def shown(client: Client, query: str = "", page: str = "spares") -> list[str]:
    answer = client.get(reverse(f"packs:{page}") + query)
    assert isinstance(answer, HttpResponse)
    return re.findall(r'<th scope="row"><a [^>]*>([^<]+)</a>', answer.content.decode())


@pytest.mark.parametrize(
    ("query", "serials"),
    [
        ("", "B-1 A-1 C-1 D-1 E-1"),
        ("?q=rack+9", "B-1"),
        ("?q=dismantler", "C-1"),
        ("?q=LU-12", "B-1"),
        ("?q=q000077", "E-1"),
        ("?q=a-1", "A-1"),
        ("?q=nowhere", ""),
        ("?state=quarantined", "D-1"),
        ("?state=reserved", "E-1"),
        ("?part=LU-12-66", "B-1"),
        ("?chemistry=nmc", "A-1 C-1 D-1 E-1"),
        ("?chemistry=nmc&state=in_stock", "A-1 C-1"),
        ("?usable=1", "B-1 A-1"),
        ("?usable=1&chemistry=nmc", "A-1"),
        ("?sort=-part", "E-1 D-1 C-1 A-1 B-1"),
        ("?sort=state", "B-1 A-1 C-1 E-1 D-1"),
        ("?sort=tested", "B-1 A-1 D-1 E-1 C-1"),
        ("?sort=-tested", "B-1 A-1 D-1 E-1 C-1"),
        ("?sort=nonsense&state=nonsense&chemistry=x", "B-1 A-1 C-1 D-1 E-1"),
        ("?q=%00&part=%00", "B-1 A-1 C-1 D-1 E-1"),
    ],
)
def test_the_register_shows_what_its_address_asks_for(
    desk: Client, shelf: dict[str, UUID], query: str, serials: str
) -> None:
    assert shown(desk, query) == serials.split()


def test_a_row_says_what_bars_the_spare(desk: Client, shelf: dict[str, UUID]) -> None:
    page = words(desk.get(reverse("packs:spares")))
    for said in ("no test, insulation not read", "quarantined", "reserved for job Q000077"):
        assert said in page
    assert "10 days ago" in page
    assert "2 usable now" in page


def test_the_headings_sort_and_keep_the_filters(desk: Client, shelf: dict[str, UUID]) -> None:
    page = words(desk.get(reverse("packs:spares") + "?chemistry=nmc&sort=state"))
    assert 'aria-sort="ascending"><a href="?chemistry=nmc&amp;sort=-state"' in page
    assert 'aria-sort="none"><a href="?chemistry=nmc&amp;sort=tested"' in page


def test_only_the_floor_is_offered_what_changes_a_spare(
    desk: Client, technician: Client, shelf: dict[str, UUID]
) -> None:
    address = reverse("packs:spare", args=[shelf["A-1"]])
    assert "Add a test" not in words(desk.get(address))
    assert "Add a test" in words(technician.get(address))
    for page in ("move_spare", "test_spare"):
        act = reverse(f"packs:{page}", args=[shelf["A-1"]])
        assert desk.get(act).status_code == 403
        assert desk.post(act, {"state": RESERVED}).status_code == 403
        assert technician.get(act).status_code == 200


def test_the_page_names_people_and_compares_the_last_two_tests(technician: Client) -> None:
    spare_id = a_spare("A-1")
    address = reverse("packs:test_spare", args=[spare_id])
    sent = {"tested_on": "2026-03-01", "capacity_ah": "109.2", "cell_v": "3.56", "rest_h": "4"}
    for _tap in range(2):
        assert technician.post(address, sent).status_code == 302
    page = words(technician.get(reverse("packs:spare", args=[spare_id])))
    assert "· technician" in page
    assert "lower by" in page
    assert "rested" in page
    assert len(queries.spare_events(spare_id)) == 2


def test_a_test_in_which_nothing_was_measured_is_refused(technician: Client) -> None:
    spare_id = a_spare("A-1")
    answer = technician.post(reverse("packs:test_spare", args=[spare_id]), {"note": "looked at"})
    assert answer.status_code == 422
    assert "Enter at least one measured value." in words(answer)
    assert "looked at" in words(answer)


def test_a_spare_added_with_two_taps_is_one(technician: Client) -> None:
    sent = {
        "key": str(uuid4()),
        "serial": "N-1",
        "part": "OB-M6-120",
        "chemistry": "nmc",
        "cells": "6",
        "provenance": "New",
    }
    for _tap in range(2):
        assert technician.post(reverse("packs:add_spare"), sent).status_code == 302
    assert len(queries.spares()) == 1


def test_a_spare_is_set_aside_only_for_a_job_there_is(technician: Client) -> None:
    spare_id = a_spare("A-1")
    sent = {"state": RESERVED, "place": "Bay", "job": "Q999999", "note": ""}
    answer = technician.post(reverse("packs:move_spare", args=[spare_id]), sent)
    assert answer.status_code == 422
    assert "There is no open job Q999999" in words(answer)
    assert queries.spare(spare_id).state == IN_STOCK


def test_what_a_job_holds_is_offered_another_place_or_quarantine(
    technician: Client, shelf: dict[str, UUID]
) -> None:
    address = reverse("packs:move_spare", args=[shelf["E-1"]])
    page = words(technician.get(address))
    assert "Job Q000077 holds it" in page
    assert 'value="in_stock"' not in page
    refused = technician.post(address, {"state": IN_STOCK, "place": "Rack", "note": ""})
    assert refused.status_code == 422
    assert technician.post(address, {"state": RESERVED, "place": "Bay 3"}).status_code == 302
    assert queries.spare(shelf["E-1"]).place == "Bay 3"


def test_nobody_is_offered_a_module_that_no_job_took_out(technician: Client) -> None:
    page = words(technician.get(reverse("packs:removed_modules")))
    assert "No job has taken a module out yet" in page
    fresh = words(technician.get(reverse("packs:add_spare") + "?job=Q1&module=M9"))
    assert "Add a spare" in fresh


@pytest.fixture
def units() -> dict[str, UUID]:
    """Three packs, two of one serial."""
    for name in ("delivery-van", "minibus"):
        actions.add_pack_revision(toml=text_of(name), by=None, now=MORNING)
    add = actions.add_physical_pack
    return {
        "van": add(serial="HB-0041", slug="delivery-van", note="second owner").id,
        "bus": add(serial="HB-0041", slug="minibus").id,
        "open": add(serial="HB-0050").id,
    }


@pytest.mark.parametrize(
    ("query", "serials"),
    [
        ("", "HB-0041 HB-0041 HB-0050"),
        ("?q=0050", "HB-0050"),
        ("?q=second", "HB-0041"),
        ("?kind=minibus", "HB-0041"),
        ("?kind=none", "HB-0050"),
        ("?kind=none&q=0041", ""),
        ("?kind=tram", "HB-0041 HB-0041 HB-0050"),
    ],
)
def test_packs_are_found_by_serial_note_and_kind(
    desk: Client, units: dict[str, UUID], query: str, serials: str
) -> None:
    assert shown(desk, query, "units") == serials.split()


def test_a_serial_under_another_kind_is_said(desk: Client, units: dict[str, UUID]) -> None:
    said = "This serial is in the register more than once"
    assert said in words(desk.get(reverse("packs:unit", args=[units["van"]])))
    assert said not in words(desk.get(reverse("packs:unit", args=[units["open"]])))
    assert words(desk.get(reverse("packs:units"))).count("Serial entered more than once") == 2


def test_a_pack_is_added_once_however_often_it_is_sent(technician: Client) -> None:
    for _tap in range(2):
        answer = technician.post(reverse("packs:add_unit"), {"serial": " HB-7 ", "note": "x"})
        assert answer.status_code == 302
    [pack] = queries.physical_packs()
    assert (pack.serial, pack.note) == ("HB-7", "x")
    assert [event.kind for event in queries.physical_pack_events(pack.id)] == ["added"]


def test_a_serial_is_corrected_only_with_a_reason_and_the_old_one_stays(
    technician: Client, units: dict[str, UUID]
) -> None:
    address = reverse("packs:correct_unit", args=[units["open"]])
    sent = {"serial": "HB-0051", "slug": "", "note": "", "reason": ""}
    refused = technician.post(address, sent)
    assert refused.status_code == 422
    assert "Say what was wrong" in words(refused)
    for _tap in range(2):
        technician.post(address, {**sent, "reason": "plate cleaned"})
    page = words(technician.get(reverse("packs:unit", args=[units["open"]])))
    assert "Serial: HB-0050 → HB-0051" in page
    assert "plate cleaned" in page
    assert "· technician" in page
    assert len(queries.physical_pack_events(units["open"])) == 1


def test_a_note_and_a_first_kind_need_no_reason_another_kind_does(
    technician: Client, units: dict[str, UUID]
) -> None:
    address = reverse("packs:correct_unit", args=[units["open"]])
    sent = {"serial": "HB-0050", "slug": "minibus", "note": "from the yard", "reason": ""}
    assert technician.post(address, sent).status_code == 302
    assert technician.post(address, {**sent, "slug": "delivery-van"}).status_code == 422
    assert technician.post(address, {**sent, "slug": ""}).status_code == 422
    assert queries.physical_pack(units["open"]).slug == "minibus"


def test_a_correction_onto_a_pack_there_is_is_refused(
    technician: Client, units: dict[str, UUID]
) -> None:
    sent = {"serial": "HB-0041", "slug": "minibus", "note": "", "reason": "plate"}
    answer = technician.post(reverse("packs:correct_unit", args=[units["open"]]), sent)
    assert answer.status_code == 422
    assert "stands in the register as minibus already" in words(answer)


def test_a_kind_that_is_entered_for_a_known_serial_fills_what_was_open(
    technician: Client, units: dict[str, UUID]
) -> None:
    sent = {"serial": "HB-0050", "slug": "minibus", "note": ""}
    technician.post(reverse("packs:add_unit"), sent)
    assert queries.physical_pack(units["open"]).slug == "minibus"
    assert len(queries.physical_packs("0050")) == 1
