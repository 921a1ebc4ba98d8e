"""Inputs of the pressure decay of the enclosure and of the vehicle's number.

Here: field names, bounds and defaults of the public interface. Not here: any physics.
"""

from typing import Annotated

from pydantic import Field

from packs.inputs.fields import BarometerPa, Celsius, Percent, Positive, Seconds, Strict


class PressureSampleInput(Strict):
    """One reading of a pressure decay."""

    t_s: Seconds = Field(description="When it was read, counted from any moment, [s]")
    gauge_pa: Annotated[float, Field(ge=-1e5, le=1e6)] = Field(
        description="Overpressure against the room, [Pa]"
    )
    temp_c: Celsius = Field(description="Temperature of the gas inside, [degC]")
    barometer_pa: BarometerPa | None = Field(
        default=None, description="Air pressure at this moment, absolute, at the place, [Pa]"
    )


class GaugeInput(Strict):
    """A pressure gauge."""

    resolution_pa: Annotated[float, Field(ge=0.0, le=1e5)] = Field(
        description="One step of its display, [Pa]"
    )
    repeatability_pa: Annotated[float, Field(ge=0.0, le=1e5)] = Field(
        description="Standard deviation of a reading, [Pa]"
    )


class LeakLimitInput(Strict):
    """The largest acceptable leak; exactly one of the four."""

    pa_m3_per_s: Positive | None = Field(default=None, description="Throughput, [Pa m3/s]")
    mbar_l_per_s: Positive | None = Field(default=None, description="Throughput, [mbar l/s]")
    ml_per_min: Positive | None = Field(
        default=None, description="Volume flow at 101325 Pa and 20 degC, [ml/min]"
    )
    drop_pa: Positive | None = Field(
        default=None, description="Drop of pressure over the whole test, [Pa]"
    )


class LeakInput(Strict):
    """Input of leak: the pressure decay of a sealed enclosure."""

    volume_l: Annotated[float, Field(ge=1e-3, le=1e6)] = Field(
        description="Free gas volume of enclosure and hose, [l]"
    )
    volume_u_percent: Percent = Field(default=5.0, description="Half-width of the volume, [%]")
    barometer_pa: BarometerPa | None = Field(
        default=None,
        description="Air pressure during the test, absolute; needed unless each sample has its "
        "own, [Pa]",
    )
    barometer_u_pa: Annotated[float, Field(ge=0.0, le=1e5)] = Field(
        default=20.0, description="How far the air pressure may drift over the test, [Pa]"
    )
    samples: Annotated[list[PressureSampleInput], Field(min_length=2, max_length=20000)] = Field(
        description="Readings in the order they were taken, times strictly rising"
    )
    gauge: GaugeInput = Field(description="The pressure gauge that was used")
    temp_u_c: Annotated[float, Field(ge=0.0, le=50.0)] = Field(
        default=0.2, description="Half-width of a temperature reading, [degC]"
    )
    limit: LeakLimitInput = Field(description="The largest acceptable leak")
    test_pressure_pa: (
        Annotated[list[Annotated[float, Field(ge=0.0, le=1e6)]], Field(min_length=2, max_length=2)]
        | None
    ) = Field(
        default=None,
        description="Lowest and highest overpressure at which a test may begin, [Pa]",
    )


class VinInput(Strict):
    """Input of vin: a vehicle identification number as typed."""

    text: Annotated[str, Field(min_length=1, max_length=64)] = Field(
        alias="vin", description="Seventeen characters; case, spaces and hyphens do not matter"
    )
