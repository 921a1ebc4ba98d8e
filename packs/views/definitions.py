"""Pages of pack definitions; what is shown of one is packs/sheet.py."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from packs import actions, queries
from packs.errors import InputRefused
from packs.forms import DefinitionForm
from packs.project import MANAGER, is_role, local_now, person_id, signed_on
from packs.sheet import sheet_of
from packs.views.answers import sent


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
    form = sent(request, DefinitionForm)
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


def _revision(slug: str, number: int | None) -> queries.RevisionInfo:
    """Return a revision, or say that there is no such page."""
    try:
        if number is None:
            return queries.latest_revision(slug)
        return queries.numbered_revision(slug, number)
    except InputRefused as refusal:
        raise Http404(str(refusal)) from refusal
