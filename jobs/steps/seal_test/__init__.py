"""Step 7: the closed enclosure holds its pressure."""

from jobs.core.step import Signers, Step
from jobs.steps.seal_test.assessment import SealResult, assess
from jobs.steps.seal_test.gate import REASONS, blockers, holds, skip
from jobs.steps.seal_test.items import SLUG, items
from jobs.steps.seal_test.section import section

STEP: Step[SealResult] = Step(
    slug=SLUG,
    title="Seal test",
    signers=Signers(),
    items=items,
    assess=assess,
    holds=holds,
    blockers=blockers,
    section=section,
    reasons=REASONS,
    skip=skip,
    gate_version=2,
)
