"""One kind of pack as a whole, and how its pieces must fit together.

Outside this room import it from packs/definition.py, which also reads and writes it.
The pieces are in packs/definition_parts.py. No Django, no files, no clock.
"""

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, StringConstraints
from typing_extensions import override

from packs.definition_parts import (
    Cooling,
    Disconnect,
    Fault,
    Figure,
    IsolationPoint,
    Lid,
    Line,
    Lines,
    Listed,
    Module,
    Name,
    Names,
    Part,
    Positive,
    ProofPoint,
    SealTest,
    Stack,
    TorqueList,
    refused,
    repeated,
    within,
)

FORMAT = 1
"""The format this program writes; a newer one is refused rather than half understood."""

Chemistry = Literal["nmc", "nca", "lfp", "lmo_blend"]

CURVES: dict[str, tuple[str, ...]] = {
    "nmc": ("nmc532_graphite", "nmc811_graphite_siox"),
    "nca": ("nca_graphite", "nco_graphite_kokam"),
    "lfp": ("lfp_graphite",),
    "lmo_blend": ("lmo70_nmc30_graphite", "lmo70_nmc30_graphite_low"),
}
"""Open-circuit-voltage curves by chemistry, by the names of the tables in packs/curves."""

DEAD_CEILING_V = 60.0
"""Highest direct voltage that is not high voltage [V]: UN R100, voltage class B."""

LOWEST_LIMIT_OHM_PER_V = 100.0
"""Isolation resistance of a direct-current bus in use [ohm/V]: UN R100, 5.1.3."""

HIGHEST_BONDING_OHM = 0.1
"""Highest resistance of an enclosure's bonding to the chassis [ohm]: UN R100 and FMVSS 305."""

HIGHEST_CLASS_B_V = 1500.0
"""Highest direct voltage of voltage class B [V]: ISO 6469-3."""

VOLTAGE_SLACK = 1.02
"""How far the rounded highest voltage may exceed cells times cell_high_v [1]: shop default."""


def _one_string(strings: int) -> int:
    """Refuse strings in parallel."""
    if strings != 1:
        raise refused(
            f"{strings} strings in parallel cannot be handled",
            "One string in series is what the isolation arithmetic stands on: a leak in one of "
            "several strings shows at all of them. Follow the maker's procedure for this pack.",
        )
    return strings


class PackDefinition(Part):
    """What one kind of pack is; modules stand in series order from pack negative."""

    format: Annotated[int, Field(ge=FORMAT, le=FORMAT)]
    slug: Annotated[
        str, StringConstraints(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", min_length=1, max_length=60)
    ]
    name: Name
    vehicle_text: Line
    label_text: Line = ""
    chemistry: Chemistry
    curve: Name | None = None
    parallel_cells: Annotated[int, Field(ge=1, le=500)]
    strings_in_parallel: Annotated[int, AfterValidator(_one_string)]
    cell_low_v: Annotated[Positive, within(0.5, 5)]
    cell_high_v: Annotated[Positive, within(0.5, 5)]
    nominal_v: Positive
    highest_v: Annotated[Positive, within(0, HIGHEST_CLASS_B_V)]
    capacity_ah: Positive
    rated_current_a: Positive | None = None
    mass_kg: Positive
    open_charge_limit_percent: Annotated[Positive, within(0, 100)]
    wait_min: Positive
    proof_hours: Annotated[Positive, within(0, 24)]
    prove_gap_min: Positive
    dead_v: Annotated[Positive, within(0, DEAD_CEILING_V)]
    isolation_limit_ohm_per_v: Annotated[Figure, within(LOWEST_LIMIT_OHM_PER_V, 1e7)]
    isolation_after_repair_ohm_per_v: Annotated[Figure, within(LOWEST_LIMIT_OHM_PER_V, 1e7)]
    bonding_limit_ohm: Annotated[Positive, within(0, HIGHEST_BONDING_OHM)]
    joint_limit_micro_ohm: Positive | None = None
    rest_h: Positive | None = None
    bleed_a: Positive | None = None
    interlock: bool
    modules_coded: bool
    slow_discharge_codes: Names = ()
    sense_lead_order: Names
    bonding_points: Names
    vehicle_parts: Names
    cautions: Lines
    modules: Annotated[tuple[Module, ...], Field(min_length=1, max_length=200), Listed]
    proof_points: Annotated[tuple[ProofPoint, ...], Field(min_length=1, max_length=50), Listed]
    isolation_points: Annotated[tuple[IsolationPoint, ...], Field(max_length=500), Listed]
    disconnect: Disconnect
    lid: Lid
    seal_test: SealTest
    cooling: Cooling
    stack: Stack = Stack()
    busbar_joints: TorqueList
    mounts: TorqueList

    @property
    def cells_total(self) -> int:
        """Cells in series in the whole string."""
        return sum(module.cells for module in self.modules)

    @property
    def working_v(self) -> float:
        """Working voltage [V]: the highest that may occur between the poles."""
        return self.highest_v.value

    def module_named(self, name: str) -> Module:
        """Return the module of that name.

        Parameters
        ----------
        name : str
            As written in the definition.

        Returns
        -------
        Module
            The module.

        Raises
        ------
        KeyError
            If the pack has no module of that name.
        """
        for module in self.modules:
            if module.name == name:
                return module
        raise KeyError(name)

    def cells_before(self, name: str) -> int:
        """Count the cells between pack negative and a module's negative pole.

        Parameters
        ----------
        name : str
            A module's name.

        Returns
        -------
        int
            Cells in series [1].

        Raises
        ------
        KeyError
            If the pack has no module of that name.
        """
        index = self.modules.index(self.module_named(name))
        return sum(module.cells for module in self.modules[:index])

    def sections(self) -> tuple[tuple[str, ...], ...]:
        """Return the module names of each part of the string with the disconnect out.

        Returns
        -------
        tuple of tuple of str
            Two sections for a plug in the string, else one; from pack negative.
        """
        names = tuple(module.name for module in self.modules)
        if self.disconnect.after_module not in names:
            return (names,)
        split = names.index(self.disconnect.after_module) + 1
        return (names[:split], names[split:])

    def section_of(self, name: str) -> int:
        """Return which section a module is in, counted from 0 at pack negative.

        Parameters
        ----------
        name : str
            A module's name.

        Returns
        -------
        int
            Position in `sections`.

        Raises
        ------
        KeyError
            If the pack has no module of that name.
        """
        for index, section in enumerate(self.sections()):
            if name in section:
                return index
        raise KeyError(name)

    def points_in_section(self, index: int) -> tuple[IsolationPoint, ...]:
        """Return the isolation points on one section's modules.

        Parameters
        ----------
        index : int
            Position in `sections`.

        Returns
        -------
        tuple of IsolationPoint
            In the definition's order.
        """
        section = self.sections()[index]
        return tuple(point for point in self.isolation_points if point.module in section)

    @override
    def rules(self) -> Iterator[Fault]:
        """Yield what does not fit together."""
        yield from _names_given_twice(self)
        yield from _voltages_that_disagree(self)
        yield from _limits_that_disagree(self)
        names = {module.name for module in self.modules}
        yield from _modules_unknown(self, names)
        if self.disconnect.after_module in names | {None}:
            yield from _sections_without_point(self)


def _names_given_twice(pack: PackDefinition) -> Iterator[Fault]:
    """Yield names, and places in the enclosure, that are used twice."""
    lists = {
        "modules": [module.name for module in pack.modules],
        "proof_points": [point.name for point in pack.proof_points],
        "isolation_points": [point.name for point in pack.isolation_points],
    }
    for field, names in lists.items():
        for name in repeated(names):
            second = names.index(name, names.index(name) + 1)
            wrong = f'"{name}" is the name of another one too'
            yield Fault((field, second, "name"), wrong, "Give each its own name.")
    places = [f"row {module.row}, column {module.column}" for module in pack.modules]
    for place in repeated(places):
        second = places.index(place, places.index(place) + 1)
        wrong = f"{place} is taken by {pack.modules[places.index(place)].name}"
        yield Fault(("modules", second, "column"), wrong, "Give each module its own place.")


def _voltages_that_disagree(pack: PackDefinition) -> Iterator[Fault]:
    """Yield voltages that cannot all be true."""
    cells, low_v, high_v = pack.cells_total, pack.cell_low_v.value, pack.cell_high_v.value
    nominal_v, highest_v = pack.nominal_v.value, pack.highest_v.value
    if low_v >= high_v:
        mend = "Check which of the two is which."
        yield Fault(("cell_low_v",), "is not below cell_high_v", mend)
    mend = "Check the voltage, the modules and their cells."
    if not cells * low_v <= nominal_v <= cells * high_v:
        wrong = f"{nominal_v:g} V does not lie between {cells} cells at their low and high voltage"
        yield Fault(("nominal_v",), wrong, mend)
    if not nominal_v <= highest_v <= cells * high_v * VOLTAGE_SLACK:
        wrong = f"{highest_v:g} V does not lie between nominal_v and {cells} cells at cell_high_v"
        yield Fault(("highest_v",), wrong, mend)


def _limits_that_disagree(pack: PackDefinition) -> Iterator[Fault]:
    """Yield a curve of another chemistry, or a repair limit below the limit in use."""
    curves = CURVES[pack.chemistry]
    if pack.curve is not None and pack.curve not in curves:
        wrong = f'"{pack.curve}" is not a curve of chemistry "{pack.chemistry}"'
        yield Fault(("curve",), wrong, f"Use {' or '.join(curves)}, or leave it out.")
    if pack.isolation_after_repair_ohm_per_v.value < pack.isolation_limit_ohm_per_v.value:
        mend = "A repaired pack must be at least as good as one in use."
        field = "isolation_after_repair_ohm_per_v"
        yield Fault((field,), "is below isolation_limit_ohm_per_v", mend)


def _modules_unknown(pack: PackDefinition, names: set[str]) -> Iterator[Fault]:
    """Yield a disconnect or isolation point on a module that is not there."""
    mend = "Write the name as it stands in modules."
    after = pack.disconnect.after_module
    if after is not None and after not in names:
        yield Fault(("disconnect", "after_module"), f'"{after}" is not a module', mend)
    if after == pack.modules[-1].name:
        wrong = f'"{after}" is the last module, so the plug would part nothing'
        yield Fault(("disconnect", "after_module"), wrong, "Name the module before the plug.")
    for index, point in enumerate(pack.isolation_points):
        if point.module not in names:
            wrong = f'"{point.module}" is not a module'
            yield Fault(("isolation_points", index, "module"), wrong, mend)


def _sections_without_point(pack: PackDefinition) -> Iterator[Fault]:
    """Yield each section that could not be read anywhere."""
    for index, section in enumerate(pack.sections()):
        if section and not pack.points_in_section(index):
            wrong = f"has no point in the section from {section[0]} to {section[-1]}"
            yield Fault(("isolation_points",), wrong, "Add one, lid_off if need be.")
