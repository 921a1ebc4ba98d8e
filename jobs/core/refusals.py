"""The reasons the flow itself may give; each room adds its own in its `gate.py`.

Here: codes and sentences only. When one applies is in `jobs.core.flow`, `entering` and `closing`.
"""

from jobs.core.reason import Reason

CLOSED = Reason("job_closed", "The job is closed; nothing can be added.")
EARLIER = Reason("earlier_step_open", "“{earlier}” has to be signed first.")
ENDED = Reason("job_ended", "The job ended with “{earlier}”; it can only be closed.")
SIGNED = Reason("step_signed", "The step is signed. Re-open it to change anything.")
MISSING = Reason("missing", "{label}")
UNKNOWN = Reason("unknown_item", "This is not asked in this job now.")
QUALIFIER = Reason("wrong_qualifier", "It has to say which one: {parts}.")
NOT_OFFERED = Reason("not_offered", "This one is not asked here. Pick one that is offered.")
RECORDED = Reason("already_recorded", "Already recorded. Strike the earlier value with a reason.")
ROW_RECORDED = Reason(
    "row_recorded",
    "{rows}: recorded already. Strike that value with a reason, then enter it again.",
)
HOLD = Reason("hold_not_passed", "Hold point: confirm it before {act}.")
NO_PROOF = Reason("proof_needed", "The circuit is not proven dead now. Prove it again first.")
OTHER_PERSON = Reason(
    "proof_other_person", "Another technician proved the circuit dead. Prove it again first."
)
NOT_YOURS = Reason("role_may_not", "This may not be entered by: {role}.")
ROLE = Reason("signer_role", "This is signed by: {roles}.")
UNQUALIFIED = Reason("signer_unqualified", "The signer needs the qualification “{qualification}”.")
SECOND_SAME = Reason("second_same", "The second person has to be somebody else.")
SECOND_UNQUALIFIED = Reason("second_unqualified", "The second person is not qualified for it.")
SECOND_STALE = Reason("second_stale", "The second person signs after the last entry.")
SIGNER_OF = Reason("signer_of", "Whoever signed “{step}” may not sign this.")
APPLIES = Reason("step_applies", "The step is needed in this job.")
LID_WAS_OFF = Reason(
    "lid_was_off",
    "Something was entered under the open lid. Strike that first, or put the lid back on.",
)
NOT_STRUCK = Reason("nothing_to_strike", "There is no such value in force.")
NO_HOLD = Reason("no_such_hold", "There is no such hold point now.")
PASSED = Reason("hold_is_passed", "The hold point is passed already.")
NOT_SIGNED_YET = Reason("not_signed_yet", "The step is not signed.")
STEP_OPEN = Reason("step_not_signed", "“{step}” is not signed.")
PACK_OPEN = Reason("pack_open", "The pack is open. Close or cap it first.")
NO_ROUND = Reason("no_proof_step", "This job has no step that proves the absence of voltage.")
WITHDRAWN = Reason("equipment_withdrawn", "{label} was withdrawn: {why}")

REASONS = (
    CLOSED,
    EARLIER,
    ENDED,
    SIGNED,
    MISSING,
    UNKNOWN,
    QUALIFIER,
    NOT_OFFERED,
    RECORDED,
    ROW_RECORDED,
    HOLD,
    NO_PROOF,
    OTHER_PERSON,
    NOT_YOURS,
    ROLE,
    UNQUALIFIED,
    SECOND_SAME,
    SECOND_UNQUALIFIED,
    SECOND_STALE,
    SIGNER_OF,
    APPLIES,
    LID_WAS_OFF,
    NOT_STRUCK,
    NO_HOLD,
    PASSED,
    NOT_SIGNED_YET,
    STEP_OPEN,
    PACK_OPEN,
    NO_ROUND,
    WITHDRAWN,
)
