"""Step 5: the leaking module is replaced by one that matches it."""

from jobs.core.step import Signers, Step
from jobs.steps.module_swap.assessment import SwapResult, assess
from jobs.steps.module_swap.gate import REASONS, blockers, holds, skip
from jobs.steps.module_swap.items import LIVE, SLUG, items
from jobs.steps.module_swap.section import section

STEP: Step[SwapResult] = Step(
    slug=SLUG,
    title="Module swap",
    signers=Signers(qualification="live_work", second=LIVE.second),
    items=items,
    assess=assess,
    holds=holds,
    blockers=blockers,
    section=section,
    reasons=REASONS,
    skip=skip,
    gate_version=3,
)
