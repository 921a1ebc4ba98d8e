"""Typed ratings of each kind of equipment: one frozen model a kind, units in the names.

No Django here. Which kinds there are and when a piece lapses: ``workshop.equipment``.
"""

from typing import Annotated, Any, Final, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

GLOVE_MAX_DC_V: Final = {"00": 750.0, "0": 1500.0, "1": 11250.0}
"""Highest use voltage, DC [V], of a glove class. The rating printed on the glove goes first."""

TORQUE_CYCLE_LIMIT: Final = 5000
"""ISO 6789, 2003: 5000 cycles or 12 months, whichever comes first; an own procedure may differ."""

GLOVE_CLASSES: Final = tuple(GLOVE_MAX_DC_V)

Positive = Annotated[float, Field(gt=0, le=1e12, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, le=1e12, allow_inf_nan=False)]
Percent = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
Words = Annotated[str, Field(min_length=1, max_length=60)]


class Ratings(BaseModel):
    """What every set of ratings shares: frozen, strict about names, finite numbers."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)


class MeterRatings(Ratings):
    """Voltmeter used for pole readings."""

    input_ohm: Positive = Field(title="Input resistance")
    input_tolerance_percent: Percent = Field(title="Tolerance of the input resistance")
    accuracy_percent: Percent = Field(title="Accuracy, share of the reading")
    accuracy_counts: NotNegative = Field(title="Accuracy, counts")
    resolution_v: Positive = Field(title="Resolution")
    rated_v: Positive = Field(title="Rated DC voltage")


class InsulationTesterRatings(Ratings):
    """Insulation tester with its selectable test voltages."""

    test_voltages_v: Annotated[list[Positive], Field(min_length=1, max_length=12)] = Field(
        title="Test voltages"
    )
    accuracy_percent: Percent = Field(title="Accuracy, share of the reading")
    rated_v: Positive = Field(title="Rated DC voltage")
    range_ohm: NotNegative = Field(default=0.0, title="Highest resistance it shows")


class TwoPoleIndicatorRatings(Ratings):
    """Two-pole voltage indicator, with digits or with lamps only."""

    rated_v: Positive = Field(title="Rated DC voltage")
    has_digits: bool = Field(title="Shows digits")
    accuracy_percent: Percent = Field(default=0.0, title="Accuracy, share of the reading")
    accuracy_counts: NotNegative = Field(default=0.0, title="Accuracy, counts")
    resolution_v: NotNegative = Field(default=0.0, title="Resolution")
    below_v: NotNegative = Field(default=0.0, title="Lowest voltage it shows")

    @model_validator(mode="after")
    def _says_what_it_shows(self) -> Self:
        """Ask for the resolution of digits, or for the lowest lamp."""
        if self.has_digits and self.resolution_v <= 0:
            raise ValueError("resolution_v: an indicator with digits needs its resolution")
        if not self.has_digits and self.below_v <= 0:
            raise ValueError("below_v: an indicator without digits needs the voltage of its "
                             "lowest lamp")  # fmt: skip
        return self


class ProvingUnitRatings(Ratings):
    """Known source that proves an indicator before and after."""

    output_v: Positive = Field(title="Output voltage")


class ShuntRatings(Ratings):
    """Known resistor from a pole to the chassis."""

    ohm: Positive = Field(title="Resistance")
    tolerance_percent: Percent = Field(title="Tolerance")
    rated_v: Positive = Field(title="Rated DC voltage")
    rated_w: Positive = Field(title="Rated power")


class GloveRatings(Ratings):
    """Insulating gloves; without a printed DC rating the class decides."""

    glove_class: Literal["00", "0", "1"] = Field(title="Class")
    max_dc_v: Positive = Field(title="Highest DC use voltage")
    cuff_size: str = Field(default="", max_length=20, title="Size and cuff")

    @model_validator(mode="before")
    @classmethod
    def _take_voltage_from_class(cls, given: Any) -> Any:
        """Fill the highest voltage from the class where the glove states none."""
        if isinstance(given, dict) and given.get("max_dc_v") is None:
            top_v = GLOVE_MAX_DC_V.get(str(given.get("glove_class")))
            return given | {"max_dc_v": top_v} if top_v else given
        return given

    @model_validator(mode="after")
    def _within_class(self) -> Self:
        """Refuse a rating above what the class allows."""
        top_v = GLOVE_MAX_DC_V[self.glove_class]
        if self.max_dc_v > top_v:
            raise ValueError(f"max_dc_v: class {self.glove_class} ends at {top_v:g} V DC")
        return self


class VoltageRatings(Ratings):
    """Protective equipment and tools with one rated voltage."""

    rated_v: Positive = Field(title="Rated DC voltage")


class FaceShieldRatings(Ratings):
    """Face shield with what is printed on it."""

    marking: Words = Field(title="Marking on the shield")


class TorqueToolRatings(Ratings):
    """Torque tool with its range."""

    low_nm: Positive = Field(title="Lowest torque")
    high_nm: Positive = Field(title="Highest torque")
    tolerance_percent: Percent = Field(title="Tolerance")
    cycle_limit: Annotated[int, Field(ge=1, le=1_000_000)] = Field(
        default=TORQUE_CYCLE_LIMIT, title="Cycles between calibrations"
    )

    @model_validator(mode="after")
    def _range_rises(self) -> Self:
        """Refuse a range that ends below its start."""
        if self.high_nm <= self.low_nm:
            raise ValueError("high_nm: the highest torque must lie above the lowest")
        return self


class LiftingTableRatings(Ratings):
    """Lifting table for packs."""

    max_kg: Positive = Field(title="Highest load")


class PressureGaugeRatings(Ratings):
    """Pressure gauge of the seal test."""

    resolution_pa: Positive = Field(title="Resolution")
    repeatability_pa: NotNegative = Field(title="Repeatability, standard deviation")
    range_pa: Positive = Field(title="Range")


class MilliohmMeterRatings(Ratings):
    """Four-wire meter for joints and bonding."""

    accuracy_percent: Percent = Field(title="Accuracy, share of the reading")
    accuracy_counts: NotNegative = Field(title="Accuracy, counts")
    resolution_mv: Positive = Field(title="Resolution")
    current_a: Positive = Field(title="Test current")


class ThermometerRatings(Ratings):
    """Thermometer for pack, air and modules."""

    u_c: Positive = Field(title="Half-width of its error")


class CurrentSourceRatings(Ratings):
    """Limited source for charging, discharging and bonding checks."""

    max_a: Positive = Field(title="Highest current")
    max_v: Positive = Field(title="Highest voltage")
