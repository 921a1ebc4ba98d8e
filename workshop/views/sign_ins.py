"""Who is signed on where, and the log of every way in."""

from typing import Any, Final

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext, gettext_lazy
from django.views.decorators.http import require_GET, require_POST

from workshop import actions, clock, queries
from workshop.errors import NotAllowed
from workshop.people import MANAGER
from workshop.place import of_request
from workshop.sign_on import ShopRequest, signed_on
from workshop.views.answer import page, signed_person, slice_of

__all__ = ["KINDS", "end_one", "place_words", "sessions_page", "sign_ins_page"]

KINDS: Final = {
    "signed_on": gettext_lazy("Signed on"),
    "signed_off": gettext_lazy("Signed off"),
    "pin_wrong": gettext_lazy("Wrong PIN"),
    "locked": gettext_lazy("Wrong PIN, locked for a while"),
    "unlocked": gettext_lazy("Unlocked"),
    "ended": gettext_lazy("Signed off from elsewhere"),
    "password_wrong": gettext_lazy("Wrong password"),
    "password_set": gettext_lazy("Password set"),
    "password_cleared": gettext_lazy("Password taken out of use"),
    "device_code": gettext_lazy("Code for a device made"),
    "code_wrong": gettext_lazy("Wrong code for a device"),
    "enrolled": gettext_lazy("Device enrolled"),
    "revoked": gettext_lazy("Device turned away"),
}
"""What the log knows, in words."""
SHOWN_LETTERS: Final = 6
PLACE_LETTERS: Final = 48


def place_words(place: str) -> str:
    """Write a place: no address is kept, so a few letters tell one from another."""
    kind, _, name = place.partition(":")
    if kind == "browser":
        return gettext("Browser {name}").format(name=name[:SHOWN_LETTERS])
    if kind == "address":
        return gettext("Unknown browser, network place {name}").format(name=name[:SHOWN_LETTERS])
    return gettext("not noted")


@require_GET
@signed_on(MANAGER, office=True)
def sign_ins_page(request: ShopRequest) -> HttpResponse:
    """Show the log, of one person or one place if asked."""
    person = request.GET.get("person", "")[:36]
    place = request.GET.get("place", "")[:PLACE_LETTERS]
    found = queries.sign_ins(person=person, place=place, page=slice_of(request))
    rows = [(each, KINDS.get(each.kind, each.kind), place_words(each.place)) for each in found.rows]
    context: dict[str, Any] = {
        "rows": rows,
        "found": found,
        "everybody": queries.people(with_former=True),
        "asked": {"person": person, "place": place, "place_words": place_words(place)},
    }
    return page(request, "sign_ins", **context)


@require_GET
@signed_on()
def sessions_page(request: ShopRequest) -> HttpResponse:
    """Show who is signed on where: a manager everybody, anybody else themselves."""
    me = signed_person(request)
    here = of_request(request)
    rows = [
        (each, place_words(each.place), each.place == here and each.person_id == me.id)
        for each in queries.open_sessions(clock.now())
        if me.role == MANAGER or each.person_id == me.id
    ]
    return page(request, "sessions", rows=rows)


@require_POST
@signed_on()
def end_one(request: ShopRequest, name: str) -> HttpResponse:
    """Sign somebody off at another browser."""
    try:
        actions.end_session(name=name[:PLACE_LETTERS], by=signed_person(request).id)
    except NotAllowed:
        return render(request, "workshop/not_allowed.html", {"roles": (MANAGER,)}, status=403)
    return redirect("shop:sessions")
