"""Today and Open jobs."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.dates import WEEKDAYS
from django.utils.translation import gettext
from django.views.decorators.http import require_GET

from jobs.queries.lists import OpenJob, TodayInfo, closed_jobs, open_jobs, today
from jobs.report.wording import Wording
from workshop import clock, figures_text
from workshop import queries as shop
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["open_jobs_page", "today_page"]

BAND: Final = {
    "not_proven": "High voltage not proven dead",
    "proven": "Circuit outside the pack proven dead",
    "lapsed": "Proof has lapsed",
    "pack_open": "Pack open: live parts cannot be switched off",
}

DAYS_NAMED: Final = 7
"""Days ahead that are named by their weekday."""


@dataclass(frozen=True, slots=True)
class ListRow:
    """One job of a list, in words."""

    row: OpenJob
    holds: str
    more: int
    high_voltage: str
    since: str
    promised: str


def _since(moment: datetime, now: datetime) -> str:
    """Say how long something has stood, to the minute."""
    minutes = max(1, int((now - moment).total_seconds() // 60))
    return figures_text.duration(60 * minutes)


def _on(day: date | None, today: date) -> str:
    """Say a day as it is said in the shop: today, tomorrow, by its name within the week."""
    if day is None:
        return figures_text.NONE
    near = {-1: gettext("yesterday"), 0: gettext("today"), 1: gettext("tomorrow")}
    away = (day - today).days
    if 1 < away < DAYS_NAMED:
        return str(WEEKDAYS[day.weekday()])
    return near.get(away, figures_text.day(day))


def _in_words(rows: Iterable[OpenJob], now: datetime, words: Wording) -> tuple[ListRow, ...]:
    today = now.astimezone(words.zone).date()
    return tuple(
        ListRow(
            row,
            words.said(row.holds[0]).removesuffix(".") if row.holds else "",
            max(len(row.holds) - 1, 0),
            gettext(BAND[row.high_voltage.state]),
            _since(row.since, now),
            _on(row.job.promised_on, today),
        )
        for row in rows
    )


def _matches(row: OpenJob, search: str) -> bool:
    vehicle = row.job.vehicle
    parts = [row.job.number, row.job.title, row.job.plate, row.job.customer.name]
    parts += [] if vehicle is None else [vehicle.vin]
    text = " ".join(parts).casefold()
    return all(word in text for word in search.casefold().split())


@require_GET
@signed_on()
def open_jobs_page(request: ShopRequest) -> HttpResponse:
    """Show what is open and what holds each job; search and step kept in the address."""
    now = clock.now()
    search, step = request.GET.get("q", "")[:100], request.GET.get("step", "")
    rows = open_jobs(now=now, today=shop.local_day(now))
    shown = [r for r in rows if _matches(r, search) and step in {"", r.step_slug}]
    words = Wording(zone=shop.shop().zone)
    context = {
        "rows": _in_words(shown, now, words),
        "total": len(rows),
        "search": search,
        "step": step,
        "steps": rows[0].strip if rows else (),
        "closed": closed_jobs() if "closed" in request.GET else (),
    }
    return render(request, "jobs/open_jobs.html", context)


def _today_lists(found: TodayInfo, now: datetime, words: Wording) -> dict[str, tuple[ListRow, ...]]:
    return {
        "arriving": _in_words(found.arriving, now, words),
        "collectable": _in_words(found.collectable, now, words),
        "unsafe": _in_words(found.unsafe, now, words),
        "overdue": _in_words(found.overdue, now, words),
    }


@require_GET
@signed_on()
def today_page(request: ShopRequest) -> HttpResponse:
    """Show what arrives, what can be collected, what is unsafe or overdue."""
    now = clock.now()
    day = shop.local_day(now)
    found = today(now=now, day=day)
    words = Wording(zone=shop.shop().zone)
    lapsed = [piece for piece in shop.all_equipment(day) if not piece.usable]
    context = {**_today_lists(found, now, words), "open_count": found.open_count, "lapsed": lapsed}
    return render(request, "jobs/today.html", {**context, "day": day})
