"""Step 1: the vehicle or pack is taken in, looked at for danger, and authorised."""

from jobs.core.step import Signers, Step
from jobs.steps.intake.assessment import assess
from jobs.steps.intake.gate import REASONS, blockers, holds
from jobs.steps.intake.items import items
from jobs.steps.intake.section import section

STEP = Step(
    slug="intake",
    title="Intake",
    signers=Signers(roles=("technician", "manager")),
    items=items,
    assess=assess,
    holds=holds,
    blockers=blockers,
    section=section,
    reasons=REASONS,
)
