"""Step 6: cause mended, pack put together, isolation read again, lid on."""

from jobs.core.step import Signers, Step
from jobs.steps.reassembly.assessment import Reassembly, assess
from jobs.steps.reassembly.gate import REASONS, blockers, holds, skip
from jobs.steps.reassembly.items import SECOND, SLUG, items
from jobs.steps.reassembly.section import section

STEP: Step[Reassembly] = Step(
    slug=SLUG,
    title="Reassembly",
    signers=Signers(qualification="live_work", second=SECOND, second_last=True),
    items=items,
    assess=assess,
    holds=holds,
    blockers=blockers,
    section=section,
    reasons=REASONS,
    skip=skip,
    gate_version=2,
)
