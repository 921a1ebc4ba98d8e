"""What stands against signing intake, beyond answers that are missing.

Here: danger that is not released, a VIN that cannot be right, authority that does not cover.
"""

from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.step import Hold
from jobs.steps.intake.assessment import Intake
from jobs.steps.intake.items import ACUTE, AUTHORITY, PRICE_CAP, TRIAGE, VIN, WATCH_RELEASE

EVACUATE = Reason(
    "intake_evacuate",
    "Smoke, hissing, smell or heat: get everybody out, keep away, call the fire brigade. "
    "Nothing can be signed until a qualified person has released it.",
)
TRIAGE_AGAIN = Reason(
    "intake_triage_again",
    "Released after smoke, hissing, smell or heat. Strike that answer and look again.",
)
NOT_RELEASED = Reason(
    "intake_not_released",
    "Swelling, fluid, flood or crash: it stays outdoors under watch until a qualified person "
    "releases it.",
)
RELEASE_UNQUALIFIED = Reason(
    "intake_release_unqualified",
    "Whoever signed the release is not qualified for live work or release, or signed before the "
    "last sign of danger. Strike it and ask a qualified person.",
)
VIN_WRONG = Reason(
    "intake_vin_wrong", "The VIN cannot be right: {why} Strike it and type it again."
)
AUTHORITY_OLD = Reason(
    "intake_authority_old",
    "The customer signed before the price cap was changed. Strike it and ask for a new signature.",
)
REASONS = (EVACUATE, TRIAGE_AGAIN, NOT_RELEASED, RELEASE_UNQUALIFIED, VIN_WRONG, AUTHORITY_OLD)


def holds(_record: Record, _intake: Intake) -> tuple[Hold, ...]:
    """Give no hold points: nothing is touched here."""
    return ()


def _danger(intake: Intake) -> list[Blocker]:
    if not intake.danger:
        return []
    if intake.released:
        return [TRIAGE_AGAIN(TRIAGE.key)] if intake.triage == ACUTE else []
    told = EVACUATE if intake.danger == ACUTE else NOT_RELEASED
    found = [told(WATCH_RELEASE.key)]
    if intake.released_by:
        found.append(RELEASE_UNQUALIFIED(WATCH_RELEASE.key))
    return found


def blockers(record: Record, intake: Intake) -> tuple[Blocker, ...]:
    """Say what blocks the signature beyond missing answers."""
    found = _danger(intake)
    if intake.vin_faults:
        found.append(VIN_WRONG(VIN.key, why=intake.vin_faults[0].text))
    both = record.has(PRICE_CAP) and record.has(AUTHORITY)
    if both and not intake.authority_covers_cap:
        found.append(AUTHORITY_OLD(AUTHORITY.key))
    return tuple(found)
