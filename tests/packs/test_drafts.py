"""A draft's life: started, changed by two people, published once, or discarded."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest

from packs import actions, queries
from packs.definition_content import Content, tidied, with_value
from packs.definition_form import FormSection, section_named
from packs.errors import Conflict, InputRefused
from packs.models import PackDraft
from packs.queries import DraftInfo, RevisionInfo
from tests.packs.changed_definition import changed, put, table_of, text_of
from tests.packs.test_draft_topology import VAN

NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
BRAMBLE = UUID("00000000-0000-4000-8000-0000000000b1")
HOLLY = UUID("00000000-0000-4000-8000-0000000000b2")

pytestmark = pytest.mark.django_db


def part(slug: str) -> FormSection:
    found = section_named(slug)
    assert found is not None
    return found


def started(**more: Any) -> DraftInfo:
    return actions.start_draft(topology=replace(VAN, **more), by=BRAMBLE, now=NOW)


def from_van() -> DraftInfo:
    actions.add_pack_revision(toml=text_of(), by=None, now=NOW)
    return actions.draft_from_revision(slug="delivery-van", by=BRAMBLE, now=NOW)


def kept(
    draft: DraftInfo, path: str, value: object, *, section: str, version: int | None = None
) -> DraftInfo:
    content: Content = with_value(draft.content, path, value)
    return actions.change_draft(
        draft_id=draft.id,
        section=part(section),
        content=content,
        version=draft.version if version is None else version,
        by=HOLLY,
        now=NOW + timedelta(minutes=5),
    )


def published(draft: DraftInfo, note: str = "heavier", **more: Any) -> RevisionInfo:
    given = {"version": draft.version, "over": draft.base_number, **more}
    return actions.publish_draft(draft_id=draft.id, note=note, by=BRAMBLE, now=NOW, **given)


def test_a_draft_starts_from_topology_and_says_what_it_lacks() -> None:
    draft = started()
    assert (draft.slug, draft.base_number, draft.changed_by) == (VAN.slug, None, BRAMBLE)
    assert len(draft.check().lacks) == 15
    assert queries.drafts() == (draft,)
    assert queries.packs_list() == ()


def test_the_same_start_sent_twice_is_one_draft() -> None:
    key = uuid4()
    first = actions.start_draft(topology=VAN, by=None, now=NOW, draft_id=key)
    assert actions.start_draft(topology=VAN, by=None, now=NOW, draft_id=key) == first


def test_a_short_name_that_is_taken_is_refused() -> None:
    started()
    with pytest.raises(Conflict) as second:
        started()
    assert (second.value.code, second.value.field) == ("draft_exists", "slug")
    actions.add_pack_revision(toml=text_of(), by=None, now=NOW)
    with pytest.raises(Conflict) as known:
        started(slug="delivery-van")
    assert known.value.code == "kind_exists"


def test_a_revision_opens_as_one_draft_however_often() -> None:
    draft = from_van()
    assert draft.base_number == 1
    assert draft.check().definition == queries.latest_revision("delivery-van").definition
    again = actions.draft_from_revision(slug="delivery-van", number=1, by=HOLLY, now=NOW)
    assert again.id == draft.id
    with pytest.raises(InputRefused):
        actions.draft_from_revision(slug="tram", by=None, now=NOW)


def test_a_section_is_kept_with_who_and_when_and_the_others_stay() -> None:
    draft = from_van()
    after = kept(draft, "mass_kg.value", 320.0, section="what")
    assert after.content["mass_kg"]["value"] == 320.0
    assert (after.version, after.changed_by) == (2, HOLLY)
    assert after.touched["what"]["version"] == 2
    assert after.content["modules"] == draft.content["modules"]


def test_values_of_another_section_are_not_taken_along() -> None:
    after = kept(from_van(), "mass_kg.value", 320.0, section="limits")
    assert (after.content["mass_kg"]["value"], after.version) == (318.0, 1)


def test_what_stands_there_already_writes_nothing() -> None:
    draft = from_van()
    assert kept(draft, "mass_kg.value", 318.0, section="what") == draft


def test_the_second_of_two_people_in_a_section_is_told_who_was_first_and_when() -> None:
    draft = from_van()
    kept(draft, "mass_kg.value", 320.0, section="what")
    with pytest.raises(Conflict) as late:
        kept(draft, "mass_kg.value", 330.0, section="what", version=1)
    assert late.value.code == "draft_changed"
    assert late.value.parameters == {
        "by": str(HOLLY),
        "at": (NOW + timedelta(minutes=5)).isoformat(),
    }
    assert queries.draft(draft.id).content["mass_kg"]["value"] == 320.0
    seen = queries.draft(draft.id)
    assert kept(seen, "mass_kg.value", 330.0, section="what").content["mass_kg"]["value"] == 330.0


def test_two_people_in_two_sections_do_not_hinder_one_another() -> None:
    draft = from_van()
    kept(draft, "mass_kg.value", 320.0, section="what")
    after = kept(draft, "wait_min.value", 15.0, section="limits", version=1)
    assert after.content["mass_kg"]["value"] == 320.0
    assert after.content["wait_min"]["value"] == 15.0


def test_a_new_kinds_short_name_can_change_and_a_known_ones_cannot() -> None:
    assert kept(started(), "slug", "orrin", section="what").slug == "orrin"
    with pytest.raises(InputRefused) as fixed:
        kept(from_van(), "slug", "other", section="what")
    assert fixed.value.code == "slug_fixed"
    with pytest.raises(Conflict):
        kept(started(), "slug", "delivery-van", section="what")


def test_a_draft_is_published_as_the_next_revision_and_is_gone() -> None:
    draft = kept(from_van(), "mass_kg.value", 320.0, section="what")
    added = published(draft)
    assert (added.number, added.note, added.created_by) == (2, "heavier", BRAMBLE)
    assert added.definition.mass_kg.value == 320.0
    assert queries.drafts() == ()
    with pytest.raises(InputRefused):
        queries.draft(draft.id)


def test_publishing_twice_gives_the_same_revision() -> None:
    draft = kept(from_van(), "mass_kg.value", 320.0, section="what")
    first = published(draft)
    assert published(draft).id == first.id
    assert queries.revision_numbers("delivery-van") == (2, 1)


@pytest.mark.parametrize("name", ["delivery-van", "city-hatchback", "minibus"])
def test_a_definition_published_unchanged_makes_no_new_revision(name: str) -> None:
    base = actions.add_pack_revision(toml=text_of(name), by=None, now=NOW)
    draft = actions.draft_from_revision(slug=name, by=None, now=NOW)
    assert published(draft).id == base.id
    assert queries.revision_numbers(name) == (1,)


def test_after_publishing_a_new_draft_of_the_kind_can_be_opened() -> None:
    published(from_van())
    again = actions.draft_from_revision(slug="delivery-van", by=None, now=NOW)
    assert queries.drafts() == (again,)


def test_an_unfinished_draft_is_not_published() -> None:
    draft = started()
    with pytest.raises(InputRefused) as refused:
        published(draft)
    assert (refused.value.code, refused.value.parameters) == ("draft_incomplete", {"count": 15})
    assert queries.drafts() == (draft,)
    assert queries.packs_list(withdrawn=True) == ()


def test_publishing_needs_a_note() -> None:
    with pytest.raises(InputRefused) as refused:
        published(from_van(), note="  ")
    assert refused.value.field == "note"


def test_what_was_changed_since_the_differences_were_seen_is_not_published() -> None:
    draft = from_van()
    kept(draft, "mass_kg.value", 320.0, section="what")
    with pytest.raises(Conflict) as refused:
        published(draft)
    assert refused.value.code == "draft_changed"


def test_a_revision_added_meanwhile_has_to_be_seen_first() -> None:
    draft = kept(from_van(), "mass_kg.value", 320.0, section="what")
    actions.add_pack_revision(toml=changed(put("wait_min.value", 12.0)), by=None, now=NOW)
    with pytest.raises(Conflict) as refused:
        published(draft)
    assert refused.value.code == "newer_revision"
    assert published(draft, over=2).number == 3


def test_a_draft_is_discarded_and_stays_so() -> None:
    draft = from_van()
    actions.discard_draft(draft_id=draft.id)
    actions.discard_draft(draft_id=draft.id)
    assert queries.drafts() == ()
    assert queries.revision_numbers("delivery-van") == (1,)
    with pytest.raises(InputRefused):
        kept(draft, "mass_kg.value", 320.0, section="what")


def test_discarding_does_not_touch_what_was_published() -> None:
    draft = from_van()
    added = published(draft)
    actions.discard_draft(draft_id=draft.id)
    assert published(draft).id == added.id
    assert PackDraft.objects.count() == 1


def test_an_unfinished_file_opens_as_a_draft_on_the_newest_revision() -> None:
    actions.add_pack_revision(toml=text_of(), by=None, now=NOW)
    table = table_of()
    del table["lid"]
    draft = actions.draft_from_table(content=tidied(table)[0], by=None, now=NOW)
    assert draft.base_number == 1
    assert [lack.anchor for lack in draft.check().lacks] == ["f-lid-kind"]
    with pytest.raises(Conflict):
        actions.draft_from_table(content=tidied(table)[0], by=None, now=NOW)
    with pytest.raises(InputRefused):
        actions.draft_from_table(content={"name": "Van"}, by=None, now=NOW)
