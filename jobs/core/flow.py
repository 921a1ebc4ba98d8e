"""What stands against signing a step, passing a hold point, or proving absence of voltage.

Pure: a record and the steps go in, blockers come out; empty means allowed. Not here: what one
step asks (its room), entering a value (`jobs.core.entering`), going back and closing
(`jobs.core.closing`), the writing (`jobs.actions`).
"""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from jobs.core.grounds import changed_since
from jobs.core.item import Item, PersonUsed, Shape
from jobs.core.once import once_a_record
from jobs.core.order import (
    Steps,
    closed_blockers,
    hold_passed,
    holds_of,
    open_step,
    order_blockers,
    signed_blockers,
)
from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.core.refusals import (
    APPLIES,
    HOLD,
    MISSING,
    NO_HOLD,
    NO_ROUND,
    PASSED,
    ROLE,
    SECOND_SAME,
    SECOND_STALE,
    SECOND_UNQUALIFIED,
    SIGNER_OF,
    UNQUALIFIED,
    WITHDRAWN,
)
from jobs.core.seal import fingerprint
from jobs.core.step import ProofRound, Signers, Step

__all__ = [
    "blocker_digest",
    "countersignable",
    "gate",
    "hold_gate",
    "not_needed_gate",
    "proof_gate",
    "sign_gate",
    "signer_blockers",
]


QUALIFIED = "live_work"
"""What "a qualified person" holds where a step does not say it."""


def blocker_digest(blocker: Blocker) -> str:
    """Give the digest by which a countersignature names what it accepted, figures included."""
    params = {name: str(value) for name, value in blocker.params.items()}
    return fingerprint([blocker.code, blocker.item, blocker.qualifier, params])


def _countersigned(record: Record, blocker: Blocker) -> bool:
    if not blocker.countersign:
        return False
    digest = blocker_digest(blocker)
    return any(entry.value["digest"] == digest for entry in record.countersigned)


def _missing(items: Iterable[Item[Any]], record: Record) -> list[Blocker]:
    found: list[Blocker] = []
    for item in items:
        given = {entry.qualifier for entry in record.live.get(item.key, ())}
        absent = [each for each in item.expected if each not in given]
        found += [MISSING(item.key, each, label=item.label) for each in absent]
        if not given and not item.expected:
            found.append(MISSING(item.key, label=item.label))
    return found


def _unpassed(step: Step[Any], record: Record) -> list[Blocker]:
    needed = {item.hold for item in step.items(record) if item.hold and item.needed}
    return [
        HOLD(act=hold.act)
        for hold in holds_of(step, record)
        if hold.slug in needed and (step.slug, hold.slug) not in record.holds
    ]


def _second(step: Step[Any], record: Record) -> list[Blocker]:
    item = step.signers.second
    given = None if item is None else record.given(item)
    if item is None or given is None:
        return []
    found: list[Blocker] = []
    today = record.now.date()
    if not any(given.value.holds(code, today) for code in step.signers.second_qualifications):
        found.append(SECOND_UNQUALIFIED(item.key))
    if step.signers.second_last:
        stale = changed_since(record, step.slug, given.seq)
        found += [SECOND_STALE(item.key)] if stale else []
    return found


def _withdrawn(step: Step[Any], record: Record) -> list[Blocker]:
    found = []
    for item in step.items(record):
        if item.shape is Shape.EQUIPMENT:
            for given in record.all(item):
                why = record.withdrawn.get(given.value.id)
                if why is not None:
                    found.append(WITHDRAWN(item.key, label=given.value.label, why=why))
    return found


@once_a_record
def _points(step: Step[Any], record: Record) -> tuple[Blocker, ...]:
    """Give what the step itself finds against its signature."""
    return step.blockers(record, step.assess(record))


@once_a_record
def gate(steps: Steps, record: Record, step: Step[Any]) -> tuple[Blocker, ...]:
    """Say everything that is missing or failing before the step can be signed as done."""
    early = (
        *closed_blockers(record),
        *order_blockers(steps, record, step),
        *signed_blockers(record, step),
    )
    if early:
        return early
    points = [
        *_unpassed(step, record),
        *_missing((item for item in step.items(record) if item.needed), record),
        *_withdrawn(step, record),
        *_points(step, record),
        *_second(step, record),
    ]
    return tuple(point for point in points if not _countersigned(record, point))


def signer_blockers(
    steps: Steps, signers: Signers, record: Record, by: PersonUsed
) -> list[Blocker]:
    """Say what stands against this person signing, whatever else is missing.

    Parameters
    ----------
    steps : Steps
        The steps of a job.
    signers : Signers
        Who may sign.
    record : Record
        The job as it stands.
    by : PersonUsed
        Who would sign.

    Returns
    -------
    list[Blocker]
        Role, qualification, second person, and steps that the same person signed.
    """
    found: list[Blocker] = []
    if by.role not in signers.roles:
        found.append(ROLE(roles=", ".join(signers.roles)))
    if signers.qualification and not by.holds(signers.qualification, record.now.date()):
        found.append(UNQUALIFIED(qualification=signers.qualification))
    second = None if signers.second is None else record.get(signers.second)
    if second is not None and second.id == by.id and signers.second is not None:
        found.append(SECOND_SAME(signers.second.key))
    signed = (*record.superseded, *record.signatures.values())
    done = {each.step for each in signed if each.by.id == by.id and each.outcome == "done"}
    titles = {step.slug: step.title for step in steps}
    barred = (slug for slug in signers.not_signer_of if slug in done)
    found += [SIGNER_OF(step=titles.get(slug, slug.replace("_", " "))) for slug in barred]
    return found


def sign_gate(steps: Steps, record: Record, step: Step[Any], by: PersonUsed) -> tuple[Blocker, ...]:
    """Say what stands against this person signing the step as done."""
    return (*gate(steps, record, step), *signer_blockers(steps, step.signers, record, by))


def not_needed_gate(
    steps: Steps, record: Record, step: Step[Any], by: PersonUsed
) -> tuple[Blocker, ...]:
    """Say what stands against this person signing the step as not needed.

    Notes
    -----
    A step that asks no qualification of its signer asks one of whoever says that it is not needed.
    """
    early = (
        *closed_blockers(record),
        *order_blockers(steps, record, step),
        *signed_blockers(record, step),
    )
    applies = () if step.skip(record) is not None else (APPLIES(),)
    qualified = replace(step.signers, qualification=step.signers.qualification or QUALIFIED)
    return (*early, *applies, *signer_blockers(steps, qualified, record, by))


def hold_gate(
    steps: Steps, record: Record, step: Step[Any], slug: str, by: PersonUsed | None = None
) -> tuple[Blocker, ...]:
    """Say what stands against passing a hold point (for this person, where one is given)."""
    early = (
        *closed_blockers(record),
        *order_blockers(steps, record, step),
        *signed_blockers(record, step),
    )
    if early:
        return early
    hold = next((h for h in holds_of(step, record) if h.slug == slug), None)
    if hold is None:
        return (NO_HOLD(),)
    if hold_passed(record, step, hold):
        return (PASSED(),)
    points = [*_missing(hold.needs, record), *_withdrawn(step, record), *hold.blockers]
    found = [point for point in points if not _countersigned(record, point)]
    if by is not None:
        own = hold.qualification
        signers = step.signers if own is None else replace(step.signers, qualification=own)
        found += [
            b for b in signer_blockers(steps, signers, record, by) if b.code != SIGNER_OF.code
        ]
    return tuple(found)


def proof_gate(
    steps: Steps, record: Record, *, round_name: str, by: PersonUsed
) -> tuple[ProofRound | None, tuple[Blocker, ...]]:
    """Judge a round of the proof that the second person has signed and `by` is about to sign.

    Returns
    -------
    tuple[ProofRound | None, tuple[Blocker, ...]]
        The judged round and what stands against writing the proof.
    """
    step = next((step for step in steps if step.prove is not None), None)
    if step is None or step.prove is None:
        return None, (NO_ROUND(),)
    early = [*closed_blockers(record), *order_blockers(steps, record, step)]
    if early:
        return None, tuple(early)
    judged = step.prove(record, round_name)
    today = record.now.date()
    found = [*judged.blockers]
    if by.role not in step.signers.roles:
        found.append(ROLE(roles=", ".join(step.signers.roles)))
    if not by.holds(step.signers.qualification, today):
        found.append(UNQUALIFIED(qualification=step.signers.qualification))
    second = judged.second
    if second is not None and by.id == second.id:
        found.append(SECOND_SAME())
    if second is not None and not any(
        second.holds(code, today) for code in step.signers.second_qualifications
    ):
        found.append(SECOND_UNQUALIFIED())
    return judged, tuple(found)


def countersignable(steps: Steps, record: Record) -> tuple[Blocker, ...]:
    """Give the points of the open step, and of its hold points, a manager may accept."""
    step = open_step(steps, record)
    if step is None:
        return ()
    points = [*_points(step, record)]
    points += [point for hold in holds_of(step, record) for point in hold.blockers]
    return tuple(p for p in points if p.countersign and not _countersigned(record, p))
