"""Step 3: which side has lost its isolation, the pack or the vehicle."""

from jobs.core.step import Signers, Step
from jobs.steps.isolation_readings.assessment import assess
from jobs.steps.isolation_readings.gate import REASONS, blockers, ends, holds
from jobs.steps.isolation_readings.items import LIVE, items
from jobs.steps.isolation_readings.section import section

STEP = Step(
    slug="isolation_readings",
    title="Isolation readings",
    signers=Signers(qualification="live_work", second=LIVE.second),
    items=items,
    assess=assess,
    holds=holds,
    blockers=blockers,
    section=section,
    reasons=REASONS,
    ends=ends,
    gate_version=4,
)
