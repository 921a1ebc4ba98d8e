"""Vehicles: the list, one vehicle, correcting it, and giving it to another customer."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods

from workshop import actions, queries
from workshop.errors import Refused
from workshop.forms import VehicleForm, initial_of
from workshop.people import FRONT_DESK, MANAGER
from workshop.registers import EventInfo, VehicleInfo
from workshop.sign_on import ShopRequest, signed_on
from workshop.views.answer import (
    UNPROCESSABLE,
    done,
    page,
    search_of,
    sent,
    signed_person,
    slice_of,
)
from workshop.views.history import labels, told
from workshop.vin_check import vin_warnings


def ask_which(
    form: VehicleForm, *, owner: str, other_than: str = "", takes: bool = True, moves: bool = True
) -> None:
    """Where plate or VIN is known already, say who has it and offer the ways on."""
    if not form.is_bound or set(form.errors) - {"way"}:
        return
    plate, vin = form.cleaned_data["plate"], form.cleaned_data["vin"]
    alike = queries.vehicles_like(plate, vin, other_than=other_than)
    if alike:
        form.offer_ways(alike, owner, takes=takes, moves=moves)


def warn_of_vin(request: ShopRequest, vehicle_id: str) -> None:
    """Say what about a VIN should be compared once more; it bars nothing."""
    info = queries.vehicle(vehicle_id)
    for words in vin_warnings(info.vin if info else ""):
        messages.warning(request, gettext("VIN: {words}").format(words=words))


def _known(vehicle_id: UUID) -> VehicleInfo:
    """Give the vehicle, or answer 404."""
    info = queries.vehicle(vehicle_id)
    if info is None:
        raise Http404
    return info


@require_GET
@signed_on(FRONT_DESK, MANAGER)
def vehicles(request: ShopRequest) -> HttpResponse:
    """List vehicles, or those that a search finds."""
    search = search_of(request)
    found = queries.vehicles_page(search, slice_of(request))
    return page(request, "vehicles", found=found, search=search)


def _owners(events: tuple[EventInfo, ...]) -> dict[str, str]:
    """Give the names of everybody who has had it."""
    ids = {event.values.get(key, "") for event in events for key in ("customer", "before")}
    return queries.customer_names(ids - {""})


@require_GET
@signed_on(FRONT_DESK, MANAGER)
def vehicle(request: ShopRequest, vehicle_id: UUID) -> HttpResponse:
    """Show a vehicle, whose it is and was, and what was corrected."""
    info = _known(vehicle_id)
    events = queries.history(info.id)
    history = told(events, {**labels(VehicleForm), **_owners(events)})
    warnings = vin_warnings(info.vin)
    return page(request, "vehicle", shown=info, history=history, warnings=warnings)


@require_http_methods(["GET", "POST"])
@signed_on(FRONT_DESK, MANAGER)
def change(request: ShopRequest, vehicle_id: UUID) -> HttpResponse:
    """Correct a vehicle; a plate that another one has asks whether both stay."""
    info = _known(vehicle_id)
    me = signed_person(request)
    form = sent(request, VehicleForm, initial=initial_of(info, VehicleForm.base_fields))

    def enter() -> str:
        actions.change_vehicle(
            vehicle_id=info.id, details=form.details(), way=form.chosen_way(), by=me.id
        )
        return info.id

    if done(form, enter) is None:
        ask_which(form, owner="", other_than=info.id, takes=False, moves=False)
        return page(request, "vehicle_change", form, shown=info)
    warn_of_vin(request, info.id)
    return redirect("shop:vehicle", info.id)


@require_http_methods(["GET", "POST"])
@signed_on(FRONT_DESK, MANAGER)
def owner(request: ShopRequest, vehicle_id: UUID) -> HttpResponse:
    """Find the customer to whom a vehicle belongs now, and give it to them."""
    info = _known(vehicle_id)
    search, fault = search_of(request), ""
    if request.method == "POST":
        customer_id = request.POST.get("customer", "")
        try:
            actions.move_vehicle(
                vehicle_id=info.id, customer_id=customer_id, by=signed_person(request).id
            )
        except Refused as refused:
            fault = str(refused)
        else:
            return redirect("shop:vehicle", info.id)
    found = queries.customers_page(search, slice_of(request))
    answer = page(request, "vehicle_owner", shown=info, found=found, search=search, fault=fault)
    answer.status_code = UNPROCESSABLE if fault else answer.status_code
    return answer
