"""Lines for the accounting program: of one job, and of the jobs closed in a period."""

from datetime import date, timedelta

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET

from jobs.queries.closed import closed_between
from jobs.queries.records import job_info, record_of
from jobs.report.accounting import accounting_csv
from workshop import clock
from workshop import queries as shop
from workshop.downloads import document
from workshop.sign_on import signed_on

__all__ = ["accounting_file", "accounting_page", "job_file"]

LONGEST = timedelta(days=366)
"""A period is a year at most, so that nobody waits for all there ever was."""


def _csv(content: bytes, name: str) -> HttpResponse:
    return document(content, "text/csv; charset=utf-8", f"{name}.csv")


def _comma(request: HttpRequest) -> bool:
    return request.GET.get("decimal") == "comma"


@require_GET
@signed_on("front_desk", "manager", office=True)
def job_file(request: HttpRequest, job_id: str) -> HttpResponse:
    """Give the lines of one job; a practice has none."""
    info, record = job_info(job_id), record_of(job_id, now=clock.now())
    if info is None or record is None or info.practice:
        raise Http404
    content = accounting_csv([(info, record)], comma=_comma(request))
    return _csv(content, f"lines-not-an-invoice-{info.number}")


def _day(typed: str) -> date | None:
    try:
        return date.fromisoformat(typed)
    except ValueError:
        return None


def _period(request: HttpRequest) -> tuple[date | None, date | None, str]:
    """Read from when to when, and what is wrong with it; empty where nothing is."""
    first, last = (_day(request.GET.get(name, "")) for name in ("from", "to"))
    if first is None or last is None:
        return first, last, gettext("Choose the first and the last day.")
    if last < first:
        return first, last, gettext("The last day lies before the first.")
    if last - first > LONGEST:
        return first, last, gettext("Choose a year at most.")
    return first, last, ""


def _shown(request: HttpRequest, fault: str, status: int = 200) -> HttpResponse:
    today = shop.local_day(clock.now())
    before = today.replace(day=1) - timedelta(days=1)
    context = {
        "fault": fault,
        "first": request.GET.get("from") or before.replace(day=1).isoformat(),
        "last": request.GET.get("to") or before.isoformat(),
        "comma": _comma(request),
    }
    return render(request, "jobs/accounting.html", context, status=status)


@require_GET
@signed_on("front_desk", "manager")
def accounting_page(request: HttpRequest) -> HttpResponse:
    """Ask for the period; the month before is proposed."""
    return _shown(request, "")


@require_GET
@signed_on("front_desk", "manager", office=True)
def accounting_file(request: HttpRequest) -> HttpResponse:
    """Give the lines of the jobs closed in a period, or say what is wrong with the period."""
    if "from" not in request.GET:
        return _shown(request, "")
    first, last, fault = _period(request)
    if fault or first is None or last is None:
        return _shown(request, fault, 422)
    found = list(closed_between(first, last, now=clock.now()))
    if not found:
        return _shown(request, gettext("No job was closed in this period."))
    content = accounting_csv(found, comma=_comma(request))
    return _csv(content, f"lines-not-an-invoice-{first.isoformat()}-to-{last.isoformat()}")
