"""Inputs of the pressure decay of the enclosure and of the vehicle's number.

Here: field names, bounds and defaults of the public interface. Not here: any physics.
"""

from typing import Annotated

from pydantic import Field

from packs.inputs.fields import BarometerPa, Celsius, Percent, Positive, Seconds, Strict


class PressureSampleInput(Strict):
    """One reading of a pressure decay."""

    t_s: Seconds
    gauge_pa: Annotated[float, Field(ge=-1e5, le=1e6)]
    temp_c: Celsius
    barometer_pa: BarometerPa | None = None


class GaugeInput(Strict):
    """A pressure gauge."""

    resolution_pa: Annotated[float, Field(ge=0.0, le=1e5)]
    repeatability_pa: Annotated[float, Field(ge=0.0, le=1e5)]


class LeakLimitInput(Strict):
    """The largest acceptable leak; exactly one of the four."""

    pa_m3_per_s: Positive | None = None
    mbar_l_per_s: Positive | None = None
    ml_per_min: Positive | None = None
    drop_pa: Positive | None = None


class LeakInput(Strict):
    """Input of leak."""

    volume_l: Annotated[float, Field(ge=1e-3, le=1e6)]
    volume_u_percent: Percent = 5.0
    barometer_pa: BarometerPa | None = None
    barometer_u_pa: Annotated[float, Field(ge=0.0, le=1e5)] = 20.0
    samples: Annotated[list[PressureSampleInput], Field(min_length=2, max_length=20000)]
    gauge: GaugeInput
    temp_u_c: Annotated[float, Field(ge=0.0, le=50.0)] = 0.2
    limit: LeakLimitInput
    test_pressure_pa: (
        Annotated[list[Annotated[float, Field(ge=0.0, le=1e6)]], Field(min_length=2, max_length=2)]
        | None
    ) = None


class VinInput(Strict):
    """Input of vin."""

    text: Annotated[str, Field(alias="vin", min_length=1, max_length=64)]
