"""Pages of packs as things: the register, one pack with its jobs and history, corrections."""

from collections.abc import Mapping
from dataclasses import dataclass
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods

from packs import actions, project, queries
from packs.errors import InputRefused, Refused
from packs.project import (
    MANAGER,
    TECHNICIAN,
    JobRef,
    is_role,
    local_now,
    person_id,
    signed_on,
)
from packs.queries import NO_KIND, PhysicalPackEventInfo, PhysicalPackInfo
from packs.unit_forms import UnitCorrectionForm, UnitForm

EVENTS = {
    "added": "entered",
    "corrected": "corrected",
    "kind_found": "kind found",
    "twice": "entered twice: the register holds this serial and kind already",
}
"""Kind of an event to the words shown."""

FIELDS = {"serial": "Serial", "kind": "Kind", "note": "Note"}


@dataclass(frozen=True, slots=True)
class UnitRow:
    """A pack as the register shows it, with the jobs it was in and how often its serial occurs."""

    pack: PhysicalPackInfo
    jobs: tuple[JobRef, ...]
    twins: int


@dataclass(frozen=True, slots=True)
class UnitLine:
    """One line of a pack's history: what changed from what to what, and who entered it."""

    event: PhysicalPackEventInfo
    words: str
    changes: tuple[tuple[str, str, str], ...]
    person: str


def _kinds(*, withdrawn: bool = True) -> tuple[tuple[str, str], ...]:
    """Give the kinds of pack by the name of their definition."""
    return tuple((pack.slug, pack.name) for pack in queries.packs_list(withdrawn=withdrawn))


@require_GET
@signed_on()
def units_page(request: HttpRequest) -> HttpResponse:
    """Show the packs that the shop has met, as the address asks."""
    search, kind = request.GET.get("q", "")[:100], request.GET.get("kind", "")[:60]
    known = _kinds()
    kind = kind if kind in {NO_KIND, *(slug for slug, _ in known)} else ""
    packs = queries.physical_packs(search, kind)
    jobs = project.jobs_of_packs(pack.id for pack in packs)
    every = [pack.serial.casefold() for pack in queries.physical_packs()]
    rows = [
        UnitRow(pack, jobs.get(pack.id, ()), every.count(pack.serial.casefold()) - 1)
        for pack in packs
    ]
    context = {
        "rows": rows,
        "search": search,
        "kind": kind,
        "kinds": known,
        "no_kind": NO_KIND,
        "may_change": is_role(request, MANAGER, TECHNICIAN),
    }
    return render(request, "packs/units.html", context)


def _line(
    event: PhysicalPackEventInfo, people: Mapping[str, str], kinds: Mapping[str, str]
) -> UnitLine:
    """Make a line of the history; kinds stand by the name of their definition."""
    changes = []
    for name, title in FIELDS.items():
        if f"new_{name}" not in event.values:
            continue
        pair = (event.values.get(name, ""), event.values[f"new_{name}"])
        before, after = (kinds.get(each, each) if name == "kind" else each for each in pair)
        changes.append((gettext(title), before, after))
    words = gettext(EVENTS.get(event.kind, event.kind))
    return UnitLine(event, words, tuple(changes), people.get(str(event.person_id), ""))


@require_GET
@signed_on()
def unit_page(request: HttpRequest, unit_id: UUID) -> HttpResponse:
    """Show a pack: its kind, the jobs it was in, its history, and others of its serial."""
    pack, events = _unit(unit_id), queries.physical_pack_events(unit_id)
    people, kinds = project.names(event.person_id for event in events), dict(_kinds())
    context = {
        "pack": pack,
        "jobs": project.jobs_of_packs([pack.id]).get(pack.id, ()),
        "twins": queries.same_serial(pack),
        "history": [_line(event, people, kinds) for event in reversed(events)],
        "may_change": is_role(request, MANAGER, TECHNICIAN),
    }
    return render(request, "packs/unit.html", context)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, TECHNICIAN)
def add_unit_page(request: HttpRequest) -> HttpResponse:
    """Enter a pack as a thing; one that is known already leads to its page."""
    form = UnitForm(request.POST or None, kinds=_kinds(withdrawn=False))
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        try:
            pack = actions.add_physical_pack(
                serial=data["serial"],
                slug=data["slug"] or None,
                note=data["note"],
                by=person_id(request),
                now=local_now(),
            )
        except Refused as refusal:
            form.show_refusal(refusal)
        else:
            return redirect("packs:unit", unit_id=pack.id)
    status = 422 if form.errors else 200
    return render(request, "packs/add_unit.html", {"form": form}, status=status)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, TECHNICIAN)
def correct_unit_page(request: HttpRequest, unit_id: UUID) -> HttpResponse:
    """Correct what the register says of a pack; what it said stays in the history."""
    pack = _unit(unit_id)
    initial = {"serial": pack.serial, "slug": pack.slug or "", "note": pack.note}
    form = UnitCorrectionForm(request.POST or None, kinds=_kinds(), initial=initial)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        details = actions.PackDetails(data["serial"], data["slug"] or None, data["note"])
        try:
            actions.correct_physical_pack(
                pack_id=unit_id,
                details=details,
                reason=data["reason"],
                by=person_id(request),
                now=local_now(),
            )
        except Refused as refusal:
            form.show_refusal(refusal)
        else:
            return redirect("packs:unit", unit_id=unit_id)
    context = {"form": form, "pack": pack}
    return render(request, "packs/correct_unit.html", context, status=422 if form.errors else 200)


def _unit(unit_id: UUID) -> PhysicalPackInfo:
    """Return a pack, or say that there is no such page."""
    try:
        return queries.physical_pack(unit_id)
    except InputRefused as refusal:
        raise Http404(str(refusal)) from refusal
