"""The shop's own settings and its limits. For managers."""

from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from workshop import actions, queries
from workshop.forms import LimitForm, ShopForm, initial_of, number_text
from workshop.people import MANAGER
from workshop.sign_on import ShopRequest, signed_on
from workshop.views.answer import done, page, sent, signed_person


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER)
def settings(request: ShopRequest) -> HttpResponse:
    """Show and change what the shop says about itself; list its limits with their provenance."""
    me = signed_person(request)
    form = sent(request, ShopForm, initial=initial_of(request.shop, ShopForm.base_fields))

    def enter() -> bool:
        actions.update_shop(details=form.details(), by=me.id)
        return True

    if done(form, enter) is None:
        return page(request, "settings", form, limits=queries.limits().values())
    return redirect("shop:settings")


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER)
def limit(request: ShopRequest, key: str) -> HttpResponse:
    """Set one limit inside its bounds."""
    shown = queries.limits().get(key)
    if shown is None:
        raise Http404
    me = signed_person(request)
    before = {"value": number_text(shown.value), "source": shown.source, "note": shown.note}
    form = sent(request, LimitForm, initial=before)

    def enter() -> bool:
        actions.set_limit(key=key, by=me.id, **form.cleaned_data)
        return True

    if done(form, enter) is None:
        return page(request, "limit", form, shown=shown)
    return redirect("shop:settings")
