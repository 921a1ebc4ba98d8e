"""People: who works here, in what role, with what qualifications. For managers."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final
from uuid import UUID

from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext_noop as later
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from workshop import actions, clock, queries
from workshop.errors import Refused
from workshop.forms import NewPinForm, PersonForm, QualificationForm, initial_of
from workshop.people import MANAGER, ROLES, PersonInfo, QualificationInfo
from workshop.sign_on import ShopRequest, signed_on
from workshop.views.answer import (
    UNPROCESSABLE,
    done,
    page,
    search_of,
    sent,
    signed_person,
)
from workshop.views.certificate import addresses, answer_file, file_sent
from workshop.views.history import labels, told

SOON_DAYS: Final = 30
"""Days ahead in which a qualification that ends is called lapsing."""

STATES: Final = {
    "": later("Working here"),
    "lapsing": later("Qualification ended or ending within 30 days"),
    "no_pin": later("Without a PIN"),
    "former": later("No longer here"),
}
"""State to filter by, with its title."""


def _known(person_id: UUID) -> PersonInfo:
    """Give the person, or answer 404."""
    info = queries.person(person_id)
    if info is None:
        raise Http404
    return info


def _is_lapsing(person: PersonInfo, today: date) -> bool:
    """Say whether a qualification has ended or ends soon."""
    last = today + timedelta(days=SOON_DAYS)
    return any(each.expires_on and each.expires_on <= last for each in person.qualifications)


def _fits(person: PersonInfo, state: str, today: date) -> bool:
    """Say whether a person stands in the state that a filter means."""
    if state == "former" or not person.active:
        return state == "former" and not person.active
    return {
        "": True,
        "lapsing": _is_lapsing(person, today),
        "no_pin": not person.has_pin,
    }.get(state, False)


def _found(person: PersonInfo, search: str) -> bool:
    words = f"{person.display_name} {person.short_name}".casefold()
    return all(word in words for word in search.casefold().split())


@require_GET
@signed_on(MANAGER, office=True)
def people(request: ShopRequest) -> HttpResponse:
    """List the people that a filter means."""
    today = queries.local_day(clock.now())
    search, role = search_of(request), request.GET.get("role", "")
    state = request.GET.get("state", "")
    shown = [
        each
        for each in queries.people(with_former=True)
        if _fits(each, state, today) and role in {"", each.role} and _found(each, search)
    ]
    return page(
        request,
        "people",
        people=shown,
        today=today,
        asked={"search": search, "role": role, "state": state},
        roles=ROLES.items(),
        states=STATES.items(),
    )


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, office=True)
def add(request: ShopRequest) -> HttpResponse:
    """Add a person."""
    form = sent(request, PersonForm)
    me = signed_person(request)
    person_id = done(form, lambda: actions.add_person(details=form.details(), by=me.id))
    if person_id is None:
        return page(request, "person_add", form)
    return redirect("shop:person", person_id)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, office=True)
def person(request: ShopRequest, person_id: UUID) -> HttpResponse:
    """Show a person, and enter or renew a qualification."""
    info = _known(person_id)
    me = signed_person(request)
    form = sent(request, QualificationForm, initial={"code": request.GET.get("renew", "")})

    def enter() -> str:
        data = {name: form.cleaned_data[name] for name in ("code", "expires_on", "certificate")}
        actions.set_qualification(person_id=info.id, by=me.id, file=file_sent(form), **data)
        return info.id

    if done(form, enter) is None:
        now = clock.now()
        locked = info.pin_locked_until is not None and info.pin_locked_until > now
        certificate = addresses("shop:person_certificate", info.id)
        history = told(queries.history(info.id), labels(PersonForm), certificate)
        today = queries.local_day(now)
        return page(
            request, "person", form, shown=info, locked=locked, today=today, history=history
        )
    return redirect("shop:person", info.id)


@require_GET
@signed_on(MANAGER, office=True)
def certificate(_request: ShopRequest, person_id: UUID, sha256: str) -> HttpResponseBase:
    """Give the certificate of a qualification as a download."""
    return answer_file(person_id, sha256, _known(person_id).short_name)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, office=True)
def change(request: ShopRequest, person_id: UUID) -> HttpResponse:
    """Change name, short name or role."""
    info = _known(person_id)
    me = signed_person(request)
    form = sent(request, PersonForm, initial=initial_of(info, PersonForm.base_fields))

    def enter() -> str:
        actions.change_person(person_id=info.id, details=form.details(), by=me.id)
        return info.id

    if done(form, enter) is None:
        return page(request, "person_change", form, shown=info)
    return redirect("shop:person", info.id)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, office=True)
def set_pin(request: ShopRequest, person_id: UUID) -> HttpResponse:
    """Hand the tablet to a person who sets their PIN."""
    info = _known(person_id)
    me = signed_person(request)
    form = sent(request, NewPinForm)

    def enter() -> str:
        actions.set_pin(person_id=info.id, pin=form.cleaned_data["pin"], by=me.id)
        return info.id

    if done(form, enter) is None:
        return page(request, "person_pin", form, shown=info)
    return redirect("shop:person", info.id)


@require_POST
@signed_on(MANAGER, office=True)
def clear_password(request: ShopRequest, person_id: UUID) -> HttpResponse:
    """Take somebody's password out of use."""
    if queries.person(person_id) is None:
        raise Http404
    actions.clear_password(person_id=person_id, by=signed_person(request).id)
    return redirect("shop:person", person_id)


@require_POST
@signed_on(MANAGER, office=True)
def unlock(request: ShopRequest, person_id: UUID) -> HttpResponse:
    """Lift the lock of wrong PINs."""
    info = _known(person_id)
    actions.unlock_pin(person_id=info.id, by=signed_person(request).id)
    return redirect("shop:person", info.id)


@dataclass(frozen=True, slots=True)
class Question:
    """A page that asks once before something is done, and where it leads."""

    template: str
    act: Callable[[], None]
    then: str


def _ask_once(
    request: ShopRequest, question: Question, shown: PersonInfo, held: QualificationInfo | None
) -> HttpResponse:
    """Show the question; when it is answered, act and go on, or say what refused it."""
    fault = ""
    if request.method == "POST":
        try:
            question.act()
        except Refused as refused:
            fault = str(refused)
        else:
            return redirect(question.then)
    answer = page(request, question.template, shown=shown, held=held, fault=fault)
    answer.status_code = UNPROCESSABLE if fault else answer.status_code
    return answer


def _page_of(info: PersonInfo) -> str:
    return reverse("shop:person", args=(info.id,))


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, office=True)
def retire(request: ShopRequest, person_id: UUID) -> HttpResponse:
    """Ask once, then take a person off the sign-on page."""
    info, me = _known(person_id), signed_person(request)

    def act() -> None:
        actions.retire_person(person_id=info.id, by=me.id)

    return _ask_once(request, Question("person_retire", act, reverse("shop:people")), info, None)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, office=True)
def come_back(request: ShopRequest, person_id: UUID) -> HttpResponse:
    """Ask once, then put a person back on the sign-on page."""
    info, me = _known(person_id), signed_person(request)

    def act() -> None:
        actions.return_person(person_id=info.id, by=me.id)

    return _ask_once(request, Question("person_return", act, _page_of(info)), info, None)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, office=True)
def clear_pin(request: ShopRequest, person_id: UUID) -> HttpResponse:
    """Ask once, then take a PIN out of use."""
    info, me = _known(person_id), signed_person(request)

    def act() -> None:
        actions.clear_pin(person_id=info.id, by=me.id)

    return _ask_once(request, Question("person_pin_clear", act, _page_of(info)), info, None)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, office=True)
def remove_qualification(request: ShopRequest, person_id: UUID, code: str) -> HttpResponse:
    """Ask once, then take a qualification away."""
    info, me = _known(person_id), signed_person(request)
    held = next((each for each in info.qualifications if each.code == code), None)
    if held is None:
        raise Http404

    def act() -> None:
        actions.remove_qualification(person_id=info.id, code=code, by=me.id)

    return _ask_once(request, Question("qualification_remove", act, _page_of(info)), info, held)
