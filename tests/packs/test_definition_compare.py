"""Two definitions side by side: what differs, in words, with kind and source."""

import copy
from collections.abc import Callable
from typing import Any

import pytest

from packs.definition_compare import ComparedLine, compare, laid_out
from tests.packs.changed_definition import Change, put, table_of, without

Table = dict[str, Any]


def differences(change: Change) -> list[ComparedLine]:
    table = copy.deepcopy(table_of())
    change(table)
    return [line for section in compare(table_of(), table) for line in section.lines]


def only(lines: list[ComparedLine]) -> ComparedLine:
    [line] = lines
    return line


def test_a_definition_does_not_differ_from_itself() -> None:
    assert compare(table_of(), table_of()) == ()


def test_everything_can_be_shown_with_what_is_the_same() -> None:
    sections = compare(table_of(), table_of(), everything=True)
    lines = [line for section in sections for line in section.lines]
    assert {line.mark for line in lines} == {"same"}
    assert len(lines) > 100


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (put("mass_kg.value", 318.4), "text"),
        (put("mass_kg.kind", "shop_default"), "kind"),
        (put("mass_kg.source", "Scale"), "source"),
    ],
)
def test_a_changed_figure_gives_both_values_kinds_and_sources(change: Change, field: str) -> None:
    line = only(differences(change))
    assert (line.label, line.mark) == (("Mass",), "changed")
    assert line.before is not None
    assert line.after is not None
    assert (line.before.text, line.before.kind, line.before.source) == (
        "318 kg",
        "maker",
        "Pack label",
    )
    assert getattr(line.before, field) != getattr(line.after, field)


def test_a_figure_taken_out_or_put_in_is_said_so() -> None:
    assert only(differences(without("bleed_a"))).mark == "removed"
    table = table_of()
    del table["bleed_a"]
    [section] = compare(table, table_of())
    assert (section.title, section.lines[0].mark) == ("Voltages and charge", "added")


def test_a_module_is_matched_by_its_name() -> None:
    line = only(differences(put("modules.2.cells", 8)))
    assert line.label == ("Modules, from pack negative", "M3")
    assert (line.before, line.after) != (None, None)


def removed_module(table: Table) -> None:
    del table["modules"][0]


def swapped(table: Table) -> None:
    table["modules"][0], table["modules"][1] = table["modules"][1], table["modules"][0]


@pytest.mark.parametrize(
    ("change", "label", "mark"),
    [
        (removed_module, ("Modules, from pack negative", "M1"), "removed"),
        (swapped, ("Modules, from pack negative", "order"), "changed"),
    ],
)
def test_rows_removed_or_moved_are_one_line(
    change: Callable[[Table], object], label: tuple[str, ...], mark: str
) -> None:
    line = only(differences(change))
    assert (line.label, line.mark) == (label, mark)


def test_a_line_of_a_list_is_added_and_removed_by_its_words() -> None:
    lines = differences(put("bonding_points.0", "Strap, middle"))
    assert {line.mark for line in lines} == {"added", "removed"}


def test_a_torque_stage_is_compared_with_its_source() -> None:
    line = only(differences(put("mounts.stages.1.target_nm", 115.0)))
    assert line.label == ("Pack to vehicle", "Stages, rising", "Stage 2")
    assert line.after is not None
    assert line.after.text == "torque 115 N·m, within 8 %"
    assert line.after.source == "Halden service manual, section 3.4"


def test_an_unfinished_definition_is_laid_out_as_far_as_it_goes() -> None:
    said = laid_out({"name": "Van", "modules": [{}, {"name": "M1"}, {"name": "M1"}]})
    labels = [line.label[-1] for section in said for line in section.lines]
    assert labels == ["Name of the pack", "Module 1", "M1", "M1 (2)"]
