"""Pages that compare: two revisions side by side, and a draft with what it will replace."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods

from packs import actions, queries
from packs.definition import PackDefinition
from packs.definition_compare import compare
from packs.errors import InputRefused, Refused
from packs.project import MANAGER, local_now, person_id, signed_on
from packs.queries import DraftInfo, RevisionInfo
from packs.views.drafts import draft_or_404


@require_GET
@signed_on()
def compare_page(request: HttpRequest, slug: str, first: int, second: int) -> HttpResponse:
    """Show two revisions side by side: what differs, or everything."""
    before, after = _numbered(slug, first), _numbered(slug, second)
    everything = request.GET.get("all") == "1"
    context = {
        "before": before,
        "after": after,
        "everything": everything,
        "sections": compare(_content(before), _content(after), say=gettext, everything=everything),
    }
    return render(request, "packs/pack_compare.html", context)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER)
def publish_page(request: HttpRequest, draft_id: UUID) -> HttpResponse:
    """Show what publishing will change, and publish with a note."""
    if request.method != "POST":
        return _render(request, draft_or_404(draft_id))
    try:
        added = actions.publish_draft(
            draft_id=draft_id,
            note=request.POST.get("note", "")[:500],
            version=_number(request, "version") or 0,
            over=_number(request, "over"),
            by=person_id(request),
            now=local_now(),
        )
    except InputRefused as refusal:
        if refusal.code == "unknown_draft":
            raise Http404(str(refusal)) from refusal
        return _render(request, draft_or_404(draft_id), refusal=refusal)
    except Refused as refusal:
        return _render(request, draft_or_404(draft_id), refusal=refusal)
    text = gettext("{name}: revision {number} is in use.")
    messages.success(request, text.format(name=added.definition.name, number=added.number))
    return redirect("packs:pack", slug=added.slug)


def _render(
    request: HttpRequest, draft: DraftInfo, *, refusal: Refused | None = None
) -> HttpResponse:
    """Render the differences with the form that publishes them."""
    newest = _newest(draft.slug)
    found = draft.check()
    context = {
        "draft": draft,
        "newest": newest,
        "moved_on": newest is not None and newest.number != draft.base_number,
        "sections": compare(
            _content(newest), _dumped(found.definition) or draft.content, say=gettext
        ),
        "lacks": found.lacks,
        "complete": found.definition is not None,
        "withdrawn": queries.is_withdrawn(draft.slug),
        "note": request.POST.get("note", ""),
        "note_fault": str(refusal) if refusal and refusal.field == "note" else "",
        "refusal": str(refusal) if refusal and refusal.field != "note" else "",
    }
    status = 200 if refusal is None else 409 if not isinstance(refusal, InputRefused) else 422
    return render(request, "packs/pack_publish.html", context, status=status)


def _content(revision: RevisionInfo | None) -> Mapping[str, Any]:
    """Return a revision's content; nothing where there is none."""
    if revision is None:
        return {}
    return _dumped(revision.definition)


def _dumped(definition: PackDefinition | None) -> dict[str, Any]:
    """Return a definition's content; nothing where there is none."""
    return {} if definition is None else definition.model_dump(mode="json", exclude_none=True)


def _newest(slug: str) -> RevisionInfo | None:
    """Return the newest revision of a kind; None if there is none yet."""
    try:
        return queries.latest_revision(slug)
    except InputRefused:
        return None


def _numbered(slug: str, number: int) -> RevisionInfo:
    """Return a revision, or say that there is no such page."""
    try:
        return queries.numbered_revision(slug, number)
    except InputRefused as refusal:
        raise Http404(str(refusal)) from refusal


def _number(request: HttpRequest, name: str) -> int | None:
    """Return a count that was sent; None if there is none."""
    text = request.POST.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < len("1" * 10) else None
