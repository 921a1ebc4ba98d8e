"""Pages of spares: the register, one spare with its history, tests and moves."""

from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from packs import actions, queries
from packs.errors import InputRefused, Refused
from packs.forms import SpareForm, SpareMoveForm, SpareTestForm
from packs.project import MANAGER, TECHNICIAN, is_role, local_now, person_id, signed_on
from packs.spares import SpareInfo
from packs.views.answers import sent


@require_GET
@signed_on()
def spares_page(request: HttpRequest) -> HttpResponse:
    """Show every spare in the register."""
    context = {
        "spares": queries.spares(),
        "may_change": is_role(request, MANAGER, TECHNICIAN),
    }
    return render(request, "packs/spares.html", context)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, TECHNICIAN)
def add_spare_page(request: HttpRequest) -> HttpResponse:
    """Take a spare into stock."""
    form = sent(request, SpareForm)
    if request.method == "POST" and form.is_valid():
        try:
            spare = actions.add_spare(new=form.new_spare(), by=person_id(request), now=local_now())
        except Refused as refusal:
            form.show_refusal(refusal)
        else:
            return redirect("packs:spare", spare_id=spare.id)
    status = 422 if form.errors else 200
    return render(request, "packs/add_spare.html", {"form": form}, status=status)


@require_GET
@signed_on()
def spare_page(request: HttpRequest, spare_id: UUID) -> HttpResponse:
    """Show a spare with its history, and what can be added to it."""
    return _spare_page(request, spare_id, SpareMoveForm(), SpareTestForm())


@require_POST
@signed_on(MANAGER, TECHNICIAN)
def move_spare(request: HttpRequest, spare_id: UUID) -> HttpResponse:
    """Bring a spare to another place or state."""
    form = SpareMoveForm(request.POST)
    form.offer(_spare(spare_id), release=is_role(request, MANAGER))
    if form.is_valid():
        try:
            actions.move_spare(
                spare_id=spare_id, **form.cleaned_data, by=person_id(request), now=local_now()
            )
        except Refused as refusal:
            form.show_refusal(refusal)
        else:
            return redirect("packs:spare", spare_id=spare_id)
    return _spare_page(request, spare_id, form, SpareTestForm())


@require_POST
@signed_on(MANAGER, TECHNICIAN)
def add_spare_test(request: HttpRequest, spare_id: UUID) -> HttpResponse:
    """Add a test to a spare."""
    form = SpareTestForm(request.POST)
    if form.is_valid():
        try:
            actions.add_spare_test(
                spare_id=_spare(spare_id).id,
                test=form.test(),
                by=person_id(request),
                now=local_now(),
            )
        except Refused as refusal:
            form.show_refusal(refusal)
        else:
            return redirect("packs:spare", spare_id=spare_id)
    return _spare_page(request, spare_id, SpareMoveForm(), form)


def _spare_page(
    request: HttpRequest, spare_id: UUID, move: SpareMoveForm, test: SpareTestForm
) -> HttpResponse:
    """Render a spare's page with its two forms, as sent or fresh."""
    spare = _spare(spare_id)
    if not move.is_bound:
        move.offer(spare, release=is_role(request, MANAGER))
    context = {
        "spare": spare,
        "events": queries.spare_events(spare_id),
        "move": move,
        "test": test,
        "may_change": is_role(request, MANAGER, TECHNICIAN),
    }
    status = 422 if move.errors or test.errors else 200
    return render(request, "packs/spare.html", context, status=status)


def _spare(spare_id: UUID) -> SpareInfo:
    """Return a spare, or say that there is no such page."""
    try:
        return queries.spare(spare_id)
    except InputRefused as refusal:
        raise Http404(str(refusal)) from refusal
