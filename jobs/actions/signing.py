"""Signing a step, passing a hold point, proving absence of voltage, going back, countersigning."""

from collections.abc import Mapping
from typing import Any

from jobs.actions.chain import iso
from jobs.actions.context import Act, Allowed, Refused, step_of
from jobs.actions.values import NO_REASON, reason_in
from jobs.core.closing import plan_reopen, reopen_gate
from jobs.core.entry import Json
from jobs.core.flow import (
    blocker_digest,
    countersignable,
    hold_gate,
    not_needed_gate,
    proof_gate,
    sign_gate,
)
from jobs.core.grounds import grounds
from jobs.core.reason import Reason
from jobs.core.refusals import CLOSED, NO_HOLD, UNKNOWN
from jobs.core.seal import sealed
from jobs.core.step import Step
from jobs.steps import STEPS

__all__ = ["REASONS", "countersign", "end_proof", "pass_hold", "prove", "reopen", "sign"]

NO_PROOF = Reason("no_proof_to_end", "There is no proof of absence of voltage in force.")
NO_CAUSE = Reason("no_such_cause", "Say what ended the proof.")
MANAGER = Reason("countersign_manager", "Only a manager qualified to countersign may do this.")
NOT_OFFERED = Reason("countersign_not_offered", "This cannot be countersigned.")
NO_REOPEN = Reason("reopen_role", "A technician or manager re-opens a step.")

REASONS = (NO_PROOF, NO_CAUSE, MANAGER, NOT_OFFERED, NO_REOPEN)

PROOF_ENDS = ("keys_moved", "supply_connected", "charging_cable", "taken_over")
"""What ends the proof at once when it is said; refitting the disconnect ends it by its item."""


def _asked(act: Act) -> Mapping[str, Any]:
    return act.draft.value if isinstance(act.draft.value, dict) else {}


def _seal(act: Act, step: Step[Any]) -> Json:
    """Give what the signature seals: the result, the grounds, and everything before it."""
    record = act.record
    return {
        "result": sealed(step.assess(record)),
        "gate_version": step.gate_version,
        "revision": record.revision,
        "limits": sealed(record.limits),
        "steps": [each.slug for each in STEPS],
        "items": [item.key for item in step.items(record)],
    }


def sign(act: Act) -> Allowed | Refused:
    """Sign a step as done or as not needed; a refused signature is recorded."""
    asked = _asked(act)
    step = step_of(asked.get("step"))
    if step is None:
        return Refused((UNKNOWN(),))
    not_needed = asked.get("outcome") == "not_needed"
    check = not_needed_gate if not_needed else sign_gate
    blockers = check(STEPS, act.record, step, act.by)
    if blockers:
        return Refused(blockers, recorded=True)
    skipped = step.skip(act.record) if not_needed else None
    second = None if step.signers.second is None else act.record.get(step.signers.second)
    return Allowed(
        {
            "step": step.slug,
            "outcome": "not_needed" if not_needed else "done",
            "why": "" if skipped is None else skipped.code,
            "by": act.by_snapshot,
            "second": "" if second is None or not_needed else second.id,
            "ends": "" if not_needed else step.ends(act.record),
            "seal": _seal(act, step),
        }
    )


def pass_hold(act: Act) -> Allowed | Refused:
    """Pass a hold point; refused exactly as a signature is."""
    asked = _asked(act)
    step, slug = step_of(asked.get("step")), asked.get("hold")
    if step is None or not isinstance(slug, str):
        return Refused((NO_HOLD(),))
    blockers = hold_gate(STEPS, act.record, step, slug, act.by)
    if blockers:
        return Refused(blockers, recorded=True)
    result = sealed(step.assess(act.record))
    value = {"step": step.slug, "hold": slug, "by": act.by_snapshot, "result": result}
    return Allowed({**value, "rests_on": grounds(act.record, step)})


def _grounds(act: Act) -> list[str]:
    """Give the keys of what a proof rests on: everything in force in the step that proves."""
    proving = (step for step in STEPS if step.prove is not None)
    return [key for step in proving for key in grounds(act.record, step)]


def prove(act: Act) -> Allowed | Refused:
    """Write the proof of absence of voltage of one round of readings."""
    round_name = _asked(act).get("round")
    if not isinstance(round_name, str):
        return Refused((UNKNOWN(),))
    judged, blockers = proof_gate(STEPS, act.record, round_name=round_name, by=act.by)
    if blockers or judged is None or judged.second is None or judged.until is None:
        return Refused(blockers or (UNKNOWN(),), recorded=True)
    return Allowed(
        {
            "round": round_name,
            "until": iso(judged.until),
            "second": judged.second.id,
            "by": act.by_snapshot,
            "verdict": judged.verdict,
            "rests_on": _grounds(act),
            "seal": sealed(judged.seal),
        }
    )


def end_proof(act: Act) -> Allowed | Refused:
    """Say that something has ended the proof."""
    cause = _asked(act).get("cause")
    if act.record.closed is not None:
        return Refused((CLOSED(),))
    if not act.record.proof_holds():
        return Refused((NO_PROOF(),))
    if cause not in PROOF_ENDS:
        return Refused((NO_CAUSE(),))
    return Allowed({"cause": cause})


def reopen(act: Act) -> Allowed | Refused:
    """Re-open a signed step; names what it voids."""
    asked = _asked(act)
    step = step_of(asked.get("step"))
    if step is None:
        return Refused((UNKNOWN(),))
    blockers = reopen_gate(act.record, step)
    if act.by.role not in {"technician", "manager"}:
        blockers = (*blockers, NO_REOPEN())
    reason = reason_in(act.draft.value)
    if blockers or not reason:
        return Refused(blockers or (NO_REASON(),))
    items = asked.get("items")
    chosen = [key for key in items if isinstance(key, str)] if isinstance(items, list) else []
    plan = plan_reopen(STEPS, act.record, step, chosen)
    return Allowed(
        {
            "step": step.slug,
            "voids": list(plan.voids),
            "supersedes": list(plan.supersedes),
            "reason": reason,
            "by": act.by_snapshot,
        }
    )


def countersign(act: Act) -> Allowed | Refused:
    """Accept, with a reason, a shop default that was not met."""
    today = act.record.now.date()
    if act.by.role != "manager" or not act.by.holds("countersign", today):
        return Refused((MANAGER(),))
    digest, reason = _asked(act).get("digest"), reason_in(act.draft.value)
    offered = {blocker_digest(point): point for point in countersignable(STEPS, act.record)}
    point = offered.get(digest) if isinstance(digest, str) else None
    if point is None:
        return Refused((NOT_OFFERED(),))
    if not reason:
        return Refused((NO_REASON(),))
    return Allowed(
        {
            "digest": digest,
            "code": point.code,
            "item": point.item,
            "qualifier": point.qualifier,
            "params": {name: str(value) for name, value in point.params.items()},
            "reason": reason,
            "by": act.by_snapshot,
        }
    )
