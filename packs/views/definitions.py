"""Pages of pack definitions; what is shown of one is packs/sheet.py."""

from collections.abc import Iterator

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import content_disposition_header
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from packs import actions, queries
from packs.definition import read_table
from packs.definition_content import tidied
from packs.definition_form import CHEMISTRIES
from packs.definition_register import (
    DRAFT,
    IN_USE,
    STATES,
    WITHDRAWN,
    RegisterFilter,
    RegisterLine,
    cells_in_words,
    line_of,
    module_types,
    narrowed,
)
from packs.errors import InputRefused, Refused
from packs.forms import DefinitionForm
from packs.project import MANAGER, is_role, leaks_of_pack, local_now, names, person_id, signed_on
from packs.sheet import sheet_of
from packs.views.answers import sent
from packs.views.drafts import drawing_of


@require_GET
@signed_on()
def packs_page(request: HttpRequest) -> HttpResponse:
    """Show the kinds of pack and the drafts, searched and filtered by the address."""
    narrow = RegisterFilter(
        q=request.GET.get("q", "").replace("\0", "")[:100],
        state=request.GET.get("state", ""),
        chemistry=request.GET.get("chemistry", ""),
    )
    lines = tuple(_register())
    context = {
        "lines": narrowed(lines, narrow),
        "total": len(lines),
        "narrow": narrow,
        "states": STATES,
        "chemistries": CHEMISTRIES,
        "may_upload": is_role(request, MANAGER),
    }
    return render(request, "packs/packs.html", context)


def _register() -> Iterator[RegisterLine]:
    """Yield every definition and every draft as the register shows them."""
    for row in queries.pack_rows():
        yield line_of(
            row.definition.model_dump(mode="json", exclude_none=True),
            state=WITHDRAWN if row.withdrawn_at else IN_USE,
            number=row.number,
            changed_at=row.changed_at,
            withdrawn_at=row.withdrawn_at,
        )
    for draft in queries.drafts():
        yield line_of(
            {"name": draft.name, **draft.content},
            state=DRAFT,
            number=draft.base_number,
            changed_at=draft.changed_at,
            draft=(draft.id, len(draft.check().lacks)),
        )


@require_GET
@signed_on()
def pack_page(request: HttpRequest, slug: str, number: int | None = None) -> HttpResponse:
    """Show one definition, the newest or a numbered revision."""
    revision = _revision(slug, number)
    lines = queries.revision_lines(slug)
    writers = names([each.created_by for each in lines])
    content = revision.definition.model_dump(mode="json")
    context = {
        "revision": revision,
        "sections": sheet_of(revision.definition),
        "withdrawn": queries.is_withdrawn(slug),
        "lines": [(each, writers.get(str(each.created_by), "")) for each in lines],
        "newest": lines[0].number,
        "types": module_types(content),
        "cells": cells_in_words(content),
        "draft": queries.draft_of(slug),
        "leaks": leaks_of_pack(slug),
        "may_upload": is_role(request, MANAGER),
        **drawing_of(content),
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
        headers={"Content-Disposition": content_disposition_header(True, name)},  # noqa: FBT003
    )


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER)
def upload_page(request: HttpRequest) -> HttpResponse:
    """Take a definition; what is wrong stands at the field and the text stays."""
    form = sent(request, DefinitionForm)
    form.may_be_unfinished = request.POST.get("act") == "draft"
    form.keep_file_as_text()
    if request.method == "POST" and form.is_valid():
        if form.may_be_unfinished:
            return _as_draft(request, form)
        revision = actions.add_pack_revision(
            toml=form.cleaned_data["text"],
            by=person_id(request),
            now=local_now(),
            note=form.cleaned_data["note"],
        )
        text = gettext("{slug}: revision {number} is in use.")
        messages.success(request, text.format(slug=revision.slug, number=revision.number))
        return redirect("packs:pack", slug=revision.slug)
    status = 422 if form.errors else 200
    return render(request, "packs/upload.html", {"form": form}, status=status)


def _as_draft(request: HttpRequest, form: DefinitionForm) -> HttpResponse:
    """Open what was sent as a draft; say what could not be taken over."""
    content, left_out = tidied(read_table(form.cleaned_data["text"]))
    try:
        draft = actions.draft_from_table(content=content, by=person_id(request), now=local_now())
    except Refused as refusal:
        text = gettext('To open it in the form the text needs a slug, such as slug = "my-pack".')
        form.add_error("text", text if refusal.code == "required" else str(refusal))
        return render(request, "packs/upload.html", {"form": form}, status=422)
    if left_out:
        text = gettext("Left out, because the form does not know it: {paths}.")
        messages.warning(request, text.format(paths=", ".join(left_out[:20])))
    return redirect("packs:draft", draft_id=draft.id)


@require_POST
@signed_on(MANAGER)
def withdraw(request: HttpRequest, slug: str) -> HttpResponse:
    """Take a definition out of use for new jobs."""
    _revision(slug, None)
    actions.withdraw_pack(slug=slug, now=local_now())
    text = gettext("{slug} is withdrawn; open jobs keep their revision.")
    messages.success(request, text.format(slug=slug))
    return redirect("packs:packs")


def _revision(slug: str, number: int | None) -> queries.RevisionInfo:
    """Return a revision, or say that there is no such page."""
    try:
        if number is None:
            return queries.latest_revision(slug)
        return queries.numbered_revision(slug, number)
    except InputRefused as refusal:
        raise Http404(str(refusal)) from refusal
