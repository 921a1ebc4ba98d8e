"""Choosing the pack definition, and closing the job."""

import uuid

from jobs.actions.context import Act, Allowed, Refused
from jobs.actions.values import NO_REASON, keep_personal, reason_in
from jobs.core.closing import close_gate
from jobs.core.drawn import drawn_text, read_drawn
from jobs.core.reason import Blocker, InputRefused, Reason
from jobs.core.refusals import CLOSED
from jobs.steps import STEPS
from packs import errors as pack_errors
from packs import queries as packs
from packs.queries import RevisionInfo

__all__ = ["REASONS", "choose_revision", "close"]

NO_REVISION = Reason("no_such_revision", "There is no such revision of a pack definition.")
SAME_REVISION = Reason("same_revision", "This revision is in force already.")
REVISION_ROLE = Reason("revision_role", "A technician or manager chooses the pack definition.")
OTHER_PACK = Reason(
    "revision_other_pack",
    "The definition was confirmed against the pack's label. Re-open the de-energise check to "
    "choose another kind of pack.",
)
OLDER_REVISION = Reason("revision_older", "A job moves only to a newer revision.")
CLOSE_ROLE = Reason("close_role", "The front desk or a manager hands over.")

REASONS = (
    NO_REVISION,
    SAME_REVISION,
    REVISION_ROLE,
    OTHER_PACK,
    OLDER_REVISION,
    CLOSE_ROLE,
)


def _moves(act: Act, wanted: RevisionInfo) -> tuple[Blocker, ...]:
    """Say why a job that has a definition may not move to this one.

    Before the definition is confirmed against the label a wrong choice is only a wrong choice;
    afterwards the limits of another kind of pack would undo what was confirmed.
    """
    if not act.record.revision:
        return ()
    if str(wanted.id) == act.record.revision:
        return (SAME_REVISION(),)
    current = packs.revision(uuid.UUID(act.record.revision))
    confirmed = any(s.prove is not None and s.slug in act.record.signatures for s in STEPS)
    if wanted.slug != current.slug:
        return (OTHER_PACK(),) if confirmed else ()
    return () if wanted.number > current.number else (OLDER_REVISION(),)


def _wanted(act: Act) -> RevisionInfo | None:
    asked = act.draft.value.get("revision") if isinstance(act.draft.value, dict) else None
    try:
        return packs.revision(uuid.UUID(str(asked)))
    except (ValueError, pack_errors.Refused):
        return None


def choose_revision(act: Act) -> Allowed | Refused:
    """Set the pack definition; an open job moves to another one only with a reason."""
    if act.record.closed is not None:
        return Refused((CLOSED(),))
    if act.by.role not in {"technician", "manager"}:
        return Refused((REVISION_ROLE(),))
    info, reason = _wanted(act), reason_in(act.draft.value)
    if info is None:
        return Refused((NO_REVISION(),))
    blockers = _moves(act, info)
    if not blockers and act.record.revision and not reason:
        blockers = (NO_REASON(),)
    if blockers:
        return Refused(blockers)
    named = {"slug": info.slug, "number": str(info.number), "sha256": info.sha256}
    return Allowed({"revision": str(info.id), **named, "reason": reason})


def close(act: Act) -> Allowed | Refused:
    """Close the job with the signature of whoever received the vehicle or the pack."""
    how, blockers = close_gate(STEPS, act.record)
    if act.by.role not in {"front_desk", "manager"}:
        blockers = (*blockers, CLOSE_ROLE())
    if blockers:
        return Refused(blockers, recorded=act.record.closed is None)
    value = act.draft.value if isinstance(act.draft.value, dict) else {}
    try:
        receiver = read_drawn(value.get("received_by"))
    except InputRefused as refused:
        return Refused((refused.blocker,))
    kept = keep_personal(act, "close.received_by", drawn_text(receiver))
    return Allowed({"how": how, "received_by": kept, "by": act.by_snapshot})
