"""A job's timeline: what happened when, whom it waited for in between, and the picture of it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext
from django.views.decorators.http import require_GET

from jobs.core.course_picture import Lane, Tick, course_picture
from jobs.core.order import holds_of
from jobs.core.record import Record
from jobs.queries.course import PARTIES, Course, Happening, Wait, course_of, waited
from jobs.report.against_quoted import against_quoted
from jobs.report.wording import Wording
from jobs.steps import STEPS
from jobs.views.holding_words import WAIT_TITLES, sentence
from jobs.views.job import found
from jobs.views.page import wording_for
from packs.picture import Ink
from packs.svg import svg
from workshop import figures_text
from workshop.people import MANAGER
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["ENDED", "PARTY_TITLES", "timeline_page"]

PARTY_TITLES: Final = {
    "customer": "Customer",
    "parts": "Parts",
    "equipment": "Equipment",
    "time": "Times that run",
    "shop": "The shop",
    "work": "Work",
}
"""Whom or what a job waits for, and work that goes on."""
ENDED: Final = {
    "handed_over": "repaired",
    "declined": "declined",
    "not_found": "not found",
}
"""How a job was closed."""
_INKS: Final[Mapping[str, Ink]] = {
    "customer": "maybe",
    "parts": "maybe",
    "equipment": "maybe",
    "time": "soft",
    "shop": "ink",
    "work": "petrol",
}
_WHAT: Final = {
    "booked": "Booked in",
    "arrived": "Taken in",
    "begun": "{step} begun",
    "signed": "{step} signed",
    "not_needed": "{step} signed as not needed",
    "reopened": "{step} re-opened: {detail}",
    "hold": "Hold point passed: before {detail}",
    "proof": "Circuit outside the pack proven dead",
    "quoted": "Quotation, version {detail}, written",
    "answered": "Customer answered: {detail}",
    "accepted": "Accepted by a manager: {detail}",
    "withdrawn": "Equipment withdrawn or corrected: {detail}",
    "closed": "Closed: {detail}",
}
_ANSWERS: Final = {"approved": "approved", "declined": "declined"}
_MOST_TICKS: Final = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of the list: something that happened, or a wait with its length."""

    at: datetime
    text: str
    person: str = ""
    lasted: str = ""
    party: str = ""
    note: str = ""


def _hold_act(record: Record, slug: str, hold: str) -> str:
    """Give the act a hold point stands before; its name where the step asks it no more."""
    step = next((each for each in STEPS if each.slug == slug), None)
    holds = () if step is None else holds_of(step, record)
    act = next((each.act for each in holds if each.slug == hold), "")
    return gettext(act) if act else hold.replace("_", " ")


def _detail(each: Happening, record: Record) -> str:
    if each.what == "hold":
        return _hold_act(record, each.step, each.detail)
    if each.what == "closed":
        return gettext(ENDED.get(each.detail, each.detail))
    if each.what == "answered":
        return gettext(_ANSWERS.get(each.detail, each.detail))
    return each.detail


def _happened(each: Happening, record: Record, words: Wording) -> Line:
    title = next((gettext(step.title) for step in STEPS if step.slug == each.step), "")
    text = gettext(_WHAT[each.what]).format(step=title, detail=_detail(each, record))
    lasted = "" if each.length_s is None else figures_text.duration(each.length_s)
    note = gettext("{lasted} since it was begun").format(lasted=lasted) if lasted else ""
    return Line(at=each.at, text=text, person=words.name(each.person), note=note)


def _waiting(wait: Wait, now: datetime, words: Wording) -> Line:
    said = "" if wait.said is None else sentence(wait.said, now, words)
    title = WAIT_TITLES.get(wait.waits_for)
    text = gettext("Waited for {what}").format(what=gettext(title)) if title else ""
    if wait.party == "parts":
        text = gettext("Waited for the new part")
    return Line(
        at=wait.since,
        text=text or gettext("Stood in the shop"),
        lasted=figures_text.duration(wait.length_s),
        party=wait.party,
        note=said,
    )


def _lines(course: Course, record: Record, words: Wording) -> list[Line]:
    """Put what happened and the waits into one list; a wait follows what began it."""
    happened = [(each.at, 0, _happened(each, record, words)) for each in course.happenings]
    waits = [
        (wait.since, 1, _waiting(wait, record.now, words))
        for wait in course.waits
        if wait.party != "work"
    ]
    return [line for _at, _order, line in sorted([*happened, *waits], key=lambda row: row[:2])]


def _days(begin: datetime, end: datetime, zone: ZoneInfo) -> Iterator[tuple[datetime, str]]:
    """Give the midnights between two times, as many as fit on the scale."""
    first, last = begin.astimezone(zone).date(), end.astimezone(zone).date()
    days = (last - first).days
    step = max(1, -(-days // _MOST_TICKS))
    for number in range(step, days + 1, step):
        day = first + timedelta(days=number)
        yield datetime.combine(day, time(), zone), f"{day.day}.{day.month}."


def _picture(course: Course, words: Wording) -> SafeString:
    begin, end = course.waits[0].since, course.ends_at
    whole_s = max((end - begin).total_seconds(), 1.0)

    def share(moment: datetime) -> float:
        return (moment - begin).total_seconds() / whole_s

    totals = waited(course.waits)
    lanes = [
        Lane(
            name=gettext(PARTY_TITLES[party]),
            total=figures_text.duration(totals[party]),
            spans=tuple((share(w.since), share(w.until)) for w in course.waits if w.party == party),
            ink=_INKS[party],
        )
        for party in PARTIES
        if totals[party] > 0
    ]
    ticks = [Tick(share(at), text) for at, text in _days(begin, end, words.zone)]
    drawn = svg(course_picture(lanes, ticks, gettext("Whom it waited for, and when")))
    return mark_safe(drawn)  # noqa: S308 - svg escapes its texts


def _against(role: str, record: Record, course: Course) -> dict[str, object]:
    """Give the manager what was quoted beside what was done, once there is something to tell."""
    if role != MANAGER or course.arrived_at is None:
        return {}
    found = against_quoted(record, course)
    return {"against": found, "worked": figures_text.duration(found.worked_h * 3600.0)}


@require_GET
@signed_on()
def timeline_page(request: ShopRequest, job_id: str) -> HttpResponse:
    """Show a job's course: the list in order with lengths, totals by party, and the picture."""
    info, record = found(job_id)
    words, course = wording_for(info, record), course_of(info, record)
    arrived = course.arrived_at
    totals = waited(course.waits, arrived)
    context = {
        "job": info,
        "lines": _lines(course, record, words),
        "arrived_at": arrived,
        "ends_at": course.ends_at,
        "in_shop": ""
        if arrived is None
        else figures_text.duration((course.ends_at - arrived).total_seconds()),
        "totals": [
            (gettext(PARTY_TITLES[party]), figures_text.duration(totals[party]))
            for party in PARTIES
            if arrived is not None and totals[party] > 0
        ],
        "picture": _picture(course, words) if course.waits else "",
        **_against("" if request.person is None else request.person.role, record, course),
    }
    return render(request, "jobs/timeline.html", context)
