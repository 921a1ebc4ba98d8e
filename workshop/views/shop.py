"""The shop's own settings, its logo and its limits. For managers."""

from typing import Any, Final

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext
from django.utils.translation import gettext_noop as later
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from workshop import actions, queries
from workshop.actions.shop import LOGO_LIMIT_BYTES
from workshop.errors import Refused
from workshop.forms import LimitForm, LogoForm, ShopForm, bytes_of, initial_of, number_text
from workshop.limits import Limit
from workshop.people import MANAGER
from workshop.sign_on import ShopRequest, signed_on
from workshop.views.answer import UNPROCESSABLE, done, page, sent, signed_person
from workshop.views.history import labels, told

EVENTS_SHOWN: Final = 30
SWITCHES: Final = {
    "only_enrolled": later("Work at enrolled devices only"),
    "office_password": later("Ask for the password"),
}


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, office=True)
def settings(request: ShopRequest) -> HttpResponse:
    """Show and change what the shop says about itself; list its limits with their provenance."""
    me = signed_person(request)
    form = sent(request, ShopForm, initial=initial_of(request.shop, ShopForm.base_fields))

    def enter() -> bool:
        actions.update_shop(details=form.details(), by=me.id)
        return True

    if done(form, enter) is None:
        return _settings_page(request, form, LogoForm())
    return redirect("shop:settings")


def _settings_page(
    request: ShopRequest, form: ShopForm, logo_form: LogoForm, fault: str = ""
) -> HttpResponse:
    limits = queries.limits()
    names = {key: gettext(each.title) for key, each in limits.items()}
    events = queries.history(request.shop.workshop_id)[:EVENTS_SHOWN]
    context: dict[str, Any] = {
        "limits": limits.values(),
        "history": told(events, {**labels(ShopForm), **names, **_switches()}),
        "logo_form": logo_form,
        "fault": fault,
    }
    answer = page(request, "settings", form, **context)
    if logo_form.errors or fault:
        answer.status_code = UNPROCESSABLE
    return answer


def _switches() -> dict[str, str]:
    return {name: gettext(title) for name, title in SWITCHES.items()}


@require_POST
@signed_on(MANAGER, office=True)
def office_switch(request: ShopRequest) -> HttpResponse:
    """Ask for the password before what only the office does, or no longer."""
    me = signed_person(request)
    try:
        actions.ask_office_password(ask=request.POST.get("ask") == "1", by=me.id)
    except Refused as refused:
        shown = ShopForm(initial=initial_of(request.shop, ShopForm.base_fields))
        return _settings_page(request, shown, LogoForm(), str(refused))
    return redirect("shop:settings")


@require_POST
@signed_on(MANAGER, office=True)
def set_logo(request: ShopRequest) -> HttpResponse:
    """Take a picture as the shop's logo."""
    me = signed_person(request)
    form = sent(request, LogoForm)

    def enter() -> bool:
        raw = bytes_of(form.cleaned_data["file"], LOGO_LIMIT_BYTES)
        actions.set_logo(raw=raw, by=me.id)
        return True

    if done(form, enter) is None:
        shown = ShopForm(initial=initial_of(request.shop, ShopForm.base_fields))
        return _settings_page(request, shown, form)
    return redirect("shop:settings")


@require_POST
@signed_on(MANAGER, office=True)
def clear_logo(request: ShopRequest) -> HttpResponse:
    """Take the logo away."""
    actions.set_logo(raw=None, by=signed_person(request).id)
    return redirect("shop:settings")


@require_GET
def logo(_request: HttpRequest) -> HttpResponse:
    """Give the shop's logo; it stands on the sign-on page, so nobody has to be signed on."""
    content = queries.logo_bytes()
    if content is None:
        raise Http404
    answer = HttpResponse(content, content_type="image/png")
    answer.headers["X-Content-Type-Options"] = "nosniff"
    answer.headers["Cache-Control"] = "no-cache"
    return answer


def _known(key: str) -> Limit:
    shown = queries.limits().get(key)
    if shown is None:
        raise Http404
    return shown


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, office=True)
def limit(request: ShopRequest, key: str) -> HttpResponse:
    """Set one limit inside its bounds."""
    shown = _known(key)
    me = signed_person(request)
    before = {"value": number_text(shown.value), "source": shown.source, "note": shown.note}
    form = sent(request, LimitForm, initial=before)

    def enter() -> bool:
        actions.set_limit(key=key, by=me.id, **form.cleaned_data)
        return True

    if done(form, enter) is None:
        return page(request, "limit", form, shown=shown)
    return redirect("shop:settings")


@require_POST
@signed_on(MANAGER, office=True)
def reset_limit(request: ShopRequest, key: str) -> HttpResponse:
    """Put one limit back to its default."""
    actions.reset_limit(key=_known(key).key, by=signed_person(request).id)
    return redirect("shop:settings")
