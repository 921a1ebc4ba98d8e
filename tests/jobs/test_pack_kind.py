"""The pack of a job gets the kind that the job found; another kind is said, not overwritten."""

import uuid

import pytest

from jobs.core.entry import Kind
from jobs.models import Job
from packs import actions, queries
from packs.queries import PhysicalPackInfo
from tests.jobs.conftest import Shop
from tests.packs.changed_definition import text_of

pytestmark = pytest.mark.django_db


def with_pack(shop: Shop, slug: str | None = None) -> PhysicalPackInfo:
    for name in ("delivery-van", "minibus"):
        actions.add_pack_revision(toml=text_of(name), by=None, now=shop.clock.now())
    pack = actions.add_physical_pack(serial="HB-0041", slug=slug)
    Job.objects.filter(id=shop.job).update(physical_pack_id=pack.id)
    return pack


def choose(shop: Shop, slug: str = "delivery-van") -> tuple[str, list[str]]:
    revision = queries.latest_revision(slug)
    answer = shop.send(Kind.REVISION, {"revision": str(revision.id), "reason": "label"})
    return answer.verdict, [point.text.format(**point.params) for point in answer.blockers]


def kind(pack: PhysicalPackInfo) -> str | None:
    return queries.physical_pack(pack.id).slug


def test_a_pack_without_a_kind_gets_the_one_that_is_chosen(shop: Shop) -> None:
    pack = with_pack(shop)
    assert choose(shop)[0] == "applied"
    assert kind(pack) == "delivery-van"
    [event] = queries.physical_pack_events(pack.id)
    job = Job.objects.get(id=shop.job)
    assert (event.kind, event.note) == ("kind_found", f"Job {job.number}")
    assert event.person_id == uuid.UUID(shop.people["aster"])


def test_a_pack_of_that_kind_is_left_as_it_is(shop: Shop) -> None:
    pack = with_pack(shop, "delivery-van")
    assert choose(shop)[0] == "applied"
    assert queries.physical_pack_events(pack.id) == ()


def test_another_kind_is_said_and_nothing_is_overwritten(shop: Shop) -> None:
    pack = with_pack(shop, "minibus")
    verdict, [sentence] = choose(shop)
    assert verdict == "refused"
    assert "Pack HB-0041 stands in the register as" in sentence
    assert kind(pack) == "minibus"
    assert shop.record().revision == ""


def test_once_the_register_is_right_the_definition_is_taken(shop: Shop) -> None:
    pack = with_pack(shop, "minibus")
    actions.correct_physical_pack(
        pack_id=pack.id,
        details=actions.PackDetails("HB-0041", "delivery-van"),
        reason="label read again",
        by=None,
        now=shop.clock.now(),
    )
    assert choose(shop)[0] == "applied"


def test_a_job_without_a_pack_of_its_own_changes_no_register(shop: Shop) -> None:
    pack = with_pack(shop)
    Job.objects.filter(id=shop.job).update(physical_pack_id=None)
    assert choose(shop)[0] == "applied"
    assert kind(pack) is None


def test_a_pack_that_was_entered_twice_says_so_and_keeps_no_kind(shop: Shop) -> None:
    pack = with_pack(shop)
    first = actions.add_physical_pack(serial="HB-0041", slug="delivery-van")
    assert first.id != pack.id
    assert choose(shop)[0] == "applied"
    assert kind(pack) is None
    assert [event.kind for event in queries.physical_pack_events(pack.id)] == ["twice"]
    assert queries.same_serial(pack) == (queries.physical_pack(first.id),)
