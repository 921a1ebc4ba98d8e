"""Step 8: pack back in, switched on, driven, charged, and released by another person."""

from jobs.core.step import Signers, Step
from jobs.steps.road_test.assessment import RoadTest, assess
from jobs.steps.road_test.gate import REASONS, blockers, holds, skip
from jobs.steps.road_test.items import SLUG, items
from jobs.steps.road_test.section import section

STEP: Step[RoadTest] = Step(
    slug=SLUG,
    title="Road test",
    signers=Signers(qualification="release", not_signer_of=("module_swap", "fault_localisation")),
    items=items,
    assess=assess,
    holds=holds,
    blockers=blockers,
    section=section,
    reasons=REASONS,
    skip=skip,
    gate_version=4,
)
