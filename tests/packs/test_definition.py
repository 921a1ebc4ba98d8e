"""What a pack definition says, what it refuses, and that it survives being written out."""

import json

import pytest
from pydantic import ValidationError

from packs.definition import (
    CURVES,
    Figure,
    PackDefinition,
    digest,
    from_toml,
    to_toml,
)
from tests.packs.changed_definition import (
    Change,
    Table,
    changed,
    problems_of,
    put,
    text_of,
    without,
)

NAMES = ("delivery-van", "city-hatchback", "minibus")
demo = pytest.mark.parametrize("name", NAMES)


def pack(name: str = "delivery-van") -> PackDefinition:
    return from_toml(text_of(name))


@demo
def test_a_demo_definition_is_named_after_its_file(name: str) -> None:
    assert pack(name).slug == name


@demo
def test_a_demo_definition_survives_being_written_out(name: str) -> None:
    assert from_toml(to_toml(pack(name))) == pack(name)


@demo
def test_a_demo_definition_survives_as_json(name: str) -> None:
    assert PackDefinition.model_validate_json(pack(name).model_dump_json()) == pack(name)


@demo
def test_every_figure_has_a_source_or_is_a_shop_default(name: str) -> None:
    def figures(value: object) -> list[dict[str, object]]:
        if isinstance(value, dict):
            own = [value] if {"kind", "value"} <= set(value) else []
            return own + [each for inner in value.values() for each in figures(inner)]
        if isinstance(value, list):
            return [each for inner in value for each in figures(inner)]
        return []

    found = figures(pack(name).model_dump(mode="json"))
    assert len(found) > 15
    assert [each for each in found if each["kind"] != "shop_default" and not each["source"]] == []


@pytest.mark.parametrize(
    ("name", "cells", "split"),
    [("delivery-van", 84, ("M7", "M8")), ("city-hatchback", 96, ("M4", "M5"))],
)
def test_a_plug_in_the_string_parts_it_into_two_sections(
    name: str, cells: int, split: tuple[str, str]
) -> None:
    first, second = pack(name).sections()
    assert (first[-1], second[0]) == split
    assert first + second == tuple(module.name for module in pack(name).modules)
    assert pack(name).cells_total == cells


def test_without_a_plug_in_the_string_it_stays_one_section() -> None:
    text = changed(put("disconnect", {"kind": "low_voltage_loop", "label": "Green loop"}))
    [section] = from_toml(text).sections()
    assert len(section) == 14


def test_cells_are_counted_from_pack_negative() -> None:
    van = pack()
    assert [van.cells_before(name) for name in ("M1", "M2", "M8", "M14")] == [0, 6, 42, 78]


def test_a_module_is_found_by_its_name() -> None:
    assert pack().module_named("M9").column == 6
    with pytest.raises(KeyError):
        pack().module_named("M15")


def test_a_section_is_found_by_one_of_its_modules() -> None:
    van = pack()
    assert [van.section_of(name) for name in ("M1", "M7", "M8", "M14")] == [0, 0, 1, 1]
    with pytest.raises(KeyError):
        van.section_of("M15")


def test_a_section_knows_its_isolation_points() -> None:
    points = pack().points_in_section(1)
    assert [(point.module, point.pole, point.reachable) for point in points] == [
        ("M8", "neg", "closed"),
        ("M14", "pos", "lid_off"),
    ]


def test_the_working_voltage_is_the_highest() -> None:
    assert pack().working_v == pytest.approx(352.8)


def test_a_definition_cannot_be_changed() -> None:
    with pytest.raises(ValidationError):
        pack().name = "Other"  # type: ignore[misc]


def test_equal_definitions_hash_alike() -> None:
    assert hash(pack()) == hash(from_toml(to_toml(pack())))


def test_the_fingerprint_does_not_depend_on_layout() -> None:
    assert digest(from_toml(to_toml(pack()))) == digest(pack())


def test_the_fingerprint_depends_on_every_value() -> None:
    other = from_toml(changed(put("busbar_joints.stages.0.target_nm", 5.1)))
    assert digest(other) != digest(pack())


def test_the_fingerprint_stays_what_it_was_in_earlier_versions() -> None:
    # Signatures seal it: a change of code must not change it.
    assert digest(pack()) == "8da77c26e082d36244eebd292c69d065f4a4b5af6c11c145ee7f58f885f87805"


def test_a_newer_format_is_refused_alone() -> None:
    def newer(table: Table) -> None:
        table.clear()
        table.update(format=2, shape="unknown to this version")

    assert problems_of(changed(newer)) == [
        "format: 2 is newer than this program reads, which is 1. Update this program first."
    ]


@pytest.mark.parametrize("value", [0, -1, True])
def test_a_format_that_never_was_is_refused(value: object) -> None:
    [problem] = problems_of(changed(put("format", value)))
    assert problem.startswith("format: ")


@pytest.mark.parametrize("strings", [0, 2, 3])
def test_strings_in_parallel_are_refused_with_the_reason(strings: int) -> None:
    [problem] = problems_of(changed(put("strings_in_parallel", strings)))
    assert problem.startswith(f"strings_in_parallel: {strings} strings in parallel cannot be")
    assert "a leak in one of several strings shows at all of them" in problem


@pytest.mark.parametrize("chemistry", CURVES)
def test_each_chemistry_is_known(chemistry: str) -> None:
    def other(table: Table) -> None:
        table["chemistry"] = chemistry
        table["curve"] = CURVES[chemistry][0]

    assert problems_of(changed(other)) == []


def test_a_definition_may_know_no_curve() -> None:
    assert from_toml(changed(without("curve"))).curve is None


def test_a_figure_of_the_maker_needs_a_source() -> None:
    with pytest.raises(ValidationError):
        Figure(value=1.0, kind="maker")
    assert Figure(value=1.0, kind="shop_default").source == ""


def both_points_in_the_first_section(table: Table) -> None:
    table["isolation_points"] = [
        point for point in table["isolation_points"] if point["module"] in {"M1", "M7"}
    ]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (put("modules.2.name", "M4"), 'modules, 4th: name: "M4" is the name of another one too.'),
        (put("modules.2.column", 4), "modules, 4th: column: row 1, column 4 is taken by M3."),
        (
            put("proof_points.1.name", "Pack connector, vehicle side"),
            'proof_points, 2nd: name: "Pack connector, vehicle side" is the name of another',
        ),
        (
            put("isolation_points.3.name", "String negative"),
            'isolation_points, 4th: name: "String negative" is the name of another one too.',
        ),
        (put("disconnect.after_module", "M15"), 'disconnect: after_module: "M15" is not a module.'),
        (
            put("disconnect.after_module", "M14"),
            'disconnect: after_module: "M14" is the last module, so the plug would part nothing.',
        ),
        (without("disconnect.after_module"), "disconnect: after_module: is missing for a plug"),
        (
            put("disconnect.kind", "none"),
            'disconnect: after_module: does not belong to kind "none"',
        ),
        (
            put("isolation_points.1.module", "M88"),
            'isolation_points, 2nd: module: "M88" is not a module.',
        ),
        (
            both_points_in_the_first_section,
            "isolation_points: has no point in the section from M8 to M14.",
        ),
        (put("proof_points", []), "proof_points: holds too few items. Write at least 1."),
        (put("cell_low_v.value", 4.3), "cell_low_v: is not below cell_high_v."),
        (put("nominal_v.value", 200.0), "nominal_v: 200 V does not lie between 84 cells"),
        (put("highest_v.value", 300.0), "highest_v: 300 V does not lie between nominal_v and 84"),
        (put("highest_v.value", 400.0), "highest_v: 400 V does not lie between nominal_v and 84"),
        (put("highest_v.value", 1600.0), "highest_v: 1600 is out of range. Write 0 to 1500"),
        (put("curve", "lfp_graphite"), 'curve: "lfp_graphite" is not a curve of chemistry "nmc".'),
        (put("dead_v.value", 61.0), "dead_v: 61 is out of range. Write 0 to 60"),
        (put("dead_v.value", 0.0), "dead_v: 0 is not above zero."),
        (put("isolation_limit_ohm_per_v.value", 99.0), "isolation_limit_ohm_per_v: 99 is out of"),
        (
            put("isolation_after_repair_ohm_per_v.value", 400.0),
            "isolation_after_repair_ohm_per_v: is below isolation_limit_ohm_per_v.",
        ),
        (put("bonding_limit_ohm.value", 0.2), "bonding_limit_ohm: 0.2 is out of range."),
        (put("open_charge_limit_percent.value", 101), "open_charge_limit_percent: 101 is out of"),
        (put("proof_hours.value", 25), "proof_hours: 25 is out of range. Write 0 to 24"),
        (put("mass_kg.source", " "), 'mass_kg: source: is empty, though the kind is "maker".'),
        (
            put("bonding_points", ["Strap", "Strap"]),
            'bonding_points: "Strap" stands in the list more than once.',
        ),
    ],
)
def test_what_does_not_fit_together_is_refused(change: Change, words: str) -> None:
    problems = problems_of(changed(change))
    assert any(problem.startswith(words) for problem in problems), problems


def test_a_refused_plug_does_not_hide_other_problems() -> None:
    def two(table: Table) -> None:
        put("disconnect.after_module", "M15")(table)
        put("dead_v.value", 4.0)(table)
        put("nominal_v.value", 200.0)(table)

    assert len(problems_of(changed(two))) == 2


def test_the_canonical_content_is_plain_json() -> None:
    assert json.loads(pack().model_dump_json())["modules"][0]["cells"] == 6
