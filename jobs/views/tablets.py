"""The shop's tablets: what never came from each, setting it aside, and what was set aside."""

import uuid
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext, gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods

from jobs.actions.tablets import REASON_LETTERS, GivenUp, set_aside
from jobs.core.reason import InputRefused
from jobs.core.running_numbers import Ranges
from jobs.queries.tablets import HeldBack, WasSetAside, all_set_aside, all_tablets
from jobs.report.wording import Wording
from workshop import clock
from workshop import queries as shop
from workshop.people import MANAGER
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["AsideRow", "aside_rows", "ranges_words", "set_aside_page", "tablets_page"]

MOST_RANGES = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class TabletRow:
    """A tablet in words."""

    info: HeldBack
    missing: str
    last: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AsideRow:
    """What was set aside, in words."""

    info: WasSetAside
    numbers: str
    by: str
    came: str
    came_at: datetime | None


class AsideForm(forms.Form):
    """Why nobody waits for a tablet's entries any more, and the PIN of the manager who says so."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    reason = forms.CharField(
        label=gettext_lazy("What became of the tablet and of what was on it"),
        max_length=REASON_LETTERS,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy(
            "For example: dropped into the coolant bath, the browser was cleared; "
            "the readings were taken again by whom and when."
        ),
    )
    pin = forms.CharField(
        label=gettext_lazy("Your PIN"),
        max_length=8,
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )

    def __init__(self, data: Any = None) -> None:
        super().__init__(data, initial={"key": uuid.uuid4()}, auto_id="aside_%s")


def ranges_words(ranges: Ranges) -> str:
    """Write ranges of running numbers.

    Examples
    --------
    >>> ranges_words(((4, 4), (7, 9)))
    '4, 7 to 9'
    """
    shown = [
        str(first) if first == last else gettext("{first} to {last}").format(first=first, last=last)
        for first, last in ranges[:MOST_RANGES]
    ]
    return ", ".join(shown) + (" …" if len(ranges) > MOST_RANGES else "")


def aside_rows(found: tuple[WasSetAside, ...]) -> list[AsideRow]:
    """Put what was set aside into words."""
    names = shop.names({each.person for each in found})
    return [
        AsideRow(
            info=each,
            numbers=ranges_words(each.numbers),
            by=names.get(each.person, "–"),
            came=ranges_words(tuple((number, number) for number, _ in each.came)),
            came_at=max((at for _, at in each.came), default=None),
        )
        for each in found
    ]


def _rows(found: tuple[HeldBack, ...]) -> list[TabletRow]:
    """Put tablets into words; by whom one was used last helps to find it."""
    names = shop.names({each.person for each in found if each.person})
    return [
        TabletRow(info=each, missing=ranges_words(each.missing), last=names.get(each.person, ""))
        for each in found
    ]


@require_GET
@signed_on()
def tablets_page(request: ShopRequest) -> HttpResponse:
    """Show every tablet, what is missing from it, and what was set aside."""
    context = {
        "rows": _rows(all_tablets()),
        "aside": aside_rows(all_set_aside()),
        "may_set_aside": request.person is not None and request.person.role == MANAGER,
    }
    return render(request, "jobs/tablets.html", context)


def _sent(request: ShopRequest, form: AsideForm, device: str) -> bool:
    """Set aside what was sent; say in the form what was refused."""
    if request.person is None or not form.is_valid():
        return False
    data = form.cleaned_data
    given = GivenUp(key=str(data["key"]), device=device, reason=data["reason"])
    try:
        set_aside(given, by=request.person.id, pin=data["pin"], now=clock.now())
    except InputRefused as refused:
        said = Wording(zone=shop.shop().zone, names={}).said(refused.blocker)
        at = refused.blocker.item
        form.add_error(at if at in form.fields else None, said)
        return False
    return True


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER)
def set_aside_page(request: ShopRequest, device: uuid.UUID) -> HttpResponse:
    """Ask a manager why nobody waits any more for what is missing from a tablet."""
    info = next((each for each in all_tablets() if each.device == str(device)), None)
    if info is None:
        raise Http404
    form = AsideForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and _sent(request, form, info.device):
        messages.success(request, gettext("Set aside. Nobody is reminded of these any more."))
        return redirect("jobs:tablets")
    status = 422 if form.errors else 200
    return render(
        request, "jobs/set_aside.html", {"row": _rows((info,))[0], "form": form}, status=status
    )
