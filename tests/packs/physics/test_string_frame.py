"""A localise case in numbers: sections, and the refusal of cases that contradict themselves."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from packs.physics.instrument import CalculationRefused, Meter
from packs.physics.localise import LocaliseCase, Module, Place, Reading, localise
from packs.physics.string_frame import frame_of

NAMES = tuple(f"M{number}" for number in range(1, 13))
ONE = Reading(module="M6", pole="pos", open_after=("M6",), volts=80.0)
SOME = LocaliseCase(
    modules=tuple(Module(name=name, cells=8) for name in NAMES),
    cell_v=3.7,
    meter=Meter(input_ohm=1.0e7),
    readings=(ONE,),
)


def test_a_pole_belongs_to_the_section_on_its_own_side_of_an_open_link() -> None:
    frame = frame_of(SOME)
    below, above = Place(module="M6", pole="pos"), Place(module="M7", pole="neg")
    assert frame.node(below) == frame.node(above) == 6
    assert frame.section(below, ("M6", "M2")) == (2, 6)
    assert frame.section(above, ("M6", "M2")) == (6, 12)
    assert frame.section(above, ()) == (0, 12)


def test_potentials_and_places_are_two_sides_of_the_cell_voltages() -> None:
    frame = frame_of(replace(SOME, cell_v=[3.0] * 48 + [4.0] * 48))
    assert frame.ends_v[6] == pytest.approx(144.0)
    assert frame.position_cells(np.array([144.0, 146.0])) == pytest.approx([48.0, 48.5])


@pytest.mark.parametrize(
    ("path", "changed"),
    [
        ("modules", {"modules": ()}),
        ("modules.1.name", {"modules": (Module(name="A", cells=1), Module(name="A", cells=1))}),
        ("modules.0.cells", {"modules": (Module(name="A", cells=0),)}),
        ("cell_v", {"cell_v": (3.7, 3.7)}),
        ("cell_v", {"cell_v": 0.0}),
        ("prior.X", {"prior": {"X": 1.0}}),
        ("prior.M1", {"prior": {"M1": -1.0}}),
        ("prior", {"prior": dict.fromkeys(NAMES, 0.0)}),
        ("several_prior", {"several_prior": 0.6, "none_prior": 0.5}),
        ("readings", {"readings": ()}),
        ("readings.1.module", {"readings": (ONE, replace(ONE, module="X"))}),
        ("readings.0.shunt_ohm", {"readings": (replace(ONE, shunt_ohm=0.0),)}),
        ("readings.0.open_after.1", {"readings": (replace(ONE, open_after=("M6", "X")),)}),
        ("readings.0.open_after.0", {"readings": (replace(ONE, open_after=("M12",)),)}),
        ("reachable.0.module", {"reachable": (Place(module="X", pole="pos"),)}),
        ("openable.0", {"openable": ("M12",)}),
    ],
)
def test_a_case_that_contradicts_itself_is_refused_with_its_field(
    path: str, changed: dict[str, Any]
) -> None:
    with pytest.raises(CalculationRefused) as refused:
        localise(replace(SOME, **changed))
    assert refused.value.path == path
