"""Inputs of what concerns cells and their charge: match, charge, cycle.

Here: field names, bounds and defaults of the public interface. Not here: any physics.
"""

from typing import Annotated, Literal

from pydantic import Discriminator, Field, Tag

from packs.inputs.fields import RESISTOR, SUPPLY, CellVolts, Celsius, Name, Strict

LongName = Annotated[str, Field(min_length=1, max_length=200)]
CapacityAh = Annotated[float, Field(ge=0.01, le=1e5)]
ResistanceMohm = Annotated[float, Field(ge=1e-3, le=1e6)]
CellCount = Annotated[int, Field(ge=1, le=200)]
Days = Annotated[float, Field(ge=0.0, le=1e5)]
MilliVolts = Annotated[float, Field(ge=0.1, le=2000.0)]


class WantedInput(Strict):
    """The string a spare is wanted for."""

    chemistry: Name
    part: LongName
    cells: CellCount
    capacity_ah: Annotated[list[CapacityAh], Field(max_length=200)] = []
    resistance_mohm: Annotated[list[ResistanceMohm], Field(max_length=200)] = []
    cell_v: CellVolts | None = None
    temperature_c: Celsius | None = None


class MatchLimitsInput(Strict):
    """How far a spare may be from the string."""

    capacity_percent: Annotated[float, Field(ge=0.1, le=100.0)] = 5.0
    resistance_percent: Annotated[float, Field(ge=0.1, le=1000.0)] = 20.0
    tested_within_days: Days = 180.0


class SpareInput(Strict):
    """One spare module as it was tested."""

    serial: Name
    chemistry: Name
    part: LongName
    cells: CellCount
    capacity_ah: CapacityAh | None = None
    resistance_mohm: ResistanceMohm | None = None
    cell_v: CellVolts | None = None
    temperature_c: Celsius | None = None
    days_since_test: Days | None = None
    quarantined: bool = False


class MatchInput(Strict):
    """Input of match."""

    wanted: WantedInput
    limits: MatchLimitsInput = MatchLimitsInput()
    spares: Annotated[list[SpareInput], Field(max_length=2000)]


class ResistorInput(Strict):
    """Discharge through a resistor; without a size, the smallest that stays below the power."""

    kind: Literal["resistor"]
    ohm: Annotated[float, Field(ge=1e-3, le=1e6)] | None = None
    max_w: Annotated[float, Field(ge=0.1, le=1e6)] | None = None


class SupplyInput(Strict):
    """A supply; discharging, a load of constant current."""

    kind: Literal["supply"]
    current_a: Annotated[float, Field(ge=1e-3, le=1e4)]


def _kind(value: object) -> str:
    kind = value.get("kind") if isinstance(value, dict) else getattr(value, "kind", None)
    return SUPPLY if kind == "supply" else RESISTOR


class ChargeInput(Strict):
    """Input of charge."""

    curve: Name
    cells: CellCount
    parallel: Annotated[int, Field(ge=1, le=1000)] = 1
    capacity_ah: CapacityAh
    spare_cell_v: CellVolts
    target_cell_v: CellVolts
    temperature_c: Celsius = 25.0
    module_resistance_ohm: Annotated[float, Field(ge=0.0, le=100.0)] = 0.0
    voltage_u_v: Annotated[float, Field(ge=0.0, le=1.0)] = 0.002
    method: Annotated[
        Annotated[ResistorInput, Tag(RESISTOR)] | Annotated[SupplyInput, Tag(SUPPLY)],
        Discriminator(_kind),
    ]
    bleed_a: Annotated[float, Field(ge=1e-4, le=1e3)] = 0.05
    accept_mv_per_cell: MilliVolts = 10.0


class ColumnsInput(Strict):
    """Header names of a log's columns."""

    time_s: LongName
    current_a: LongName
    cell_v: Annotated[list[LongName], Field(min_length=1, max_length=1000)]
    temperature_c: Annotated[list[LongName], Field(max_length=1000)] = []


class CycleModuleInput(Strict):
    """One module of the string."""

    name: Name
    cells: CellCount


class CycleLimitsInput(Strict):
    """What the spreads may come to."""

    spread_rest_mv: MilliVolts = 20.0
    spread_top_mv: MilliVolts = 30.0
    spread_load_mv: MilliVolts = 100.0
    temperature_spread_c: Annotated[float, Field(ge=0.1, le=100.0)] = 5.0


class CycleInput(Strict):
    """Input of cycle."""

    file: Annotated[str, Field(min_length=1, max_length=1000)]
    columns: ColumnsInput
    current_sign: Literal["charge_positive", "discharge_positive"]
    modules: Annotated[list[CycleModuleInput], Field(min_length=1, max_length=200)]
    replaced: Annotated[list[Name], Field(max_length=200)] = []
    rated_ah: CapacityAh | None = None
    curve: Name | None = None
    limits: CycleLimitsInput = CycleLimitsInput()
