"""Inputs of what is read with a meter or a tester: decay, absence, isolation, localise, joint.

Here: field names, bounds and defaults of the public interface. Not here: any physics.
"""

from typing import Annotated, Literal

from pydantic import Discriminator, Field, Tag

from packs.inputs.fields import (
    LIST,
    NUMBER,
    AccuracyInput,
    CellVolts,
    MeterInput,
    Name,
    Ohm,
    Percent,
    PoleName,
    Positive,
    PositiveVolts,
    Probability,
    Resistance,
    Seconds,
    Strict,
    Volts,
    list_or_number,
)


class SampleInput(Strict):
    """One reading of a series."""

    t_s: Seconds
    v: Volts


class DecayInput(Strict):
    """Input of decay."""

    samples: Annotated[list[SampleInput], Field(min_length=3, max_length=5000)]
    meter: MeterInput
    floor_v: PositiveVolts = 2.0
    threshold_v: PositiveVolts = 60.0
    gain_shared: bool = False


class ProofInput(Strict):
    """The instrument on a known source."""

    expected_v: Volts
    reading_v: Volts


class DeadReadingInput(Strict):
    """One of the three pairs: volts, or the step an indicator stayed below."""

    between: Literal["pos-neg", "pos-chassis", "neg-chassis"]
    volts: Volts | None = None
    below_v: PositiveVolts | None = None


class AbsenceInput(Strict):
    """Input of absence."""

    threshold_v: PositiveVolts
    instrument: AccuracyInput
    proof_before: ProofInput | None = None
    readings: Annotated[list[DeadReadingInput], Field(max_length=100)]
    proof_after: ProofInput | None = None


class VoltmeterInput(Strict):
    """Input of isolation by voltmeter."""

    method: Literal["voltmeter"]
    pos_to_chassis_v: Volts
    neg_to_chassis_v: Volts
    shunt_ohm: Ohm
    shunt_tolerance_percent: Percent = 1.0
    shunt_across: PoleName
    shunted_v: Volts
    meter: MeterInput
    working_voltage_v: PositiveVolts
    limit_ohm_per_v: Positive = 100.0
    bus_v: PositiveVolts | None = None
    gain_shared: bool = False


class InsulationTesterInput(Strict):
    """Input of isolation by insulation tester."""

    method: Literal["tester"]
    test_voltage_v: PositiveVolts
    pos_ohm: Resistance
    neg_ohm: Resistance
    duration_s: Annotated[float, Field(ge=0.0, le=1e6)] = 60.0
    accuracy_percent: Percent = 5.0
    at_30s_ohm: Resistance | None = None
    at_60s_ohm: Resistance | None = None
    working_voltage_v: PositiveVolts
    limit_ohm_per_v: Positive = 100.0
    minimum_fraction: Annotated[float, Field(ge=0.1, le=10.0)] = 1.0
    own_voltage_v: Annotated[float, Field(ge=0.0, le=1e4)] = 0.0


class ModuleInput(Strict):
    """One module of the string."""

    name: Name
    cells: Annotated[int, Field(ge=1, le=200)]


class PlaceInput(Strict):
    """A pole that a test lead can be put on."""

    module: Name
    pole: PoleName


class ReadingInput(PlaceInput):
    """One settled voltage from a pole to the enclosure."""

    open_after: Annotated[list[Name], Field(max_length=200)] = []
    shunt_ohm: Ohm | None = None
    volts: Volts


class LocaliseInput(Strict):
    """Input of localise."""

    modules: Annotated[list[ModuleInput], Field(min_length=1, max_length=200)]
    cell_v: Annotated[
        Annotated[CellVolts, Tag(NUMBER)]
        | Annotated[list[CellVolts], Field(min_length=1, max_length=5000), Tag(LIST)],
        Discriminator(list_or_number),
    ]
    cell_v_spread_v: Annotated[float, Field(ge=0.0, le=1.0)] = 0.01
    meter: MeterInput
    shunt_tolerance_percent: Percent = 1.0
    readings: Annotated[list[ReadingInput], Field(min_length=1, max_length=500)]
    prior: dict[Name, Annotated[float, Field(ge=0.0, le=1e6)]] = {}
    several_prior: Probability = 0.05
    none_prior: Probability = 0.02
    propose: bool = True
    reachable: Annotated[list[PlaceInput], Field(max_length=400)] | None = None
    openable: Annotated[list[Name], Field(max_length=200)] | None = None


class JointInput(Strict):
    """Input of joint."""

    drop_mv: Annotated[float, Field(ge=-1e5, le=1e5)]
    current_a: Annotated[float, Field(ge=-1e5, le=1e5)]
    current_u_percent: Percent = 0.0
    meter: MeterInput
    siblings_micro_ohm: Annotated[list[Positive], Field(max_length=5000)] = []
    limit_micro_ohm: Positive | None = None
    rated_current_a: Annotated[float, Field(ge=0.0, le=1e5)] | None = None
