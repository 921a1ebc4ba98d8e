"""The pages of drafts: who sees what, what a refused form keeps, and that nothing breaks."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from packs import actions, queries
from packs.definition import from_toml
from packs.definition_content import typed_of
from packs.definition_form import SECTIONS, section_named
from packs.models import PackDraft
from packs.queries import DraftInfo
from tests.packs.changed_definition import changed, put, text_of
from tests.packs.half_filled import contents
from tests.packs.tablet import at_the_tablet, words
from tests.packs.test_draft_topology import VAN
from workshop import clock

NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def morning() -> Iterator[None]:
    with clock.use_fixed(NOW):
        yield


@pytest.fixture
def manager() -> Client:
    return at_the_tablet("manager")


def a_draft(**more: Any) -> DraftInfo:
    return actions.start_draft(topology=replace(VAN, **more), by=None, now=NOW)


def from_van() -> DraftInfo:
    actions.add_pack_revision(toml=text_of(), by=None, now=NOW)
    return actions.draft_from_revision(slug="delivery-van", by=None, now=NOW)


def at(name: str, draft: DraftInfo, *more: str) -> str:
    return reverse(f"packs:{name}", args=[draft.id, *more])


def typed(draft: DraftInfo, section: str, **more: str) -> dict[str, str]:
    part = section_named(section)
    assert part is not None
    return {**typed_of(part, draft.content), "version": str(draft.version), **more}


START = {
    "name": "Halden Orrin, long",
    "vehicle_text": "Halden Orrin",
    "chemistry": "nmc",
    "modules": "4",
    "cells": "6",
    "rows": "2",
    "columns": "",
    "direction": "there_and_back",
    "disconnect": "string_plug",
    "after": "2",
}


@pytest.mark.parametrize(
    ("role", "page", "status"),
    [
        ("front_desk", "start_draft", 403),
        ("technician", "start_draft", 403),
        ("manager", "start_draft", 200),
        ("front_desk", "draft", 200),
        ("technician", "draft", 200),
        ("manager", "draft", 200),
        ("technician", "publish_draft", 403),
        ("manager", "publish_draft", 200),
        ("technician", "draft_file", 409),
    ],
)
def test_everybody_may_look_and_managers_write(role: str, page: str, status: int) -> None:
    arguments = [] if page == "start_draft" else [a_draft().id]
    answer = at_the_tablet(role).get(reverse(f"packs:{page}", args=arguments))
    assert answer.status_code == status


@pytest.mark.parametrize("name", ["draft_section", "section_picture"])
def test_a_section_is_for_managers(name: str) -> None:
    draft, technician = a_draft(), at_the_tablet("technician")
    assert technician.post(at(name, draft, "what"), {"name": "x"}).status_code == 403
    assert technician.post(at("discard_draft", draft)).status_code == 403
    assert technician.post(at("publish_draft", draft), {"note": "x"}).status_code == 403
    assert queries.draft(draft.id) == draft


def test_a_manager_starts_from_topology_and_sees_what_is_missing(manager: Client) -> None:
    answer = manager.post(reverse("packs:start_draft"), START, follow=True)
    [draft] = queries.drafts()
    assert draft.slug == "halden-orrin-long"
    assert "Before this definition can be used (16)" in words(answer)
    assert f"{at('draft_section', draft, 'what')}#f-mass_kg-value" in words(answer)


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({"cells": "six"}, "Write a whole number from 1 to 200."),
        ({"cells": "6 6 8"}, "There are 3 numbers of cells for 4 modules."),
        ({"after": ""}, "Write a module from 1 to 3"),
        ({"columns": "1"}, "2 places are too few for 4 modules."),
        ({"nominal_v": "400"}, "400 V does not lie between"),
        ({"name": ""}, "required"),
    ],
)
def test_topology_that_is_refused_keeps_what_was_typed(
    manager: Client, change: dict[str, str], complaint: str
) -> None:
    answer = manager.post(reverse("packs:start_draft"), {**START, **change})
    assert answer.status_code == 422
    assert complaint in words(answer)
    assert 'value="Halden Orrin"' in words(answer)
    assert queries.drafts() == ()


def test_a_short_name_in_use_is_refused_at_its_field(manager: Client) -> None:
    a_draft()
    answer = manager.post(reverse("packs:start_draft"), {**START, "slug": VAN.slug})
    assert answer.status_code == 422
    assert "There is a draft of halden-orrin-long already" in words(answer)


@pytest.mark.parametrize("sent", [{}, {"modules": "3"}, {**START, "cells": "x"}, START])
def test_the_topology_is_drawn_while_it_is_typed(manager: Client, sent: dict[str, str]) -> None:
    answer = manager.post(reverse("packs:start_picture"), sent)
    assert answer.status_code == 200
    assert "<svg" in words(answer)
    assert ("M3" in words(answer)) == ("modules" in sent)


@pytest.mark.parametrize("section", [each.slug for each in SECTIONS])
def test_each_section_opens_and_keeps_what_it_shows(manager: Client, section: str) -> None:
    draft = from_van()
    assert manager.get(at("draft_section", draft, section)).status_code == 200
    answer = manager.post(at("draft_section", draft, section), typed(draft, section))
    assert answer.status_code == 302
    assert queries.draft(draft.id).check().definition == from_toml(text_of())


def test_a_figure_without_source_is_refused_at_the_field_and_kept_as_typed(manager: Client) -> None:
    draft = from_van()
    sent = typed(draft, "what", **{"mass_kg.value": "319,5", "mass_kg.source": ""})
    answer = manager.post(at("draft_section", draft, "what"), sent)
    assert answer.status_code == 422
    assert 'value="319,5"' in words(answer)
    assert 'aria-describedby="f-mass_kg-source-fault"' in words(answer)
    assert queries.draft(draft.id) == draft


def test_rows_are_added_and_moved_without_keeping_anything(manager: Client) -> None:
    draft = from_van()
    sent = typed(draft, "modules", act="modules.1.up")
    answer = words(manager.post(at("draft_section", draft, "modules"), sent))
    assert answer.index('value="M2"') < answer.index('value="M1"')
    assert 'name="modules.14.name"' in answer
    assert queries.draft(draft.id) == draft


def test_a_stage_of_a_torque_list_is_removed(manager: Client) -> None:
    draft = from_van()
    sent = typed(draft, "torque", act="mounts.stages.0.remove")
    answer = words(manager.post(at("draft_section", draft, "torque"), sent))
    assert 'name="mounts.stages.0.target_nm" id="f-mounts-stages-0-target_nm" value="110"' in answer


def test_the_drawing_follows_what_is_typed(manager: Client) -> None:
    draft = from_van()
    sent = typed(draft, "modules", **{"modules.0.name": "Front", "modules.1.row": "x"})
    answer = words(manager.post(at("section_picture", draft, "modules"), sent))
    assert "Front" in answer
    assert "Without a place: M2." in answer


def test_the_second_of_two_is_told_who_was_first_and_keeps_the_text(manager: Client) -> None:
    draft = from_van()
    first = typed(draft, "what", **{"mass_kg.value": "320"})
    manager.post(at("draft_section", draft, "what"), first)
    late = typed(draft, "what", **{"mass_kg.value": "330"})
    answer = manager.post(at("draft_section", draft, "what"), late)
    assert answer.status_code == 409
    assert "manager changed this section at" in words(answer)
    assert "320 kg" in words(answer)
    assert 'value="330"' in words(answer)
    assert 'name="version" value="2"' in words(answer)
    again = manager.post(at("draft_section", draft, "what"), {**late, "version": "2"})
    assert again.status_code == 302


def test_the_differences_are_seen_before_publishing_and_the_note_is_asked(manager: Client) -> None:
    draft = from_van()
    sent = typed(draft, "what", **{"mass_kg.value": "320"})
    manager.post(at("draft_section", draft, "what"), sent)
    page = words(manager.get(at("publish_draft", draft)))
    assert "318 kg" in page
    assert "320 kg" in page
    publish = {"version": "2", "over": "1", "note": ""}
    refused = manager.post(at("publish_draft", draft), publish)
    assert refused.status_code == 422
    assert "Say what changed and why." in words(refused)
    answer = manager.post(at("publish_draft", draft), {**publish, "note": "weighed"}, follow=True)
    assert "weighed" in words(answer)
    assert queries.revision_numbers("delivery-van") == (2, 1)


def test_a_draft_that_is_overtaken_says_so_on_the_publish_page(manager: Client) -> None:
    draft = from_van()
    actions.add_pack_revision(toml=changed(put("mass_kg.value", 320.0)), by=None, now=NOW)
    assert "started from revision 1. Revision 2 came after" in words(
        manager.get(at("publish_draft", draft))
    )
    answer = manager.post(at("publish_draft", draft), {"version": "1", "over": "1", "note": "x"})
    assert answer.status_code == 409


def test_a_complete_draft_is_handed_out_as_a_file_and_an_unfinished_says_why_not(
    manager: Client,
) -> None:
    handed = manager.get(at("draft_file", from_van()))
    assert from_toml(handed.content) == from_toml(text_of())
    answer = manager.get(at("draft_file", a_draft()))
    assert "No file yet: 15 points are missing or wrong." in words(answer)


def test_a_file_opens_in_the_form_unfinished_as_it_is(manager: Client) -> None:
    text = 'slug = "tram"\nname = "Tram"\ncolour = "red"\n'
    upload = SimpleUploadedFile("tram.toml", text.encode())
    sent = {"file": upload, "note": "", "act": "draft"}
    answer = manager.post(reverse("packs:upload"), sent, follow=True)
    assert "Left out, because the form does not know it: colour." in words(answer)
    assert [draft.slug for draft in queries.drafts()] == ["tram"]


@pytest.mark.parametrize("act", ["", "draft"])
def test_a_newer_format_is_refused_naming_both_and_nothing_is_lost(
    manager: Client, act: str
) -> None:
    text = text_of().replace("format = 1", "format = 2")
    answer = manager.post(reverse("packs:upload"), {"text": text, "note": "why", "act": act})
    assert answer.status_code == 422
    page = words(answer)
    assert "format: 2 is newer than this program reads, which is 1" in page
    assert "Halden service manual, section 4.2" in page
    assert 'value="why"' in page
    assert queries.packs_list() == ()
    assert queries.drafts() == ()


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("name = = 3", "line 1, column 8"),
        ('name = "Tram"', "the text needs a slug"),
        ('slug = "delivery-van"', "There is a draft of delivery-van already"),
    ],
)
def test_text_that_cannot_become_a_draft_is_refused_at_its_field(
    manager: Client, text: str, complaint: str
) -> None:
    from_van()
    answer = manager.post(reverse("packs:upload"), {"text": text, "act": "draft"})
    assert answer.status_code == 422
    assert complaint in words(answer)


def test_revisions_are_compared_side_by_side() -> None:
    actions.add_pack_revision(toml=text_of(), by=None, now=NOW)
    actions.add_pack_revision(toml=changed(put("mass_kg.value", 320.0)), by=None, now=NOW)
    desk = at_the_tablet("front_desk")
    address = reverse("packs:compare", args=["delivery-van", 1, 2])
    page = words(desk.get(address))
    assert "318 kg" in page
    assert "≠" in page
    assert "Dead below" not in page
    assert "Dead below" in words(desk.get(address + "?all=1"))
    same = words(desk.get(reverse("packs:compare", args=["delivery-van", 2, 2])))
    assert "They say the same." in same
    assert desk.get(reverse("packs:compare", args=["delivery-van", 1, 3])).status_code == 404


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("", {"delivery van", "Lumen", "minibus", "long"}),
        ("?q=orrin+van", {"delivery van"}),
        ("?state=draft", {"long"}),
        ("?state=withdrawn", {"minibus"}),
        ("?state=in_use&chemistry=lmo_blend", {"Lumen"}),
        ("?q=zeppelin", set()),
    ],
)
def test_the_register_is_searched_and_filtered_in_the_address(query: str, found: set[str]) -> None:
    for name in ("delivery-van", "city-hatchback", "minibus"):
        actions.add_pack_revision(toml=text_of(name), by=None, now=NOW)
    actions.withdraw_pack(slug="minibus", now=NOW)
    a_draft()
    page = words(at_the_tablet("front_desk").get(reverse("packs:packs") + query))
    shown = page[page.index('id="found"') :]
    names = {"delivery van", "Lumen hatchback", "minibus", "Orrin, long"}
    assert {name for name in names if name in shown} == {
        name for name in names if any(word in name for word in found)
    }
    assert ("draft, 15 missing" in shown) == ("long" in found)


def test_a_pack_that_is_gone_or_a_section_that_is_none_is_not_found(manager: Client) -> None:
    draft = a_draft()
    assert manager.get(at("draft_section", draft, "colours")).status_code == 404
    for page in ("draft", "draft_file", "publish_draft"):
        assert manager.get(reverse(f"packs:{page}", args=[uuid4()])).status_code == 404
    publish = reverse("packs:publish_draft", args=[uuid4()])
    assert manager.post(publish, {"note": "x"}).status_code == 404


@settings(max_examples=3, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=contents(), section=st.sampled_from([each.slug for each in SECTIONS]))
def test_a_half_filled_draft_never_breaks_a_page(
    manager: Client, content: dict[str, Any], section: str
) -> None:
    PackDraft.objects.all().delete()
    row = PackDraft.objects.create(slug="x", name="x", content=content, changed_at=NOW)
    draft = queries.draft(row.id)
    for page in (
        at("draft", draft),
        at("draft_section", draft, section),
        at("publish_draft", draft),
        reverse("packs:packs"),
    ):
        assert manager.get(page).status_code == 200
    assert manager.get(at("draft_file", draft)).status_code in {200, 409}
    sent = typed(draft, section)
    assert manager.post(at("section_picture", draft, section), sent).status_code == 200
    assert manager.post(at("draft_section", draft, section), sent).status_code in {302, 422}
