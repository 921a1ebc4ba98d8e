"""Pages of pack definitions and spares: read, call one action or query, render.

What is shown of a definition is packs/sheet.py; what is asked is packs/forms.py.
"""

from typing import TypeVar
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from packs import actions, queries
from packs.errors import InputRefused, Refused
from packs.forms import DefinitionForm, SpareForm, SpareMoveForm, SpareTestForm
from packs.project import MANAGER, TECHNICIAN, is_role, local_now, person_id, signed_on
from packs.sheet import sheet_of
from packs.spares import SpareInfo

Form = TypeVar("Form", bound=forms.Form)


@require_GET
@signed_on()
def packs_page(request: HttpRequest) -> HttpResponse:
    """Show the kinds of pack the shop has a definition for."""
    context = {
        "packs": queries.packs_list(withdrawn=True),
        "may_upload": is_role(request, MANAGER),
    }
    return render(request, "packs/packs.html", context)


@require_GET
@signed_on()
def pack_page(request: HttpRequest, slug: str, number: int | None = None) -> HttpResponse:
    """Show one definition, the newest or a numbered revision."""
    revision = _revision(slug, number)
    context = {
        "revision": revision,
        "sections": sheet_of(revision.definition),
        "withdrawn": queries.is_withdrawn(slug),
        "numbers": queries.revision_numbers(slug),
        "may_upload": is_role(request, MANAGER),
    }
    return render(request, "packs/pack.html", context)


@require_GET
@signed_on()
def pack_file(request: HttpRequest, slug: str, number: int) -> HttpResponse:  # noqa: ARG001
    """Hand out a revision as it was sent, to be changed and sent again."""
    revision = _revision(slug, number)
    name = f"{slug}-revision-{number}.toml"
    return HttpResponse(
        revision.toml,
        content_type="application/toml; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER)
def upload_page(request: HttpRequest) -> HttpResponse:
    """Take a definition; what is wrong stands at the field and the text stays."""
    form = _sent(request, DefinitionForm)
    form.keep_file_as_text()
    if request.method == "POST" and form.is_valid():
        revision = actions.add_pack_revision(
            toml=form.cleaned_data["text"],
            by=person_id(request),
            now=local_now(),
            note=form.cleaned_data["note"],
        )
        messages.success(request, f"{revision.slug}: revision {revision.number} is in use.")
        return redirect("packs:pack", slug=revision.slug)
    status = 422 if form.errors else 200
    return render(request, "packs/upload.html", {"form": form}, status=status)


@require_POST
@signed_on(MANAGER)
def withdraw(request: HttpRequest, slug: str) -> HttpResponse:
    """Take a definition out of use for new jobs."""
    _revision(slug, None)
    actions.withdraw_pack(slug=slug, now=local_now())
    messages.success(request, f"{slug} is withdrawn; open jobs keep their revision.")
    return redirect("packs:packs")


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
    form = _sent(request, SpareForm)
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


def _sent(request: HttpRequest, make: type[Form]) -> Form:
    """Make a form, filled with what was sent if anything was."""
    return make(request.POST, request.FILES) if request.method == "POST" else make()


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


def _revision(slug: str, number: int | None) -> queries.RevisionInfo:
    """Return a revision, or say that there is no such page."""
    try:
        if number is None:
            return queries.latest_revision(slug)
        return queries.numbered_revision(slug, number)
    except InputRefused as refusal:
        raise Http404(str(refusal)) from refusal


def _spare(spare_id: UUID) -> SpareInfo:
    """Return a spare, or say that there is no such page."""
    try:
        return queries.spare(spare_id)
    except InputRefused as refusal:
        raise Http404(str(refusal)) from refusal
