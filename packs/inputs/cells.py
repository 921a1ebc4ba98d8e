"""Inputs of what concerns a spare's cells: match, charge.

Here: field names, bounds and defaults of the public interface. Not here: the log of a charge or a
drive (cycle.py), nor any physics.
"""

from typing import Annotated, Literal

from pydantic import Discriminator, Field, Tag

from packs.inputs.fields import (
    RESISTOR,
    SUPPLY,
    CapacityAh,
    CellCount,
    CellVolts,
    Celsius,
    MilliVolts,
    Name,
    Strict,
)

LongName = Annotated[str, Field(min_length=1, max_length=200)]
ResistanceMohm = Annotated[float, Field(ge=1e-3, le=1e6)]
Days = Annotated[float, Field(ge=0.0, le=1e5)]


class WantedInput(Strict):
    """The string a spare is wanted for."""

    chemistry: Name = Field(description="Chemistry of the string, as the pack definition has it")
    part: LongName = Field(description="Part number of the module")
    cells: CellCount = Field(description="Cells in series in the module, [-]")
    capacity_ah: Annotated[list[CapacityAh], Field(max_length=200)] = Field(
        default=[], description="Capacity of each module that stays, where known, [Ah]"
    )
    resistance_mohm: Annotated[list[ResistanceMohm], Field(max_length=200)] = Field(
        default=[], description="Resistance of each module that stays, where known, [mohm]"
    )
    cell_v: CellVolts | None = Field(
        default=None, description="Median cell voltage of the string, rested, [V]"
    )
    temperature_c: Celsius | None = Field(
        default=None, description="Temperature of the string at its readings, [degC]"
    )


class MatchLimitsInput(Strict):
    """How far a spare may be from the string."""

    capacity_percent: Annotated[float, Field(ge=0.1, le=100.0)] = Field(
        default=5.0, description="Most below the string's weakest module, [%]"
    )
    resistance_percent: Annotated[float, Field(ge=0.1, le=1000.0)] = Field(
        default=20.0, description="Most above or below the string's median, [%]"
    )
    tested_within_days: Days = Field(default=180.0, description="Oldest test that counts, [d]")


class SpareInput(Strict):
    """One spare module as it was tested."""

    serial: Name = Field(description="Serial number of the spare")
    chemistry: Name = Field(description="Its chemistry")
    part: LongName = Field(description="Its part number")
    cells: CellCount = Field(description="Cells in series, [-]")
    capacity_ah: CapacityAh | None = Field(
        default=None, description="Capacity found by its last test, [Ah]"
    )
    resistance_mohm: ResistanceMohm | None = Field(
        default=None, description="Resistance found by its last test, [mohm]"
    )
    cell_v: CellVolts | None = Field(default=None, description="Mean cell voltage, rested, [V]")
    temperature_c: Celsius | None = Field(
        default=None, description="Temperature at its test, [degC]"
    )
    days_since_test: Days | None = Field(default=None, description="Age of its last test, [d]")
    quarantined: bool = Field(default=False, description="True while it stands in quarantine")


class MatchInput(Strict):
    """Input of match: the place in the string, and the spares at hand."""

    wanted: WantedInput = Field(description="The string and the place in it")
    limits: MatchLimitsInput = Field(
        default=MatchLimitsInput(), description="How far a spare may be from the string"
    )
    spares: Annotated[list[SpareInput], Field(max_length=2000)] = Field(
        description="The spares at hand, in any order"
    )


class ResistorInput(Strict):
    """Discharge through a resistor; without a size, the smallest that stays below the power."""

    kind: Literal["resistor"] = Field(description="Discharge through a resistor")
    ohm: Annotated[float, Field(ge=1e-3, le=1e6)] | None = Field(
        default=None, description="Its resistance; left out, one is chosen by max_w, [ohm]"
    )
    max_w: Annotated[float, Field(ge=0.1, le=1e6)] | None = Field(
        default=None, description="Power it may turn into heat, [W]"
    )


class SupplyInput(Strict):
    """A supply; discharging, a load of constant current."""

    kind: Literal["supply"] = Field(description="A supply, or a load of constant current")
    current_a: Annotated[float, Field(ge=1e-3, le=1e4)] = Field(
        description="Current at the module's terminals, [A]"
    )


def _kind(value: object) -> str:
    kind = value.get("kind") if isinstance(value, dict) else getattr(value, "kind", None)
    return SUPPLY if kind == "supply" else RESISTOR


class ChargeInput(Strict):
    """Input of charge: spare and string at rest, and the means at hand."""

    curve: Name = Field(description="Name of an open-circuit-voltage curve, see packs/curves")
    cells: CellCount = Field(description="Cells in series in the module, [-]")
    parallel: Annotated[int, Field(ge=1, le=1000)] = Field(
        default=1, description="Cells side by side in each of them, [-]"
    )
    capacity_ah: CapacityAh = Field(
        description="Capacity at the module's terminals, cells side by side included, [Ah]"
    )
    spare_cell_v: CellVolts = Field(description="Mean cell voltage of the spare, rested, [V]")
    target_cell_v: CellVolts = Field(
        description="Median cell voltage of the string, rested, at the same temperature, [V]"
    )
    temperature_c: Celsius = Field(default=25.0, description="Temperature of both, [degC]")
    module_resistance_ohm: Annotated[float, Field(ge=0.0, le=100.0)] = Field(
        default=0.0, description="Resistance of the module from terminal to terminal, [ohm]"
    )
    voltage_u_v: Annotated[float, Field(ge=0.0, le=1.0)] = Field(
        default=0.002, description="Half-width of each reading of a cell's voltage, [V]"
    )
    method: Annotated[
        Annotated[ResistorInput, Tag(RESISTOR)] | Annotated[SupplyInput, Tag(SUPPLY)],
        Discriminator(_kind),
    ] = Field(description="By what the charge is moved")
    bleed_a: Annotated[float, Field(ge=1e-4, le=1e3)] = Field(
        default=0.05, description="Current by which the vehicle's balancer drains a cell, [A]"
    )
    accept_mv_per_cell: MilliVolts = Field(
        default=10.0, description="Difference a cell that may stay, [mV]"
    )
