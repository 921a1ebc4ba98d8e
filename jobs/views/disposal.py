"""Pages of disposals: one module's records and form, a year's list, and its table as CSV."""

from collections.abc import Iterator
from datetime import datetime
from typing import Any, Final

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods

from jobs.actions.attachments import keep_photo
from jobs.actions.disposal import RECEIVERS, record_disposal
from jobs.actions.quarantine import may_end
from jobs.core.disposal import CLASSES, SOURCE
from jobs.core.reason import InputRefused
from jobs.queries.disposal import (
    OLD_DAYS,
    Recorded,
    Subject,
    awaiting,
    recorded_between,
    records_of,
    subject_of,
)
from jobs.report.wording import Wording
from jobs.views.disposal_form import DisposalForm
from workshop import clock
from workshop import queries as shop
from workshop.csv_cells import csv_text
from workshop.downloads import document
from workshop.people import FRONT_DESK, MANAGER
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["disposal_of", "disposals_csv", "disposals_page"]

_YEARS: Final = range(2000, 2200)
_HEADINGS: Final = (
    "Handed over on",
    "Module or spare",
    "Job",
    "Class",
    "UN number",
    "Special provision",
    "Packing",
    "Weight [kg]",
    "Charge [%]",
    "Poles insulated",
    "Receiver",
    "Kind of receiver",
    "Consignment paper",
    "Remark",
    "Recorded by",
    "Recorded at",
)


def _row(each: Recorded, names: Any) -> dict[str, Any]:
    values = each.values
    return {
        "record": each,
        "condition": gettext(CLASSES[values["condition"]].title),
        "receiver_kind": gettext(RECEIVERS[values["receiver_kind"]]),
        "name": names.get(each.person, gettext("somebody who has left")),
    }


def _rows(found: tuple[Recorded, ...]) -> list[dict[str, Any]]:
    names = shop.names({each.person for each in found})
    return [_row(each, names) for each in found]


def _photo(request: ShopRequest, subject: Subject, by: str) -> str:
    """Keep the picture with the module's job."""
    file = request.FILES.get("photo")
    if file is None or not subject.job_id:
        return ""
    kept, _type = keep_photo(job_id=subject.job_id, raw=file.read(), by=by, now=clock.now())
    return kept


def _form(request: ShopRequest, subject: Subject) -> DisposalForm:
    asked: dict[str, Any] = {"watched": subject.watched, "with_photo": bool(subject.job_id)}
    if request.method == "POST":
        return DisposalForm(request.POST, request.FILES, **asked)
    last = records_of(subject.id)
    known = {**last[-1].values, "note": "", "photo": ""} if last else {}
    first = {"handed_on": shop.local_day(clock.now()), **known}
    return DisposalForm(initial=first, **asked)


@require_http_methods(["GET", "POST"])
@signed_on()
def disposal_of(request: ShopRequest, subject_id: str) -> HttpResponse:
    """Show where a module went, and take a record; what was typed stays when it is refused."""
    subject, reader = subject_of(subject_id), request.person
    if subject is None or reader is None:
        raise Http404
    form = _form(request, subject)
    if request.method == "POST" and form.is_valid():
        try:
            photo = _photo(request, subject, reader.id)
            new = form.new_disposal(subject.id, photo)
            record_disposal(new=new, by=reader.id, pin=form.cleaned_data["pin"], now=clock.now())
        except InputRefused as refused:
            words = Wording(zone=shop.shop().zone)
            form.refuse(refused.blocker, words.said(refused.blocker))
        else:
            messages.success(request, gettext("Recorded."))
            return redirect("jobs:disposal", subject_id=subject.id)
    rows = _rows(records_of(subject.id))
    context = {
        "subject": subject,
        "rows": rows[::-1],
        "form": form,
        "guidance_source": SOURCE,
        "may_record": may_end(reader, clock.now()),
    }
    return render(request, "jobs/disposal.html", context, status=422 if form.errors else 200)


def _year(request: ShopRequest) -> int:
    text = request.GET.get("year", "")
    this = shop.local_day(clock.now()).year
    known = text.isascii() and text.isdigit() and len(text) == 4 and int(text) in _YEARS  # noqa: PLR2004
    return int(text) if known else this


def _recorded(year: int) -> tuple[Recorded, ...]:
    zone = shop.shop().zone
    return recorded_between(
        datetime(year, 1, 1, tzinfo=zone), datetime(year + 1, 1, 1, tzinfo=zone)
    )


@require_GET
@signed_on()
def disposals_page(request: ShopRequest) -> HttpResponse:
    """Show what awaits its disposal, and what was recorded in a year."""
    year, this = _year(request), shop.local_day(clock.now()).year
    role = "" if request.person is None else request.person.role
    context = {
        "year": year,
        "before": year - 1,
        "after": year + 1 if year < this else 0,
        "rows": _rows(_recorded(year)),
        "awaiting": awaiting(clock.now()),
        "old_days": OLD_DAYS,
        "may_export": role in {MANAGER, FRONT_DESK},
    }
    return render(request, "jobs/disposals.html", context)


def _lines(year: int) -> Iterator[list[object]]:
    zone = shop.shop().zone
    for row in _rows(_recorded(year)):
        each, values = row["record"], row["record"].values
        yield [
            values["handed_on"],
            each.serial,
            values["job"],
            row["condition"],
            values["number"],
            values["provision"],
            values["packing"],
            values["weight_kg"],
            values["charge_percent"],
            gettext("yes") if values["terminals"] else gettext("no"),
            values["receiver"],
            row["receiver_kind"],
            values["paper"],
            values["note"],
            row["name"],
            f"{each.at.astimezone(zone):%Y-%m-%d %H:%M}",
        ]


@require_GET
@signed_on(MANAGER, FRONT_DESK, office=True)
def disposals_csv(request: ShopRequest) -> HttpResponse:
    """Give a year's disposals as a table."""
    year = _year(request)
    text = csv_text([gettext(each) for each in _HEADINGS], _lines(year))
    return document(text, "text/csv; charset=utf-8", f"disposals-{year}.csv")
