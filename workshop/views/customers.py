"""Customers and their vehicles. For front desk and managers."""

from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_GET, require_http_methods

from workshop import actions, clock, queries
from workshop.forms import CustomerForm, VehicleForm, initial_of
from workshop.people import FRONT_DESK, MANAGER
from workshop.registers import CustomerInfo
from workshop.sign_on import ShopRequest, signed_on
from workshop.views.answer import done, page, sent, signed_person


def _known(customer_id: UUID) -> CustomerInfo:
    """Give the customer, or answer 404."""
    info = queries.customer(customer_id)
    if info is None:
        raise Http404
    return info


@require_GET
@signed_on(FRONT_DESK, MANAGER)
def customers(request: ShopRequest) -> HttpResponse:
    """List customers, or those that a search finds."""
    search = request.GET.get("q", "")[: queries.SEARCH_LENGTH]
    found = queries.customers(search)
    return page(request, "customers", customers=found, search=search, most=queries.LIST_LENGTH)


@require_GET
@signed_on(FRONT_DESK, MANAGER)
def vehicles(request: ShopRequest) -> HttpResponse:
    """List vehicles, or those that a search finds."""
    search = request.GET.get("q", "")[: queries.SEARCH_LENGTH]
    found = queries.vehicles(search)
    return page(request, "vehicles", vehicles=found, search=search, most=queries.LIST_LENGTH)


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
    return page(request, "customer", shown=info, vehicles=queries.vehicles_of(customer_id))


@require_http_methods(["GET", "POST"])
@signed_on(FRONT_DESK, MANAGER)
def change(request: ShopRequest, customer_id: UUID) -> HttpResponse:
    """Correct what is known about a customer."""
    info = _known(customer_id)
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
    """Add a customer's vehicle; one like it that is known already has to be looked at first."""
    info = _known(customer_id)
    me = signed_person(request)
    form = sent(request, VehicleForm)
    alike = queries.vehicles_like(*form.identity()) if form.is_valid() else ()
    if alike and not form.cleaned_data["same_is_right"]:
        form.add_error("same_is_right", "A vehicle like this is known already; look at it first.")

    def enter() -> str:
        return actions.add_vehicle(details=form.details(), customer_id=info.id, by=me.id)

    if done(form, enter) is None:
        return page(request, "vehicle_add", form, shown=info, alike=alike)
    return redirect("shop:customer", info.id)
