"""Inputs of isolation, by voltmeter and by insulation tester.

Here: field names, bounds and defaults of the public interface. Not here: any physics.
"""

from typing import Annotated, Literal

from pydantic import Field

from packs.inputs.fields import (
    MeterInput,
    Ohm,
    Percent,
    PoleName,
    Positive,
    PositiveVolts,
    Resistance,
    Strict,
    Volts,
)

WORKING_VOLTAGE = "The string's highest working voltage, [V]"
LIMIT = "Least isolation a volt of working voltage, [ohm/V]"


class VoltmeterInput(Strict):
    """Input of isolation by voltmeter: both poles, and the higher one again with a shunt."""

    method: Literal["voltmeter"] = Field(description='"voltmeter": this method')
    pos_to_chassis_v: Volts = Field(description="Positive pole to enclosure, magnitude, [V]")
    neg_to_chassis_v: Volts = Field(description="Negative pole to enclosure, magnitude, [V]")
    shunt_ohm: Ohm = Field(description="Resistor put from one pole to the enclosure, [ohm]")
    shunt_tolerance_percent: Percent = Field(
        default=1.0, description="Half-width of the shunt, [%]"
    )
    shunt_across: PoleName = Field(
        description="Pole the shunt was put across: the one with the larger reading"
    )
    shunted_v: Volts = Field(description="That pole to enclosure with the shunt, magnitude, [V]")
    meter: MeterInput = Field(description="The voltmeter that was used")
    working_voltage_v: PositiveVolts = Field(description=WORKING_VOLTAGE)
    limit_ohm_per_v: Positive = Field(default=100.0, description=LIMIT)
    bus_v: PositiveVolts | None = Field(
        default=None, description="Pole to pole as measured, for a second estimate, [V]"
    )
    gain_shared: bool = Field(
        default=False,
        description="True when the share-of-reading error is one error for all readings",
    )


class InsulationTesterInput(Strict):
    """Input of isolation by insulation tester: a resistance, or {"above_ohm": bound}."""

    method: Literal["tester"] = Field(description='"tester": this method')
    test_voltage_v: PositiveVolts = Field(description="Test voltage, [V]")
    pos_ohm: Resistance = Field(description="Positive pole to enclosure, [ohm]")
    neg_ohm: Resistance = Field(description="Negative pole to enclosure, [ohm]")
    duration_s: Annotated[float, Field(ge=0.0, le=1e6)] = Field(
        default=60.0, description="How long the voltage was applied, [s]"
    )
    accuracy_percent: Percent = Field(default=5.0, description="Half-width of a reading, [%]")
    at_30s_ohm: Resistance | None = Field(default=None, description="Reading after 30 s, [ohm]")
    at_60s_ohm: Resistance | None = Field(default=None, description="Reading after 60 s, [ohm]")
    working_voltage_v: PositiveVolts = Field(description=WORKING_VOLTAGE)
    limit_ohm_per_v: Positive = Field(default=100.0, description=LIMIT)
    minimum_fraction: Annotated[float, Field(ge=0.1, le=10.0)] = Field(
        default=1.0,
        description="Least test voltage, as a share of the working voltage, [-]",
    )
    own_voltage_v: Annotated[float, Field(ge=0.0, le=1e4)] = Field(
        default=0.0, description="Voltage of the part itself, such as one module, [V]"
    )
