"""Topology alone makes a draft that lacks only what must come from the vehicle."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given, settings

from packs.definition import digest, from_toml, to_toml
from packs.definition_compare import compare
from packs.definition_content import read_section, typed_of
from packs.definition_form import SECTIONS
from packs.definition_register import line_of
from packs.draft_check import checked, in_words
from packs.draft_picture import doubts, placed, string_map
from packs.draft_topology import LIMITS, Topology, content_of, faults_in, place_of
from packs.picture import Label
from packs.svg import svg
from tests.packs.changed_definition import table_of, text_of
from tests.packs.half_filled import contents

NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)

VAN = Topology(
    name="Halden Orrin, long",
    vehicle_text="Halden Orrin",
    slug="halden-orrin-long",
    chemistry="nmc",
    modules=14,
    cells=(6,),
    part="OB-M6-120",
    rows=2,
    after=7,
)


def said(content: dict[str, Any]) -> tuple[str, ...]:
    return tuple(str(each) for each in doubts(content))


def test_modules_are_named_in_series_order_and_laid_out_there_and_back() -> None:
    modules = content_of(VAN)["modules"]
    table = table_of()["modules"]
    assert modules == table


def test_rows_can_all_run_from_the_same_side() -> None:
    assert [place_of(each, 3, "rows") for each in (2, 3, 5)] == [(1, 3), (2, 1), (2, 3)]


def test_voltages_are_proposals_to_be_confirmed() -> None:
    content = content_of(VAN)
    assert content["highest_v"]["value"] == pytest.approx(352.8)
    assert content["highest_v"]["kind"] == "shop_default"
    assert content["highest_v"]["source"] == (
        "Computed from 84 cells at 4.2 V, to be confirmed against the label"
    )


def test_a_voltage_of_the_label_is_the_makers() -> None:
    content = content_of(replace(VAN, nominal_v=307.0))
    assert content["nominal_v"] == {"value": 307.0, "kind": "maker", "source": "Pack label"}


def test_limits_stand_at_the_shops_defaults_with_their_reasons() -> None:
    content = content_of(VAN)
    figures = {name: content[name]["value"] for name, *_ in LIMITS}
    assert (figures["dead_v"], figures["proof_hours"], figures["prove_gap_min"]) == (5.0, 4.0, 10.0)
    assert figures["isolation_after_repair_ohm_per_v"] == 500.0
    assert all(content[name]["source"] for name in figures)


def test_what_stays_missing_comes_from_the_vehicle() -> None:
    lacks = checked(content_of(VAN)).lacks
    assert all(lack.missing for lack in lacks)
    assert {lack.label[0] for lack in lacks} == {
        "Cells in parallel",
        "Mass",
        "Capacity",
        "Proof points",
        "Interlock loop",
        "Modules must be coded",
        "Lid",
        "Seal test",
        "Seal test: source",
        "Cooling",
        "Busbar joints",
        "Pack to vehicle",
        "Sense leads, in the order they are put back",
        "Bonding points",
        "Parts outside the pack",
    }


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"modules": 0}, "modules"),
        ({"modules": 201}, "modules"),
        ({"cells": (6, 6)}, "cells"),
        ({"cells": (0,)}, "cells"),
        ({"rows": 51}, "rows"),
        ({"columns": 5}, "columns"),
        ({"after": None}, "after"),
        ({"after": 14}, "after"),
        ({"slug": "Van"}, "slug"),
        ({"chemistry": "lead"}, "chemistry"),
        ({"nominal_v": 700.0}, "nominal_v"),
        ({"name": " "}, "name"),
    ],
)
def test_topology_that_does_not_fit_is_refused_at_its_field(
    change: dict[str, object], field: str
) -> None:
    faults = faults_in(replace(VAN, **change))  # type: ignore[arg-type]
    assert [fault.name for fault in faults] == [field]
    assert faults_in(VAN) == ()


@pytest.mark.parametrize("kind", ["low_voltage_loop", "none"])
def test_without_a_plug_the_string_is_one_and_the_caution_says_so(kind: str) -> None:
    content = content_of(replace(VAN, disconnect=kind, after=None))  # type: ignore[arg-type]
    assert content["disconnect"] == {"kind": kind}
    assert len(content["isolation_points"]) == 2
    assert any("treat the pack connector as live" in caution for caution in content["cautions"])


def test_a_complete_content_is_a_definition_that_writes_the_same_file() -> None:
    found = checked(table_of())
    assert found.lacks == ()
    assert found.definition is not None
    assert digest(from_toml(to_toml(found.definition))) == digest(from_toml(text_of()))


def test_the_same_gap_in_many_lines_is_said_once_with_the_first_line() -> None:
    lacks = checked(content_of(replace(VAN, part=""))).lacks_in("modules")
    assert [(lack.anchor, lack.times) for lack in lacks] == [("f-modules-0-part", 14)]


def test_what_is_wrong_is_said_although_other_things_are_missing() -> None:
    content = content_of(VAN)
    content["highest_v"]["value"] = 900.0
    wrong = [lack for lack in checked(content).lacks if not lack.missing]
    assert [lack.anchor for lack in wrong] == ["f-highest_v-value"]
    assert "“Nominal voltage”" in wrong[0].wrong


def test_a_rule_is_not_asked_of_what_is_missing() -> None:
    content = content_of(VAN)
    del content["cell_high_v"]
    assert all(lack.missing for lack in checked(content).lacks)


def test_names_of_fields_become_their_labels() -> None:
    assert in_words("is not below cell_high_v") == "is not below “Cell, highest voltage”"


def test_the_drawing_numbers_the_modules_and_bars_the_disconnect() -> None:
    picture = string_map(content_of(VAN))
    texts = [shape.text for shape in picture.shapes if isinstance(shape, Label)]
    assert [text for text in texts if text.isdigit()] == [str(each) for each in range(1, 15)]
    assert "−" in texts
    assert "stroke-hv" in svg(picture)
    assert doubts(content_of(VAN)) == ()


def test_the_drawing_survives_what_is_half_filled_and_says_so() -> None:
    content = {"modules": [{"name": "M1", "row": 1, "column": 1}, {"row": 1, "column": 1}, {}]}
    assert "stroke-maybe" in svg(string_map(content))
    assert said(content) == ("Without a place: ?.", "In the same place: M1 and ?.")
    assert [module.has_place for module in placed(content)] == [True, True, False]


@settings(max_examples=30)
@given(content=contents())
def test_whatever_stands_in_a_draft_is_checked_drawn_and_laid_out(content: dict[str, Any]) -> None:
    found = checked(content)
    assert (found.definition is None) == bool(found.lacks)
    assert svg(string_map(content)).startswith("<svg")
    assert line_of(content, state="draft", number=None, changed_at=NOW).state == "draft"
    for section in SECTIONS:
        read_section(section, typed_of(section, content), content)
    assert compare(content, content) == ()


def test_modules_joined_but_not_side_by_side_are_named() -> None:
    content = content_of(replace(VAN, direction="rows"))
    assert said(content) == ("Joined in series but not side by side: M7 to M8.",)
