"""Everything a job's screen shows, gathered before the template runs."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from jobs.core.closing import close_gate
from jobs.core.flow import blocker_digest, gate, hold_gate
from jobs.core.high_voltage import HighVoltage, high_voltage
from jobs.core.item import PersonUsed, Shape
from jobs.core.order import hold_passed, open_step, step_state
from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.core.section import Section
from jobs.core.step import Step
from jobs.queries.records import JobInfo, people_in, personal_texts
from jobs.queries.signed import record_shown
from jobs.report.svg import svg
from jobs.report.wording import Wording
from jobs.steps import STEPS
from jobs.views.cards import Bench, Card, Group, Pick, Picks, anchor_of, groups_of
from packs import queries as packs
from workshop import queries as shop
from workshop.figures_text import clock_time
from workshop.people import PersonInfo

__all__ = ["Point", "StepLine", "StepPage", "step_lines", "step_page", "wording_for"]


@dataclass(frozen=True, slots=True)
class StepLine:
    """One step in the list at the left."""

    number: int
    slug: str
    title: str
    state: str
    name: str
    at: datetime | None


@dataclass(frozen=True, slots=True)
class Point:
    """One point that is missing, with where to mend it."""

    text: str
    anchor: str
    digest: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldCard:
    """A hold point, asked before the act."""

    step: str
    slug: str
    act: str
    cautions: tuple[str, ...]
    passed_by: str
    passed_at: datetime | None
    points: tuple[Point, ...]
    open: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A fact in words."""

    label: str
    value: str
    verdict: str
    limit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """What the readings say, in words."""

    verdict: str
    headline: str
    advice: tuple[str, ...]
    warnings: tuple[str, ...]
    lines: tuple[Line, ...]
    pictures: tuple[SafeString, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepPage:
    """A step's screen."""

    job: JobInfo
    record: Record
    lines: tuple[StepLine, ...]
    step: Step[Any]
    state: str
    band: HighVoltage
    band_names: str
    since: str
    until: str
    ended: str
    groups: tuple[Group, ...]
    holds: tuple[HoldCard, ...]
    points: tuple[Point, ...]
    panel: Panel
    skip: str
    proof_rounds: tuple[str, ...]
    revisions: tuple[Pick, ...]
    closing: str
    closing_points: tuple[Point, ...]
    people: tuple[Pick, ...]
    signature_line: StepLine
    cautions: str
    untouched: bool
    next: Card | None


def wording_for(job: JobInfo, record: Record) -> Wording:
    """Give the words for a job: its people, its erasable texts, the workshop's zone."""
    return Wording(zone=shop.shop().zone, names=people_in(record), personal=personal_texts(job.id))


def step_lines(record: Record, words: Wording) -> tuple[StepLine, ...]:
    """Give the eight steps with who signed each and when."""
    lines = []
    for number, step in enumerate(STEPS, start=1):
        signature = record.signatures.get(step.slug)
        lines.append(
            StepLine(
                number,
                step.slug,
                step.title,
                step_state(STEPS, record, step),
                "" if signature is None else words.name(signature.by.id),
                None if signature is None else signature.at,
            )
        )
    return tuple(lines)


def _point(words: Wording, blocker: Blocker) -> Point:
    qualifier = words.qualifier(blocker.qualifier)
    text = words.said(blocker)
    return Point(
        f"{text} ({qualifier})" if qualifier else text,
        anchor_of(blocker.item, blocker.qualifier) if blocker.item else "",
        blocker_digest(blocker) if blocker.countersign else "",
    )


def _holds(step: Step[Any], record: Record, words: Wording) -> tuple[HoldCard, ...]:
    cards = []
    for hold in step.holds(record, step.assess(record)):
        entry = record.holds.get((step.slug, hold.slug))
        passed = hold_passed(record, step, hold)
        blockers = () if passed else hold_gate(STEPS, record, step, hold.slug)
        cards.append(
            HoldCard(
                step=step.slug,
                slug=hold.slug,
                act=gettext(hold.act),
                cautions=tuple(gettext(caution) for caution in hold.cautions),
                passed_by=words.name(entry.person) if passed and entry is not None else "",
                passed_at=entry.at if passed and entry is not None else None,
                points=tuple(_point(words, blocker) for blocker in blockers),
                open=not passed,
            )
        )
    return tuple(cards)


def panel_of(section: Section, words: Wording) -> Panel:
    """Put a section into words."""
    return Panel(
        verdict=section.verdict,
        headline="" if section.headline is None else words.said(section.headline),
        advice=tuple(words.said(each) for each in section.advice),
        warnings=tuple(words.said(each) for each in section.warnings),
        lines=tuple(
            Line(
                label=gettext(fact.label),
                value=words.words(fact.value),
                verdict=fact.verdict,
                limit=words.limit(fact.limit, fact.limit_kind, fact.limit_source),
            )
            for fact in section.facts
        ),
        # Every text inside a picture is escaped where it is drawn.
        pictures=tuple(mark_safe(svg(picture)) for picture in section.pictures),  # noqa: S308
    )


def _people() -> tuple[Pick, ...]:
    return tuple(Pick(each.id, each.short_name, usable=True) for each in shop.people())


def _picks(step: Step[Any], record: Record, people: tuple[Pick, ...]) -> Picks:
    """Ask the registers for what this step's items may pick."""
    items = step.items(record)
    today = shop.local_day(record.now)
    kinds = {kind for item in items for kind in item.kinds}
    equipment = {
        kind: tuple(
            Pick(
                each.id,
                f"{each.label} ({each.kind_title})",
                each.usable,
                "" if each.usable else str(each.reason),
            )
            for each in shop.equipment_of_kind(kind, today)
        )
        for kind in sorted(kinds)
    }
    wants_spare = any(item.shape is Shape.SPARE for item in items)
    spares = (
        tuple(
            Pick(
                str(each.id), f"{each.serial}, {each.part}", usable=not each.quarantined,
                why=gettext("quarantined") if each.quarantined else "",
            )
            for each in packs.spares()
        )
        if wants_spare
        else ()
    )  # fmt: skip
    return Picks(equipment=equipment, spares=spares, people=people)


def _revisions(record: Record) -> tuple[Pick, ...]:
    found = []
    for pack in packs.packs_list():
        info = packs.latest_revision(pack.slug)
        if str(info.id) != record.revision:
            label = gettext("{name}, revision {number}").format(name=pack.name, number=info.number)
            found.append(Pick(str(info.id), label, usable=True))
    return tuple(found)


def _proof_rounds(step: Step[Any], record: Record) -> tuple[str, ...]:
    """Give the rounds of the proof whose readings are in force."""
    if step.prove is None:
        return ()
    rounds = [
        part.removeprefix("round=")
        for values in record.live.values()
        for entry in values
        for part in entry.qualifier.split(";")
        if entry.item.startswith(step.slug + ".") and part.startswith("round=")
    ]
    newest = max(rounds, key=lambda name: (len(name), name), default="")
    used = record.proof is not None and record.proof.round == newest
    return (newest,) if newest and not used else ()


def person_used(person: PersonInfo) -> PersonUsed:
    """Give a signed-on person as the flow sees them."""
    held = {each.code: each.expires_on for each in person.qualifications}
    return PersonUsed(person.id, person.role, held)


def _clock(moment: str, words: Wording) -> str:
    return clock_time(datetime.fromisoformat(moment), words.zone) if moment else ""


def _cause(ended_by: str) -> str:
    """Say what ended the proof: a cause that was told, or the item that did it."""
    causes = {
        "keys_moved": gettext("keys or lock left the holder's hands"),
        "supply_connected": gettext("12 V supply connected"),
        "charging_cable": gettext("charging cable connected"),
        "taken_over": gettext("another technician took over"),
    }
    return causes.get(ended_by, ended_by.rpartition(".")[2].replace("_", " "))


def step_page(job: JobInfo, record: Record, step: Step[Any], person: PersonInfo) -> StepPage:
    """Gather a step's screen.

    Parameters
    ----------
    job : JobInfo
        The job.
    record : Record
        Its record as of now.
    step : Step
        The step to show.
    person : PersonInfo
        Who looks at it.

    Returns
    -------
    StepPage
        Everything the template shows; it asks the database nothing more.
    """
    words = wording_for(job, record)
    people = _people()
    bench = Bench(record, person_used(person), _picks(step, record, people), words)
    groups = groups_of(step, bench)
    lines = step_lines(record, words)
    mine = next(line for line in lines if line.slug == step.slug)
    band = high_voltage(record)
    how, closing = close_gate(STEPS, record)
    skipped = step.skip(record)
    open_now = open_step(STEPS, record)
    shown = record_shown(record, step).record
    section = step.section(shown, step.assess(shown))
    names = [words.name(each) for each in (band.technician, band.second) if each]
    return StepPage(
        job=job,
        record=record,
        lines=lines,
        step=step,
        state=mine.state,
        band=band,
        band_names=gettext(" and ").join(names),
        since=_clock(band.since, words),
        until=_clock(band.until, words),
        ended=_cause(band.ended_by),
        groups=groups,
        holds=_holds(step, record, words),
        points=tuple(_point(words, blocker) for blocker in gate(STEPS, record, step)),
        panel=panel_of(section, words),
        skip="" if skipped is None or open_now is not step else words.said(skipped()),
        proof_rounds=_proof_rounds(step, record),
        revisions=_revisions(record),
        closing=how if open_now is None and record.closed is None else "",
        closing_points=tuple(_point(words, blocker) for blocker in closing),
        people=people,
        signature_line=mine,
        cautions=f"jobs/steps/{step.slug}.html",
        untouched=not any(item.startswith(f"{step.slug}.") for item in record.live),
        next=next((card for group in groups for card in group.cards if card.next), None),
    )
