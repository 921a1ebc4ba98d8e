"""Everything a job's screen shows, gathered before the template runs."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext

from jobs.core.closing import close_gate
from jobs.core.entry import Kind
from jobs.core.flow import gate
from jobs.core.high_voltage import high_voltage
from jobs.core.item import PersonUsed
from jobs.core.order import find_item, open_step, step_state
from jobs.core.record import Record
from jobs.core.step import Step
from jobs.queries.desk import desk_now, keys_in
from jobs.queries.practice_shelf import acting
from jobs.queries.records import JobInfo
from jobs.queries.signed import record_shown
from jobs.report.wording import Wording, wording_of
from jobs.steps import STEPS
from jobs.views.behind import Behind, behind_sign
from jobs.views.cards import Bench, Pick
from jobs.views.desk_words import where_words
from jobs.views.groups import Group, groups_of, with_next
from jobs.views.panel import Panel, panel_of
from jobs.views.picks import people_picks, picks_for, revision_picks
from jobs.views.points import HoldCard, Places, Point, hold_cards, hold_missing, points_of
from workshop import queries as shop
from workshop.figures_text import clock_time
from workshop.people import PersonInfo

__all__ = [
    "WORKED_ON",
    "Band",
    "StepLine",
    "StepPage",
    "band_of",
    "from_paper",
    "person_used",
    "step_lines",
    "step_page",
    "wording_for",
]

WORKED_ON = {"open", "reopened"}


@dataclass(frozen=True, slots=True)
class StepLine:
    """One step in the list at the left."""

    number: int
    slug: str
    title: str
    state: str
    name: str
    at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """The state of the high voltage in words."""

    state: str
    proof_holds: bool
    names: str
    since: str
    until: str
    ended: str


@dataclass(frozen=True, slots=True)
class Next:
    """The one thing to do next, and where it stands."""

    label: str
    anchor: str = ""
    which: str = ""
    page: str = ""

    @property
    def href(self) -> str:
        """Where it stands: on this page, or on the page of another step."""
        return self.page or f"#{self.anchor}"


@dataclass(frozen=True, slots=True)
class ProofCard:
    """A round of the proof of absence of voltage that was read, with what stands against it."""

    round: str
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class FromPaper:
    """What the bar says before a sheet is typed in."""

    sheet: str
    written: str
    offset: str


def from_paper(page: "StepPage") -> "StepPage":
    """Give the page on which everything entered is typed in from a sheet."""
    now = page.record.now
    number = next(line.number for line in page.lines if line.slug == page.step.slug)
    bar = FromPaper(f"{page.job.number}-{number}-", f"{now:%Y-%m-%dT%H:%M}", now.isoformat()[-6:])
    return replace(page, paper=bar)


@dataclass(frozen=True, slots=True, kw_only=True)
class StepPage:
    """A step's screen."""

    job: JobInfo
    record: Record
    lines: tuple[StepLine, ...]
    step: Step[Any]
    state: str
    band: Band
    groups: tuple[Group, ...]
    holds: tuple[HoldCard, ...]
    points: tuple[Point, ...]
    panel: Panel
    skip: str
    proof: ProofCard | None
    revisions: tuple[Pick, ...]
    closing: str
    closing_points: tuple[Point, ...]
    people: tuple[Pick, ...]
    signature_line: StepLine
    cautions: str
    untouched: bool
    proving: str
    next: Next | None
    paper: FromPaper | None = None
    booked: str = ""
    vin_differs: bool = False
    desk: str | None = None
    behind: Behind | None = None


def wording_for(job: JobInfo, record: Record) -> Wording:
    """Give the words for a job: its people, its erasable texts, the workshop's zone."""
    return wording_of(job.id, record)


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


def _proof(step: Step[Any], record: Record, places: Places, words: Wording) -> ProofCard | None:
    """Give the newest round whose readings are in force and not used in a proof yet."""
    if step.prove is None:
        return None
    rounds = [
        part.removeprefix("round=")
        for values in record.live.values()
        for entry in values
        for part in entry.qualifier.split(";")
        if entry.item.startswith(step.slug + ".") and part.startswith("round=")
    ]
    newest = max(rounds, key=lambda name: (len(name), name), default="")
    used = record.proof is not None and record.proof.round == newest
    if not newest or used:
        return None
    return ProofCard(newest, points_of(step.prove(record, newest).blockers, places, words))


def person_used(person: PersonInfo) -> PersonUsed:
    """Give a signed-on person as the flow sees them."""
    held = {each.code: each.expires_on for each in person.qualifications}
    return PersonUsed(person.id, person.role, held)


def _clock(moment: str, words: Wording) -> str:
    return clock_time(datetime.fromisoformat(moment), words.zone) if moment else ""


def _cause(ended_by: str, record: Record) -> str:
    """Say what ended the proof: a cause that was told, or the item that did it."""
    causes = {
        "keys_moved": gettext("keys or lock left the holder's hands"),
        "supply_connected": gettext("12 V supply connected"),
        "charging_cable": gettext("charging cable connected"),
        "taken_over": gettext("another technician took over"),
        "struck": gettext("an entry it rested on was struck"),
        "reopened": gettext("a step it rested on was re-opened"),
        "withdrawn": gettext("equipment it rested on was withdrawn"),
        "corrected": gettext("ratings of equipment it rested on were corrected"),
        "revision": gettext("the pack definition was changed"),
    }
    found = find_item(STEPS, record, ended_by)
    item = ended_by.rpartition(".")[2].replace("_", " ") if found is None else found[1].label
    return causes.get(ended_by, gettext(item) if item else "")


def _newest(step: Step[Any], record: Record) -> str:
    """Give the last value entered in a step that is worked on, which the page shows large."""
    mine = (
        entry.key
        for entry in reversed(record.entries)
        if entry.kind is Kind.VALUE
        and entry.item.startswith(f"{step.slug}.")
        and entry.key not in record.gone
    )
    return next(mine, "")


def band_of(record: Record, words: Wording) -> Band:
    """Give the state of the high voltage in words."""
    band = high_voltage(record)
    names = [words.name(each) for each in (band.technician, band.second) if each]
    return Band(
        state=band.state,
        proof_holds=band.proof_holds,
        names=gettext(" and ").join(names),
        since=_clock(band.since, words),
        until=_clock(band.until, words),
        ended=_cause(band.ended_by, record),
    )


def _booked(job: JobInfo) -> str:
    """Say what the register knows of the vehicle, to be compared with what stands here."""
    vehicle = job.vehicle
    if vehicle is None:
        return ""
    vin = vehicle.vin or gettext("VIN not known yet")
    return ", ".join(filter(None, (job.title, vehicle.plate, vin)))


def _desk(job: JobInfo, record: Record) -> str | None:
    """Say where vehicle and keys are and whose job it is; None where there is no desk."""
    if job.practice:
        return None
    state = desk_now(job.id)
    who = shop.person(state.assigned) if state.assigned else None
    name = "" if who is None else who.short_name
    return ", ".join(filter(None, (where_words(state, keys_in(record)), name)))


def _vin_differs(job: JobInfo, record: Record, step: Step[Any]) -> bool:
    """Tell whether the VIN read at the vehicle is another one than the register's."""
    read = next((e.value for e in record.live.get(f"{step.slug}.vin", ())), "")
    booked = "" if job.vehicle is None else job.vehicle.vin
    return bool(read and booked) and read.strip().upper() != booked.strip().upper()


@dataclass(frozen=True, slots=True)
class _Work:
    """What there is to do in a step: its cards, hold points and points, and what is next."""

    groups: tuple[Group, ...]
    holds: tuple[HoldCard, ...]
    points: tuple[Point, ...]
    proof: ProofCard | None
    places: Places
    next: Next | None = None


def _work(step: Step[Any], record: Record, bench: Bench, state: str, job: str) -> _Work:
    """Gather what is to be done in a step, before anybody has said what is next."""
    words, on = bench.words, state in WORKED_ON
    missing = gate(STEPS, record, step)
    asked = (*missing, *hold_missing(step, record)) if on else ()
    last = step.signers.second.key if step.signers.second and step.signers.second_last else ""
    groups, card = with_next(groups_of(step, bench), asked, last)
    places = Places.on(job, step, groups, record)
    holds = hold_cards(step, record_shown(record, step).record, places, words)
    work = _Work(
        groups=groups,
        holds=holds,
        points=points_of(missing, places, words),
        proof=_proof(step, record, places, words) if state != "waiting" else None,
        places=places,
    )
    shown = None if card is None else Next(gettext(card.item.label), card.anchor, card.which)
    return replace(work, next=(shown or _act(step, work)) if on else None)


def _act(step: Step[Any], work: _Work) -> Next | None:
    """Give the act that is next where nothing is to be entered: hold point, proof or signature."""
    for hold in work.holds:
        if hold.open and not hold.points:
            return Next(gettext("Hold point: before {act}").format(act=hold.act), hold.anchor)
    if work.proof is not None and not work.proof.points:
        return Next(gettext("Sign the proof"), "prove")
    if not work.points:
        return Next(gettext("Sign: {title}").format(title=gettext(step.title)), "sign")
    return None


def _proving(job: JobInfo, record: Record, step: Step[Any]) -> str:
    """Give the page where the circuit is proven dead, while it is not and that is elsewhere."""
    proves = next((each for each in STEPS if each.prove is not None), None)
    if proves is None or proves is step or record.proof_holds():
        return ""
    return reverse("jobs:step", args=(job.id, proves.slug))


def _onward(job: JobInfo, step: Step[Any], state: str, open_now: Step[Any] | None) -> Next | None:
    """From a signed step, lead on to the one that is open."""
    if state in WORKED_ON or open_now is None or open_now is step:
        return None
    return Next(gettext(open_now.title), page=reverse("jobs:step", args=(job.id, open_now.slug)))


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
    words, people = wording_for(job, record), people_picks(record)
    lines = step_lines(record, words)
    mine = next(line for line in lines if line.slug == step.slug)
    newest = _newest(step, record) if mine.state in WORKED_ON else ""
    picks = picks_for(step, record, people)
    tax = shop.shop().tax_percent
    by = person_used(acting(person) if job.practice else person)
    bench = Bench(record, by, picks, words, newest, tax)
    work = _work(step, record, bench, mine.state, str(job.id))
    how, closing = close_gate(STEPS, record)
    open_now, skipped = open_step(STEPS, record), step.skip(record)
    shown = record_shown(record, step).record
    return StepPage(
        job=job,
        record=record,
        lines=lines,
        step=step,
        state=mine.state,
        band=band_of(record, words),
        groups=work.groups,
        holds=work.holds,
        points=work.points,
        panel=panel_of(step.section(shown, step.assess(shown)), words),
        skip="" if skipped is None or open_now is not step else words.said(skipped()),
        proof=work.proof,
        revisions=revision_picks(record),
        closing=how if open_now is None and record.closed is None else "",
        closing_points=points_of(closing, work.places, words),
        people=people,
        signature_line=mine,
        cautions=f"jobs/steps/{step.slug}.html",
        untouched=not any(item.startswith(f"{step.slug}.") for item in record.live),
        proving=_proving(job, record, step),
        next=work.next or _onward(job, step, mine.state, open_now),
        booked=_booked(job) if step is STEPS[0] else "",
        vin_differs=_vin_differs(job, record, step),
        desk=_desk(job, record),
        behind=behind_sign(step, bench) if mine.state == "waiting" else None,
    )
