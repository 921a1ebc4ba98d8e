"""What each calculation accepts as JSON: one strict model a calculation, and its faults in words.

Here: field names, bounds and defaults of the public interface. Not here: any physics, and what
contradicts itself across fields; the calculations refuse that themselves.
"""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Discriminator, Field, Tag, ValidationError
from pydantic_core import ErrorDetails

NUMBER, ABOVE, LIST = "~number", "~above", "~list"
TAGS = frozenset((NUMBER, ABOVE, LIST))
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


def _over_range_or_number(value: object) -> str:
    return ABOVE if isinstance(value, dict | BaseModel) else NUMBER


def _list_or_number(value: object) -> str:
    return LIST if isinstance(value, list) else NUMBER


class Strict(BaseModel):
    """No other fields, nothing converted, nothing that is not finite."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class AccuracyInput(Strict):
    """An instrument with digits."""

    accuracy_percent: Percent = 0.5
    accuracy_counts: Annotated[float, Field(ge=0.0, le=1000.0)] = 2
    resolution_v: Annotated[float, Field(ge=1e-9, le=100.0)] = 0.01


class MeterInput(AccuracyInput):
    """A voltmeter."""

    input_ohm: Annotated[float, Field(ge=1.0, le=1e13)]
    input_tolerance_percent: Percent = 1.0


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


class AboveOhmInput(Strict):
    """An over-range reading."""

    above_ohm: Ohm


Resistance = Annotated[
    Annotated[Ohm, Tag(NUMBER)] | Annotated[AboveOhmInput, Tag(ABOVE)],
    Discriminator(_over_range_or_number),
]


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


CellVolts = Annotated[float, Field(ge=0.1, le=10.0)]


class LocaliseInput(Strict):
    """Input of localise."""

    modules: Annotated[list[ModuleInput], Field(min_length=1, max_length=200)]
    cell_v: Annotated[
        Annotated[CellVolts, Tag(NUMBER)]
        | Annotated[list[CellVolts], Field(min_length=1, max_length=5000), Tag(LIST)],
        Discriminator(_list_or_number),
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


class JointInput(Strict):
    """Input of joint."""

    drop_mv: Annotated[float, Field(ge=-1e5, le=1e5)]
    current_a: Annotated[float, Field(ge=-1e5, le=1e5)]
    current_u_percent: Percent = 0.0
    meter: MeterInput
    siblings_micro_ohm: Annotated[list[Positive], Field(max_length=5000)] = []
    limit_micro_ohm: Positive | None = None
    rated_current_a: Annotated[float, Field(ge=0.0, le=1e5)] | None = None


class VinInput(Strict):
    """Input of vin."""

    text: Annotated[str, Field(alias="vin", min_length=1, max_length=64)]


MODELS: dict[str, type[Strict]] = {
    "decay": DecayInput,
    "absence": AbsenceInput,
    "voltmeter": VoltmeterInput,
    "tester": InsulationTesterInput,
    "localise": LocaliseInput,
    "leak": LeakInput,
    "joint": JointInput,
    "vin": VinInput,
}

# What is wrong, by the library's kind of fault; {x} is filled from what the library knows.
WORDS = {
    "missing": "is missing",
    "extra_forbidden": "is not a field of this calculation: remove it or correct its name",
    "float_type": "must be a number, without quotes",
    "int_type": "must be a whole number, without quotes",
    "int_from_float": "must be a whole number",
    "finite_number": "must be a finite number",
    "string_type": "must be text, in quotes",
    "string_unicode": "must be readable text",
    "string_too_short": "must not be empty",
    "string_too_long": "must not be longer than {max_length} characters",
    "bool_type": "must be true or false, without quotes",
    "list_type": "must be a list, in square brackets",
    "dict_type": "must be an object, in curly brackets",
    "model_type": "must be an object, in curly brackets",
    "too_short": "needs at least {min_length} entries, has {actual_length}",
    "too_long": "takes at most {max_length} entries",
    "greater_than_equal": "must be at least {ge:g}",
    "less_than_equal": "must be at most {le:g}",
    "less_than": "must be below {lt:g}",
    "literal_error": "must be {expected}",
}


def checked(model: str, data: object) -> tuple[dict[str, Any], list[tuple[str, str]]]:
    """Check data against a model.

    Parameters
    ----------
    model : str
        A name in `MODELS`.
    data : object
        What JSON gave.

    Returns
    -------
    found : tuple[dict[str, Any], list[tuple[str, str]]]
        Every field, and each fault as the user's own path and a sentence.

    Examples
    --------
    >>> checked("vin", {"vin": 17})
    ({}, [('vin', 'must be text, in quotes')])
    """
    try:
        accepted = MODELS[model].model_validate(data)
    except ValidationError as error:
        return {}, [(_path(fault), _words(fault)) for fault in error.errors(include_url=False)]
    return accepted.model_dump(), []


def schema(model: str) -> dict[str, Any]:
    """Return the JSON Schema of a model.

    Parameters
    ----------
    model : str
        A name in `MODELS`.

    Returns
    -------
    schema : dict[str, Any]
        Draft 2020-12.

    Examples
    --------
    >>> schema("vin")["required"]
    ['vin']
    """
    return MODELS[model].model_json_schema()


def _path(fault: ErrorDetails) -> str:
    """Return the path as the user wrote it, without the names of alternatives."""
    steps = [str(step)[:LONGEST_NAME] for step in fault["loc"] if step not in TAGS]
    return ".".join(step for step in steps if step != "[key]")


def _words(fault: ErrorDetails) -> str:
    """Say what is wrong and how to mend it."""
    pattern = WORDS.get(fault["type"])
    return pattern.format(**fault.get("ctx", {})) if pattern else fault["msg"]
