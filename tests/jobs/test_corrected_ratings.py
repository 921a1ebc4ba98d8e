"""A rating corrected in the register reaches the open jobs that picked the piece before."""

from collections.abc import Iterator

import pytest
from django.test import Client

from jobs.actions.upkeep import correct_equipment
from jobs.core.entry import Kind
from jobs.core.flow import gate
from jobs.core.item import EquipmentUsed, Item
from jobs.core.order import find_item
from jobs.core.record import Given
from jobs.models import Entry
from jobs.practice.player import play
from jobs.practice.scene import TECHNICIAN, Draft, Scene
from jobs.queries.records import job_info
from jobs.queries.verify import verify_all
from jobs.steps import STEPS
from jobs.steps.isolation_readings import STEP
from tests.play import a_job_at
from workshop import queries, sign_on
from workshop.details import EquipmentDetails
from workshop.forms import ratings_as_typed

pytestmark = pytest.mark.django_db

GLOVES = "isolation_readings.live_gloves"
SHIELD = "de_energise_check.shield"
LOWER = {"glove_class": "00", "max_dc_v": 300}


@pytest.fixture
def readings() -> Iterator[Scene]:
    with a_job_at("isolation_readings") as scene:
        play(scene, until="isolation_readings.live_air_test")
        yield scene


def gloves(scene: Scene) -> Item[EquipmentUsed]:
    found = find_item(STEPS, scene.record(), GLOVES)
    assert found is not None
    item: Item[EquipmentUsed] = found[1]
    return item


def picked(scene: Scene) -> Given[EquipmentUsed]:
    given = scene.record().given(gloves(scene))
    assert given is not None
    return given


def correct(scene: Scene, piece_id: str, **changes: object) -> int:
    now = scene.clock.now()
    piece = queries.equipment_piece(piece_id, queries.local_day(now))
    assert piece is not None
    ratings = {**piece.ratings, **changes}
    label = str(ratings.pop("label", piece.label))
    told = correct_equipment(
        equipment_id=piece_id,
        details=EquipmentDetails(
            kind=piece.kind, label=label, serial=piece.serial, ratings=ratings
        ),
        why="label misread",
        by=scene.shop.people["Thorne"],
        now=now,
    )
    info = job_info(scene.job)
    assert info is not None
    scene.head, scene.kept = info.head, None
    return told


def client(scene: Scene, name: str) -> Client:
    person = scene.shop.people[name]
    signed_on = Client()
    session = signed_on.session
    session[sign_on.PERSON_KEY] = person
    session[sign_on.MARK_KEY] = queries.session_mark(person)
    session[sign_on.SEEN_KEY] = scene.clock.now().timestamp()
    session.save()
    return signed_on


def codes(scene: Scene) -> set[tuple[str, str]]:
    return {(point.code, point.item) for point in gate(STEPS, scene.record(), STEP)}


def test_a_pick_with_a_rating_since_corrected_counts_no_more(readings: Scene) -> None:
    before = picked(readings)
    assert ("missing", GLOVES) not in codes(readings)
    assert correct(readings, before.value.id, **LOWER) == 1
    record = readings.record()
    assert record.given(gloves(readings)) is None
    assert "label misread" in record.gone[before.entry.key]
    assert ("missing", GLOVES) in codes(readings)
    assert verify_all()[1] == ()


def test_the_piece_picked_again_counts_with_its_new_rating(readings: Scene) -> None:
    before = picked(readings).value
    correct(readings, before.id, **LOWER)
    readings.enter(gloves(readings), before.id)
    after = picked(readings).value
    assert after.id == before.id
    assert after.number("max_dc_v") < before.number("max_dc_v")
    assert ("missing", GLOVES) not in codes(readings)
    assert not {code for code, _item in codes(readings)} & {"equipment_withdrawn"}


def test_a_corrected_label_leaves_the_picks_of_open_jobs(readings: Scene) -> None:
    before = picked(readings)
    assert correct(readings, before.value.id, label="G1-b") == 0
    assert picked(readings).entry.key == before.entry.key
    assert not Entry.objects.filter(kind=Kind.WITHDRAW).exists()


def test_another_piece_and_its_job_are_left_alone(readings: Scene) -> None:
    before = picked(readings)
    shelf = queries.all_equipment(readings.clock.now().date())
    other = next(each for each in shelf if each.kind == "gloves" and each.id != before.value.id)
    assert correct(readings, other.id, **LOWER) == 0
    assert picked(readings).entry.key == before.entry.key


def test_the_proof_that_rests_on_the_piece_ends(readings: Scene) -> None:
    record = readings.record()
    assert record.proof is not None
    assert record.proof_holds()
    used = next(
        entry.value["id"]
        for values in record.live.values()
        for entry in values
        if entry.key in record.proof.rests_on
        and isinstance(entry.value, dict)
        and entry.value.get("kind") == "two_pole_indicator"
    )
    correct(readings, used, rated_v=600)
    after = readings.record()
    assert after.proof is not None
    assert not after.proof_holds()
    assert after.proof.ended_by == "corrected"


def test_a_signed_step_keeps_its_pick_until_it_is_reopened() -> None:
    with a_job_at("fault_localisation") as scene:
        found = find_item(STEPS, scene.record(), SHIELD)
        assert found is not None
        shield: Item[EquipmentUsed] = found[1]
        before = scene.record().given(shield)
        assert before is not None
        assert before.value.in_date(scene.clock.now().date())
        assert correct(scene, before.value.id, marking="8-1-0") == 1
        kept = scene.record().given(shield)
        assert kept is not None
        assert kept.entry.key == before.entry.key
        assert not kept.value.in_date(scene.clock.now().date())
        value = {"step": "de_energise_check", "reason": "prove again", "items": []}
        scene.do(Draft(kind=Kind.REOPEN, by=TECHNICIAN, value=value))
        record = scene.record()
        assert record.given(shield) is None
        assert "label misread" in record.gone[before.entry.key]


def test_the_page_names_the_jobs_and_tells_them(
    readings: Scene,
) -> None:
    before = picked(readings).value
    address = f"/equipment/{before.id}/correct/"
    manager = client(readings, "Thorne")
    assert f"/jobs/{readings.job}/" in manager.get(address).content.decode()
    piece = queries.equipment_piece(before.id, readings.clock.now().date())
    assert piece is not None
    typed = {**ratings_as_typed({**piece.ratings, **LOWER}), "label": piece.label, "why": "misread"}
    answer = manager.post(address, typed, follow=True)
    assert f"1 open job has to pick {piece.label} again." in answer.content.decode()
    line = client(readings, "Thorne").get(f"/jobs/{readings.job}/record/").content.decode()
    assert "Equipment corrected" in line


def test_only_a_manager_reaches_the_page(readings: Scene) -> None:
    address = f"/equipment/{picked(readings).value.id}/correct/"
    assert client(readings, "Aster").get(address).status_code == 403
    assert client(readings, "Thorne").get(address).status_code == 200
