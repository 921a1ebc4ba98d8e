"""A pack definition as a sheet to read: sections of lines and figures, each with kind and source.

Pure data for the page; what the fields mean is packs/definition_pack.py and its pieces. The
filters of the page write the numbers.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from django.utils.translation import gettext

from packs.chemistries import CHEMISTRY_WORDS
from packs.definition import Figure, FigureKind, Lid, PackDefinition, SealTest, TorqueList

KIND_WORDS: Final = MappingProxyType(
    {"maker": "maker", "regulation": "regulation", "shop_default": "shop default"}
)
"""Kind of a limit to the words shown."""


_PACK_FIGURES: Final = (
    ("nominal_v", "Nominal voltage", "V"),
    ("highest_v", "Highest voltage", "V"),
    ("cell_low_v", "Cell, lowest voltage", "V"),
    ("cell_high_v", "Cell, highest voltage", "V"),
    ("capacity_ah", "Capacity", "Ah"),
    ("rated_current_a", "Rated current", "A"),
    ("mass_kg", "Mass", "kg"),
    ("bleed_a", "Balancing current", "A"),
)
_LIMITS: Final = (
    ("wait_min", "Wait after isolating", "min"),
    ("proof_hours", "Proof of absence of voltage holds for", "h"),
    ("prove_gap_min", "Time allowed between the two proofs", "min"),
    ("dead_v", "Dead below", "V"),
    ("isolation_limit_ohm_per_v", "Isolation in use, at least", "Ω/V"),
    ("isolation_after_repair_ohm_per_v", "Isolation after repair, at least", "Ω/V"),
    ("open_charge_limit_percent", "Charge for opening, at most", "%"),
    ("rest_h", "Rest before comparing voltages", "h"),
    ("joint_limit_micro_ohm", "Joint resistance, at most", "µΩ"),
    ("bonding_limit_ohm", "Bonding of the enclosure, at most", "Ω"),
)
_LID_FIGURES: Final = (
    ("cure_h", "Curing time", "h"),
    ("cutting_depth_mm", "Cutting depth, at most", "mm"),
)
_SEAL_FIGURES: Final = (
    ("limit_ml_per_min", "Leak, at most", "ml/min"),
    ("stabilise_s", "Settle for", "s"),
    ("duration_s", "Measure for", "s"),
)
_COOLING_FIGURES: Final = (
    ("leak_test_kpa", "Leak test of the circuit, pressure", "kPa"),
    ("leak_test_minutes", "Leak test of the circuit, time", "min"),
)
_LID_WORDS: Final = {
    "gasket_bolts": "gasket and bolts",
    "bonded": "bonded",
    "not_serviceable": "not serviceable",
}
_DISCONNECT_WORDS: Final = {
    "string_plug": "plug in the string",
    "low_voltage_loop": "low-voltage loop only: treat the pack connector as live until proven",
    "none": "none: treat the pack connector as live until proven",
}
_PATTERN_WORDS: Final = {
    "crosswise": "crosswise",
    "in_order": "in order",
    "outward": "from the middle outward",
}


@dataclass(frozen=True, slots=True)
class FigureLine:
    """A figure with its unit, kind and source."""

    label: str
    value: float
    unit: str
    kind: str
    source: str


@dataclass(frozen=True, slots=True)
class TextLine:
    """A fact in words."""

    label: str
    text: str


@dataclass(frozen=True, slots=True)
class SheetSection:
    """A part of the sheet."""

    title: str
    lines: tuple[TextLine, ...] = ()
    figures: tuple[FigureLine, ...] = ()
    remarks: tuple[str, ...] = ()


def sheet_of(pack: PackDefinition) -> tuple[SheetSection, ...]:
    """Lay a definition out for reading.

    Parameters
    ----------
    pack : PackDefinition
        The definition.

    Returns
    -------
    tuple of SheetSection
        Every field of the definition stands in one of them.
    """
    return (
        SheetSection(gettext("The pack"), tuple(_pack_lines(pack)), _figures(pack, _PACK_FIGURES)),
        SheetSection(gettext("Cautions"), remarks=pack.cautions),
        SheetSection(gettext("Limits"), (), _figures(pack, _LIMITS)),
        SheetSection(gettext("Modules, from pack negative"), tuple(_module_lines(pack))),
        SheetSection(gettext("Where to measure"), tuple(_point_lines(pack))),
        SheetSection(gettext("Lid"), tuple(_lid_lines(pack.lid)), _figures(pack.lid, _LID_FIGURES)),
        SheetSection(
            gettext("Seal test"),
            tuple(_seal_lines(pack.seal_test)),
            _figures(pack.seal_test, _SEAL_FIGURES),
        ),
        SheetSection(
            gettext("Cooling"),
            tuple(_cooling_lines(pack)),
            _figures(pack.cooling, _COOLING_FIGURES),
        ),
        SheetSection(
            gettext("Stack"),
            tuple(_stack_lines(pack)),
            _figures(pack.stack, (("gap_mm", gettext("Plate gap"), "mm"),)),
        ),
        SheetSection(gettext("Reassembly"), tuple(_reassembly_lines(pack))),
        *(_torque_section(bolts) for bolts in torque_lists(pack)),
    )


def torque_lists(pack: PackDefinition) -> tuple[TorqueList, ...]:
    """Return every torque list of a definition, inside first."""
    lists = (pack.busbar_joints, pack.stack.tie_bolts, pack.lid.bolts, pack.mounts)
    return tuple(bolts for bolts in lists if bolts is not None)


def _figures(holder: object, fields: tuple[tuple[str, str, str], ...]) -> tuple[FigureLine, ...]:
    """Return the figures a piece has, in the order of the table."""
    lines = []
    for field, label, unit in fields:
        figure = getattr(holder, field)
        if isinstance(figure, Figure):
            lines.append(_figure_line(label, figure.value, unit, (figure.kind, figure.source)))
    return tuple(lines)


def _figure_line(label: str, value: float, unit: str, origin: tuple[FigureKind, str]) -> FigureLine:
    """Return one figure with its origin in words."""
    kind, source = origin
    return FigureLine(
        gettext(label), value, unit, gettext(KIND_WORDS[kind]), source or gettext("no source")
    )


def _pack_lines(pack: PackDefinition) -> Iterator[TextLine]:
    """Yield what the pack is."""
    yield TextLine(gettext("Vehicle"), pack.vehicle_text)
    yield TextLine(gettext("Label on the pack"), pack.label_text or gettext("not given"))
    yield TextLine(gettext("Chemistry"), gettext(CHEMISTRY_WORDS[pack.chemistry]))
    yield TextLine(gettext("Voltage curve"), pack.curve or gettext("none: match by counted charge"))
    yield TextLine(
        gettext("Cells"),
        gettext("{series} in series, {parallel} in parallel").format(
            series=pack.cells_total, parallel=pack.parallel_cells
        ),
    )
    yield TextLine(gettext("Strings in parallel"), str(pack.strings_in_parallel))
    yield TextLine(gettext("Disconnect"), gettext(_DISCONNECT_WORDS[pack.disconnect.kind]))
    if pack.disconnect.after_module:
        yield TextLine(gettext("Disconnect parts the string after"), pack.disconnect.after_module)
    yield TextLine(gettext("Disconnect is found"), pack.disconnect.label or gettext("not given"))
    yield TextLine(gettext("Modules must be coded"), _yes(pack.modules_coded))
    yield TextLine(
        gettext("Codes of a discharge that is too slow"),
        ", ".join(pack.slow_discharge_codes) or gettext("none"),
    )


def _module_lines(pack: PackDefinition) -> Iterator[TextLine]:
    """Yield each module with its section and place."""
    for index, section in enumerate(pack.sections(), start=1):
        for name in section:
            module = pack.module_named(name)
            yield TextLine(
                name,
                gettext(
                    "section {index}, {cells} cells, part {part}, row {row}, column {column}"
                ).format(
                    index=index,
                    cells=module.cells,
                    part=module.part,
                    row=module.row,
                    column=module.column,
                ),
            )


def _point_lines(pack: PackDefinition) -> Iterator[TextLine]:
    """Yield the points outside the pack, then the live ones."""
    for proof in pack.proof_points:
        yield TextLine(
            proof.name, gettext("proof of absence of voltage. {where}").format(where=proof.where)
        )
    for point in pack.isolation_points:
        when = (
            gettext("with the pack closed")
            if point.reachable == "closed"
            else gettext("only with the lid off")
        )
        pole = gettext("positive") if point.pole == "pos" else gettext("negative")
        yield TextLine(
            point.name,
            gettext("live: {module} {pole}, {when}. {where}").format(
                module=point.module, pole=pole, when=when, where=point.where
            ),
        )


def _lid_lines(lid: Lid) -> Iterator[TextLine]:
    """Yield how the lid closes."""
    yield TextLine(gettext("Kind"), gettext(_LID_WORDS[lid.kind]))
    for label, text in (
        (gettext("Gasket"), lid.gasket_part),
        (gettext("Sealant"), lid.sealant),
        (gettext("Cutting tool"), lid.cutting_tool),
    ):
        if text:
            yield TextLine(label, text)


def _seal_lines(seal: SealTest) -> Iterator[TextLine]:
    """Yield how tightness is tested."""
    if seal.method == "none":
        yield TextLine(gettext("Method"), gettext("none"))
    else:
        yield TextLine(gettext("Method"), gettext("pressure decay"))
        yield TextLine(
            gettext("Test pressure"),
            gettext("{low} to {high} Pa above ambient").format(
                low=f"{seal.test_pressure_low_pa:g}", high=f"{seal.test_pressure_high_pa:g}"
            ),
        )
        volume = gettext("{volume} l, known to {percent} %").format(
            volume=f"{seal.volume_l:g}", percent=f"{seal.volume_u_percent:g}"
        )
        yield TextLine(gettext("Free volume"), volume)
        yield TextLine(gettext("Caps for vents"), str(seal.vent_caps))
    yield TextLine(gettext("Source"), seal.source)


def _cooling_lines(pack: PackDefinition) -> Iterator[TextLine]:
    """Yield how the pack is cooled."""
    yield TextLine(gettext("Kind"), gettext(pack.cooling.kind))
    if pack.cooling.coolant:
        yield TextLine(gettext("Coolant"), pack.cooling.coolant)


def _stack_lines(pack: PackDefinition) -> Iterator[TextLine]:
    """Yield where the plate gap is read."""
    if pack.stack.gap_mm is None:
        yield TextLine(gettext("Plate gap"), gettext("not given by this definition"))
        return
    yield TextLine(gettext("Plate gap may differ by"), f"{pack.stack.gap_tolerance_mm:g} mm")
    yield TextLine(gettext("Read at"), ", ".join(pack.stack.gap_points))


def _reassembly_lines(pack: PackDefinition) -> Iterator[TextLine]:
    """Yield what is put back, in order, and what is tested around the pack."""
    yield TextLine(
        gettext("Sense leads, in this order"),
        ", ".join(pack.sense_lead_order) or gettext("not given"),
    )
    yield TextLine(gettext("Interlock"), _yes(pack.interlock))
    yield TextLine(gettext("Bonding points"), ", ".join(pack.bonding_points) or gettext("none"))
    yield TextLine(
        gettext("Parts outside the pack"), ", ".join(pack.vehicle_parts) or gettext("none")
    )


def _torque_section(bolts: TorqueList) -> SheetSection:
    """Return a torque list as a section."""
    lines = (
        TextLine(gettext("Positions"), ", ".join(bolts.positions)),
        TextLine(gettext("Pattern"), gettext(_PATTERN_WORDS[bolts.pattern])),
        TextLine(gettext("New bolts"), _yes(bolts.replace_bolts)),
    )
    figures = tuple(
        _figure_line(
            gettext("Stage {index}, within {percent} %").format(
                index=index, percent=f"{stage.tolerance_percent:g}"
            ),
            stage.target_nm,
            "N·m",
            (stage.kind, stage.source),
        )
        for index, stage in enumerate(bolts.stages, start=1)
    )
    return SheetSection(gettext("Torque: {name}").format(name=bolts.name), lines, figures)


def _yes(answer: bool) -> str:  # noqa: FBT001 - the one thing it takes
    """Say yes or no."""
    return gettext("yes") if answer else gettext("no")
