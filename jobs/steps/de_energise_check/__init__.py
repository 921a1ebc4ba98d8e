"""Step 2: the circuit outside the pack is switched off, secured and proven dead."""

from jobs.core.step import Signers, Step
from jobs.steps.de_energise_check.assessment import assess
from jobs.steps.de_energise_check.gate import REASONS, blockers, holds, prove
from jobs.steps.de_energise_check.items import SECOND, UNCHANGED, items
from jobs.steps.de_energise_check.section import section

STEP = Step(
    slug="de_energise_check",
    title="De-energise check",
    signers=Signers(qualification="live_work", second=SECOND),
    items=items,
    assess=assess,
    holds=holds,
    blockers=blockers,
    section=section,
    reasons=REASONS,
    prove=prove,
    retired=(UNCHANGED,),
)
