"""Inputs of what is read with a voltmeter: decay, absence, joint.

Here: field names, bounds and defaults of the public interface. Not here: any physics.
"""

from typing import Annotated, Literal

from pydantic import Field

from packs.inputs.fields import (
    AccuracyInput,
    MeterInput,
    Percent,
    Positive,
    PositiveVolts,
    Seconds,
    Strict,
    Volts,
)

GAIN_SHARED = (
    "True when the share-of-reading error is one error for all readings (same meter, same range)"
)


class SampleInput(Strict):
    """One reading of a series."""

    t_s: Seconds = Field(description="When it was read, counted from any moment, [s]")
    v: Volts = Field(description="What the meter showed, with its sign, [V]")


class DecayInput(Strict):
    """Input of decay: one point watched over time."""

    samples: Annotated[list[SampleInput], Field(min_length=3, max_length=5000)] = Field(
        description="Readings in the order they were taken, times strictly rising, [s] and [V]"
    )
    meter: MeterInput = Field(description="The voltmeter that was used")
    floor_v: PositiveVolts = Field(
        default=2.0, description="An end value within plus or minus this counts as nothing, [V]"
    )
    threshold_v: PositiveVolts = Field(default=60.0, description="The voltage to wait for, [V]")
    gain_shared: bool = Field(default=False, description=GAIN_SHARED)


class ProofInput(Strict):
    """The instrument on a known source."""

    expected_v: Volts = Field(description="Voltage of the known source, [V]")
    reading_v: Volts = Field(description="What the instrument showed on it, [V]")


class DeadReadingInput(Strict):
    """One of the three pairs: either volts, or the step an indicator stayed below."""

    between: Literal["pos-neg", "pos-chassis", "neg-chassis"] = Field(
        description="The two points that were read"
    )
    volts: Volts | None = Field(default=None, description="What a display showed, [V]")
    below_v: PositiveVolts | None = Field(
        default=None, description="Step that an indicator without digits stayed below, [V]"
    )


class AbsenceInput(Strict):
    """Input of absence: prove, test, prove again, at one point."""

    threshold_v: PositiveVolts = Field(
        description="A reading that may reach this is live; the shop default is 5, [V]"
    )
    instrument: AccuracyInput = Field(description="The voltage detector or meter")
    proof_before: ProofInput | None = Field(
        default=None, description="The instrument on a known source before the readings"
    )
    readings: Annotated[list[DeadReadingInput], Field(max_length=100)] = Field(
        description="Pole to pole and each pole to the chassis, in any order, [V]"
    )
    proof_after: ProofInput | None = Field(
        default=None, description="The instrument on a known source after the readings"
    )


class JointInput(Strict):
    """Input of joint: the voltage drop over one bolted joint."""

    drop_mv: Annotated[float, Field(ge=-1e5, le=1e5)] = Field(
        description="Voltage drop over the joint, [mV]"
    )
    current_a: Annotated[float, Field(ge=-1e5, le=1e5)] = Field(
        description="Current through the joint while it was read, not zero, [A]"
    )
    current_u_percent: Percent = Field(default=0.0, description="Half-width of the current, [%]")
    meter: MeterInput = Field(description="The meter that read the drop")
    siblings_micro_ohm: Annotated[list[Positive], Field(max_length=5000)] = Field(
        default=[], description="Resistances of like joints of this pack, [micro-ohm]"
    )
    limit_micro_ohm: Positive | None = Field(
        default=None,
        description="Largest resistance allowed; without it 1.2 times the siblings' median, "
        "[micro-ohm]",
    )
    rated_current_a: Annotated[float, Field(ge=0.0, le=1e5)] | None = Field(
        default=None, description="Current for which the heat is stated, [A]"
    )
