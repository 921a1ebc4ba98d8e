"""Customers. For front desk and managers; their vehicles are in ``vehicles``."""

from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_GET, require_http_methods

from workshop import actions, clock, queries
from workshop.forms import CustomerForm, VehicleForm, initial_of
from workshop.people import FRONT_DESK, MANAGER
from workshop.registers import CustomerInfo
from workshop.sign_on import ShopRequest, signed_on
from workshop.views.answer import done, page, search_of, sent, signed_person, slice_of
from workshop.views.history import labels, told
from workshop.views.vehicles import ask_which, warn_of_vin


def _known(customer_id: UUID) -> CustomerInfo:
    """Give the customer, or answer 404."""
    info = queries.customer(customer_id)
    if info is None:
        raise Http404
    return info


def _kept(customer_id: UUID) -> CustomerInfo:
    """Give a customer whose data were not erased, or answer 404."""
    info = _known(customer_id)
    if info.erased_at is not None:
        raise Http404
    return info


@require_GET
@signed_on(FRONT_DESK, MANAGER)
def customers(request: ShopRequest) -> HttpResponse:
    """List customers, or those that a search finds, with their plates."""
    search = search_of(request)
    found = queries.customers_page(search, slice_of(request))
    theirs: dict[str, list[str]] = {}
    for each in queries.vehicles_of(*(row.id for row in found.rows)):
        theirs.setdefault(each.customer_id, []).append(each.plate or each.vin)
    rows = [(row, theirs.get(row.id, ())) for row in found.rows]
    return page(request, "customers", rows=rows, found=found, search=search)


@require_http_methods(["GET", "POST"])
@signed_on(FRONT_DESK, MANAGER)
def add(request: ShopRequest) -> HttpResponse:
    """Add a customer."""
    me = signed_person(request)
    form = sent(request, CustomerForm)
    customer_id = done(
        form, lambda: actions.add_customer(details=form.details(clock.now()), by=me.id)
    )
    if customer_id is None:
        return page(request, "customer_add", form)
    return redirect("shop:customer", customer_id)


@require_GET
@signed_on(FRONT_DESK, MANAGER)
def customer(request: ShopRequest, customer_id: UUID) -> HttpResponse:
    """Show a customer with their vehicles."""
    info = _known(customer_id)
    history = told(queries.history(info.id), labels(CustomerForm))
    vehicles = queries.vehicles_of(customer_id)
    return page(request, "customer", shown=info, vehicles=vehicles, history=history)


@require_http_methods(["GET", "POST"])
@signed_on(FRONT_DESK, MANAGER)
def change(request: ShopRequest, customer_id: UUID) -> HttpResponse:
    """Correct what is known about a customer."""
    info = _kept(customer_id)
    me = signed_person(request)
    before = initial_of(info, CustomerForm.base_fields) | {"consent": bool(info.consent_at)}
    form = sent(request, CustomerForm, initial=before)

    def enter() -> str:
        details = form.details(clock.now(), consent_before=info.consent_at)
        actions.change_customer(customer_id=info.id, details=details, by=me.id)
        return info.id

    if done(form, enter) is None:
        return page(request, "customer_change", form, shown=info)
    return redirect("shop:customer", info.id)


@require_http_methods(["GET", "POST"])
@signed_on(FRONT_DESK, MANAGER)
def add_vehicle(request: ShopRequest, customer_id: UUID) -> HttpResponse:
    """Add a customer's vehicle; one like it that is known already asks which it is."""
    info = _kept(customer_id)
    me = signed_person(request)
    form = sent(request, VehicleForm)

    def enter() -> str:
        return actions.enter_vehicle(
            details=form.details(), customer_id=info.id, way=form.chosen_way(), by=me.id
        )

    vehicle_id = done(form, enter)
    if vehicle_id is None:
        ask_which(form, owner=info.name)
        return page(request, "vehicle_add", form, shown=info)
    warn_of_vin(request, vehicle_id)
    return redirect("shop:vehicle", vehicle_id)
