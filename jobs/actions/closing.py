"""Choosing the pack definition, and closing the job."""

import uuid

from jobs.actions.context import Act, Allowed, Refused
from jobs.actions.values import NO_REASON, keep_personal, reason_in
from jobs.core.closing import close_gate
from jobs.core.reason import Reason
from jobs.core.refusals import CLOSED
from jobs.steps import STEPS
from packs import errors as pack_errors
from packs import queries as packs

__all__ = ["REASONS", "choose_revision", "close"]

NO_REVISION = Reason("no_such_revision", "There is no such revision of a pack definition.")
SAME_REVISION = Reason("same_revision", "This revision is in force already.")
REVISION_ROLE = Reason("revision_role", "A technician or manager chooses the pack definition.")
RECEIVER = Reason("receiver_needed", "Say who received the vehicle or the pack.")
CLOSE_ROLE = Reason("close_role", "The front desk or a manager hands over.")

REASONS = (NO_REVISION, SAME_REVISION, REVISION_ROLE, RECEIVER, CLOSE_ROLE)


def choose_revision(act: Act) -> Allowed | Refused:
    """Set the pack definition; an open job moves to another one only with a reason."""
    if act.record.closed is not None:
        return Refused((CLOSED(),))
    if act.by.role not in {"technician", "manager"}:
        return Refused((REVISION_ROLE(),))
    wanted = act.draft.value.get("revision") if isinstance(act.draft.value, dict) else None
    try:
        info = packs.revision(uuid.UUID(str(wanted)))
    except (ValueError, pack_errors.Refused):
        return Refused((NO_REVISION(),))
    if str(info.id) == act.record.revision:
        return Refused((SAME_REVISION(),))
    reason = reason_in(act.draft.value)
    if act.record.revision and not reason:
        return Refused((NO_REASON(),))
    named = {"slug": info.slug, "number": str(info.number), "sha256": info.sha256}
    return Allowed({"revision": str(info.id), **named, "reason": reason})


def close(act: Act) -> Allowed | Refused:
    """Close the job with who received the vehicle."""
    how, blockers = close_gate(STEPS, act.record)
    if act.by.role not in {"front_desk", "manager"}:
        blockers = (*blockers, CLOSE_ROLE())
    if blockers:
        return Refused(blockers, recorded=act.record.closed is None)
    value = act.draft.value if isinstance(act.draft.value, dict) else {}
    receiver = value.get("received_by")
    if not isinstance(receiver, str) or not receiver.strip().isprintable() or not receiver.strip():
        return Refused((RECEIVER(),))
    kept = keep_personal(act, "close.received_by", receiver.strip()[:200])
    return Allowed({"how": how, "received_by": kept, "by": act.by_snapshot})
