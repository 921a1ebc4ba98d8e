"""The pieces of a pack definition: figures with their source, modules, lid, torque lists.

Every piece is frozen, refuses unknown fields, and checks what can be checked within itself.
packs/definition_pack.py puts them together and checks them against one another;
packs/definition_text.py says what is wrong in plain words. No Django, no files, no clock.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Annotated, Literal, NamedTuple, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
    ValidationError,
    model_validator,
)
from pydantic_core import InitErrorDetails, PydanticCustomError
from typing_extensions import override

FigureKind = Literal["maker", "regulation", "shop_default"]

TEST_PRESSURE_LOWEST_PA = -10_000.0
TEST_PRESSURE_HIGHEST_PA = 15_000.0
"""Gauge pressures used on whole packs, -100 to +150 mbar [Pa]; more deforms covers and vents."""


class Fault(NamedTuple):
    """A broken rule: where, what is wrong, how to mend it."""

    where: tuple[str | int, ...]
    wrong: str
    mend: str


def refused(wrong: str, mend: str) -> PydanticCustomError:
    """Return the error by which a rule refuses one value."""
    return PydanticCustomError("rule", "{wrong}. {mend}", {"wrong": wrong, "mend": mend})


def _as_tuple(value: object) -> object:
    """Take a list where a tuple is kept: TOML and JSON know only lists."""
    return tuple(value) if isinstance(value, list) else value


def repeated(names: Iterable[str]) -> list[str]:
    """Return the names that occur more than once, in order."""
    return [name for name, count in Counter(names).items() if count > 1]


def _no_repeats(names: tuple[str, ...]) -> tuple[str, ...]:
    """Refuse a list that names a thing twice."""
    twice = repeated(names)
    if twice:
        raise refused(f'"{twice[0]}" stands in the list more than once', "Name each one once.")
    return names


def _no_dividers(name: str) -> str:
    """Refuse the two signs by which entries divide the names of what they answer."""
    if ";" in name or "=" in name:
        raise refused(f'"{name}" holds ; or =', "Write the name without them.")
    return name


Line = Annotated[
    str,
    StringConstraints(strip_whitespace=True, max_length=500, pattern=r"^[^\x00-\x1f\x7f]*$"),
]
Name = Annotated[Line, StringConstraints(min_length=1, max_length=120)]
Mark = Annotated[Name, AfterValidator(_no_dividers)]
"""A name by which a job's entries say which one they mean."""

Names = Annotated[
    tuple[Mark, ...], Field(max_length=500), BeforeValidator(_as_tuple), AfterValidator(_no_repeats)
]
Lines = Annotated[tuple[Name, ...], Field(max_length=500), BeforeValidator(_as_tuple)]
Listed = BeforeValidator(_as_tuple)


class Part(BaseModel):
    """A piece of a definition: frozen, strict, closed; ``rules`` yields what it breaks."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)

    def rules(self) -> Iterator[Fault]:
        """Yield the faults of this piece as a whole; none by itself."""
        yield from ()

    @model_validator(mode="after")
    def _keeps_its_rules(self) -> Self:
        """Refuse the piece with every rule it breaks, each at its own place."""
        faults = [
            InitErrorDetails(type=refused(fault.wrong, fault.mend), loc=fault.where, input=None)
            for fault in self.rules()
        ]
        if faults:
            raise ValidationError.from_exception_data(type(self).__name__, faults)
        return self


def _sourced(kind: FigureKind, source: str) -> Iterator[Fault]:
    """Yield the fault of a maker's or regulation's value that names no source."""
    if kind != "shop_default" and not source:
        wrong = f'is empty, though the kind is "{kind}"'
        yield Fault(("source",), wrong, 'Name the document and place, or use kind "shop_default".')


class Figure(Part):
    """A number with where it comes from; its unit is in the name of the field that holds it."""

    value: float
    kind: FigureKind
    source: Line = ""

    @override
    def rules(self) -> Iterator[Fault]:
        """Yield a missing source."""
        yield from _sourced(self.kind, self.source)


def within(lowest: float, highest: float) -> AfterValidator:
    """Return a check that a figure lies between two bounds, both allowed."""

    def check(figure: Figure) -> Figure:
        if not lowest <= figure.value <= highest:
            raise refused(
                f"{figure.value:g} is out of range",
                f"Write {lowest:g} to {highest:g}, in the unit that ends the field's name.",
            )
        return figure

    return AfterValidator(check)


def _above_zero(figure: Figure) -> Figure:
    """Refuse zero and below."""
    if figure.value <= 0:
        raise refused(f"{figure.value:g} is not above zero", "Write a value above zero.")
    return figure


Positive = Annotated[Figure, AfterValidator(_above_zero)]


class Module(Part):
    """A module of the string: its name, cells in series, part, and place in the enclosure."""

    name: Mark
    cells: Annotated[int, Field(ge=1, le=200)]
    part: Name
    row: Annotated[int, Field(ge=1, le=50)]
    column: Annotated[int, Field(ge=1, le=50)]


class TorqueStage(Part):
    """One pass over a list of bolts: target [N m], tolerance [%], and where they come from."""

    target_nm: Annotated[float, Field(gt=0, le=1000)]
    tolerance_percent: Annotated[float, Field(gt=0, le=50)]
    kind: FigureKind
    source: Line = ""

    @override
    def rules(self) -> Iterator[Fault]:
        """Yield a missing source."""
        yield from _sourced(self.kind, self.source)


class TorqueList(Part):
    """Bolts that are tightened together: positions in order, stages, pattern, new bolts or not."""

    name: Mark
    positions: Annotated[Names, Field(min_length=1)]
    stages: Annotated[tuple[TorqueStage, ...], Field(min_length=1, max_length=6), Listed]
    pattern: Literal["crosswise", "in_order", "outward"]
    replace_bolts: bool

    @override
    def rules(self) -> Iterator[Fault]:
        """Yield stages that do not rise."""
        targets = [stage.target_nm for stage in self.stages]
        for index in range(1, len(targets)):
            if targets[index] <= targets[index - 1]:
                wrong = "is not above the stage before"
                yield Fault(("stages", index, "target_nm"), wrong, "List the stages rising.")


class Disconnect(Part):
    """How the maker lets the pack be switched off, and where the string parts, if it does."""

    kind: Literal["string_plug", "low_voltage_loop", "none"]
    after_module: Mark | None = None
    label: Line = ""

    @override
    def rules(self) -> Iterator[Fault]:
        """Yield a plug without its place, or a place without a plug."""
        if self.kind == "string_plug" and self.after_module is None:
            mend = "Name the module after whose positive pole the plug parts the string."
            yield Fault(("after_module",), "is missing for a plug in the string", mend)
        if self.kind != "string_plug" and self.after_module is not None:
            wrong = f'does not belong to kind "{self.kind}", which does not part the string'
            yield Fault(("after_module",), wrong, "Take it out.")


class ProofPoint(Part):
    """A point of the circuit outside the pack where absence of voltage is proven."""

    name: Mark
    where: Line


class IsolationPoint(Part):
    """A live point of the string where a pole can be read against the enclosure."""

    name: Mark
    module: Mark
    pole: Literal["pos", "neg"]
    where: Line
    reachable: Literal["closed", "lid_off"]


class Lid(Part):
    """How the enclosure closes, and what closing it again needs."""

    kind: Literal["gasket_bolts", "bonded", "not_serviceable"]
    bolts: TorqueList | None = None
    gasket_part: Name | None = None
    sealant: Name | None = None
    cure_h: Positive | None = None
    cutting_depth_mm: Positive | None = None
    cutting_tool: Name | None = None

    @override
    def rules(self) -> Iterator[Fault]:
        """Yield what the kind of lid needs and does not have."""
        needs: dict[str, tuple[str, ...]] = {
            "gasket_bolts": ("bolts",),
            "bonded": ("sealant", "cutting_depth_mm", "cutting_tool"),
            "not_serviceable": (),
        }
        for field in needs[self.kind]:
            if getattr(self, field) is None:
                yield Fault((field,), f'is missing for a lid of kind "{self.kind}"', "Add it.")
        if self.kind == "gasket_bolts" and self.gasket_part is None and self.sealant is None:
            yield Fault(("gasket_part",), "is missing, and so is a sealant", "Name what seals.")
        if self.sealant is not None and self.cure_h is None:
            yield Fault(("cure_h",), "is missing though a sealant is used", "Add the curing time.")


class SealTest(Part):
    """The maker's tightness test of the closed enclosure, or that there is none."""

    method: Literal["pressure_decay", "none"]
    source: Name
    volume_l: Annotated[float, Field(gt=0, le=2000)] | None = None
    volume_u_percent: Annotated[float, Field(gt=0, le=50)] | None = None
    test_pressure_low_pa: float | None = None
    test_pressure_high_pa: float | None = None
    limit_ml_per_min: Positive | None = None
    stabilise_s: Positive | None = None
    duration_s: Positive | None = None
    vent_caps: Annotated[int, Field(ge=0, le=20)] = 0

    @override
    def rules(self) -> Iterator[Fault]:
        """Yield what the method lacks, or has although there is no test."""
        for field in (name for name in type(self).model_fields if name not in _ALWAYS):
            given = getattr(self, field) is not None
            if self.method == "pressure_decay" and not given:
                yield Fault((field,), "is missing for a pressure decay test", "Add it.")
            if self.method == "none" and given:
                yield Fault((field,), "is given though there is no seal test", "Take it out.")
        yield from self._pressure_faults()

    def _pressure_faults(self) -> Iterator[Fault]:
        """Yield a pressure range that is empty, beyond what covers bear, or crosses zero."""
        low, high = self.test_pressure_low_pa, self.test_pressure_high_pa
        if low is None or high is None:
            return
        if low >= high:
            mend = "Give the lower end of the range first."
            yield Fault(("test_pressure_low_pa",), "is not below test_pressure_high_pa", mend)
        if low < TEST_PRESSURE_LOWEST_PA or high > TEST_PRESSURE_HIGHEST_PA or low * high <= 0:
            wrong = f"the range {low:g} to {high:g} Pa is not a gauge pressure for a whole pack"
            mend = "Stay within -10000 to 15000 Pa, all above or all below zero."
            yield Fault(("test_pressure_high_pa",), wrong, mend)


_ALWAYS = ("method", "source", "vent_caps")


class Cooling(Part):
    """How the pack is cooled, and the coolant circuit's own leak test."""

    kind: Literal["none", "air", "liquid"]
    coolant: Name | None = None
    leak_test_kpa: Positive | None = None
    leak_test_minutes: Positive | None = None

    @override
    def rules(self) -> Iterator[Fault]:
        """Yield what liquid cooling lacks, or what other cooling has too much."""
        for field in ("coolant", "leak_test_kpa", "leak_test_minutes"):
            given = getattr(self, field) is not None
            if self.kind == "liquid" and not given:
                yield Fault((field,), "is missing for liquid cooling", "Add it.")
            if self.kind != "liquid" and given:
                wrong = f'does not belong to cooling of kind "{self.kind}"'
                yield Fault((field,), wrong, "Take it out.")


class Stack(Part):
    """How modules are held together: plate gap with its points, and tie bolts."""

    gap_mm: Positive | None = None
    gap_tolerance_mm: Annotated[float, Field(gt=0, le=20)] | None = None
    gap_points: Names = ()
    tie_bolts: TorqueList | None = None

    @override
    def rules(self) -> Iterator[Fault]:
        """Yield a gap that cannot be checked, or points without a gap."""
        checks: tuple[tuple[str, bool], ...] = (
            ("gap_tolerance_mm", self.gap_tolerance_mm is not None),
            ("gap_points", bool(self.gap_points)),
        )
        for field, given in checks:
            if self.gap_mm is not None and not given:
                yield Fault((field,), "is missing though a gap is given", "Add it.")
            if self.gap_mm is None and given:
                yield Fault((field,), "is given without a gap", "Add gap_mm or take this out.")
