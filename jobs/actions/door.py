"""The one door: a draft comes in, an answer goes out, whoever sends it and however often.

Idempotent by key: the same key with the same content gives the stored answer again; with other
content it is a `Conflict`. Only "applied" and "refused" are stored.
"""

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from jobs.actions import chain, closing, logs, quarantine, sealed_pin, signing, stock, values
from jobs.actions.context import Act, Allowed, Refused, refusal_value
from jobs.actions.from_paper import take_from_paper
from jobs.actions.overtaken import ELSEWHERE, recorded_elsewhere
from jobs.actions.practice import job_time
from jobs.core.draft import Answer, Draft
from jobs.core.entry import Json, Kind
from jobs.core.item import Shape, read_person
from jobs.core.order import find_item
from jobs.core.paper import ONLY_VALUES
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.seal import fingerprint
from jobs.models import ChainHead, Job, Verdict
from jobs.queries.practice_shelf import COLLEAGUE_PIN, colleague, snapshot_of_person
from jobs.queries.records import fold_job
from jobs.steps import STEPS
from workshop import errors as shop_errors
from workshop import queries as shop
from workshop.actions import check_pin
from workshop.people import PersonInfo
from workshop.tickets import person_of_ticket
from workshop.writing import one_writer

__all__ = ["REASONS", "Conflict", "post"]

NO_JOB = Reason("no_such_job", "There is no such job.")
NOT_IN_SHOP = Reason("person_unknown", "This person does not work here any more.")
NOT_BY_HAND = Reason("kind_not_sent", "Entries of this kind are not sent.")

REASONS = (NO_JOB, NOT_IN_SHOP, NOT_BY_HAND, ELSEWHERE)


class Conflict(Exception):
    """The key was used before for other content."""


_WITH_PIN = {Kind.SIGN, Kind.HOLD, Kind.PROOF, Kind.REOPEN, Kind.COUNTERSIGN, Kind.CLOSE}


@dataclass(frozen=True, slots=True)
class _Moment:
    """The server's time (UTC) of a sending, and the fingerprint of what was sent."""

    now: datetime
    content: str


def _content(draft: Draft) -> Json:
    """Give what makes two sendings the same; the PIN is no part of it."""
    return {
        "job": draft.job,
        "kind": str(draft.kind),
        "item": draft.item,
        "qualifier": draft.qualifier,
        "value": draft.value,
        "person": draft.person,
        "device": draft.device,
        "device_seq": draft.device_seq,
        "tablet_time": draft.tablet_time,
        **({} if draft.paper is None else {"paper": draft.paper}),
        **({} if draft.clock_offset_s is None else {"clock_offset_s": draft.clock_offset_s}),
    }


def _needs_pin(draft: Draft, signed_on: PersonInfo, record: Record) -> bool:
    if draft.kind in _WITH_PIN or (draft.person and draft.person != signed_on.id):
        return True
    found = find_item(STEPS, record, draft.item)
    return found is not None and found[1].shape is Shape.SIGNATURE


def _pin_answer(job: Job, draft: Draft, person: str, moment: _Moment) -> Answer | None:
    """Check the PIN; None when it is right. A simulated colleague's stands on the page."""
    pin = draft.pin or sealed_pin.pin_in(draft, moment.content, moment.now)
    again = not draft.pin and sealed_pin.was_wrong(draft)
    if not pin or again:
        return Answer(key=draft.key, verdict="pin")
    if job.practice and colleague(person) is not None:
        return None if pin == COLLEAGUE_PIN else Answer(key=draft.key, verdict="pin")
    checked = check_pin(person, pin, moment.now)
    if checked.state == "right":
        return None
    if checked.state == "wrong" and not draft.pin:
        sealed_pin.remember_wrong(draft, moment.now)
    return Answer(
        key=draft.key,
        verdict="pin",
        tries_left=checked.tries_left,
        locked_until="" if checked.until is None else checked.until.isoformat(),
    )


def _stored(row: Verdict, draft: Draft, content: str) -> Answer:
    if row.fingerprint != content or str(row.job_id) != draft.job:
        raise Conflict(draft.key)
    blockers = tuple(Blocker(**point) for point in row.answer["blockers"])
    return Answer(
        key=draft.key,
        verdict=row.verdict,
        blockers=blockers,
        head=row.answer["head"],
        seq=row.answer["seq"],
    )


def _keep(act: Act, answer: Answer, content: str) -> Answer:
    points = [
        {
            "code": point.code,
            "text": point.text,
            "item": point.item,
            "qualifier": point.qualifier,
            "params": dict(point.params),
            "countersign": point.countersign,
        }
        for point in answer.blockers
    ]
    Verdict.objects.create(
        key=uuid.UUID(answer.key),
        job=act.job,
        fingerprint=content,
        verdict=answer.verdict,
        answer={"blockers": points, "head": answer.head, "seq": answer.seq},
        at=act.now,
        device=act.draft.device,
        device_seq=act.draft.device_seq,
    )
    return answer


def _new_entry(act: Act, kind: Kind, key: str, done: Allowed) -> chain.NewEntry:
    draft = act.draft
    return chain.NewEntry(
        key=key,
        kind=kind,
        person=act.by.id,
        at=act.now,
        item=draft.item if kind is Kind.VALUE else "",
        qualifier=draft.qualifier if kind is Kind.VALUE else "",
        value=done.value,
        effect=done.effect,
        seen_head=draft.seen_head,
        device=draft.device,
        device_seq=draft.device_seq,
        tablet_time=draft.tablet_time,
        clock_offset_s=draft.clock_offset_s,
        paper=done.paper,
    )


def _take_value(act: Act) -> Allowed | Refused:
    """Enter a value, unless another tablet was first and this one has not seen it."""
    unseen = recorded_elsewhere(act)
    return values.take_value(act) if unseen is None else Refused((unseen,))


_ACTS: dict[Kind, Callable[[Act], Allowed | Refused]] = {
    Kind.VALUE: _take_value,
    Kind.STRIKE: values.strike,
    Kind.SIGN: signing.sign,
    Kind.HOLD: signing.pass_hold,
    Kind.PROOF: signing.prove,
    Kind.PROOF_END: signing.end_proof,
    Kind.REOPEN: signing.reopen,
    Kind.COUNTERSIGN: signing.countersign,
    Kind.REVISION: closing.choose_revision,
    Kind.CLOSE: closing.close,
}


def _by_nobody(_act: Act) -> Refused:
    return Refused((NOT_BY_HAND(),))


def _only_values(act: Act) -> Allowed | Refused:
    """Take what comes from paper, which is values and nothing else."""
    return take_from_paper(act) if act.draft.kind is Kind.VALUE else Refused((ONLY_VALUES(),))


def _carry_out(act: Act, head: ChainHead) -> Answer:
    """Do the act or refuse it, and write what has to be written."""
    draft = act.draft
    handler = _ACTS.get(draft.kind, _by_nobody)
    outcome = _only_values(act) if draft.paper is not None else handler(act)
    real = not act.job.practice
    against = stock.barred(act, outcome.value) if real and isinstance(outcome, Allowed) else ()
    if against:
        outcome = Refused(against, recorded=draft.kind is Kind.SIGN)
    workshop_id = shop.shop().workshop_id
    if isinstance(outcome, Allowed):
        new = _new_entry(act, draft.kind, draft.key, outcome)
        entry = chain.append(act.job, head, new, workshop_id=workshop_id)
        if real:
            quarantine.follow(act.job, entry, now=act.now)
        if draft.kind is Kind.CLOSE:
            act.job.closed_at = act.now
            act.job.save(update_fields=("closed_at",))
        if real:
            stock.follow(act, outcome.value, head)
        return Answer(key=draft.key, verdict="applied", head=entry.hash, seq=entry.seq)
    if outcome.recorded and act.record.closed is None:
        value = refusal_value(act, outcome.blockers)
        key = str(uuid.uuid5(uuid.UUID(draft.key), "refusal"))
        new = _new_entry(act, Kind.REFUSAL, key, Allowed(value))
        chain.append(act.job, head, new, workshop_id=workshop_id)
    return Answer(
        key=draft.key, verdict="refused", blockers=outcome.blockers, head=head.hash, seq=0
    )


def _snapshot(job: Job, person: str, now: datetime) -> Json | None:
    """Give a person as the entry keeps them; None for nobody who works here."""
    if job.practice:
        known = colleague(person) or shop.person(person)
        return None if known is None or not known.active else snapshot_of_person(known)
    try:
        return shop.person_snapshot(person, shop.local_day(now))
    except shop_errors.Refused:
        return None


def _at_tablet(draft: Draft, signed_on: PersonInfo | None, now: datetime) -> PersonInfo | None:
    """Say who was at the tablet: by the draft's ticket, else whoever is signed on now."""
    if draft.ticket and (signed_on is None or signed_on.id != draft.person):
        return person_of_ticket(draft.ticket, now) or signed_on
    return signed_on


def post(draft: Draft, *, signed_on: PersonInfo | None, now: datetime) -> Answer:
    """Take one draft and answer it.

    Parameters
    ----------
    draft : Draft
        What was sent; well formed (`jobs.sync` sees to that).
    signed_on : PersonInfo | None
        Who is signed on at the device that sent it.
    now : datetime
        The server's time (UTC).

    Returns
    -------
    Answer
        "applied" and "refused" are final and stored; "pin", "auth" and "later" are not.

    Raises
    ------
    Conflict
        When the key was used before for other content.
    """
    at_tablet = _at_tablet(draft, signed_on, now)
    if at_tablet is None:
        return Answer(key=draft.key, verdict="auth")
    content = fingerprint(_content(draft))
    logs.ahead(draft, now)
    with one_writer():
        try:
            head = chain.lock_head(uuid.UUID(draft.job))
        except ChainHead.DoesNotExist:
            return Answer(key=draft.key, verdict="refused", blockers=(NO_JOB(),))
        job = head.job
        stored = Verdict.objects.filter(key=uuid.UUID(draft.key)).first()
        if stored is not None:
            return _stored(stored, draft, content)
        moment = job_time(job, now)
        record = fold_job(job.id, head_hash=head.hash, now=moment)
        person = draft.person or at_tablet.id
        if _needs_pin(draft, at_tablet, record):
            refused = _pin_answer(job, draft, person, _Moment(now, content))
            if refused is not None:
                return refused
        snapshot = _snapshot(job, person, moment)
        if snapshot is None:
            return Answer(key=draft.key, verdict="refused", blockers=(NOT_IN_SHOP(),))
        act = Act(
            draft=draft,
            job=job,
            record=record,
            by=read_person(snapshot),
            by_snapshot=snapshot,
            now=moment,
        )
        return _keep(act, _carry_out(act, head), content)
