"""The pieces of a definition: each lid, seal test, cooling and stack has what it needs."""

import pytest
from pydantic import ValidationError

from packs.definition import ProofPoint, from_toml
from tests.packs.changed_definition import Table, changed, problems_of, put, without

FIGURE = {"value": 8.0, "kind": "shop_default"}


def bonded_lid(table: Table) -> None:
    table["lid"] = {
        "kind": "bonded",
        "sealant": "Adhesive, two parts",
        "cure_h": FIGURE,
        "cutting_depth_mm": FIGURE,
        "cutting_tool": "Oscillating blade with depth stop",
    }


def bonded_lid_without(field: str) -> str:
    def change(table: Table) -> None:
        bonded_lid(table)
        del table["lid"][field]

    return changed(change)


def test_a_bonded_lid_with_its_cutting_depth_is_taken() -> None:
    lid = from_toml(changed(bonded_lid)).lid
    assert lid.cutting_depth_mm is not None
    assert lid.cutting_depth_mm.value == pytest.approx(8.0)


@pytest.mark.parametrize("field", ["cutting_depth_mm", "cutting_tool", "sealant"])
def test_a_bonded_lid_needs_all_of_its_method(field: str) -> None:
    [problem] = problems_of(bonded_lid_without(field))
    assert problem == f'lid: {field}: is missing for a lid of kind "bonded". Add it.'


def test_a_sealant_needs_its_curing_time() -> None:
    [problem] = problems_of(bonded_lid_without("cure_h"))
    assert problem.startswith("lid: cure_h: is missing though a sealant is used.")


def test_a_lid_that_is_not_serviceable_needs_nothing_more() -> None:
    lid = from_toml(changed(put("lid", {"kind": "not_serviceable"}))).lid
    assert lid.bolts is None


def test_a_bolted_lid_needs_its_bolts() -> None:
    [problem] = problems_of(changed(without("lid.bolts")))
    assert problem.startswith('lid: bolts: is missing for a lid of kind "gasket_bolts".')


def test_a_bolted_lid_needs_something_that_seals() -> None:
    [problem] = problems_of(changed(without("lid.gasket_part")))
    assert problem.startswith("lid: gasket_part: is missing, and so is a sealant.")


@pytest.mark.parametrize(
    "field",
    [
        "volume_l",
        "volume_u_percent",
        "test_pressure_low_pa",
        "test_pressure_high_pa",
        "limit_ml_per_min",
        "stabilise_s",
        "duration_s",
    ],
)
def test_a_pressure_decay_test_needs_each_of_its_figures(field: str) -> None:
    problems = problems_of(changed(without(f"seal_test.{field}")))
    assert problems == [f"seal_test: {field}: is missing for a pressure decay test. Add it."]


def test_a_pack_may_have_no_seal_test_if_a_source_says_so() -> None:
    seal = {"method": "none", "source": "Workshop book, chapter 9.16: ventilated enclosure"}
    assert from_toml(changed(put("seal_test", seal))).seal_test.limit_ml_per_min is None
    [problem] = problems_of(changed(put("seal_test", {"method": "none", "source": ""})))
    assert problem == "seal_test: source: is empty. Fill it in."


def test_figures_without_a_seal_test_are_refused() -> None:
    seal = {"method": "none", "source": "Workshop book", "volume_l": 60.0}
    [problem] = problems_of(changed(put("seal_test", seal)))
    assert problem.startswith("seal_test: volume_l: is given though there is no seal test.")


@pytest.mark.parametrize(
    ("low_pa", "high_pa", "field"),
    [
        (3500.0, 2500.0, "test_pressure_low_pa"),
        (3000.0, 3000.0, "test_pressure_low_pa"),
        (2500.0, 50_000.0, "test_pressure_high_pa"),
        (-20_000.0, -2000.0, "test_pressure_high_pa"),
        (-500.0, 500.0, "test_pressure_high_pa"),
    ],
)
def test_a_test_pressure_that_no_cover_bears_is_refused(
    low_pa: float, high_pa: float, field: str
) -> None:
    def change(table: Table) -> None:
        table["seal_test"].update(test_pressure_low_pa=low_pa, test_pressure_high_pa=high_pa)

    [problem] = problems_of(changed(change))
    assert problem.startswith(f"seal_test: {field}: ")


def test_a_test_below_ambient_pressure_is_taken() -> None:
    def change(table: Table) -> None:
        table["seal_test"].update(test_pressure_low_pa=-3500.0, test_pressure_high_pa=-2500.0)

    assert problems_of(changed(change)) == []


@pytest.mark.parametrize("field", ["coolant", "leak_test_kpa", "leak_test_minutes"])
def test_liquid_cooling_needs_its_own_leak_test(field: str) -> None:
    [problem] = problems_of(changed(without(f"cooling.{field}")))
    assert problem == f"cooling: {field}: is missing for liquid cooling. Add it."


def test_a_pack_without_liquid_has_no_coolant() -> None:
    [problem] = problems_of(changed(put("cooling", {"kind": "air", "coolant": "Water"})))
    assert problem.startswith('cooling: coolant: does not belong to cooling of kind "air".')


def test_a_plate_gap_needs_tolerance_and_points() -> None:
    def change(table: Table) -> None:
        del table["stack"]["gap_tolerance_mm"]
        del table["stack"]["gap_points"]

    assert [problem.split(" is ")[0] for problem in problems_of(changed(change))] == [
        "stack: gap_tolerance_mm:",
        "stack: gap_points:",
    ]


def test_points_without_a_plate_gap_are_refused() -> None:
    problems = problems_of(changed(without("stack.gap_mm")))
    assert [problem.split(":")[1] for problem in problems] == [" gap_tolerance_mm", " gap_points"]


def test_a_pack_may_say_nothing_about_its_stack() -> None:
    assert from_toml(changed(without("stack"))).stack.tie_bolts is None


def test_stages_of_torque_rise() -> None:
    [problem] = problems_of(changed(put("mounts.stages.1.target_nm", 60.0)))
    assert problem.startswith("mounts: stages, 2nd: target_nm: is not above the stage before.")


def test_a_position_is_not_tightened_twice() -> None:
    [problem] = problems_of(changed(put("mounts.positions.1", "P1")))
    assert problem.startswith('mounts: positions: "P1" stands in the list more than once.')


def test_a_torque_of_the_maker_needs_its_source() -> None:
    [problem] = problems_of(changed(without("mounts.stages.0.source")))
    assert problem.startswith("mounts: stages, 1st: source: is empty, though the kind is")


@pytest.mark.parametrize("path", ["mounts.stages", "mounts.positions"])
def test_a_torque_list_is_not_empty(path: str) -> None:
    [problem] = problems_of(changed(put(path, [])))
    assert problem.endswith("holds too few items. Write at least 1.")


@pytest.mark.parametrize("name", ["M1;M2", "pole=pos"])
def test_names_that_entries_would_take_apart_are_refused(name: str) -> None:
    with pytest.raises(ValidationError, match="holds ; or ="):
        ProofPoint.model_validate({"name": name, "where": "front"})
