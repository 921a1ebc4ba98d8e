"""The form of a pack definition: its sections with their fields, in the order of the work.

The kinds of field are packs/definition_fields.py and packs/definition_rows.py; reading and writing
a section is packs/definition_content.py; what is still missing packs/draft_check.py. No Django,
no files, no clock.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from packs.chemistries import CHEMISTRY_WORDS
from packs.definition import CURVES
from packs.definition_fields import (
    KINDS,
    Choice,
    Count,
    Field,
    Lines,
    Number,
    Sourced,
    Text,
    YesNo,
)
from packs.definition_rows import Group, Rows


@dataclass(frozen=True, slots=True)
class FormSection:
    """A page of the form; ``pictured`` draws the pack beside it."""

    slug: str
    title: str
    about: str
    fields: tuple[Field, ...]
    pictured: bool = False


CHEMISTRIES: Final = tuple((code, CHEMISTRY_WORDS[code]) for code in CURVES)
_CURVES: Final = tuple((curve, curve) for curves in CURVES.values() for curve in curves)
DISCONNECTS: Final = (
    ("string_plug", "plug in the string"),
    ("low_voltage_loop", "low-voltage loop only"),
    ("none", "none"),
)
_PATTERNS: Final = (
    ("crosswise", "crosswise"),
    ("in_order", "in order"),
    ("outward", "from the middle outward"),
)
_LIDS: Final = (
    ("gasket_bolts", "gasket and bolts"),
    ("bonded", "bonded"),
    ("not_serviceable", "not serviceable"),
)


def _torque(path: str, label: str, about: str = "") -> Group:
    """Return the fields of one torque list."""
    stages = Rows(
        path="stages",
        label="Stages, rising",
        add="Add a stage",
        row=Group(
            path="",
            label="Stage",
            sourced=True,
            fields=(
                Number(path="target_nm", label="Torque", unit="N·m"),
                Number(path="tolerance_percent", label="Within", unit="%"),
                Choice(path="kind", label="Kind", options=KINDS),
                Text(path="source", label="Source", wide=True),
            ),
        ),
    )
    return Group(
        path=path,
        label=label,
        help=about,
        fields=(
            Text(path="name", label="Name"),
            Lines(
                path="positions",
                label="Positions, in order",
                help="One on each line; L1..L24 stands for L1 to L24.",
                runs=True,
            ),
            Choice(path="pattern", label="Pattern", options=_PATTERNS),
            YesNo(path="replace_bolts", label="New bolts each time"),
            stages,
        ),
    )


_MODULE: Final = Group(
    path="",
    label="Module",
    fields=(
        Text(path="name", label="Name"),
        Count(path="cells", label="Cells"),
        Text(path="part", label="Part", wide=True),
        Count(path="row", label="Row"),
        Count(path="column", label="Column"),
    ),
)
_PROOF: Final = Group(
    path="",
    label="Proof point",
    fields=(
        Text(path="name", label="Name"),
        Text(path="where", label="Where it is", keeps_empty=True, wide=True),
    ),
)
_POINT: Final = Group(
    path="",
    label="Isolation point",
    fields=(
        Text(path="name", label="Name"),
        Text(path="module", label="Module", modules=True),
        Choice(path="pole", label="Pole", options=(("neg", "negative"), ("pos", "positive"))),
        Choice(
            path="reachable",
            label="Reachable",
            options=(("closed", "with the pack closed"), ("lid_off", "only with the lid off")),
        ),
        Text(path="where", label="Where it is", keeps_empty=True, wide=True),
    ),
)

SECTIONS: Final = (
    FormSection(
        "what",
        "What it is",
        "Name and label tell one kind of pack from another.",
        (
            Text(path="name", label="Name of the pack", wide=True),
            Text(path="slug", label="Short name in addresses and files", slug=True),
            Text(path="vehicle_text", label="Vehicles it is fitted to", wide=True),
            Text(path="label_text", label="Text of the label on the pack", wide=True),
            Choice(path="chemistry", label="Cell chemistry", options=CHEMISTRIES),
            Choice(
                path="curve",
                label="Voltage curve",
                options=_CURVES,
                help="Empty: modules are matched by counted charge.",
            ),
            Count(path="parallel_cells", label="Cells in parallel"),
            Count(
                path="strings_in_parallel",
                label="Strings in parallel",
                help="One: isolation cannot be worked out for several strings.",
            ),
            Sourced(path="mass_kg", label="Mass", unit="kg"),
        ),
    ),
    FormSection(
        "modules",
        "Modules and map",
        "Modules stand in series order from pack negative; row and column say where each lies, "
        "the vehicle's front at the left.",
        (
            Rows(
                path="modules", label="Modules, from pack negative", add="Add a module", row=_MODULE
            ),
        ),
        pictured=True,
    ),
    FormSection(
        "voltages",
        "Voltages and charge",
        "From the label and the maker's data.",
        (
            Sourced(path="nominal_v", label="Nominal voltage", unit="V"),
            Sourced(path="highest_v", label="Highest voltage", unit="V"),
            Sourced(path="cell_low_v", label="Cell, lowest voltage", unit="V"),
            Sourced(path="cell_high_v", label="Cell, highest voltage", unit="V"),
            Sourced(path="capacity_ah", label="Capacity", unit="Ah"),
            Sourced(path="rated_current_a", label="Rated current", unit="A"),
            Sourced(
                path="open_charge_limit_percent", label="Charge for opening, at most", unit="%"
            ),
            Sourced(path="bleed_a", label="Balancing current", unit="A"),
        ),
    ),
    FormSection(
        "isolation",
        "Isolation and proof points",
        "Proof points lie outside the pack. Isolation points are live: insulating gloves, rated "
        "instruments, a second person.",
        (
            Sourced(path="isolation_limit_ohm_per_v", label="Isolation in use", unit="Ω/V"),
            Sourced(
                path="isolation_after_repair_ohm_per_v",
                label="Isolation after repair",
                unit="Ω/V",
            ),
            Rows(path="proof_points", label="Proof points", add="Add a proof point", row=_PROOF),
            Rows(
                path="isolation_points",
                label="Isolation points",
                add="Add an isolation point",
                row=_POINT,
            ),
        ),
        pictured=True,
    ),
    FormSection(
        "closing",
        "Disconnect, lid, seal test, cooling",
        "How the pack is switched off, and how it closes again.",
        (
            Choice(path="disconnect.kind", label="Service disconnect", options=DISCONNECTS),
            Text(
                path="disconnect.after_module",
                label="Plug parts the string after",
                modules=True,
                help="Only for a plug in the string.",
            ),
            Text(path="disconnect.label", label="Where the disconnect is found", wide=True),
            YesNo(path="interlock", label="Interlock loop"),
            YesNo(path="modules_coded", label="Modules must be coded"),
            Lines(
                path="slow_discharge_codes",
                label="Codes of a discharge that is too slow",
                help="One on each line.",
            ),
            Choice(path="lid.kind", label="Lid", options=_LIDS),
            Text(path="lid.gasket_part", label="Gasket, part"),
            Text(path="lid.sealant", label="Sealant"),
            Sourced(path="lid.cure_h", label="Curing time of the sealant", unit="h"),
            Sourced(path="lid.cutting_depth_mm", label="Cutting depth, at most", unit="mm"),
            Text(path="lid.cutting_tool", label="Cutting tool"),
            Choice(
                path="seal_test.method",
                label="Seal test",
                options=(("pressure_decay", "pressure decay"), ("none", "none")),
            ),
            Text(path="seal_test.source", label="Seal test: source", wide=True),
            Number(path="seal_test.volume_l", label="Free volume", unit="l"),
            Number(path="seal_test.volume_u_percent", label="Volume known to", unit="%"),
            Number(path="seal_test.test_pressure_low_pa", label="Pressure, from", unit="Pa"),
            Number(path="seal_test.test_pressure_high_pa", label="Pressure, to", unit="Pa"),
            Sourced(path="seal_test.limit_ml_per_min", label="Leak, at most", unit="ml/min"),
            Sourced(path="seal_test.stabilise_s", label="Settle for", unit="s"),
            Sourced(path="seal_test.duration_s", label="Measure for", unit="s"),
            Count(path="seal_test.vent_caps", label="Caps for vents"),
            Choice(
                path="cooling.kind",
                label="Cooling",
                options=(("none", "none"), ("air", "air"), ("liquid", "liquid")),
            ),
            Text(path="cooling.coolant", label="Coolant"),
            Sourced(path="cooling.leak_test_kpa", label="Circuit test, pressure", unit="kPa"),
            Sourced(path="cooling.leak_test_minutes", label="Circuit test, time", unit="min"),
        ),
        pictured=True,
    ),
    FormSection(
        "torque",
        "Torque lists",
        "From the maker's data only; a list that is not written does not exist.",
        (
            _torque("busbar_joints", "Busbar joints"),
            _torque("stack.tie_bolts", "Tie bolts of the stack", "Leave empty if there are none."),
            Sourced(path="stack.gap_mm", label="Plate gap", unit="mm"),
            Number(path="stack.gap_tolerance_mm", label="Plate gap may differ by", unit="mm"),
            Lines(path="stack.gap_points", label="Plate gap is read at", help="One on each line."),
            _torque("lid.bolts", "Bolts of the lid", "Needed for a lid with gasket and bolts."),
            _torque("mounts", "Pack to vehicle"),
        ),
    ),
    FormSection(
        "limits",
        "Limits and waiting times",
        "Where the maker's figure is stricter, it holds.",
        (
            Sourced(path="wait_min", label="Wait after isolating", unit="min"),
            Sourced(path="proof_hours", label="Proof of absence of voltage holds for", unit="h"),
            Sourced(path="prove_gap_min", label="Time allowed between the two proofs", unit="min"),
            Sourced(path="dead_v", label="Dead below", unit="V"),
            Sourced(path="rest_h", label="Rest before comparing voltages", unit="h"),
            Sourced(path="joint_limit_micro_ohm", label="Joint resistance, at most", unit="µΩ"),
            Sourced(path="bonding_limit_ohm", label="Bonding, at most", unit="Ω"),
        ),
    ),
    FormSection(
        "vehicle",
        "Vehicle parts, bonding, cautions",
        "One on each line.",
        (
            Lines(path="vehicle_parts", label="Parts outside the pack", none="There are none"),
            Lines(path="bonding_points", label="Bonding points", none="There are none"),
            Lines(
                path="sense_lead_order",
                label="Sense leads, in the order they are put back",
                none="There are none",
            ),
            Lines(path="cautions", label="Cautions", none="There are none"),
        ),
    ),
)
"""The pages of the form, in order."""


def section_named(slug: str) -> FormSection | None:
    """Return the section of that name; None if there is none."""
    return next((each for each in SECTIONS if each.slug == slug), None)


def every_field() -> Iterator[tuple[FormSection, Field]]:
    """Yield each section's fields with the section."""
    for section in SECTIONS:
        for each in section.fields:
            yield section, each
