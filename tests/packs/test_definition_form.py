"""What the form of a definition writes, it reads back; what is wrong stands at its input."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packs.definition import PackDefinition, digest, from_toml
from packs.definition_content import read_section, tidied, typed_of, value_at
from packs.definition_fields import FieldFault, number_of, number_text
from packs.definition_form import SECTIONS, FormSection, every_field, section_named
from packs.definition_form_shown import Shown, shown_section
from packs.definition_rows import Act, Rows, act_of, after_act
from packs.draft_check import checked
from tests.packs.changed_definition import table_of, text_of
from tests.packs.test_definition_round_trip import definitions

FIXTURES = ("delivery-van", "city-hatchback", "minibus")


def part(slug: str) -> FormSection:
    found = section_named(slug)
    assert found is not None
    return found


def through_the_form(content: dict[str, Any]) -> dict[str, Any]:
    """Open every section and keep it without a change."""
    for section in SECTIONS:
        content, faults = read_section(section, typed_of(section, content), content)
        assert faults == ()
    return content


def read(slug: str, typed: dict[str, str], content: dict[str, Any] | None = None) -> Any:
    return read_section(part(slug), typed, content or {})


@pytest.mark.parametrize("name", FIXTURES)
def test_a_definition_opened_by_form_and_kept_is_the_same(name: str) -> None:
    found = checked(through_the_form(table_of(name))).definition
    assert found is not None
    assert digest(found) == digest(from_toml(text_of(name)))


@settings(max_examples=15)
@given(definitions())
def test_any_definition_opened_by_form_and_kept_is_the_same(definition: PackDefinition) -> None:
    content = definition.model_dump(mode="json", exclude_none=True)
    found = checked(through_the_form(content))
    assert found.definition == definition


@pytest.mark.parametrize("section", SECTIONS, ids=lambda each: each.slug)
def test_a_section_changes_only_its_own_fields(section: FormSection) -> None:
    table = table_of()
    changed, faults = read_section(section, {}, table)
    assert faults == ()
    own = {each.path for each in section.fields}
    others = [each.path for _, each in every_field() if each.path not in own]
    assert all(value_at(changed, path) == value_at(table, path) for path in others)
    assert all(not value_at(changed, path) for path in own)


def test_every_field_of_a_definition_stands_in_one_section() -> None:
    paths = [each.path for _, each in every_field()]
    assert len(paths) == len(set(paths))
    tops = {path.partition(".")[0] for path in paths} | {"format"}
    assert tops == set(PackDefinition.model_fields)


@pytest.mark.parametrize("typed", ["318,5", "318.5", " 318.5 "])
def test_a_number_is_read_with_comma_or_point(typed: str) -> None:
    figure = {"mass_kg.value": typed, "mass_kg.kind": "maker", "mass_kg.source": "Label"}
    content, faults = read("what", figure)
    assert faults == ()
    assert content["mass_kg"] == {"value": 318.5, "kind": "maker", "source": "Label"}


@pytest.mark.parametrize(
    ("value", "kind", "source", "fault"),
    [
        ("1 318", "maker", "Label", FieldFault("mass_kg.value", "number")),
        ("1e3", "maker", "Label", FieldFault("mass_kg.value", "number")),
        ("nan", "maker", "Label", FieldFault("mass_kg.value", "number")),
        ("", "maker", "Label", FieldFault("mass_kg.value", "value_missing")),
        ("318", "", "Label", FieldFault("mass_kg.kind", "kind_missing")),
        ("318", "rumour", "Label", FieldFault("mass_kg.kind", "unknown_choice")),
        ("318", "maker", " ", FieldFault("mass_kg.source", "source_missing")),
        ("318", "shop_default", "", FieldFault("mass_kg.source", "source_missing")),
    ],
)
def test_a_figure_needs_value_kind_and_source(
    value: str, kind: str, source: str, fault: FieldFault
) -> None:
    typed = {"mass_kg.value": value, "mass_kg.kind": kind, "mass_kg.source": source}
    assert fault in read("what", typed)[1]


def test_a_shop_default_that_stood_without_source_may_stand_until_it_is_changed() -> None:
    table = table_of()
    typed = typed_of(part("limits"), table)
    assert typed["dead_v.source"] == ""
    assert read("limits", typed, table)[1] == ()
    changed = {**typed, "dead_v.value": "6"}
    assert read("limits", changed, table)[1] == (FieldFault("dead_v.source", "source_missing"),)


def test_a_torque_stage_without_source_is_refused_at_its_line() -> None:
    typed = {"mounts.stages.0.target_nm": "60", "mounts.stages.0.kind": "maker"}
    fault = FieldFault("mounts.stages.0.source", "source_missing")
    assert read("torque", typed)[1] == (fault,)
    assert read("torque", {**typed, "mounts.stages.0.source": "Book, 3.4"})[1] == ()


def test_empty_rows_are_left_out_and_the_others_keep_their_order() -> None:
    typed = {"modules.0.name": "", "modules.3.name": "M2", "modules.1.name": "M1"}
    assert read("modules", typed)[0]["modules"] == [{"name": "M1"}, {"name": "M2"}]


def test_none_is_said_by_a_tick_and_not_by_silence() -> None:
    assert "bonding_points" not in read("vehicle", {"bonding_points": " \n"})[0]
    assert read("vehicle", {"bonding_points.none": "on"})[0]["bonding_points"] == []
    both = {"bonding_points.none": "on", "bonding_points": "Strap"}
    assert read("vehicle", both)[1] == (FieldFault("bonding_points", "none_and_some"),)


def test_positions_can_be_written_as_a_run() -> None:
    content, _ = read("torque", {"mounts.name": "M", "mounts.positions": "P1..P3\nCentre"})
    assert content["mounts"]["positions"] == ["P1", "P2", "P3", "Centre"]


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e30, max_value=1e30))
def test_a_number_written_is_read_again(value: float) -> None:
    if abs(value) >= 1e-12 or value == 0:
        assert number_of(number_text(value)) == pytest.approx(value, rel=0, abs=0)


def modules(*names: str) -> dict[str, str]:
    return {f"modules.{index}.name": name for index, name in enumerate(names)}


def order_after(typed: dict[str, str], act: Act) -> list[str]:
    rows = part("modules").fields[0]
    assert isinstance(rows, Rows)
    after, _ = after_act(typed, rows, act)
    return [after[f"modules.{each}.name"] for each in rows.indices(after, "modules")]


@pytest.mark.parametrize(
    ("act", "order"),
    [
        ("modules.1.up", ["B", "A", "C"]),
        ("modules.1.down", ["A", "C", "B"]),
        ("modules.0.up", ["A", "B", "C"]),
        ("modules.2.down", ["A", "B", "C"]),
        ("modules.0.remove", ["B", "C"]),
        ("modules.9.remove", ["A", "B", "C"]),
        ("modules.add", ["A", "B", "C", ""]),
    ],
)
def test_rows_are_added_removed_and_moved(act: str, order: list[str]) -> None:
    asked = act_of(act)
    assert asked is not None
    assert order_after(modules("A", "B", "C"), asked) == order


def test_adding_once_more_gives_one_more_empty_row() -> None:
    assert order_after(modules("A", ""), Act("modules", "add")) == ["A", "", ""]


def test_what_is_no_act_of_a_row_is_none() -> None:
    assert [act_of(text) for text in ("save", "next", "", "modules.x.up", ".add")] == [None] * 5


def shown(slug: str, typed: dict[str, str], *faults: FieldFault) -> tuple[Shown, ...]:
    return shown_section(part(slug), typed, faults, ("M1", "M2"), str)


def test_a_list_has_one_empty_row_more() -> None:
    [rows] = shown("modules", modules("A", "B"))
    assert [row.filled for row in rows.rows] == [True, True, False]
    [none] = shown("modules", {})
    assert [row.filled for row in none.rows] == [False]


def test_a_fault_stands_at_its_input_with_what_was_typed() -> None:
    fields = shown("what", {"mass_kg.value": "x"}, FieldFault("mass_kg.value", "number"))
    value = next(each for each in fields if each.name == "mass_kg").parts[0]
    assert value.value == "x"
    assert "Write a number" in value.faults[0]


def test_a_module_that_is_gone_stays_what_was_chosen() -> None:
    fields = shown("closing", {"disconnect.after_module": "M9"})
    after = next(each for each in fields if each.name == "disconnect.after_module")
    assert [option.code for option in after.options] == ["", "M1", "M2", "M9"]
    assert after.options[-1].chosen


def test_what_does_not_fit_a_form_is_left_out_and_named() -> None:
    table = {**table_of(), "colour": "red", "lid": {**table_of()["lid"], "hinge": 1}}
    content, left_out = tidied(table)
    assert left_out == ("colour", "lid.hinge")
    assert checked(content).definition == from_toml(text_of())
