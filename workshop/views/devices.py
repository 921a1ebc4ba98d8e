"""The devices of the shop: taken in by a code, turned away, and whether others may be worked at."""

from typing import Any, Final
from uuid import UUID

import segno
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from workshop import actions, clock, devices, queries
from workshop.errors import Refused
from workshop.forms import DeviceNameForm, EnrolForm
from workshop.forms.devices import CODE_LETTERS
from workshop.people import MANAGER
from workshop.sign_on import ShopRequest, keep_signed_on, signed_on
from workshop.views.answer import UNPROCESSABLE, done, page, sent, signed_person
from workshop.views.history import told
from workshop.views.start import encrypted_address

__all__ = [
    "device_page",
    "devices_page",
    "enrol_page",
    "make_code",
    "only_enrolled",
    "take_this_in",
]

LOOPBACK: Final = frozenset({"localhost", "[::1]"})


def _shown(
    request: ShopRequest, form: DeviceNameForm | None = None, **context: Any
) -> HttpResponse:
    return page(request, "devices", form or DeviceNameForm(), rows=queries.devices(), **context)


@require_GET
@signed_on(MANAGER, office=True)
def devices_page(request: ShopRequest) -> HttpResponse:
    """Show every device, and whether the shop works at these only."""
    return _shown(request)


@require_POST
@signed_on(MANAGER, office=True)
def make_code(request: ShopRequest) -> HttpResponse:
    """Make a code and show it, once."""
    made = actions.make_device_code(by=signed_person(request).id, now=clock.now())
    address = _address_for(request, made.code)
    picture = segno.make(address, micro=False).svg_data_uri(scale=4, border=2) if address else ""
    return _shown(request, made=made, address=address, picture=picture)


def _address_for(request: ShopRequest, code: str) -> str:
    """Give the address that a device opens; empty where this page's host means the server alone."""
    host = request.get_host().rpartition(":")[0] or request.get_host()
    if host in LOOPBACK or host.startswith("127."):
        return ""
    root = encrypted_address(request) or request.build_absolute_uri("/")
    return f"{root.rstrip('/')}{reverse('shop:enrol')}?{urlencode({'code': code})}"


@require_POST
@signed_on(MANAGER, office=True)
def take_this_in(request: ShopRequest) -> HttpResponse:
    """Take in the device at which the manager stands."""
    form = sent(request, DeviceNameForm)
    me = signed_person(request)

    def enter() -> str:
        return actions.enrol_here(name=form.cleaned_data["name"], by=me.id, now=clock.now())

    if request.device is not None:
        return redirect("shop:devices")
    token = done(form, enter)
    if token is None:
        return _shown(request, form)
    answer = redirect("shop:devices")
    devices.remember(answer, token)
    keep_signed_on(request, queries.device_of_token(token))
    return answer


@require_POST
@signed_on(MANAGER, office=True)
def only_enrolled(request: ShopRequest) -> HttpResponse:
    """Let people work at enrolled devices only, or at any again."""
    only = request.POST.get("only") == "1"
    try:
        actions.let_only_enrolled(
            only=only, by=signed_person(request).id, token=devices.token_of(request)
        )
    except Refused as refused:
        answer = _shown(request, fault=str(refused))
        answer.status_code = UNPROCESSABLE
        return answer
    return redirect("shop:devices")


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, office=True)
def device_page(request: ShopRequest, device_id: UUID) -> HttpResponse:
    """Show a device with its history, and turn it away."""
    found = queries.device(device_id)
    if found is None:
        raise Http404
    if request.method == "POST":
        me = signed_person(request)
        actions.revoke_device(device_id=device_id, by=me.id, now=clock.now())
        return redirect("shop:devices")
    here = request.device is not None and request.device.id == found.id
    return page(
        request, "device", shown=found, here=here, history=told(queries.history(found.id), {})
    )


@require_http_methods(["GET", "POST"])
def enrol_page(request: ShopRequest) -> HttpResponse:
    """Take a code, from a device that is not one of the shop's yet, or no longer."""
    former = request.device.name if request.device else ""
    initial = {"code": request.GET.get("code", "")[:CODE_LETTERS], "name": former}
    form = sent(request, EnrolForm, initial=initial)
    taken = request.device is not None and not request.shut_out

    def enter() -> str:
        return actions.enrol(**form.cleaned_data, now=clock.now())

    token = None if taken else done(form, enter)
    if token is None:
        return page(request, "enrol", form, taken=taken)
    answer = redirect("shop:sign_on")
    devices.remember(answer, token)
    return answer
