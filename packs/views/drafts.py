"""Pages of drafts: start one, see what it lacks, discard it, take it as a file."""

from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import content_disposition_header
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext, ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from packs import actions, queries
from packs.definition import to_toml
from packs.definition_compare import laid_out
from packs.definition_form import SECTIONS
from packs.draft_forms import TopologyForm, drawn_from
from packs.draft_picture import doubts, string_map
from packs.errors import InputRefused, Refused
from packs.project import MANAGER, is_role, local_now, names, person_id, signed_on
from packs.queries import DraftInfo
from packs.svg import svg


def drawing_of(content: Any) -> dict[str, object]:
    """Return what templates/packs/pack_drawing.html needs."""
    said = [gettext(each.sentence).format(names=each.names) for each in doubts(content)]
    return {"drawing": drawn(content), "doubts": said}


def drawn(content: Any) -> SafeString:
    """Draw a definition as it is; every text in the drawing is escaped."""
    return mark_safe(svg(string_map(content, title=gettext("Pack map"))))  # noqa: S308 - svg escapes


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER)
def start_page(request: HttpRequest) -> HttpResponse:
    """Start a definition from topology; what was typed stays when it is refused."""
    first = {"draft_id": uuid4(), "rows": 1}
    form = TopologyForm(request.POST) if request.method == "POST" else TopologyForm(initial=first)
    if request.method == "POST" and form.is_valid():
        try:
            draft = actions.start_draft(
                topology=form.topology(),
                by=person_id(request),
                now=local_now(),
                draft_id=form.cleaned_data["draft_id"],
            )
        except Refused as refusal:
            form.show_refusal(refusal)
        else:
            return redirect("packs:draft", draft_id=draft.id)
    context = {"form": form, **drawing_of(drawn_from(request.POST))}
    return render(request, "packs/pack_start.html", context, status=422 if form.errors else 200)


@require_POST
@signed_on(MANAGER)
def start_picture(request: HttpRequest) -> HttpResponse:
    """Draw the topology as far as it is typed."""
    return render(request, "packs/pack_drawing.html", drawing_of(drawn_from(request.POST)))


@require_POST
@signed_on(MANAGER)
def open_revision(request: HttpRequest, slug: str, number: int) -> HttpResponse:
    """Open a revision as a draft, or go to the draft of that kind."""
    try:
        draft = actions.draft_from_revision(
            slug=slug, number=number, by=person_id(request), now=local_now()
        )
    except InputRefused as refusal:
        raise Http404(str(refusal)) from refusal
    return redirect("packs:draft", draft_id=draft.id)


@require_GET
@signed_on()
def draft_page(request: HttpRequest, draft_id: UUID) -> HttpResponse:
    """Show a draft: the drawing, what it lacks, and what it says so far."""
    return render_draft(request, draft_or_404(draft_id))


def render_draft(request: HttpRequest, draft: DraftInfo, *, status: int = 200) -> HttpResponse:
    """Render the page of a draft."""
    found = draft.check()
    context = {
        "draft": draft,
        "changed_by": names([draft.changed_by]).get(str(draft.changed_by), ""),
        "lacks": found.lacks,
        "complete": found.definition is not None,
        "sections": [(each, len(found.lacks_in(each.slug))) for each in SECTIONS],
        "said": laid_out(draft.content, gettext),
        "may_change": is_role(request, MANAGER),
        **drawing_of(draft.content),
    }
    return render(request, "packs/pack_draft.html", context, status=status)


@require_POST
@signed_on(MANAGER)
def discard(request: HttpRequest, draft_id: UUID) -> HttpResponse:
    """Throw a draft away."""
    actions.discard_draft(draft_id=draft_id)
    messages.success(request, gettext("The draft is discarded. Definitions in use are unchanged."))
    return redirect("packs:packs")


@require_GET
@signed_on()
def draft_file(request: HttpRequest, draft_id: UUID) -> HttpResponse:
    """Hand a complete draft out as TOML; say what is missing where it is not complete."""
    draft = draft_or_404(draft_id)
    found = draft.check()
    if found.definition is None:
        count = len(found.lacks)
        text = ngettext(
            "No file yet: {count} point is missing or wrong.",
            "No file yet: {count} points are missing or wrong.",
            count,
        )
        messages.error(request, text.format(count=count))
        return render_draft(request, draft, status=409)
    text, name = to_toml(found.definition), f"{draft.slug}-draft.toml"
    return HttpResponse(
        text,
        content_type="application/toml; charset=utf-8",
        headers={"Content-Disposition": content_disposition_header(True, name)},  # noqa: FBT003
    )


def draft_or_404(draft_id: UUID) -> DraftInfo:
    """Return a draft, or say that there is no such page."""
    try:
        return queries.draft(draft_id)
    except InputRefused as refusal:
        raise Http404(str(refusal)) from refusal
