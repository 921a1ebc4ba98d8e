"""Step 4: which module or part leaks, confirmed by a second kind of reading."""

from jobs.core.step import Signers, Step
from jobs.steps.fault_localisation.assessment import assess
from jobs.steps.fault_localisation.gate import REASONS, blockers, ends, holds
from jobs.steps.fault_localisation.items import LIVE, RETIRED, items
from jobs.steps.fault_localisation.section import section

STEP = Step(
    slug="fault_localisation",
    title="Fault localisation",
    signers=Signers(qualification="live_work", second=LIVE.second),
    items=items,
    assess=assess,
    holds=holds,
    blockers=blockers,
    section=section,
    reasons=REASONS,
    ends=ends,
    retired=RETIRED,
    gate_version=4,
)
