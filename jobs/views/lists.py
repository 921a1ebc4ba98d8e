"""Today and Open jobs."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET

from jobs.queries.disposal import OLD_DAYS, awaiting
from jobs.queries.floor import Floor
from jobs.queries.lists import OpenJob, closed_jobs, open_now
from jobs.queries.record_check import RecordCheck, last_check
from jobs.queries.tablets import came_after_all, held_back
from jobs.queries.today import RunsOut, TodayInfo, today
from jobs.queries.wanted import PROMISED, SORTS, Wanted, meant, wanted_from
from jobs.report.wording import Wording
from jobs.steps import STEPS
from jobs.views.first_day import to_enter
from jobs.views.handed_over import calls_to_make, handed_over
from jobs.views.holding_words import (
    WAIT_TITLES,
    ListRow,
    list_rows,
    on_day,
    summary_of,
    when,
)
from jobs.views.tablets import aside_rows
from workshop import clock
from workshop import queries as shop
from workshop.backups import backup_state
from workshop.people import FRONT_DESK, MANAGER, TECHNICIAN
from workshop.serving.authority.ending import ending
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["open_jobs_page", "today_page"]

RECORD_CHECK_OLD = timedelta(days=3)
"""After this a manager is told that the record was not verified."""
TIMER_TITLES = {
    "cure": "Cure time over",
    "waiting_time": "Waiting time over",
    "reading_24h": "24 h reading due",
    "rest": "Rest of the spare over",
    "proof": "Proof of absence of voltage runs out",
}
"""What is at the end of each time that runs."""


@dataclass(frozen=True, slots=True)
class TimerLine:
    """A time that runs out today, in words."""

    job: OpenJob
    at: str
    what: str


def _words(floor: Floor) -> Wording:
    here = shop.shop()
    return Wording(zone=here.zone, names=floor.names, currency=here.currency)


def _open(wanted: Wanted, now: datetime, me: str) -> dict[str, Any]:
    """Give the open jobs that are wanted, and what is said of all of them."""
    day = shop.local_day(now)
    found = open_now(now=now, today=day)
    waits = {row.waits_for for row in found.rows} | {wanted.waits}
    return {
        "rows": list_rows(meant(found.rows, wanted, day, me), now, _words(found.floor)),
        "summary": summary_of(found.rows),
        "checks": found.checks,
        "waits": [(code, gettext(title)) for code, title in WAIT_TITLES.items() if code in waits],
    }


def _choices(titles: dict[str, str]) -> list[tuple[str, str]]:
    return [(code, gettext(title)) for code, title in titles.items()]


@require_GET
@signed_on()
def open_jobs_page(request: ShopRequest) -> HttpResponse:
    """Show what is open and what holds each job, or the closed jobs; all asked in the address."""
    wanted = wanted_from(request.GET)
    closed = request.GET.get("closed", "") == "1"
    page = shop.page_number(request.GET.get("page", ""))
    me = "" if request.person is None else request.person.id
    context = {
        "me": me,
        "wanted": wanted,
        "search": wanted.search,
        "closed": closed,
        "steps": STEPS,
        "promises": _choices(PROMISED),
        "sorts": _choices(SORTS),
        "found": closed_jobs(wanted.search, page) if closed else None,
        **({} if closed else _open(wanted, clock.now(), me)),
    }
    return render(request, "jobs/open_jobs.html", context)


def _timer_lines(found: Iterable[RunsOut], now: datetime, words: Wording) -> list[TimerLine]:
    return [
        TimerLine(each.row, when(each.until, now, words), gettext(TIMER_TITLES[each.kind]))
        for each in found
        if each.kind in TIMER_TITLES
    ]


def _sections(found: TodayInfo, now: datetime, words: Wording) -> dict[str, tuple[ListRow, ...]]:
    """Put every list of jobs into words."""
    names = ("unsafe", "overdue", "deciding", "arriving", "collectable", "mine")
    return {name: list_rows(getattr(found, name), now, words) for name in names}


def _tablets(now: datetime, words: Wording) -> dict[str, Any]:
    """Say what has not arrived from tablets, and what came after it had been set aside."""
    gone = [(each, when(each.since, now, words)) for each in held_back(now) if each.since]
    return {"tablets": gone, "came": aside_rows(came_after_all(now))}


def _record_check(role: str, now: datetime) -> RecordCheck | None:
    """Give a manager the last verification where it found a fault or is long ago."""
    last = last_check() if role == MANAGER else None
    if last is None or (not last.faults and now - last.at < RECORD_CHECK_OLD):
        return None
    return last


@require_GET
@signed_on()
def today_page(request: ShopRequest) -> HttpResponse:
    """Show what is due today, most urgent first; a technician's own jobs before that."""
    now, me = clock.now(), request.person
    day = shop.local_day(now)
    found = today(now=now, day=day, person="" if me is None else me.id)
    words = _words(found.floor)
    role = "" if me is None else me.role
    context = {
        **_sections(found, now, words),
        "day": day,
        "found": found,
        "me": "" if me is None else me.id,
        "handed": handed_over(found, words, day),
        "to_call": calls_to_make(found, day),
        "cured": [(row, when(row.cured_at, now, words)) for row in found.cured if row.cured_at],
        "timers": _timer_lines(found.timers, now, words),
        "lapsing": [(piece, on_day(piece.due_on, day)) for piece in found.lapsing],
        "own_first": role == TECHNICIAN,
        "people": found.people if role == MANAGER else None,
        "backup": backup_state(now),
        "certificate": ending(Path(settings.COLDBUS_DATA), now) if role == MANAGER else None,
        "record_check": _record_check(role, now),
        **_tablets(now, words),
        "to_enter": to_enter(role, day),
        "disposals": [each for each in awaiting(now) if each.old] if role != FRONT_DESK else [],
        "old_days": OLD_DAYS,
    }
    return render(request, "jobs/today.html", context)
