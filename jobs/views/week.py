"""The jobs finished in a week: the page, stepped through by its address, and the table as CSV."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET

from jobs.queries.course import PARTIES
from jobs.report.week import Finished, Week, monday_of, week_of, week_read
from jobs.views.course import ENDED, PARTY_TITLES
from workshop import clock, figures_text
from workshop import queries as shop
from workshop.csv_cells import csv_text
from workshop.downloads import document
from workshop.people import FRONT_DESK, MANAGER
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["week_csv", "week_page"]

_DAY_S: Final = 86_400
_HEADINGS: Final = (
    "Job",
    "Vehicle",
    "Plate or pack",
    "Taken to closed [days]",
    "Closed at",
    "Result",
    "Steps re-opened",
    "Isolation before [ohm/V]",
    "Isolation after [ohm/V]",
    "Modules that leaked",
    "Modules replaced",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekRow:
    """A finished job in words."""

    row: Finished
    result: str
    in_shop: str
    waits: tuple[tuple[str, str], ...]


def _waits(waited_s: Mapping[str, float]) -> tuple[tuple[str, str], ...]:
    """Say the time by party, the longest first; work is none."""
    longest = sorted(PARTIES, key=lambda party: -waited_s[party])
    return tuple(
        (gettext(PARTY_TITLES[party]), figures_text.duration(waited_s[party]))
        for party in longest
        if waited_s[party] > 0
    )


def _row(row: Finished) -> WeekRow:
    return WeekRow(
        row=row,
        result=gettext(ENDED.get(row.how, row.how)),
        in_shop=figures_text.duration(row.in_shop_s),
        waits=_waits(row.waited_s),
    )


def _name(monday: date) -> str:
    """Name a week as its address does."""
    year, number, _ = monday.isocalendar()
    return f"{year}-W{number:02d}"


def _asked(request: ShopRequest) -> Week:
    today = shop.local_day(clock.now())
    return week_of(week_read(request.GET.get("week", ""), today))


@require_GET
@signed_on(MANAGER, FRONT_DESK)
def week_page(request: ShopRequest) -> HttpResponse:
    """Show a week's finished jobs with totals; the week stands in the address."""
    week, this = _asked(request), monday_of(shop.local_day(clock.now()))
    following = week.monday + timedelta(days=7)
    context = {
        "week": week,
        "name": _name(week.monday),
        "rows": [_row(row) for row in week.rows],
        "results": [(gettext(ENDED[how]), week.count(how)) for how in ENDED],
        "mean": "" if week.mean_s is None else figures_text.duration(week.mean_s),
        "waits": _waits(week.waited_s),
        "before": _name(week.monday - timedelta(days=7)),
        "after": _name(following) if following <= this else "",
        "is_this": week.monday == this,
    }
    return render(request, "jobs/week.html", context)


def _days(seconds: float) -> str:
    return f"{seconds / _DAY_S:.2f}"


def _lines(week: Week) -> Iterator[list[object]]:
    """Give the lines of the table: numbers bare, their unit in the heading."""
    zone = shop.shop().zone
    for row in week.rows:
        closed_at = row.job.closed_at
        yield [
            row.job.number,
            row.job.title,
            row.job.plate,
            _days(row.in_shop_s),
            "" if closed_at is None else f"{closed_at.astimezone(zone):%Y-%m-%d %H:%M}",
            gettext(ENDED.get(row.how, row.how)),
            row.reopened,
            None if row.before_ohm_per_v is None else f"{row.before_ohm_per_v:.4g}",
            None if row.after_ohm_per_v is None else f"{row.after_ohm_per_v:.4g}",
            " ".join(row.leaking),
            row.replaced,
            *(_days(row.waited_s[party]) for party in PARTIES),
        ]


@require_GET
@signed_on(MANAGER, FRONT_DESK, office=True)
def week_csv(request: ShopRequest) -> HttpResponse:
    """Give a week's finished jobs as a table; no words about a customer stand in it."""
    week = _asked(request)
    waits = [gettext("{party} [days]").format(party=gettext(PARTY_TITLES[p])) for p in PARTIES]
    text = csv_text([*(gettext(each) for each in _HEADINGS), *waits], _lines(week))
    return document(text, "text/csv; charset=utf-8", f"finished-{_name(week.monday)}.csv")
