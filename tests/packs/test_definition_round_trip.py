"""Any definition, written out and read again, is the same definition."""

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from packs.definition import CURVES, PackDefinition, digest, from_toml, to_toml

CHARACTERS = st.characters(exclude_categories=["Cs", "Cc"], exclude_characters=";=")
NAMES = st.text(CHARACTERS, min_size=1, max_size=8).filter(lambda text: text.strip() != "")
VALUES = st.floats(min_value=1e-6, max_value=1e6)
FIGURES = st.fixed_dictionaries(
    {
        "value": VALUES,
        "kind": st.sampled_from(["maker", "regulation", "shop_default"]),
        "source": NAMES,
    }
)
UNIQUE = st.lists(NAMES, min_size=1, max_size=4, unique_by=lambda text: text.strip())


def at(value: float) -> dict[str, Any]:
    return {"value": value, "kind": "shop_default"}


@st.composite
def torque_lists(draw: st.DrawFn) -> dict[str, Any]:
    targets = sorted(draw(st.sets(st.floats(0.5, 900.0), min_size=1, max_size=3)))
    return {
        "name": draw(NAMES),
        "positions": draw(UNIQUE),
        "stages": [
            {"target_nm": target, "tolerance_percent": 5.0, "kind": "maker", "source": draw(NAMES)}
            for target in targets
        ],
        "pattern": draw(st.sampled_from(["crosswise", "in_order", "outward"])),
        "replace_bolts": draw(st.booleans()),
    }


@st.composite
def strings(draw: st.DrawFn) -> dict[str, Any]:
    """Draw modules, a disconnect, and a point on each module, with voltages that fit."""
    names = draw(UNIQUE.filter(lambda found: len(found) > 1))
    cells = draw(st.lists(st.integers(1, 20), min_size=len(names), max_size=len(names)))
    plug = {"kind": "string_plug", "after_module": names[0]}
    modules = [
        {"name": name, "cells": count, "part": "P", "row": 1, "column": column}
        for column, (name, count) in enumerate(zip(names, cells, strict=True), start=1)
    ]
    points = [
        {"name": name, "module": name, "pole": "neg", "where": "", "reachable": "lid_off"}
        for name in names
    ]
    return {
        "modules": modules,
        "isolation_points": points,
        "disconnect": draw(st.sampled_from([plug, {"kind": "low_voltage_loop"}])),
        "cell_low_v": at(2.5),
        "cell_high_v": at(4.0),
        "nominal_v": at(3.5 * sum(cells)),
        "highest_v": at(4.0 * sum(cells)),
    }


@st.composite
def definitions(draw: st.DrawFn) -> PackDefinition:
    chemistry = draw(st.sampled_from(sorted(CURVES)))
    table = {
        "format": 1,
        "slug": draw(st.from_regex(r"[a-z0-9]+(-[a-z0-9]+)?", fullmatch=True))[:60].strip("-"),
        "name": draw(NAMES),
        "vehicle_text": draw(NAMES),
        "chemistry": chemistry,
        "curve": draw(st.sampled_from([None, *CURVES[chemistry]])),
        "parallel_cells": draw(st.integers(1, 400)),
        "strings_in_parallel": 1,
        "capacity_ah": draw(FIGURES),
        "mass_kg": draw(FIGURES),
        "joint_limit_micro_ohm": draw(st.none() | FIGURES),
        "open_charge_limit_percent": at(30.0),
        "wait_min": draw(FIGURES),
        "proof_hours": at(4.0),
        "prove_gap_min": at(10.0),
        "dead_v": at(5.0),
        "isolation_limit_ohm_per_v": at(100.0),
        "isolation_after_repair_ohm_per_v": at(500.0),
        "bonding_limit_ohm": at(0.1),
        "interlock": draw(st.booleans()),
        "modules_coded": draw(st.booleans()),
        "sense_lead_order": draw(UNIQUE),
        "bonding_points": [],
        "vehicle_parts": draw(UNIQUE),
        "cautions": draw(st.lists(NAMES, max_size=2)),
        "proof_points": [{"name": name, "where": draw(NAMES)} for name in draw(UNIQUE)],
        "lid": {"kind": "gasket_bolts", "gasket_part": "G", "bolts": draw(torque_lists())},
        "seal_test": {"method": "none", "source": draw(NAMES)},
        "cooling": {"kind": "air"},
        "busbar_joints": draw(torque_lists()),
        "mounts": draw(torque_lists()),
    }
    return PackDefinition.model_validate({**table, **draw(strings())})


@settings(max_examples=8)
@given(definitions())
def test_a_definition_survives_being_written_out(definition: PackDefinition) -> None:
    read = from_toml(to_toml(definition))
    assert read == definition
    assert digest(read) == digest(definition)
