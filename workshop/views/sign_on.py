"""Sign-on in two taps and a PIN, sign-off, the first manager, and one's own PIN."""

from datetime import tzinfo
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from workshop import actions, clock, queries
from workshop.figures_text import clock_time
from workshop.forms import FirstManagerForm, OwnPinForm, PinForm
from workshop.people import PersonInfo
from workshop.sign_on import ShopRequest, sign_off, sign_on, signed_on
from workshop.views.answer import done, page, sent, signed_person

HOME = "/"


def _next_of(request: ShopRequest) -> str:
    """Give the page asked for before sign-on, if it is one of ours."""
    asked = request.POST.get("next") or request.GET.get("next") or HOME
    ours = url_has_allowed_host_and_scheme(
        asked, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return asked if ours and asked.isprintable() else HOME


@require_GET
def tiles(request: ShopRequest) -> HttpResponse:
    """Show a tile for each person; the first tap."""
    everybody = queries.people()
    if not everybody:
        return redirect("shop:first_run")
    return page(request, "sign_on", people=everybody, next=_next_of(request))


def _sentence(result: actions.PinResult, person: PersonInfo, zone: tzinfo) -> str:
    """Say what came of a PIN that did not let the person in."""
    if not person.has_pin:
        return "No PIN is set yet. Ask a manager to open People and hand you the tablet."
    if result.state == "locked":
        until = clock_time(result.until, zone)
        return f"Too many wrong PINs: locked until {until}. A manager can unlock it."
    return f"That PIN is wrong. Tries left: {result.tries_left}."


@require_http_methods(["GET", "POST"])
def pin(request: ShopRequest, person_id: UUID) -> HttpResponse:
    """Ask the chosen person for the PIN, and sign them on."""
    person = queries.person(person_id)
    if person is None or not person.active:
        raise Http404
    form = sent(request, PinForm)
    if form.is_valid():
        result = actions.check_pin(person.id, form.cleaned_data["pin"], clock.now())
        if result.state == "right":
            sign_on(request, person.id)
            return redirect(_next_of(request))
        form.add_error("pin", _sentence(result, person, request.shop.zone))
    return page(request, "pin", form, asked=person, next=_next_of(request))


@require_POST
def leave(request: ShopRequest) -> HttpResponse:
    """Sign off."""
    sign_off(request)
    return redirect("shop:sign_on")


@require_http_methods(["GET", "POST"])
def first_run(request: ShopRequest) -> HttpResponse:
    """Make the first manager, while there is nobody."""
    if queries.has_people():
        return redirect("shop:sign_on")
    form = sent(request, FirstManagerForm)
    person_id = done(
        form,
        lambda: actions.create_first_manager(details=form.details(), pin=form.cleaned_data["pin"]),
    )
    if person_id is None:
        return page(request, "first_run", form)
    sign_on(request, person_id)
    return redirect("shop:settings")


@require_http_methods(["GET", "POST"])
@signed_on()
def own_pin(request: ShopRequest) -> HttpResponse:
    """Let the person signed on change their own PIN."""
    me = signed_person(request)
    form = sent(request, OwnPinForm)
    if form.is_valid():
        result = actions.check_pin(me.id, form.cleaned_data["pin_now"], clock.now())
        if result.state != "right":
            form.add_error("pin_now", _sentence(result, me, request.shop.zone))

    def enter() -> str:
        actions.set_pin(person_id=me.id, pin=form.cleaned_data["pin"], by=me.id)
        return me.id

    if done(form, enter) is None:
        return page(request, "own_pin", form)
    sign_on(request, me.id)
    return redirect(HOME)
