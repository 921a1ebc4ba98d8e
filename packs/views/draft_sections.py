"""Pages of a draft's sections: one form each, with rows, and the drawing beside it."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST

from packs import actions
from packs.definition_compare import ComparedSection, compare
from packs.definition_content import read_section, typed_of, value_at
from packs.definition_fields import FieldFault, as_list, as_table, as_text
from packs.definition_form import SECTIONS, FormSection, section_named
from packs.definition_form_shown import shown_section
from packs.definition_rows import Act, Rows, act_of, after_act
from packs.errors import Conflict, Refused
from packs.project import MANAGER, local_now, names, person_id, signed_on
from packs.queries import DraftInfo
from packs.views.drafts import draft_or_404, drawing_of


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER)
def section_page(request: HttpRequest, draft_id: UUID, section: str) -> HttpResponse:
    """Show or take one section; what was typed stays when it is refused."""
    draft, part = draft_or_404(draft_id), _section(section)
    if request.method != "POST":
        return _render(request, draft, part, typed_of(part, draft.content))
    typed = _typed(request, draft)
    act = act_of(request.POST.get("act", ""))
    rows = None if act is None else next((f for f in part.fields if f.path == act.at), None)
    rows = rows if act is not None and isinstance(rows, Rows) else _inner(part, act)
    if act is not None and rows is not None:
        return _moved(request, draft, part, after_act(typed, rows, act), act)
    content, faults = read_section(part, typed, draft.content)
    if faults:
        return _render(request, draft, part, typed, faults=faults, status=422)
    return _saved(request, draft, part, typed, content)


def _saved(
    request: HttpRequest,
    draft: DraftInfo,
    part: FormSection,
    typed: dict[str, str],
    content: dict[str, Any],
) -> HttpResponse:
    """Put a section into the draft and go on, or say why not."""
    try:
        actions.change_draft(
            draft_id=draft.id,
            section=part,
            content=content,
            version=_version(request, draft),
            by=person_id(request),
            now=local_now(),
        )
    except Conflict as refusal:
        if refusal.code != "draft_changed":
            return _render(request, draft, part, typed, refusal=str(refusal), status=409)
        theirs = compare(draft.content, content, say=gettext)
        words = _who_and_when(refusal)
        return _render(request, draft, part, typed, refusal=words, theirs=theirs, status=409)
    except Refused as refusal:
        return _render(request, draft, part, typed, refusal=str(refusal), status=422)
    messages.success(request, gettext("Kept: {section}.").format(section=gettext(part.title)))
    if request.POST.get("act") == "next":
        return redirect("packs:draft_section", draft_id=draft.id, section=_after(part).slug)
    return redirect("packs:draft", draft_id=draft.id)


@require_POST
@signed_on(MANAGER)
def section_picture(request: HttpRequest, draft_id: UUID, section: str) -> HttpResponse:
    """Draw the draft with what is typed in one section."""
    draft, part = draft_or_404(draft_id), _section(section)
    content, _ = read_section(part, _typed(request, draft), draft.content)
    return render(request, "packs/pack_drawing.html", drawing_of(content))


def _render(  # noqa: PLR0913 - what a page of the form can say
    request: HttpRequest,
    draft: DraftInfo,
    part: FormSection,
    typed: dict[str, str],
    *,
    faults: tuple[FieldFault, ...] = (),
    refusal: str = "",
    theirs: tuple[ComparedSection, ...] = (),
    focus: str = "",
    said: str = "",
    status: int = 200,
) -> HttpResponse:
    """Render a section with what was typed."""
    content, _ = read_section(part, typed, draft.content)
    modules = [as_text(as_table(each).get("name")) for each in as_list(content.get("modules"))]
    context = {
        "draft": draft,
        "section": part,
        "sections": SECTIONS,
        "fields": shown_section(part, typed, faults, [name for name in modules if name], gettext),
        "lacks": draft.check().lacks_in(part.slug),
        "faulty": bool(faults),
        "refusal": refusal,
        "theirs": theirs,
        "focus": focus,
        "said": said,
        "slug_fixed": draft.base_number is not None,
        "last": part is SECTIONS[-1],
        **drawing_of(content),
    }
    return render(request, "packs/pack_section.html", context, status=status)


def _moved(
    request: HttpRequest,
    draft: DraftInfo,
    part: FormSection,
    after: tuple[dict[str, str], int],
    act: Act,
) -> HttpResponse:
    """Render a section after a row was added, removed or moved; nothing is kept yet."""
    typed, place = after
    said = {
        "add": gettext("Line {number} added."),
        "remove": gettext("A line is removed."),
        "up": gettext("The line is now number {number}."),
        "down": gettext("The line is now number {number}."),
    }[act.what].format(number=place + 1)
    dashed = act.at.replace(".", "-")
    aim = "down" if place == 0 else act.what
    focus = f"b-{dashed}-{place}-{aim}" if act.what in {"up", "down"} else f"b-{dashed}-add"
    return _render(request, draft, part, typed, focus=focus, said=said)


def _inner(part: FormSection, act: Act | None) -> Rows | None:
    """Return the stages of a torque list that a button belongs to."""
    if act is None:
        return None
    for each in part.fields:
        inner = act.at.removeprefix(f"{each.path}.")
        if inner != act.at:
            found = next((f for f in getattr(each, "fields", ()) if f.path == inner), None)
            return found if isinstance(found, Rows) else None
    return None


def _typed(request: HttpRequest, draft: DraftInfo) -> dict[str, str]:
    """Return what stands in the inputs; the short name of a known kind stays."""
    typed = {name: text for name, text in request.POST.items() if isinstance(text, str)}
    if draft.base_number is not None:
        typed["slug"] = as_text(value_at(draft.content, "slug"))
    return typed


def _version(request: HttpRequest, draft: DraftInfo) -> int:
    """Return the version of the draft that the person had before them."""
    text = request.POST.get("version", "")
    known = text.isascii() and text.isdigit() and len(text) < len("1000000000")
    return int(text) if known else draft.version


def _who_and_when(refusal: Conflict) -> str:
    """Say who changed the section, and when."""
    by = str(refusal.parameters.get("by") or "")
    at = datetime.fromisoformat(str(refusal.parameters["at"]))
    who = names([UUID(by)]).get(by) if by else None
    return gettext(
        "{who} changed this section at {at}, while you were writing. Nothing of yours is kept yet."
    ).format(who=who or gettext("Somebody"), at=f"{at:%H:%M}, {at.day} {at:%b %Y}")


def _section(slug: str) -> FormSection:
    """Return a section, or say that there is no such page."""
    found = section_named(slug)
    if found is None:
        raise Http404(slug)
    return found


def _after(part: FormSection) -> FormSection:
    """Return the next section; the last one's is the first."""
    return SECTIONS[(SECTIONS.index(part) + 1) % len(SECTIONS)]
