"""How a register page answers: the form with its faults, or on to the next page."""

from collections.abc import Callable
from typing import Any, TypeVar

from django import forms
from django.http import HttpResponse
from django.shortcuts import render

from workshop import queries
from workshop.errors import InputRefused, Refused
from workshop.forms import put_refusal
from workshop.office import PASSWORD_FIELD
from workshop.people import PersonInfo
from workshop.sign_on import UNLOCK_FIELD, ShopRequest

T = TypeVar("T")
Form = TypeVar("Form", bound=forms.Form)

UNPROCESSABLE = 422


def signed_person(request: ShopRequest) -> PersonInfo:
    """Give the person whom ``signed_on`` has let through."""
    if request.person is None:
        raise LookupError("This view needs the decorator signed_on.")
    return request.person


def sent(request: ShopRequest, make: Callable[..., Form], **options: Any) -> Form:
    """Make the form, filled with what was sent if anything was.

    A page that asks for the PIN keeps what was typed but cannot keep a file: that is said.
    """
    if request.method != "POST":
        return make(**options)
    form = make(request.POST, request.FILES, **options)
    asked = {UNLOCK_FIELD, PASSWORD_FIELD} & request.POST.keys()
    if "file" in form.fields and asked and not request.FILES:
        form.add_error("file", str(InputRefused("file_again")))
    return form


def search_of(request: ShopRequest) -> str:
    """Give what was typed into a list's search box."""
    return request.GET.get("q", "")[: queries.SEARCH_LENGTH]


def slice_of(request: ShopRequest) -> int:
    """Give which page of a list the address asks for."""
    return queries.page_number(request.GET.get("page", ""))


def done(form: forms.Form, act: Callable[[], T]) -> T | None:
    """Run an action once the form stands; put its refusal on the field, and give None."""
    if not form.is_valid():
        return None
    try:
        return act()
    except Refused as refused:
        put_refusal(form, refused)
        return None


def page(
    request: ShopRequest, template: str, form: forms.Form | None = None, **context: Any
) -> HttpResponse:
    """Render a page; with faults in its form the status is 422 and what was typed stays."""
    faulty = form is not None and form.is_bound and bool(form.errors)
    return render(
        request,
        f"workshop/{template}.html",
        {"form": form, **context},
        status=UNPROCESSABLE if faulty else None,
    )
