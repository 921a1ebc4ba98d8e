"""Who sees which page of packs and spares, and what a refused form keeps."""

from collections.abc import Iterator
from uuid import UUID, uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from packs import actions, queries
from packs.spares import NewSpare
from tests.packs.changed_definition import changed, put, text_of
from tests.packs.tablet import MORNING, at_the_tablet, words
from workshop import clock

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def morning() -> Iterator[None]:
    with clock.use_fixed(MORNING):
        yield


@pytest.fixture
def manager() -> Client:
    return at_the_tablet("manager")


@pytest.fixture
def technician() -> Client:
    return at_the_tablet("technician")


@pytest.fixture
def desk() -> Client:
    return at_the_tablet("front_desk")


def a_spare() -> UUID:
    new = NewSpare(serial="S-1", part="P", chemistry="nmc", cells=6, provenance="Donor van")
    return actions.add_spare(new=new, by=None, now=MORNING).id


@pytest.mark.parametrize("page", ["packs", "spares", "upload", "add_spare"])
def test_nobody_sees_a_page_without_signing_on(page: str) -> None:
    answer = Client().get(reverse(f"packs:{page}"))
    assert answer.status_code == 302


@pytest.mark.parametrize(
    ("role", "page", "status"),
    [
        ("front_desk", "packs", 200),
        ("front_desk", "spares", 200),
        ("front_desk", "add_spare", 403),
        ("technician", "add_spare", 200),
        ("technician", "upload", 403),
        ("manager", "upload", 200),
    ],
)
def test_each_role_sees_its_pages(role: str, page: str, status: int) -> None:
    assert at_the_tablet(role).get(reverse(f"packs:{page}")).status_code == status


def test_a_manager_sends_a_definition_as_text(manager: Client) -> None:
    sent = {"text": text_of().replace("\n", "\r\n"), "note": "first"}
    answer = manager.post(reverse("packs:upload"), sent, follow=True)
    assert "Halden Orrin delivery van" in words(answer)
    revision = queries.latest_revision("delivery-van")
    assert (revision.note, revision.toml) == ("first", text_of())
    assert revision.created_by is not None


def test_a_manager_sends_a_definition_as_a_file(manager: Client) -> None:
    upload = SimpleUploadedFile("van.toml", b"\xef\xbb\xbf" + text_of().encode())
    manager.post(reverse("packs:upload"), {"file": upload, "text": "old", "note": ""})
    assert queries.latest_revision("delivery-van").number == 1


def test_a_refused_file_is_kept_as_text_with_each_problem_at_the_field(manager: Client) -> None:
    text = changed(put("modules.2.cells", 0))
    upload = SimpleUploadedFile("van.toml", text.encode())
    answer = manager.post(reverse("packs:upload"), {"file": upload, "note": "why"})
    assert answer.status_code == 422
    assert "modules, 3rd: cells: 0 is too small" in words(answer)
    assert "Halden service manual, section 4.2" in words(answer)
    assert 'value="why"' in words(answer)
    assert queries.packs_list() == ()


@pytest.mark.parametrize(
    ("content", "complaint"),
    [
        (b'name = "\xff"', "not UTF-8"),
        (b"#" * (256 * 1024 + 1), "longer than 256 kB"),
        (b"", "The submitted file is empty"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused(
    manager: Client, content: bytes, complaint: str
) -> None:
    upload = SimpleUploadedFile("van.toml", content)
    answer = manager.post(reverse("packs:upload"), {"file": upload})
    assert answer.status_code == 422
    assert complaint in words(answer)


def test_an_empty_form_is_refused(manager: Client) -> None:
    answer = manager.post(reverse("packs:upload"), {})
    assert answer.status_code == 422
    assert "Choose a file or paste a definition" in words(answer)


def test_a_definition_is_read_on_its_page_and_handed_out_as_sent(desk: Client) -> None:
    actions.add_pack_revision(toml=text_of(), by=None, now=MORNING)
    actions.add_pack_revision(toml=changed(put("mass_kg.value", 320.0)), by=None, now=MORNING)
    newest = words(desk.get(reverse("packs:pack", args=["delivery-van"])))
    first = words(desk.get(reverse("packs:revision", args=["delivery-van", 1])))
    assert "320 kg" in newest
    assert "Revision 1" in first
    handed = desk.get(reverse("packs:file", args=["delivery-van", 1]))
    assert handed.content.decode() == text_of()
    assert "delivery-van-revision-1.toml" in handed["Content-Disposition"]


def test_a_definition_that_is_not_there_is_not_found(desk: Client) -> None:
    assert desk.get(reverse("packs:pack", args=["tram"])).status_code == 404
    assert desk.get(reverse("packs:revision", args=["tram", 1])).status_code == 404


def test_a_manager_withdraws_a_definition(manager: Client, desk: Client) -> None:
    actions.add_pack_revision(toml=text_of(), by=None, now=MORNING)
    address = reverse("packs:withdraw", args=["delivery-van"])
    assert desk.post(address).status_code == 403
    answer = manager.post(address, follow=True)
    assert "withdrawn 2 Mar 2026" in words(answer)
    page = words(manager.get(reverse("packs:pack", args=["delivery-van"])))
    assert "no new job can use it" in page


SPARE = {
    "serial": "S-9",
    "part": "OB-M6-120",
    "chemistry": "nmc",
    "cells": "6",
    "provenance": "Donor van",
    "place": "Rack 2",
    "capacity_ah": "112,5",
    "insulation_ohm": "550 M",
    "insulation_comparator": ">",
    "insulation_test_v": "500",
}


def test_a_technician_takes_a_spare_into_stock(technician: Client) -> None:
    answer = technician.post(reverse("packs:add_spare"), SPARE, follow=True)
    [spare] = queries.spares()
    assert (spare.serial, spare.test.capacity_ah) == ("S-9", 112.5)
    assert (spare.test.insulation_ohm, spare.test.insulation_is_bound) == (5.5e8, True)
    assert "more than 550" in words(answer)
    assert "S-9" in words(technician.get(reverse("packs:spares")))


@pytest.mark.parametrize(
    ("field", "typed", "complaint"),
    [
        ("capacity_ah", "1 120", "Write a number"),
        ("capacity_ah", "1e3", "Write a number"),
        ("capacity_ah", "nan", "Write a number"),
        ("capacity_ah", "0", "Enter a value above zero."),
        ("insulation_ohm", "550 m", "Write ohms"),
        ("insulation_ohm", "550 M ohm", "Write ohms"),
        ("tested_on", "2026-03-03", "This date lies in the future."),
        ("cells", "0", "greater than or equal to 1"),
        ("serial", "", "required"),
    ],
)
def test_a_wrong_field_is_named_and_what_was_typed_stays(
    technician: Client, field: str, typed: str, complaint: str
) -> None:
    answer = technician.post(reverse("packs:add_spare"), {**SPARE, field: typed})
    assert answer.status_code == 422
    assert complaint in words(answer)
    assert 'value="OB-M6-120"' in words(answer)
    assert queries.spares() == ()


def test_a_serial_already_in_the_register_is_refused_at_its_field(technician: Client) -> None:
    technician.post(reverse("packs:add_spare"), SPARE)
    answer = technician.post(reverse("packs:add_spare"), SPARE)
    assert answer.status_code == 422
    assert "Serial S-9 is in the register already" in words(answer)


def test_a_spare_is_moved(technician: Client, desk: Client) -> None:
    spare_id = a_spare()
    address = reverse("packs:move_spare", args=[spare_id])
    sent = {"state": "reserved", "place": "Bay 1", "note": "for the van"}
    assert desk.post(address, sent).status_code == 403
    answer = technician.post(address, sent, follow=True)
    assert "for the van" in words(answer)
    assert queries.spare(spare_id).state == "reserved"


def test_a_move_that_is_not_offered_is_refused(technician: Client) -> None:
    address = reverse("packs:move_spare", args=[a_spare()])
    answer = technician.post(address, {"state": "fitted", "place": "", "note": ""})
    assert answer.status_code == 422
    assert "fitted is not one of the available choices" in words(answer)


def test_only_a_manager_takes_a_spare_out_of_quarantine(
    technician: Client, manager: Client
) -> None:
    spare_id = a_spare()
    actions.move_spare(spare_id=spare_id, state="quarantined", place="Yard", by=None, now=MORNING)
    address = reverse("packs:move_spare", args=[spare_id])
    sent = {"state": "in_stock", "place": "Rack 2", "note": "Watched 72 h, cool"}
    assert technician.post(address, sent).status_code == 422
    without_reason = manager.post(address, {**sent, "note": " "})
    assert "Say on what grounds it leaves quarantine" in words(without_reason)
    assert manager.post(address, sent).status_code == 302
    assert queries.spare(spare_id).state == "in_stock"


def test_a_test_is_added(technician: Client) -> None:
    spare_id = a_spare()
    address = reverse("packs:test_spare", args=[spare_id])
    technician.post(address, {"capacity_ah": "110", "tested_on": "2026-03-02"})
    assert queries.spare(spare_id).test.capacity_ah == pytest.approx(110.0)
    refused = technician.post(address, {"capacity_ah": "0"})
    assert refused.status_code == 422
    assert "Enter a value above zero." in words(refused)


def test_a_spare_that_is_not_there_is_not_found(technician: Client) -> None:
    nobody = uuid4()
    assert technician.get(reverse("packs:spare", args=[nobody])).status_code == 404
    for page in ("move_spare", "test_spare"):
        assert technician.post(reverse(f"packs:{page}", args=[nobody])).status_code == 404
