"""Input of localise.

Here: field names, bounds and defaults of the public interface. Not here: any physics.
"""

from typing import Annotated

from pydantic import Discriminator, Field, Tag

from packs.inputs.fields import (
    LIST,
    NUMBER,
    CellVolts,
    MeterInput,
    Name,
    Ohm,
    Percent,
    PoleName,
    Probability,
    Strict,
    Volts,
    list_or_number,
)


class ModuleInput(Strict):
    """One module of the string."""

    name: Name = Field(description="Its name on the pack map, used nowhere twice")
    cells: Annotated[int, Field(ge=1, le=200)] = Field(description="Cells in series, [-]")


class PlaceInput(Strict):
    """A pole that a test lead can be put on."""

    module: Name = Field(description="Name of the module")
    pole: PoleName = Field(description="Its positive or its negative pole")


class ReadingInput(PlaceInput):
    """One settled voltage from a pole to the enclosure."""

    open_after: Annotated[list[Name], Field(max_length=200)] = Field(
        default=[],
        description="Modules after whose positive pole the series link is open meanwhile",
    )
    shunt_ohm: Ohm | None = Field(
        default=None, description="Resistor across the meter, null without, [ohm]"
    )
    volts: Volts = Field(description="Pole relative to enclosure, with its sign, [V]")


class LocaliseInput(Strict):
    """Input of localise: the string, and what was read on it."""

    modules: Annotated[list[ModuleInput], Field(min_length=1, max_length=200)] = Field(
        description="In series order, from pack negative"
    )
    cell_v: Annotated[
        Annotated[CellVolts, Tag(NUMBER)]
        | Annotated[list[CellVolts], Field(min_length=1, max_length=5000), Tag(LIST)],
        Discriminator(list_or_number),
    ] = Field(description="Voltage of every cell, or a list with one for each, [V]")
    cell_v_spread_v: Annotated[float, Field(ge=0.0, le=1.0)] = Field(
        default=0.01, description="Standard deviation of the cells about cell_v, [V]"
    )
    meter: MeterInput = Field(description="The voltmeter used for all readings")
    shunt_tolerance_percent: Percent = Field(
        default=1.0, description="Half-width of the shunt, [%]"
    )
    readings: Annotated[list[ReadingInput], Field(min_length=1, max_length=500)] = Field(
        description="In the order they were taken, [V]"
    )
    prior: dict[Name, Annotated[float, Field(ge=0.0, le=1e6)]] = Field(
        default={},
        description="How many times likelier a module is to leak than one not mentioned, [-]",
    )
    several_prior: Probability = Field(
        default=0.05, description="Probability of two leaks before any reading, [-]"
    )
    none_prior: Probability = Field(
        default=0.02, description="Probability of no leak before any reading, [-]"
    )
    propose: bool = Field(default=True, description="Whether next readings are wanted")
    reachable: Annotated[list[PlaceInput], Field(max_length=400)] | None = Field(
        default=None, description="Where a lead can be put now; null for everywhere"
    )
    openable: Annotated[list[Name], Field(max_length=200)] | None = Field(
        default=None, description="Modules after which the link may be opened; null for every one"
    )
