"""What holds a job, in one line, and since when: the most telling reason, not the first tick.

Order: a danger not released; a time that runs; the customer; equipment; a proof that lapsed; a
result that failed; a manager's decision; people; else the next act. Pure: the shop's people and
equipment come as `Floor`. Not here: the words (`jobs.views.holding_words`).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any, Final

from jobs.core.entry import Kind
from jobs.core.flow import countersignable, signer_blockers
from jobs.core.item import Shape
from jobs.core.quoted import in_force
from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.core.section import Said
from jobs.core.step import Step
from jobs.queries.behind import leak_so_far
from jobs.queries.floor import Floor
from jobs.queries.holding_codes import DANGER, EQUIPMENT, PEOPLE, VERDICTS
from jobs.queries.timers import Timer, timer_of
from jobs.queries.upcoming import Upcoming, asked_now, upcoming
from jobs.steps import STEPS
from jobs.steps.fault_localisation.items import ANSWER, QUOTATION, answered, stopped
from jobs.steps.intake.items import AUTHORITY
from workshop.registers import EquipmentInfo

__all__ = ["WAITS", "Holding", "holding", "moved_at"]

WAITS: Final = (
    "danger",
    "customer",
    "arrival",
    "cure",
    "waiting_time",
    "reading_24h",
    "rest",
    "equipment",
    "person",
    "proof",
    "verdict",
    "manager",
    "collection",
)
"""What a job may wait for; anything else that holds it is the shop's own next act."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """What holds a job.

    Attributes
    ----------
    waits_for : str
        One of `WAITS`, or "hold", "signature", "work" for the next act of the shop.
    said : Said | Blocker
        What holds it; of a blocker its first sentence is meant.
    which : str
        Qualifier: which one of a collection.
    fact : Said | None
        The fact behind it, where it is known here.
    since : datetime | None
        Since when it holds; None while it lies ahead.
    until : datetime | None
        When the time that runs is over.
    """

    waits_for: str
    said: Said | Blocker
    which: str = ""
    fact: Said | None = None
    since: datetime | None = None
    until: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """A job with an open step, and what is missing in it."""

    record: Record
    step: Step[Any]
    floor: Floor
    missing: tuple[Blocker, ...]
    before: tuple[Blocker, ...]

    @property
    def all(self) -> tuple[Blocker, ...]:
        return (*self.missing, *self.before)

    def coded(self, codes: Iterable[str]) -> Blocker | None:
        """Give the first point with one of these codes that an entry in force gave rise to."""
        wanted, live = frozenset(codes), self.record.live
        return next(
            (b for b in self.all if b.code in wanted and (not b.item or b.item in live)), None
        )

    def entered_at(self, item: str, qualifier: str = "") -> datetime:
        """Give when the last value of an item was entered; else when the job last moved."""
        values = self.record.live.get(item, ())
        exact = [entry.at for entry in values if entry.qualifier == qualifier]
        return max(exact or [entry.at for entry in values], default=moved_at(self.record))


def moved_at(record: Record) -> datetime:
    """Give when the last entry was made that can change what holds a job.

    A refusal changes nothing, and so do notes and pictures.
    """
    for entry in reversed(record.entries):
        beside = entry.kind is Kind.VALUE and entry.item.endswith(("note", "photo"))
        if entry.kind is not Kind.REFUSAL and not beside:
            return entry.at
    return record.now


def _midnight(record: Record, day: date) -> datetime:
    return datetime.combine(day, time(), record.now.tzinfo)


def _arrival(case: _Case, arrives_on: date | None) -> Holding | None:
    """Say that the vehicle is not here yet: nothing of intake was entered."""
    touched = any(key.partition(".")[0] == case.step.slug for key in case.record.live)
    if case.step is not STEPS[0] or touched or arrives_on is None:
        return None
    today, fact = case.record.now.date(), Said("authority for the diagnosis not signed yet")
    on = {"arrives_on": arrives_on.isoformat()}
    if arrives_on > today:
        return Holding(waits_for="arrival", said=Said("Arrives {arrives_on}", on), fact=fact)
    text = "Due today, not taken in" if arrives_on == today else "Due {arrives_on}, not taken in"
    since = _midnight(case.record, arrives_on)
    return Holding(waits_for="arrival", said=Said(text, on), fact=fact, since=since)


def _danger(case: _Case) -> Holding | None:
    found = next((b for b in case.all if b.code in DANGER), None)
    if found is None:
        return None
    since = case.entered_at(DANGER[found.code] or found.item, found.qualifier)
    return Holding(waits_for="danger", said=found, which=found.qualifier, since=since)


def _after(step: Step[Any], record: Record) -> str:
    """Name the step that comes then, left out what is not needed."""
    later = STEPS[[each.slug for each in STEPS].index(step.slug) + 1 :]
    return next((each.title for each in later if each.skip(record) is None), "")


def _timed(case: _Case) -> Holding | None:
    """Say which time runs, and what can be done meanwhile or comes then."""
    found: Timer | None = timer_of(case.record, case.all)
    if found is None:
        return None
    asked = (case.missing, case.before)
    act = upcoming(case.record, case.step, asked, leave_out=frozenset({found.item}))
    idle = found.waits_for == "waiting_time" or act.item is None
    then = _after(case.step, case.record)
    fact = Said("then {step}", {"step": then}) if then else None
    if not idle:
        fact = Said("meanwhile: {label}", {"label": act.label})
    return Holding(
        waits_for=found.waits_for, said=found.said, fact=fact, since=found.since, until=found.until
    )


def _quoted(case: _Case) -> Holding | None:
    """Say that a quotation is open: it is written and not answered in its present version."""
    record, version = case.record, in_force(case.record, QUOTATION)
    mine = case.step.slug == QUOTATION.key.partition(".")[0]
    if not mine or version is None or answered(record) or stopped(record):
        return None
    until, quoted = version.given.value.valid_until, version.given.value
    money = f"{quoted.total} {quoted.currency}".strip()
    fact = Said(
        "version {version}, {total_money}", {"version": version.number, "total_money": money}
    )
    text = "Quotation open: the customer has not answered"
    if record.has(ANSWER):
        text = "Quotation changed: the customer has to answer again"
    if until is not None and until < record.now.date():
        text = "Quotation ran out unanswered"
    if until is not None:
        more = {**fact.params, "until_on": until.isoformat()}
        fact = Said("version {version}, {total_money}, valid until {until_on}", more)
    return Holding(waits_for="customer", said=Said(text), fact=fact, since=version.given.at)


def _customer(case: _Case, act: Upcoming) -> Holding | None:
    """Say that only the customer can go on: a quotation, an authority, a refusal."""
    quoted = _quoted(case)
    if quoted is not None:
        return quoted
    old = case.coded({"intake_authority_old"})
    if old is not None:
        since = case.entered_at("intake.price_cap")
        return Holding(waits_for="customer", said=old, since=since)
    if act.item is None or act.item.shape is not Shape.DRAWN:
        return None
    text = "Customer has to sign: {label}"
    if act.item.key == AUTHORITY.key:
        text = "Authority to diagnose not signed"
    since = moved_at(case.record)
    return Holding(waits_for="customer", said=Said(text, {"label": act.label}), since=since)


def _other_piece(piece_id: str, pieces: Iterable[EquipmentInfo]) -> Said:
    usable = [each.label for each in pieces if each.usable and each.id != piece_id]
    if usable:
        return Said("may be used: {pieces}", {"pieces": ", ".join(usable[:3])})
    return Said("no other one may be used")


def _lapsed(case: _Case, found: Blocker) -> Holding:
    """Say since when the picked piece is out of date, and whether there is another one."""
    given = case.record.live.get(found.item, ())
    exact = [entry for entry in given if entry.qualifier == found.qualifier] or list(given)
    stored = exact[-1].value if exact and isinstance(exact[-1].value, dict) else {}
    fact = _other_piece(
        str(stored.get("id", "")), case.floor.of_kinds((str(stored.get("kind", "")),))
    )
    picked, due = case.entered_at(found.item, found.qualifier), stored.get("due_on")
    over = None if not due else _midnight(case.record, date.fromisoformat(due) + timedelta(days=1))
    if over is None or over > case.record.now:
        return Holding(waits_for="equipment", said=found, fact=fact, since=picked)
    params = {"piece": str(stored.get("label", "")), "since_on": over.date().isoformat()}
    said = Said("{piece} out of date since {since_on}", params)
    return Holding(waits_for="equipment", said=said, fact=fact, since=max(picked, over))


def _equipment(case: _Case) -> Holding | None:
    found = case.coded(EQUIPMENT)
    return None if found is None else _lapsed(case, found)


def _none_left(case: _Case, act: Upcoming) -> Holding | None:
    """Say that the shop has no piece in date of a kind that is asked for next."""
    if act.item is None or act.item.shape is not Shape.EQUIPMENT or not case.floor.known:
        return None
    pieces = case.floor.of_kinds(act.item.kinds)
    if any(piece.usable for piece in pieces):
        return None
    newest = max((p for p in pieces if p.due_on), key=lambda p: p.due_on or date.min, default=None)
    fact = Said("there is none in the register")
    if newest is not None and newest.due_on is not None:
        params = {"piece": newest.label, "due_on": newest.due_on.isoformat()}
        fact = Said("{piece} was good until {due_on}", params)
    said = Said("{label}: none may be used", {"label": act.label})
    since = moved_at(case.record)
    return Holding(waits_for="equipment", said=said, fact=fact, since=since)


def _nobody(case: _Case) -> bool:
    """Tell whether nobody in the shop is left who may sign the open step."""
    asked = case.step.signers
    return all(signer_blockers(STEPS, asked, case.record, each) for each in case.floor.people)


def _person(case: _Case, act: Upcoming) -> Holding | None:
    """Say who is missing: somebody qualified, or the second person."""
    since = moved_at(case.record)
    found = case.coded(PEOPLE)
    if found is not None:
        at = case.entered_at(found.item, found.qualifier)
        return Holding(waits_for="person", said=found, since=at)
    if case.floor.people and _nobody(case):
        said = Said("Nobody here may sign: {title}", {"title": case.step.title})
        held = Said(
            "asked for: {qualification}", {"qualification": case.step.signers.qualification}
        )
        return Holding(waits_for="person", said=said, fact=held, since=since)
    if act.item is None or act.item.shape is not Shape.SIGNATURE:
        return None
    said = Said("Somebody else has to sign: {label}", {"label": act.label})
    return Holding(waits_for="person", said=said, which=act.qualifier, since=since)


def _proof(case: _Case) -> Holding | None:
    """Say that the proof lapsed which the open step needs, or which it is about."""
    proof, asked = case.record.proof, {blocker.item for blocker in case.all}
    needs = any(item.needs_proof and item.key in asked for item in case.step.items(case.record))
    lapsed = proof is not None and not proof.holds_at(case.record.now)
    if proof is None or not lapsed or not (needs or case.step.prove is not None):
        return None
    at = proof.until if proof.ended_at is None else min(proof.until, proof.ended_at)
    text = (
        "Proof of absence of voltage ran out"
        if proof.ended_at is None
        else "Proof of absence of voltage ended"
    )
    fact = Said(
        "at {ended_at}; prove it again before work on the circuit", {"ended_at": at.isoformat()}
    )
    return Holding(waits_for="proof", said=Said(text), fact=fact, since=at)


def _verdict(case: _Case) -> Holding | None:
    found = case.coded(VERDICTS)
    if found is None:
        return None
    since = case.entered_at(found.item, found.qualifier)
    decide = found.countersign
    return Holding(
        waits_for="manager" if decide else "verdict",
        said=found,
        which=found.qualifier,
        fact=Said("a manager may accept it with a reason") if decide else None,
        since=since,
    )


def _manager(case: _Case) -> Holding | None:
    """Say that a value beyond the shop's own limit waits for a manager."""
    live = case.record.live
    found = next((b for b in countersignable(STEPS, case.record) if b.item in live), None)
    if found is None:
        return None
    fact = Said("a manager may accept it with a reason")
    return Holding(
        waits_for="manager",
        said=found,
        fact=fact,
        since=case.entered_at(found.item, found.qualifier),
    )


def _next(case: _Case, act: Upcoming, narrowed: Said | None) -> Holding:
    """Say what the shop does next, after how far the leak is narrowed."""
    since = moved_at(case.record)
    if narrowed is not None:
        fact = Said("next: {label}", {"label": act.label})
        return Holding(waits_for="work", said=narrowed, fact=fact, since=since)
    texts = {
        "enter": ("work", "Next: {label}"),
        "hold": ("hold", "Hold point: before {act}"),
        "prove": ("signature", "Proof of absence of voltage to be signed"),
        "sign": ("signature", "To be signed: {title}"),
        "none": ("work", "{title}"),
    }
    kind, text = texts[act.act]
    named = {"label": act.label, "act": act.label, "title": act.label or case.step.title}
    said: Said | Blocker = Said(text, named)
    if act.act == "none":
        mended = [blocker for blocker in case.all if blocker.item in case.record.live]
        said = (mended or list(case.all))[0]
    return Holding(waits_for=kind, said=said, which=act.qualifier, since=since)


def holding(
    record: Record,
    step: Step[Any] | None,
    floor: Floor,
    arrives_on: date | None,
) -> Holding:
    """Say what holds a job that is not closed.

    Parameters
    ----------
    record : Record
        The job as it stands.
    step : Step | None
        Its open step; None when all are signed.
    floor : Floor
        The shop's people and equipment.
    arrives_on : date | None
        When it is to arrive.

    Returns
    -------
    Holding
        The most telling reason.
    """
    if step is None:
        since = max((each.at for each in record.signatures.values()), default=record.now)
        ends = {each.ends for each in record.signatures.values()} - {""}
        text = "Stopped: to be handed back" if ends else "Ready to hand over"
        return Holding(waits_for="collection", said=Said(text), since=since)
    missing, before = asked_now(record, step)
    case = _Case(record=record, step=step, floor=floor, missing=missing, before=before)
    early = _danger(case) or _arrival(case, arrives_on) or _timed(case)
    if early is not None:
        return early
    act = upcoming(record, step, (missing, before))
    narrowed = None if act.item is None else leak_so_far(record, act.item.key)
    found = (
        _customer(case, act)
        or _equipment(case)
        or _proof(case)
        or _verdict(case)
        or _manager(case)
        or _none_left(case, act)
        or _person(case, act)
    )
    return found or _next(case, act, narrowed)
