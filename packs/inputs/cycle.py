"""Input of cycle: the log of a charge, a discharge or a drive.

Here: field names, bounds and defaults of the public interface. Not here: reading the file
(packs/logs), nor any physics.
"""

from typing import Annotated, Literal

from pydantic import Field

from packs.inputs.fields import CapacityAh, CellCount, MilliVolts, Name, Strict

Header = Annotated[str, Field(min_length=1, max_length=200)]


class ColumnsInput(Strict):
    """Header names of a log's columns."""

    time_s: Header = Field(description="Column of the time: numbers, or dates as in ISO 8601, [s]")
    current_a: Header = Field(description="Column of the string's current, [A]")
    cell_v: Annotated[list[Header], Field(min_length=1, max_length=1000)] = Field(
        description="Columns of the cell voltages, in series order from pack negative, [V]"
    )
    temperature_c: Annotated[list[Header], Field(max_length=1000)] = Field(
        default=[], description="Columns of the temperatures, in any order, [degC]"
    )


class CycleModuleInput(Strict):
    """One module of the string."""

    name: Name = Field(description="Its name on the pack map")
    cells: CellCount = Field(description="Cells in series, [-]")


class CycleLimitsInput(Strict):
    """What the spreads may come to."""

    spread_rest_mv: MilliVolts = Field(
        default=20.0, description="Highest less lowest cell at rest, [mV]"
    )
    spread_top_mv: MilliVolts = Field(
        default=30.0, description="Highest less lowest cell at the end of the charge, [mV]"
    )
    spread_load_mv: MilliVolts = Field(
        default=100.0, description="Highest less lowest cell under load, [mV]"
    )
    temperature_spread_c: Annotated[float, Field(ge=0.1, le=100.0)] = Field(
        default=5.0, description="Warmest less coldest sensor, [K]"
    )


class CycleInput(Strict):
    """Input of cycle: a log, what its columns are, and the string it was taken of."""

    file: Annotated[str, Field(min_length=1, max_length=1000)] = Field(
        description="Path of the log, from the working directory"
    )
    columns: ColumnsInput = Field(description="Which column of the log is what")
    current_sign: Literal["charge_positive", "discharge_positive"] = Field(
        description="Which direction of the current the log writes as positive"
    )
    modules: Annotated[list[CycleModuleInput], Field(min_length=1, max_length=200)] = Field(
        description="The modules in series order from pack negative"
    )
    replaced: Annotated[list[Name], Field(max_length=200)] = Field(
        default=[], description="Names of the modules that were replaced"
    )
    rated_ah: CapacityAh | None = Field(
        default=None, description="Capacity of the string when new, for its state of health, [Ah]"
    )
    curve: Name | None = Field(
        default=None, description="Name of an open-circuit-voltage curve, see packs/curves"
    )
    limits: CycleLimitsInput = Field(
        default=CycleLimitsInput(), description="What the spreads may come to"
    )
