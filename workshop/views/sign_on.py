"""Sign-on in two taps and a PIN, sign-off, the first manager, and one's own PIN.

A tablet remembers in a signed cookie who signed on at it last, so that their tiles come first.
"""

from collections.abc import Iterable
from datetime import tzinfo
from typing import Final
from uuid import UUID

from django.conf import settings
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from workshop import actions, clock, devices, place, queries
from workshop.figures_text import clock_time
from workshop.forms import (
    FirstManagerForm,
    LanguageForm,
    OwnPasswordForm,
    OwnPinForm,
    PinForm,
)
from workshop.office import PASSWORD_FIELD, ask, note_fresh
from workshop.people import FRONT_DESK, MANAGER, TECHNICIAN, PersonInfo
from workshop.sign_on import ShopRequest, of_the_shop, sign_off, sign_on, signed_on
from workshop.views.answer import done, page, sent, signed_person

HOME = "/"
LAST_HERE: Final = "coldbus_last_here"
"""Cookie with the identifiers of those who signed on last at this tablet, newest first."""
SHOWN_FIRST: Final = 4
KEPT_S: Final = 90 * 86_400
"""How long a tablet remembers them [s]."""
ORDER: Final = (TECHNICIAN, FRONT_DESK, MANAGER)
"""In which order roles are shown."""

Grouped = list[tuple[str, list[PersonInfo]]]


def _next_of(request: ShopRequest) -> str:
    """Give the page asked for before sign-on, if it is one of ours."""
    asked = request.POST.get("next") or request.GET.get("next") or HOME
    ours = url_has_allowed_host_and_scheme(
        asked, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return asked if ours and asked.isprintable() else HOME


def _last_here(request: ShopRequest) -> list[str]:
    """Give who signed on last at this tablet, newest first."""
    kept = request.get_signed_cookie(LAST_HERE, default="", salt=LAST_HERE)
    return (kept or "").split(",")[:SHOWN_FIRST]


def _remember(request: ShopRequest, response: HttpResponse, person_id: str) -> HttpResponse:
    """Let the tablet know who signed on at it just now."""
    known = [each for each in _last_here(request) if each not in {"", person_id}]
    response.set_signed_cookie(
        LAST_HERE,
        ",".join([person_id, *known][:SHOWN_FIRST]),
        salt=LAST_HERE,
        max_age=KEPT_S,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )
    place.remember(request, response)
    if request.device is not None:
        devices.remember(response, devices.token_of(request))
    return response


def _grouped(everybody: Iterable[PersonInfo], last: list[str]) -> Grouped:
    """Put those first who were at this tablet last, then all others by role and name."""
    ranked = sorted(
        everybody,
        key=lambda each: (
            ORDER.index(each.role) if each.role in ORDER else len(ORDER),
            each.short_name.casefold(),
        ),
    )
    here = sorted((p for p in ranked if p.id in last), key=lambda each: last.index(each.id))
    others = [person for person in ranked if person.id not in last]
    if not here:
        return [("", others)]
    named = [(gettext("Last at this tablet"), here), (gettext("Everybody else"), others)]
    return [(title, group) for title, group in named if group]


@require_GET
@of_the_shop
def tiles(request: ShopRequest) -> HttpResponse:
    """Show a tile for each person; the first tap."""
    everybody = queries.people()
    if not everybody:
        return redirect("shop:first_run")
    groups = _grouped(everybody, _last_here(request))
    return page(request, "sign_on", groups=groups, next=_next_of(request))


def _sentence(result: actions.PinResult, person: PersonInfo, zone: tzinfo) -> str:
    """Say what came of a PIN that did not let the person in."""
    if not person.has_pin:
        return gettext("No PIN is set yet. Ask a manager to open People and hand you the tablet.")
    if result.state == "locked":
        until = clock_time(result.until, zone)
        text = gettext("Too many wrong PINs: locked until {until}. A manager can unlock it.")
        return text.format(until=until)
    return gettext("That PIN is wrong. Tries left: {tries}.").format(tries=result.tries_left)


@require_http_methods(["GET", "POST"])
@of_the_shop
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
            return _remember(request, redirect(_next_of(request)), person.id)
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
        language = LanguageForm(initial={"language": me.language})
        return page(request, "own_pin", form, language_form=language)
    sign_on(request, me.id)
    return redirect(HOME)


@require_POST
@signed_on()
def own_language(request: ShopRequest) -> HttpResponse:
    """Let the person signed on choose the language of their screens."""
    me = signed_person(request)
    form = sent(request, LanguageForm)
    if form.is_valid():
        actions.set_language(language=form.cleaned_data["language"], by=me.id)
    return redirect("shop:own_pin")


@require_POST
@signed_on(FRONT_DESK, MANAGER)
def office_password(request: ShopRequest) -> HttpResponseBase:
    """Take the password, and lead on to the page that asked for it."""
    me, onward = signed_person(request), _next_of(request)
    result = actions.check_password(me.id, request.POST.get(PASSWORD_FIELD, ""), clock.now())
    if result.state != "right":
        return ask(request, me, [], result=result, onward=onward)
    note_fresh(request, me)
    return redirect(onward)


@require_http_methods(["GET", "POST"])
@signed_on(FRONT_DESK, MANAGER)
def own_password(request: ShopRequest) -> HttpResponse:
    """Let somebody of the office set their own password."""
    me = signed_person(request)
    form = sent(request, OwnPasswordForm)
    if me.has_password:
        form.fields["current"].label = gettext("Password so far")
    if form.is_valid():
        check = actions.check_password if me.has_password else actions.check_pin
        result = check(me.id, form.cleaned_data["current"], clock.now())
        if result.state != "right":
            form.add_error("current", _sentence(result, me, request.shop.zone))

    def enter() -> bool:
        actions.set_password(password=form.cleaned_data["password"], by=me.id)
        return True

    if done(form, enter) is None:
        return page(request, "own_password", form)
    note_fresh(request, me)
    return redirect("shop:own_pin")
