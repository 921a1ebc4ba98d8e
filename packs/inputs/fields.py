"""Kinds of fields that several calculations take: numbers with bounds, names, instruments.

Here: what is shared. Not here: any one calculation's input (electrical.py, isolation.py,
localise.py, enclosure.py, cells.py, cycle.py).
"""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Discriminator, Field, Tag

NUMBER, ABOVE, LIST = "~number", "~above", "~list"
RESISTOR, SUPPLY = "~resistor", "~supply"
TAGS = frozenset((NUMBER, ABOVE, LIST, RESISTOR, SUPPLY))
"""Names of alternatives; they are left out of the paths that people read."""
LONGEST_NAME = 60

Volts = Annotated[float, Field(ge=-1e4, le=1e4)]
PositiveVolts = Annotated[float, Field(ge=1e-6, le=1e4)]
Ohm = Annotated[float, Field(ge=1e-3, le=1e13)]
Percent = Annotated[float, Field(ge=0.0, le=50.0)]
Seconds = Annotated[float, Field(ge=-1e9, le=1e9)]
Celsius = Annotated[float, Field(ge=-60.0, le=150.0)]
BarometerPa = Annotated[float, Field(ge=3e4, le=1.2e5)]
Positive = Annotated[float, Field(ge=1e-9, le=1e9)]
Probability = Annotated[float, Field(ge=0.0, lt=1.0)]
Name = Annotated[str, Field(min_length=1, max_length=LONGEST_NAME)]
PoleName = Literal["pos", "neg"]
CellVolts = Annotated[float, Field(ge=0.1, le=10.0)]
CellCount = Annotated[int, Field(ge=1, le=200)]
CapacityAh = Annotated[float, Field(ge=0.01, le=1e5)]
MilliVolts = Annotated[float, Field(ge=0.1, le=2000.0)]


def _over_range_or_number(value: object) -> str:
    return ABOVE if isinstance(value, dict | BaseModel) else NUMBER


def list_or_number(value: object) -> str:
    """Tell a list from a single number, for a discriminated field."""
    return LIST if isinstance(value, list) else NUMBER


class Strict(BaseModel):
    """No other fields, nothing converted, nothing that is not finite."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class AccuracyInput(Strict):
    """An instrument with digits: how far a reading may be off, from its data sheet."""

    accuracy_percent: Percent = Field(default=0.5, description="Share of the reading, [%]")
    accuracy_counts: Annotated[float, Field(ge=0.0, le=1000.0)] = Field(
        default=2, description="Steps of the last digit, [-]"
    )
    resolution_v: Annotated[float, Field(ge=1e-9, le=100.0)] = Field(
        default=0.01, description="One step of the last digit in the range used, [V]"
    )


class MeterInput(AccuracyInput):
    """A voltmeter: its accuracy, and what it puts across the circuit."""

    input_ohm: Annotated[float, Field(ge=1.0, le=1e13)] = Field(
        description="Input resistance in the range used, 1e7 for most hand-held meters, [ohm]"
    )
    input_tolerance_percent: Percent = Field(
        default=1.0, description="Half-width of the input resistance, [%]"
    )


class AboveOhmInput(Strict):
    """An over-range reading: the instrument showed "more than"."""

    above_ohm: Ohm = Field(description="The bound it showed, [ohm]")


Resistance = Annotated[
    Annotated[Ohm, Tag(NUMBER)] | Annotated[AboveOhmInput, Tag(ABOVE)],
    Discriminator(_over_range_or_number),
]
