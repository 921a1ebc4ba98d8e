"""Booking a job in: one search, one choice, and what is not known yet in the same form."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods

from jobs.actions.booking import Arrival, Booking, book_arrival
from jobs.core.reason import Blocker, InputRefused
from jobs.queries.belonging import JobNamed, open_jobs_of
from jobs.queries.records import job_info
from jobs.views.forms import BookingForm
from packs import errors as pack_errors
from workshop import clock, errors
from workshop import queries as shop
from workshop.finding import meaning_of
from workshop.forms import CustomerForm, VehicleForm
from workshop.people import TECHNICIAN
from workshop.registers import CustomerInfo, VehicleInfo
from workshop.sign_on import ShopRequest, signed_on
from workshop.views.vehicles import ask_which
from workshop.vin_check import vin_warnings

__all__ = ["book"]

CUSTOMER, VEHICLE = "customer", "vehicle"


@dataclass(frozen=True, slots=True)
class Choice:
    """One line of what a search finds: a customer with a vehicle, or a customer alone."""

    customer: CustomerInfo | None
    vehicle: VehicleInfo | None
    open_job: JobNamed | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """What lies on the desk: who and what was chosen, and the forms for what is not known yet."""

    form: BookingForm
    customer: CustomerInfo | None
    vehicle: VehicleInfo | None
    customer_form: CustomerForm | None
    vehicle_form: VehicleForm | None
    open_job: JobNamed | None

    @property
    def is_chosen(self) -> bool:
        """Whether it is said who books."""
        return self.customer is not None or self.customer_form is not None

    @property
    def forms(self) -> tuple[forms.Form, ...]:
        """Every form on the page, in its order."""
        parts = (self.customer_form, self.vehicle_form, self.form)
        return tuple(part for part in parts if part is not None)

    @property
    def owner(self) -> str:
        """Name of whoever the vehicle is entered for."""
        if self.customer is not None:
            return self.customer.name
        form = self.customer_form
        return "" if form is None else str(form.cleaned_data.get("name", ""))


def choices_for(search: str) -> tuple[Choice, ...]:
    """Give what a search finds, each as one choice; every customer also without these vehicles."""
    found = shop.find(search)
    is_open = open_jobs_of(each.id for group in found for each in group.vehicles)
    choices: list[Choice] = []
    for group in found:
        known = (Choice(group.customer, each, is_open.get(each.id)) for each in group.vehicles)
        choices.extend(known)
        if group.customer is not None:
            choices.append(Choice(group.customer, None))
    return tuple(choices)


def _customer(data: Mapping[str, Any], vehicle: VehicleInfo | None) -> CustomerInfo | None:
    """Give the customer who was chosen, or whose vehicle was; nobody who was erased."""
    asked = str(data.get(CUSTOMER, "")) or (vehicle.customer_id if vehicle else "")
    info = shop.customer(asked)
    return None if info is None or info.erased_at is not None else info


def _first(search: str) -> tuple[dict[str, str], dict[str, str]]:
    """Put what was searched for into the field that it fits, of the customer or the vehicle."""
    meaning, text = meaning_of(search), search.strip()
    if not text:
        return {}, {}
    return ({}, {meaning: text}) if meaning in {"plate", "vin"} else ({meaning: text}, {})


def _desk(request: ShopRequest) -> Desk:
    """Lay out what the address or the form sent says."""
    posted = request.POST if request.method == "POST" else None
    data = request.GET if posted is None else posted
    vehicle = shop.vehicle(str(data.get(VEHICLE, "")))
    customer = _customer(data, vehicle)
    is_new = customer is None and "new" in data
    first = _first(request.GET.get("q", ""))
    today = shop.local_day(clock.now())
    return Desk(
        form=BookingForm(posted, today=today, is_another="another" in request.GET),
        customer=customer,
        vehicle=vehicle,
        customer_form=CustomerForm(posted, prefix=CUSTOMER, initial=first[0] if not posted else {})
        if is_new
        else None,
        vehicle_form=VehicleForm(
            posted,
            prefix=VEHICLE,
            initial=first[1] if not posted else {},
            empty_permitted=True,
            use_required_attribute=False,
        )
        if vehicle is None and (customer is not None or is_new)
        else None,
        open_job=open_jobs_of([vehicle.id]).get(vehicle.id) if vehicle is not None else None,
    )


def _booking(desk: Desk) -> Booking:
    data = desk.form.cleaned_data
    return Booking(
        key=str(data["key"]),
        customer_id="" if desk.customer is None else desk.customer.id,
        vehicle_id="" if desk.vehicle is None else desk.vehicle.id,
        arrives_on=data["arrives_on"],
        promised_on=data["promised_on"],
        facts=desk.form.facts(),
        assigned=data["person"],
    )


def _arrival(desk: Desk) -> Arrival:
    data, customer, vehicle = desk.form.cleaned_data, desk.customer_form, desk.vehicle_form
    typed = vehicle is not None and vehicle.has_changed()
    return Arrival(
        customer=None if customer is None else customer.details(clock.now()),
        vehicle=vehicle.details() if vehicle is not None and typed else None,
        way=vehicle.chosen_way() if vehicle is not None and typed else "",
        pack_serial=data["pack_serial"],
        pack_slug=data["pack_slug"],
        is_another=data["another"],
    )


def _put(desk: Desk, field: str, words: str) -> None:
    """Put a refusal on the field that it names, in whichever form has it."""
    for form in desk.forms:
        if field in form.fields:
            form.add_error(field, words)
            return
    if field == VEHICLE and desk.vehicle_form is not None:
        desk.vehicle_form.add_error("plate", words)
    else:
        desk.form.add_error(None, words)


def _words(blocker: Blocker) -> str:
    return gettext(blocker.text).format(**blocker.params)


def _book(request: ShopRequest, desk: Desk) -> str:
    """Open the job; where that is refused say so at the field, and give an empty text."""
    valid = [form.is_valid() for form in desk.forms]
    if not desk.is_chosen:
        desk.form.add_error(None, gettext("There is no such customer. Choose one or add one."))
    if not all(valid) or not desk.is_chosen or request.person is None:
        return ""
    try:
        return book_arrival(
            booking=_booking(desk), arrival=_arrival(desk), by=request.person.id, now=clock.now()
        )
    except InputRefused as refused:
        _put(desk, refused.blocker.item, _words(refused.blocker))
    except pack_errors.Refused as refused:
        _put(desk, "pack_slug" if refused.field == "slug" else "pack_serial", str(refused))
    except errors.Refused as refused:
        _put(desk, refused.field, str(refused))
        if desk.vehicle_form is not None and refused.code == "vehicle_known":
            ask_which(desk.vehicle_form, owner=desk.owner)
    return ""


def _warn(request: ShopRequest, job_id: str) -> None:
    """Say what about the VIN should be compared with the vehicle; it bars nothing."""
    info = job_info(job_id)
    vin = info.vehicle.vin if info is not None and info.vehicle is not None else ""
    for words in vin_warnings(vin):
        messages.warning(request, gettext("VIN: {words}").format(words=words))


@require_http_methods(["GET", "POST"])
@signed_on()
def book(request: ShopRequest) -> HttpResponse:
    """Show the search and what was chosen, and take the booking; what was typed stays."""
    desk = _desk(request)
    job_id = _book(request, desk) if request.method == "POST" else ""
    if job_id:
        _warn(request, job_id)
        return redirect("jobs:job", job_id=job_id)
    search = request.GET.get("q", "")[: shop.SEARCH_LENGTH]
    context = {
        "desk": desk,
        "search": search,
        "choices": () if desk.is_chosen else choices_for(search),
        "may_enter": request.person is not None and request.person.role != TECHNICIAN,
        "serials": desk.form.known_serials if desk.is_chosen else (),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "jobs/book.html", context, status=status)
