"""Which pack definition a job stands on, and where it may move."""

from collections.abc import Callable
from uuid import UUID

from jobs.core.draft import Answer
from jobs.core.entry import Kind
from packs import actions as packs
from packs.queries import RevisionInfo
from tests.builders import FIXTURES
from tests.jobs.conftest import Shop


def a_revision(shop: Shop, name: str, change: Callable[[str], str] = str) -> RevisionInfo:
    toml = change((FIXTURES / "packs" / f"{name}.toml").read_text(encoding="utf-8"))
    return packs.add_pack_revision(toml=toml, by=UUID(shop.people["thorne"]), now=shop.clock.now())


def newer(toml: str) -> str:
    return toml.replace('name = "', 'name = "New ', 1)


def choose(shop: Shop, revision: RevisionInfo, reason: str = "") -> Answer:
    return shop.send(Kind.REVISION, {"revision": str(revision.id), "reason": reason})


def codes(answer: Answer) -> list[str]:
    return [point.code for point in answer.blockers]


def test_the_first_definition_needs_no_reason_and_a_newer_one_does(shop: Shop) -> None:
    first = a_revision(shop, "delivery-van")
    assert choose(shop, first).verdict == "applied"
    assert codes(choose(shop, first)) == ["same_revision"]
    second = a_revision(shop, "delivery-van", newer)
    assert codes(choose(shop, second)) == ["reason_needed"]
    assert choose(shop, second, "maker's bulletin").verdict == "applied"
    assert codes(choose(shop, first, "back")) == ["revision_older"]
    assert shop.record().revision == str(second.id)


def test_a_wrong_kind_is_corrected_only_before_it_was_confirmed_against_the_label(
    shop: Shop,
) -> None:
    van, bus = a_revision(shop, "delivery-van"), a_revision(shop, "minibus")
    choose(shop, van)
    assert choose(shop, bus, "wrong one tapped").verdict == "applied"


def test_the_front_desk_chooses_no_definition(shop: Shop) -> None:
    revision = a_revision(shop, "delivery-van")
    answer = shop.send(Kind.REVISION, {"revision": str(revision.id)}, by="lorne")
    assert codes(answer) == ["revision_role"]
