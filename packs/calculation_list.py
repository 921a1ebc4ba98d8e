"""Which calculations there are, and by which dotted path each is checked, computed and explained.

Here: the list as data; nothing it names is imported, so that listing stays light. Not here: from
JSON to a call and back (calculations.py), fields and bounds (inputs/), formulas (physics/).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from packs.strict_json import InputRefused

LONGEST_NAME = 60

METER = "packs.physics.instrument:Meter"
ABOVE = "packs.physics.isolation:AboveOhm"


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """How one kind of input is checked, built and computed."""

    model: str
    function: str
    explanation: str
    case: str | None = None
    parts: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Calculation:
    """One calculation; with several routes, its input's ``method`` chooses.

    ``verdict`` is the field of the result that says how it ended.
    """

    name: str
    summary: str
    routes: tuple[Route, ...]
    verdict: str = "verdict"
    version: int = 1


CALCULATIONS = (
    Calculation(
        name="decay",
        summary="Is a reading settling to nothing, or standing?",
        verdict="kind",
        routes=(
            Route(
                model="decay",
                function="packs.physics.decay:decay",
                explanation="packs.explanations.decay:explained",
                parts={"meter": METER, "samples": "packs.physics.decay:Sample"},
            ),
        ),
    ),
    Calculation(
        name="absence",
        summary="Has the absence of voltage been proven?",
        routes=(
            Route(
                model="absence",
                function="packs.physics.absence:absence",
                explanation="packs.explanations.absence:explained",
                parts={
                    "instrument": "packs.physics.instrument:Accuracy",
                    "proof_before": "packs.physics.absence:Proof",
                    "proof_after": "packs.physics.absence:Proof",
                    "readings": "packs.physics.absence:DeadReading",
                },
            ),
        ),
    ),
    Calculation(
        name="isolation",
        summary="What is the isolation resistance, and does it reach the limit?",
        routes=(
            Route(
                model="voltmeter",
                function="packs.physics.isolation:isolation_by_voltmeter",
                explanation="packs.explanations.isolation:explained",
                case="packs.physics.isolation:VoltmeterCase",
                parts={"meter": METER},
            ),
            Route(
                model="tester",
                function="packs.physics.isolation:isolation_by_tester",
                explanation="packs.explanations.isolation:explained",
                case="packs.physics.isolation:TesterCase",
                parts=dict.fromkeys(("pos_ohm", "neg_ohm", "at_30s_ohm", "at_60s_ohm"), ABOVE),
            ),
        ),
    ),
    Calculation(
        name="localise",
        summary="Which module leaks, and what should be read next?",
        routes=(
            Route(
                model="localise",
                function="packs.physics.localise:localise",
                explanation="packs.explanations.localise:explained",
                case="packs.physics.localise:LocaliseCase",
                parts={
                    "meter": METER,
                    "modules": "packs.physics.localise:Module",
                    "readings": "packs.physics.localise:Reading",
                    "reachable": "packs.physics.localise:Place",
                },
            ),
        ),
    ),
    Calculation(
        name="match",
        summary="Which spare suits the string?",
        verdict="ranked",
        routes=(
            Route(
                model="match",
                function="packs.physics.match:match",
                explanation="packs.explanations.match:explained",
                case="packs.physics.match:MatchCase",
                parts={
                    "wanted": "packs.physics.match:Wanted",
                    "limits": "packs.physics.match:MatchLimits",
                    "spares": "packs.physics.match:SpareModule",
                },
            ),
        ),
    ),
    Calculation(
        name="charge",
        summary="How is the spare brought to the string's charge?",
        routes=(
            Route(
                model="charge",
                function="packs.physics.charge:charge",
                explanation="packs.explanations.charge:explained",
                case="packs.physics.charge:ChargeCase",
                parts={"method": "packs.physics.charge:ChargeMethod"},
            ),
        ),
    ),
    Calculation(
        name="leak",
        summary="Does the sealed enclosure hold its pressure?",
        routes=(
            Route(
                model="leak",
                function="packs.physics.leak:leak",
                explanation="packs.explanations.leak:explained",
                case="packs.physics.leak:LeakCase",
                parts={
                    "samples": "packs.physics.leak:PressureSample",
                    "gauge": "packs.physics.leak:Gauge",
                    "limit": "packs.physics.leak:LeakLimit",
                },
            ),
        ),
    ),
    Calculation(
        name="joint",
        summary="Is a bolted joint as good as its like?",
        routes=(
            Route(
                model="joint",
                function="packs.physics.joint:joint",
                explanation="packs.explanations.joint:explained",
                case="packs.physics.joint:JointCase",
                parts={"meter": METER},
            ),
        ),
    ),
    Calculation(
        name="cycle",
        summary="Did the repaired string behave in a charge, a discharge or a drive?",
        routes=(
            Route(
                model="cycle",
                function="packs.cycle_file:cycle_of_file",
                explanation="packs.explanations.cycle:explained",
                case="packs.cycle_file:CycleFileCase",
                parts={
                    "columns": "packs.cycle_file:Columns",
                    "modules": "packs.physics.cycle_case:CycleModule",
                    "limits": "packs.physics.cycle_case:CycleLimits",
                },
            ),
        ),
    ),
    Calculation(
        name="vin",
        summary="Is a vehicle identification number well formed?",
        routes=(
            Route(
                model="vin",
                function="packs.physics.vin:vin",
                explanation="packs.explanations.vin:explained",
            ),
        ),
        verdict="valid",
    ),
)


def find(name: str) -> Calculation:
    """Return a calculation by name.

    Parameters
    ----------
    name : str
        As in the list.

    Returns
    -------
    calculation : Calculation
        Its routes and version.

    Raises
    ------
    InputRefused
        When there is none of that name.

    Examples
    --------
    >>> find("leak").version
    1
    """
    for calculation in CALCULATIONS:
        if calculation.name == name:
            return calculation
    known = ", ".join(calculation.name for calculation in CALCULATIONS)
    raise InputRefused([("calculation", f"{name[:LONGEST_NAME]!r} is none of {known}")])
