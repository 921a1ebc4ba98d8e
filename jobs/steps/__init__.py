"""The eight steps, in the order of the job."""

from typing import Any, Final

from jobs.core.step import Step
from jobs.steps.de_energise_check import STEP as DE_ENERGISE_CHECK
from jobs.steps.fault_localisation import STEP as FAULT_LOCALISATION
from jobs.steps.intake import STEP as INTAKE
from jobs.steps.isolation_readings import STEP as ISOLATION_READINGS
from jobs.steps.module_swap import STEP as MODULE_SWAP
from jobs.steps.reassembly import STEP as REASSEMBLY
from jobs.steps.road_test import STEP as ROAD_TEST
from jobs.steps.seal_test import STEP as SEAL_TEST

__all__ = ["STEPS"]

STEPS: Final[tuple[Step[Any], ...]] = (
    INTAKE,
    DE_ENERGISE_CHECK,
    ISOLATION_READINGS,
    FAULT_LOCALISATION,
    MODULE_SWAP,
    REASSEMBLY,
    SEAL_TEST,
    ROAD_TEST,
)
