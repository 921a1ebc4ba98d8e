"""Booking a job in."""

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from jobs.actions.booking import Booking, book_job
from jobs.core.reason import InputRefused
from jobs.views.forms import BookingForm
from packs import actions as packs
from workshop import clock
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["book"]


def _pack_id(serial: str) -> str:
    """Give the pack of a serial, entered now where it was not known; empty without one."""
    return str(packs.add_physical_pack(serial=serial).id) if serial else ""


def _booking(form: BookingForm) -> Booking:
    data = form.cleaned_data
    return Booking(
        key=str(data["key"]),
        customer_id=data["customer"],
        vehicle_id=data["vehicle"],
        pack_id=_pack_id(data["pack_serial"]),
        arrives_on=data["arrives_on"],
        promised_on=data["promised_on"],
    )


@require_http_methods(["GET", "POST"])
@signed_on()
def book(request: ShopRequest) -> HttpResponse:
    """Show the booking form and take it; what was typed stays when something is refused."""
    search = request.GET.get("q", "")[:100]
    posted = request.POST if request.method == "POST" else None
    form = BookingForm(posted, search=search)
    if posted is not None and form.is_valid() and request.person is not None:
        try:
            job_id = book_job(booking=_booking(form), by=request.person.id, now=clock.now())
            return redirect("jobs:job", job_id=job_id)
        except InputRefused as refused:
            form.add_error(refused.blocker.item or None, refused.blocker.text)
    status = 422 if posted is not None else 200
    return render(request, "jobs/book.html", {"form": form, "search": search}, status=status)
