"""Jobs of a customer or a vehicle, and erasing a customer's personal data on request."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext, ngettext
from django.views.decorators.http import require_GET, require_http_methods

from jobs.actions.erasing import erase_customer, erase_person
from jobs.queries.belonging import jobs_of_customer, jobs_of_vehicle
from jobs.queries.lists import state_of
from jobs.queries.records import JobInfo, fold_job
from jobs.views.forms import EraseForm
from workshop import clock, errors
from workshop import queries as shop
from workshop.people import FRONT_DESK, MANAGER
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["customer_jobs", "erase", "vehicle_jobs"]


@dataclass(frozen=True, slots=True)
class JobLine:
    """A job and where it stands; no step where it is closed or all steps are signed."""

    job: JobInfo
    step_title: str


def _lines(jobs: Iterable[JobInfo], now: datetime) -> tuple[JobLine, ...]:
    """Say of each job where it stands; closed ones are not folded."""
    today = shop.local_day(now)
    return tuple(
        JobLine(
            job,
            ""
            if job.closed_at
            else state_of(
                job, fold_job(UUID(job.id), head_hash=job.head, now=now), today
            ).step_title,
        )
        for job in jobs
    )


@require_GET
@signed_on(FRONT_DESK, MANAGER)
def customer_jobs(request: ShopRequest, customer_id: UUID) -> HttpResponse:
    """List a customer's jobs; the customer's page takes this list in."""
    info = shop.customer(customer_id)
    if info is None:
        raise Http404
    lines = _lines(jobs_of_customer(customer_id), clock.now())
    return render(request, "jobs/jobs_of.html", {"name": info.name, "lines": lines})


@require_GET
@signed_on(FRONT_DESK, MANAGER)
def vehicle_jobs(request: ShopRequest, vehicle_id: UUID) -> HttpResponse:
    """List a vehicle's jobs, whoever it belonged to; the vehicle's page takes this list in."""
    info = shop.vehicle(vehicle_id)
    if info is None:
        raise Http404
    lines = _lines(jobs_of_vehicle(vehicle_id), clock.now())
    return render(request, "jobs/jobs_of.html", {"name": info.plate or info.vin, "lines": lines})


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, office=True)
def erase(request: ShopRequest, customer_id: UUID) -> HttpResponse:
    """Say what goes and what stays, then erase a customer's personal data for good."""
    info = shop.customer(customer_id)
    if info is None or info.erased_at is not None or request.person is None:
        raise Http404
    form = EraseForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            count = erase_customer(customer_id=customer_id, by=request.person.id, now=clock.now())
        except errors.Refused as refused:
            form.add_error(None, str(refused))
        else:
            said = ngettext("{count} text erased in jobs.", "{count} texts erased in jobs.", count)
            words = gettext("The personal data are erased.")
            messages.success(request, f"{words} {said.format(count=count)}")
            return redirect("shop:customer", customer_id)
    context = {"form": form, "shown": info, "jobs": jobs_of_customer(customer_id)}
    status = 422 if request.method == "POST" else 200
    return render(request, "jobs/erase.html", context, status=status)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, office=True)
def erase_worker(request: ShopRequest, former_id: UUID) -> HttpResponse:
    """Say what goes and what stays, then erase the personal data of somebody who has left."""
    info = shop.person(former_id)
    if info is None or info.active or info.erased or request.person is None:
        raise Http404
    if request.method == "POST":
        erase_person(person_id=former_id, by=request.person.id)
        messages.success(request, gettext("The personal data are erased."))
        return redirect("shop:person", former_id)
    return render(request, "jobs/erase_person.html", {"shown": info})
