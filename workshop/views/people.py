"""People: who works here, in what role, with what qualifications. For managers."""

from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from workshop import actions, clock, queries
from workshop.errors import Refused
from workshop.forms import NewPinForm, PersonForm, QualificationForm
from workshop.people import MANAGER, PersonInfo
from workshop.sign_on import ShopRequest, signed_on
from workshop.views.answer import done, page, sent, signed_person


def _known(person_id: UUID) -> PersonInfo:
    """Give the person, or answer 404."""
    info = queries.person(person_id)
    if info is None:
        raise Http404
    return info


@require_GET
@signed_on(MANAGER)
def people(request: ShopRequest) -> HttpResponse:
    """List everybody, those who have left at the end."""
    today = queries.local_day(clock.now())
    everybody = queries.people(with_former=True)
    return page(
        request,
        "people",
        people=[each for each in everybody if each.active],
        former=[each for each in everybody if not each.active],
        today=today,
    )


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER)
def add(request: ShopRequest) -> HttpResponse:
    """Add a person."""
    form = sent(request, PersonForm)
    me = signed_person(request)
    person_id = done(form, lambda: actions.add_person(details=form.details(), by=me.id))
    if person_id is None:
        return page(request, "person_add", form)
    return redirect("shop:person", person_id)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER)
def person(request: ShopRequest, person_id: UUID) -> HttpResponse:
    """Show a person, and enter or renew a qualification."""
    info = _known(person_id)
    me = signed_person(request)
    form = sent(request, QualificationForm)

    def enter() -> str:
        actions.set_qualification(person_id=info.id, by=me.id, **form.cleaned_data)
        return info.id

    if done(form, enter) is None:
        now = clock.now()
        locked = info.pin_locked_until is not None and info.pin_locked_until > now
        today = queries.local_day(now)
        return page(request, "person", form, shown=info, locked=locked, today=today)
    return redirect("shop:person", info.id)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER)
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
@signed_on(MANAGER)
def unlock(request: ShopRequest, person_id: UUID) -> HttpResponse:
    """Lift the lock of wrong PINs."""
    info = _known(person_id)
    actions.unlock_pin(person_id=info.id, by=signed_person(request).id)
    return redirect("shop:person", info.id)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER)
def retire(request: ShopRequest, person_id: UUID) -> HttpResponse:
    """Ask once, then take a person off the sign-on page."""
    info = _known(person_id)
    fault = ""
    if request.method == "POST":
        try:
            actions.retire_person(person_id=info.id, by=signed_person(request).id)
        except Refused as refused:
            fault = str(refused)
        else:
            return redirect("shop:people")
    answer = page(request, "person_retire", shown=info, fault=fault)
    answer.status_code = 422 if fault else 200
    return answer
